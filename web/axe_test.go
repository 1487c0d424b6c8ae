package web_test

import (
	"context"
	_ "embed"
	"fmt"
	"testing"
	"time"

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
	document.documentElement.dataset.theme = %q;
	document.querySelectorAll('details').forEach((d) => { d.open = true; });
	await new Promise((r) => requestAnimationFrame(() => requestAnimationFrame(r)));
	const found = await axe.run(document, {resultTypes: ['violations'], runOnly: {type: 'tag',
		values: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice']}});
	return found.violations.map((v) => v.id + ' (' + v.help + '): ' + v.nodes.length + ' places, such as ' +
		v.nodes.slice(0, 2).map((n) => n.target.join(' ') + ' ' + n.html.slice(0, 140) + ' — ' + n.failureSummary.replaceAll('\n', ' ')).join('; ')).join('\n');
})()`

// Every page keeps WCAG 2.2 AA as far as a program can tell, in the light theme
// on a wide screen and in the dark one on a phone.
func TestPagesAreAccessible(t *testing.T) {
	s := shared(t)
	ctx := browser(t, 15*time.Minute)
	for _, page := range []struct{ path, ready string }{
		{"/", `true`},
		{"/bench/tier-1-top", `document.querySelectorAll('#best-part .take').length > 1 && !document.querySelector('#doubt-part .ask-doubt')`},
		{"/bench/tier-3-bottom?best=1&hours=12", `document.querySelectorAll('#best-part .take').length > 1`},
		{"/bench/tier-1-top/lamps", `true`},
		{"/bench/tier-1-top/aim?level=180&goal=even", `true`},
		{"/bench/tier-1-top/match?with=tier-2-middle&by=dli", `true`},
		{"/bench/tier-2-middle/raise?level=200", `true`},
		{"/bench/tier-2-middle/plan?for=money&frontier=1", `document.querySelector('#plan-part .d-table') !== null`},
		{"/trial/light-levels.trial", `true`},
		{"/trial/lamp-colours.trial", `true`},
		{"/bench/broken", `true`},
		{"/bench/nobody", `true`},
		{"/bench/tier-2-middle/report", `true`},
	} {
		for _, look := range []struct {
			width int64
			theme string
		}{{1280, "light"}, {390, "dark"}} { // colours do not depend on the width, nor room on the colours
			act(t, ctx, page.path, chromedp.EmulateViewport(look.width, 900), chromedp.Navigate(s.URL+page.path))
			wait(t, ctx, page.ready)
			ask[bool](t, ctx, axe+"\n;true")
			v, err := chromedp.Run(ctx, chromedp.Evaluate[string](fmt.Sprintf(axeRun, look.theme), chromedp.EvalAwaitPromise))
			if err != nil {
				t.Fatalf("%s at %d px, %s: %v", page.path, look.width, look.theme, err)
			}
			if v != "" {
				t.Errorf("%s at %d px, %s:\n%s", page.path, look.width, look.theme, v)
			}
		}
	}
}

// axeCheck holds the page as it stands against axe.
func axeCheck(t *testing.T, ctx context.Context, theme string) {
	t.Helper()
	ask[bool](t, ctx, axe+"\n;true")
	v, err := chromedp.Run(ctx, chromedp.Evaluate[string](fmt.Sprintf(axeRun, theme), chromedp.EvalAwaitPromise))
	if err != nil {
		t.Fatal(err)
	}
	if v != "" {
		t.Errorf("%s:\n%s", theme, v)
	}
}
