package web_test

import (
	"context"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// A person opens a bench, turns the height, and takes the best setting; the
// pictures follow, and the browser reports no breach of the policy.
func TestInABrowser(t *testing.T) {
	s := shared(t)
	ctx := browser(t, 8*time.Minute)
	// The browser starts before its console can be read.
	act(t, ctx, "start", chromedp.Navigate(s.URL+"/"))
	complaints := make(chan string, 100)
	go func() {
		for m, err := range chromedp.Console(ctx) {
			if err != nil {
				return
			}
			if m.Type == chromedp.ConsoleError || m.Type == chromedp.ConsoleException {
				complaints <- m.Text
			}
		}
	}()

	act(t, ctx, "open", chromedp.Navigate(s.URL+"/bench/tier-2-middle"))
	wait(t, ctx, `document.querySelector("#light-part svg") !== null`)
	before := text(t, ctx, "#light-part .setting")
	sliders := ask[int](t, ctx, `(() => { const s = document.querySelector('[data-for="c-height"]'); s.value = 25; s.dispatchEvent(new Event('input', {bubbles: true})); return document.querySelectorAll('.slide').length })()`)
	wait(t, ctx, `document.querySelector('#light-part .setting').textContent.includes('25 cm')`)
	wait(t, ctx, `!document.querySelector('#outlook-part').classList.contains('busy')`)
	after, state, lead := text(t, ctx, "#light-part .setting"), text(t, ctx, ".state"), text(t, ctx, "#outlook-part .lead")
	if !strings.Contains(before, "32 cm") || !strings.Contains(after, "25 cm") || state != "What if" || !strings.Contains(lead, "By day 32") || sliders != 3 {
		t.Errorf("before %q, after %q, state %q, outlook %q, %d sliders", before, after, state, lead, sliders)
	}

	wait(t, ctx, `document.querySelectorAll('#best-part .take').length > 1`)
	act(t, ctx, "take", chromedp.Click("#best-part tbody tr:nth-child(2) .take"))
	wait(t, ctx, `!document.querySelector('#light-part .setting').textContent.includes('25 cm')`)
	if best := text(t, ctx, "#best-part .lead"); !strings.Contains(best, "saleable per kWh") {
		t.Errorf("best %q", best)
	}

	// On a phone nothing is wider than the screen.
	act(t, ctx, "phone", chromedp.EmulateViewport(390, 844), chromedp.Navigate(s.URL+"/bench/tier-2-middle"))
	wait(t, ctx, `document.querySelector("#light-part svg") !== null`)
	if over := ask[int](t, ctx, `document.documentElement.scrollWidth - window.innerWidth`); over > 0 {
		t.Errorf("the page is %d px wider than a phone", over)
	}
	// Every control is large enough for a wet thumb (44 px).
	if small := ask[string](t, ctx, `[...document.querySelectorAll('button, .exact, nav a, .home')].filter(e => e.offsetParent && e.getBoundingClientRect().height < 44).map(e => e.outerHTML.slice(0, 80)).join('\n')`); small != "" {
		t.Errorf("smaller than 44 px:\n%s", small)
	}
	walkAir(t, ctx, s.URL)
	for {
		select {
		case c := <-complaints:
			t.Errorf("the browser complains: %s", c)
			continue
		default:
		}
		break
	}
}

// A slow machine is no fault of a page: these only end what hangs.
const (
	slower      = 4                // times the limit that a test sets itself with a quiet machine in mind
	browserWait = 10 * time.Minute // for one answer
)

// browser starts chromium for a test, which may take limit on a quiet machine.
func browser(t *testing.T, limit time.Duration) context.Context {
	t.Helper()
	return browserIn(t, limit, t.TempDir())
}

// browserIn starts chromium on a profile, which outlives it.
func browserIn(t *testing.T, limit time.Duration, profile string, more ...chromedp.ExecAllocatorOption) context.Context {
	t.Helper()
	if testing.Short() {
		t.Skip("a browser is slow")
	}
	chromium, err := exec.LookPath("chromium")
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("chromium is missing; in CI nothing is skipped")
		}
		t.Skip("chromium is not installed, so the pages were not tried in a browser")
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(chromium), chromedp.NoSandbox, chromedp.DisableGPU, chromedp.WindowSize(1280, 1000),
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true),
		// A click goes to where a thing was when it was looked up: nothing may still glide.
		chromedp.Flag("force-prefers-reduced-motion", true),
		chromedp.UserDataDir(profile))
	options = append(options, more...)
	ctx, stop := chromedp.NewExecAllocator(context.Background(), options...)
	t.Cleanup(stop)
	ctx, stop = chromedp.NewContext(ctx)
	t.Cleanup(stop)
	ctx, stop = context.WithTimeout(ctx, slower*limit)
	t.Cleanup(stop)
	return ctx
}

func act(t *testing.T, ctx context.Context, what string, steps ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	if err := chromedp.Do(ctx, steps...); err != nil {
		t.Fatalf("%s: %v", what, err)
	}
}

func ask[T any](t *testing.T, ctx context.Context, script string) T {
	t.Helper()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[T](script))
	if err != nil {
		t.Fatalf("%s: %v", script, err)
	}
	return v
}

// loaded is true once a page's scripts have run: what is done to a page before is lost on it.
const loaded = "document.readyState === 'complete' && "

func wait(t *testing.T, ctx context.Context, condition string) {
	t.Helper()
	if _, err := chromedp.Run(ctx, chromedp.Poll[bool](loaded+"("+condition+")", chromedp.WithPollingInterval(30*time.Millisecond), chromedp.WithPollingTimeout(browserWait))); err != nil {
		t.Fatalf("waiting for %s: %v", condition, err)
	}
}

func text(t *testing.T, ctx context.Context, selector string) string {
	t.Helper()
	v, err := chromedp.Run(ctx, chromedp.Text(selector))
	if err != nil {
		t.Fatalf("%s: %v", selector, err)
	}
	return strings.TrimSpace(v)
}

// arrive waits for a condition that may come true on the next page only.
func arrive(t *testing.T, ctx context.Context, condition string) {
	t.Helper()
	var err error
	for end := time.Now().Add(browserWait); time.Now().Before(end); time.Sleep(50 * time.Millisecond) {
		var v bool
		if v, err = chromedp.Run(ctx, chromedp.Evaluate[bool](loaded+"!!("+condition+")")); err == nil && v {
			return
		}
	}
	t.Fatalf("waiting for %s: %v; the page is %s", condition, err, ask[string](t, ctx, "location.href + ' ' + document.querySelector('main')?.innerText.slice(0, 1500)"))
}
