package web_test

import (
	"context"
	_ "embed"
	"fmt"
	"testing"

	"github.com/chromedp/chromedp"
)

// axe is axe-core of Deque Systems, Mozilla Public License 2.0; see
// testdata/axe/README.md.
//
//go:embed testdata/axe/axe.min.js
var axe string

// axeRun checks the page as it stands, everything unfolded, against the rules of
// WCAG 2.2 at levels A and AA and axe's own good practice, and says what fails,
// one rule and place a line. Colours are compared at once, so nothing may move.
const axeRun = `(async () => {
	document.querySelectorAll('details').forEach((d) => { d.open = true; });
	await new Promise((r) => requestAnimationFrame(() => requestAnimationFrame(r)));
	const found = await axe.run(document, {resultTypes: ['violations'], runOnly: {type: 'tag',
		values: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice']}});
	return found.violations.map((v) => v.id + ' (' + v.help + '): ' + v.nodes.length + ' places, such as ' +
		v.nodes.slice(0, 2).map((n) => n.target.join(' ') + ' ' + n.html.slice(0, 140) + ' — ' + n.failureSummary.replaceAll('\n', ' ')).join('; ')).join('\n');
})()`

// axeCheck holds the page as it stands against axe, in a theme.
func axeCheck(t *testing.T, ctx context.Context, theme string) {
	t.Helper()
	ask[bool](t, ctx, fmt.Sprintf(`document.documentElement.dataset.theme = %q; true`, theme))
	axeAt(t, ctx, theme)
}

// axeAt holds the page as it stands against axe.
func axeAt(t *testing.T, ctx context.Context, where string) {
	t.Helper()
	if !ask[bool](t, ctx, `window.axe !== undefined`) {
		ask[bool](t, ctx, axe+"\n;true")
	}
	v, err := chromedp.Run(ctx, chromedp.Evaluate[string](axeRun, chromedp.EvalAwaitPromise))
	if err != nil {
		t.Fatalf("%s: %v", where, err)
	}
	if v != "" {
		t.Errorf("%s:\n%s", where, v)
	}
}
