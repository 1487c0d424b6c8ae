package web_test

import (
	"context"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"underlamp"
	"underlamp/app/round"
)

// openRounds opens the page on a phone.
func openRounds(t *testing.T, ctx context.Context, url string) {
	t.Helper()
	act(t, ctx, "open the rounds", chromedp.EmulateViewport(390, 844), chromedp.Navigate(url))
	wait(t, ctx, `document.querySelector('main')?.dataset.ready === 'yes'`)
}

// tap presses something, as a finger would.
func tap(t *testing.T, ctx context.Context, selector string) {
	t.Helper()
	ask[bool](t, ctx, fmt.Sprintf(`(() => { const e = document.querySelector(%q); e.scrollIntoView({block: 'center', behavior: 'instant'}); return true })()`, selector))
	act(t, ctx, "tap "+selector, chromedp.Click(selector))
}

// sendNow asks the page to send now. It may do so by itself before, and take the button away.
func sendNow(t *testing.T, ctx context.Context) {
	t.Helper()
	ask[bool](t, ctx, `(() => { document.querySelector('.send').click(); return true })()`)
}

// tapPlant taps a plant on the plan, in its middle.
func tapPlant(t *testing.T, ctx context.Context, name string) {
	t.Helper()
	tap(t, ctx, fmt.Sprintf(`.walk [data-plant="%s"]`, name))
	wait(t, ctx, fmt.Sprintf(`document.querySelector('.plant-name').textContent === %q && !document.querySelector('#plant').hidden`, name))
}

// enterMass types a mass and keeps it.
func enterMass(t *testing.T, ctx context.Context, plant, grams string) {
	t.Helper()
	if ask[bool](t, ctx, `document.querySelector('#choose').hidden`) {
		tap(t, ctx, ".back-to-plan")
	}
	tapPlant(t, ctx, plant)
	act(t, ctx, "type", chromedp.SendKeys("#f-mass", grams))
	tap(t, ctx, ".keep")
	wait(t, ctx, fmt.Sprintf(`document.querySelector('.kept-note').textContent.startsWith('%s is kept')`, plant))
}

func waiting(t *testing.T, ctx context.Context, n int) {
	t.Helper()
	if n == 0 {
		wait(t, ctx, `document.querySelector('.queue').hidden`)
		return
	}
	wait(t, ctx, fmt.Sprintf(`document.querySelector('.queue-count').textContent === 'Not yet sent: %d' && !document.querySelector('.queue').hidden`, n))
}

// masses are what the server has of a plant.
func (r *roundSite) masses(t testing.TB, plant string) (out []round.Entry) {
	t.Helper()
	for _, e := range r.observations(t) {
		if e.Plant == plant && e.What == underlamp.ResponseMass {
			out = append(out, e)
		}
	}
	return out
}

// A person walks: plan, numbers, a grade, a photo; next plant by itself; all of it arrives,
// and the last value stands beside the field. The page is fit for a thumb, keeps WCAG in
// both themes, asks for nothing elsewhere, and the browser complains of nothing.
func TestRoundsInABrowser(t *testing.T) {
	s := newRoundSite(t)
	ctx := browser(t, 6*time.Minute)
	openRounds(t, ctx, s.at+"/rounds")
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
	small := func() {
		t.Helper()
		if v := ask[string](t, ctx, `[...document.querySelectorAll('main button, main input:not([type=hidden]):not(.hidden-input):not([type=checkbox]), main select, main textarea, main summary, main label.big, main label.tick, main .grade, .walk a')].filter(e => e.checkVisibility() && (e.getBoundingClientRect().height < 44 || e.getBoundingClientRect().width < 44)).map(e => e.outerHTML.slice(0, 90)).join('\n')`); v != "" {
			t.Errorf("smaller than 44 px:\n%s", v)
		}
		if over := ask[int](t, ctx, `document.documentElement.scrollWidth - window.innerWidth`); over > 0 {
			t.Errorf("the page is %d px wider than a phone", over)
		}
	}
	small()
	shot(t, ctx, "rounds-plan")
	act(t, ctx, "who", chromedp.SendKeys("#who", "Ada"), chromedp.SendKeys("#scale", "kitchen scale"))

	tapPlant(t, ctx, "P3")
	act(t, ctx, "type", chromedp.SendKeys("#f-mass", "141"), chromedp.SendKeys("#f-height", "12,5"), chromedp.SendKeys("#f-leaves", "14"), chromedp.SendKeys("#f-note", "pale edges"))
	tap(t, ctx, `.grade:nth-child(3)`)
	picture := filepath.Join(t.TempDir(), "plant.jpg")
	if err := os.WriteFile(picture, photo(t, 640, 480), 0o644); err != nil {
		t.Fatal(err)
	}
	act(t, ctx, "photo", chromedp.SetUploadFiles("#f-photo", []string{picture}))
	wait(t, ctx, `document.querySelectorAll('.shots img').length === 1 && document.querySelector('.shots img').naturalWidth === 640`)
	small()
	shot(t, ctx, "rounds-plant")

	// A page that is loaded again has lost nothing, the photo neither.
	act(t, ctx, "reload", chromedp.Reload())
	wait(t, ctx, `document.querySelector('main').dataset.ready === 'yes' && document.querySelectorAll('.shots img').length === 1`)
	if v := ask[string](t, ctx, `document.querySelector('#f-mass').value + '|' + document.querySelector('#f-height').value + '|' + document.querySelector('.grade input:checked').value + '|' + document.querySelector('#who').value + '|' + document.querySelector('.plant-name').textContent`); v != "141|12,5|2|Ada|P3" {
		t.Errorf("after loading again: %s", v)
	}
	tap(t, ctx, ".keep")
	wait(t, ctx, `document.querySelector('.plant-name').textContent === 'P4'`)
	waiting(t, ctx, 0)
	got := map[underlamp.Response]string{}
	for _, e := range s.observations(t) {
		got[e.What] = e.Text() + " by " + e.By + " with " + e.With
	}
	for what, want := range map[underlamp.Response]string{"mass": "141 g by Ada with kitchen scale", "height": "12.5 cm by Ada with kitchen scale", "leaves": "14 by Ada with ", "severity": "grade 2 by Ada with ", "note": "pale edges by Ada with ", "photo": "photo by Ada with "} {
		if got[what] != want {
			t.Errorf("%s: %q, want %q", what, got[what], want)
		}
	}

	// Back to the plant: the last value, and a new one corrects it.
	tap(t, ctx, ".before")
	wait(t, ctx, `document.querySelector('.plant-name').textContent === 'P3' && document.querySelector('[data-last=mass]').textContent.startsWith('141 g')`)
	shot(t, ctx, "rounds-last")
	act(t, ctx, "type", chromedp.SendKeys("#f-mass", "114"))
	tap(t, ctx, ".keep")
	wait(t, ctx, `document.querySelector('.kept-note').textContent.startsWith('P3 is kept')`)
	waiting(t, ctx, 0)
	if m := s.masses(t, "P3"); len(m) != 2 || m[1].Corrects != m[0].ID {
		t.Errorf("%+v", m)
	}
	// What is no number stays in the field, with a word about it.
	act(t, ctx, "type", chromedp.SendKeys("#f-mass", "1,234"))
	tap(t, ctx, ".keep")
	wait(t, ctx, `document.querySelector('.kept-note').textContent.includes('is no number')`)
	if v := ask[string](t, ctx, `document.querySelector('#f-mass').value`); v != "1,234" {
		t.Errorf("the field holds %q", v)
	}
	// Back is back, and a plant has an address.
	act(t, ctx, "back", chromedp.NavigateBack())
	wait(t, ctx, `document.querySelector('.plant-name').textContent === 'P3'`)
	// By its code, whatever the case; one that is not there is told.
	tap(t, ctx, ".back-to-plan")
	act(t, ctx, "code", chromedp.SendKeys("#code", "p99"))
	ask[bool](t, ctx, `(document.querySelector('.code').requestSubmit(), true)`) // the page still scrolls, and a tap may wait for it without end
	wait(t, ctx, `document.querySelector('.trouble').textContent.includes('no plant')`)
	ask[bool](t, ctx, `(() => { document.querySelector('#code').value = 'p12'; return true })()`)
	ask[bool](t, ctx, `(document.querySelector('.code').requestSubmit(), true)`) // the page still scrolls, and a tap may wait for it without end
	wait(t, ctx, `document.querySelector('.plant-name').textContent === 'P12'`)

	// The page of what was seen.
	for _, look := range []struct {
		width int64
		theme string
	}{{1280, "light"}, {390, "dark"}} {
		id := s.masses(t, "P3")[1].ID
		act(t, ctx, "seen", chromedp.EmulateViewport(look.width, 844), chromedp.Navigate(s.at+"/seen?entry="+id))
		axeCheck(t, ctx, look.theme)
		if over := ask[int](t, ctx, `document.documentElement.scrollWidth - window.innerWidth`); over > 0 {
			t.Errorf("at %d px what was seen is %d px too wide", look.width, over)
		}
		shot(t, ctx, fmt.Sprintf("seen-%d-%s", look.width, look.theme))
	}
	for outside := range strings.SplitSeq(ask[string](t, ctx, `performance.getEntriesByType('resource').map(r => r.name).filter(n => !n.startsWith(location.origin) && !n.startsWith('blob:')).join('\n')`), "\n") {
		if outside != "" {
			t.Errorf("asked elsewhere: %s", outside)
		}
	}
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

// shot keeps a picture of the page where UNDERLAMP_SHOTS names a folder.
func shot(t *testing.T, ctx context.Context, name string) {
	t.Helper()
	dir := os.Getenv("UNDERLAMP_SHOTS")
	if dir == "" {
		return
	}
	for _, theme := range []string{"light", "dark"} {
		ask[bool](t, ctx, fmt.Sprintf(`(() => { document.documentElement.dataset.theme = %q; return true })()`, theme))
		png, err := chromedp.Run(ctx, chromedp.FullScreenshot(100))
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, name+"-"+theme+".png"), png, 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// Without network everything waits in the phone, visibly; a browser that is killed loses
// nothing; and what arrives twice, since its acknowledgement was lost, enters once. All of it
// over plain HTTP under a name of the network, where browsers give least.
func TestRoundsSurvive(t *testing.T) {
	s := newRoundSite(t, "cellar.test")
	_, port, _ := net.SplitHostPort(s.Listener.Addr().String())
	at := "http://cellar.test:" + port + "/bench/" + roundBench + "/rounds"
	profile := t.TempDir()
	names := chromedp.Flag("host-resolver-rules", "MAP cellar.test 127.0.0.1")
	ctx := browserIn(t, 4*time.Minute, profile, names)
	openRounds(t, ctx, at)
	if ask[bool](t, ctx, `self.isSecureContext`) {
		t.Fatal("this is a secure context; the test is about pages that are not")
	}
	wait(t, ctx, `document.querySelector('main').dataset.level === '1'`)
	if v := text(t, ctx, ".level"); !strings.Contains(v, "http://") {
		t.Errorf("the level is not told: %q", v)
	}
	// The network goes.
	s.down.Store(true)
	enterMass(t, ctx, "P1", "101")
	enterMass(t, ctx, "P2", "102")
	waiting(t, ctx, 2)
	wait(t, ctx, `document.querySelector('.queue-why').textContent.includes('cannot be reached')`)
	shot(t, ctx, "rounds-offline")
	// A half-typed look, and the browser is killed.
	tapPlantFromPlant(t, ctx, "P5")
	act(t, ctx, "type", chromedp.SendKeys("#f-mass", "1"), chromedp.SendKeys("#f-mass", "0"), chromedp.SendKeys("#f-mass", "5"))
	time.Sleep(300 * time.Millisecond) // the draft is written beside the typing
	kill(t, ctx)
	if len(s.observations(t)) != 0 {
		t.Fatal("the network was not away")
	}
	s.down.Store(false)
	s.deaf.Store(true) // it hears, and its answers are lost
	ctx = browserIn(t, 4*time.Minute, profile, names)
	openRounds(t, ctx, at+"#P5")
	wait(t, ctx, `document.querySelector('#f-mass').value === '105'`)
	waiting(t, ctx, 2)
	for deadline := time.Now().Add(browserWait); len(s.observations(t)) < 2; time.Sleep(50 * time.Millisecond) {
		if time.Now().After(deadline) {
			t.Fatal("nothing was sent")
		}
	}
	waiting(t, ctx, 2) // the phone does not know
	s.deaf.Store(false)
	sendNow(t, ctx)
	waiting(t, ctx, 0)
	for plant, want := range map[string]string{"P1": "101 g", "P2": "102 g"} {
		if m := s.masses(t, plant); len(m) != 1 || m[0].Text() != want {
			t.Errorf("%s: %+v", plant, m)
		}
	}
	// One that the server will not take is told, and goes back into the form.
	ask[bool](t, ctx, `(() => { roundStore.put('queue', 'aaaa-0001', {bench: document.querySelector('main').dataset.rounds, entry: {id: 'aaaa-0001', plant: 'P6', what: 'mass', typed: '9000 g', typed_ms: Date.now()}, order: 0}).then(() => dispatchEvent(new Event('online'))); return true })()`)
	wait(t, ctx, `document.querySelector('.queue-list .refused')?.textContent.includes('outside 0 to 5000 g')`)
	shot(t, ctx, "rounds-refused")
	axeCheck(t, ctx, "dark")
	ask[bool](t, ctx, `(() => { document.querySelector('.queue-list .refused button').click(); return true })()`)
	wait(t, ctx, `document.querySelector('.plant-name').textContent === 'P6' && document.querySelector('#f-mass').value === '9000'`)
	waiting(t, ctx, 0)
}

func tapPlantFromPlant(t *testing.T, ctx context.Context, name string) {
	t.Helper()
	tap(t, ctx, ".back-to-plan")
	tapPlant(t, ctx, name)
}

// kill ends the browser of a test as a crash would.
func kill(t *testing.T, ctx context.Context) {
	t.Helper()
	p := chromedp.FromContext(ctx).Browser.Process()
	if err := p.Kill(); err != nil {
		t.Fatal(err)
	}
	p.Wait()
	time.Sleep(500 * time.Millisecond) // its children see it
}

// Where the browser calls the address secure (as it does loopback, and HTTPS) the page
// starts cold without any server, takes what is entered, and sends it days later.
func TestRoundsStartWithoutNetwork(t *testing.T) {
	s := newRoundSite(t)
	profile := t.TempDir()
	ctx := browserIn(t, 4*time.Minute, profile)
	openRounds(t, ctx, s.at+"/rounds")
	wait(t, ctx, `document.querySelector('main').dataset.level === '2'`)
	if v := text(t, ctx, ".level"); !strings.Contains(v, "opens without network") {
		t.Errorf("the level is not told: %q", v)
	}
	shot(t, ctx, "rounds-level2")
	kill(t, ctx)
	s.down.Store(true)
	ctx = browserIn(t, 4*time.Minute, profile)
	openRounds(t, ctx, s.at+"/rounds")
	enterMass(t, ctx, "P8", "208")
	waiting(t, ctx, 1)
	kill(t, ctx)
	ctx = browserIn(t, 4*time.Minute, profile)
	openRounds(t, ctx, s.at+"/rounds")
	waiting(t, ctx, 1)
	s.down.Store(false)
	sendNow(t, ctx)
	waiting(t, ctx, 0)
	if m := s.masses(t, "P8"); len(m) != 1 || m[0].Text() != "208 g" {
		t.Errorf("%+v", m)
	}
	// Another page of the site is not taken by the worker.
	s.down.Store(true)
	if err := chromedp.Do(ctx, chromedp.Navigate(s.at+"/seen")); err == nil {
		t.Error("a page that is not kept was shown without network")
	}
}

// The browser's own emulation of a lost network, and two phones that saw the same plant: both
// are kept, a person decides on the page. Their clocks are wrong, and the times are right.
func TestTwoPhones(t *testing.T) {
	s := newRoundSite(t)
	var phones []context.Context
	began := time.Now()
	for i, grams := range []string{"141", "114"} {
		ctx := browserIn(t, 4*time.Minute, t.TempDir())
		openRounds(t, ctx, s.at+"/rounds")
		offline(t, ctx, true)
		if i == 1 { // three hours slow since before it was opened, put right after typing
			ask[bool](t, ctx, `(() => { const real = Date.now.bind(Date); window.shift = -3*3600*1000; Date.now = () => real() + window.shift; return true })()`)
		}
		act(t, ctx, "who", chromedp.SendKeys("#who", fmt.Sprintf("Phone %d", i+1)))
		enterMass(t, ctx, "P3", grams)
		waiting(t, ctx, 1)
		phones = append(phones, ctx)
	}
	for _, ctx := range phones {
		offline(t, ctx, false)
		wait(t, ctx, `document.querySelector('.queue').hidden`)
	}
	m := s.masses(t, "P3")
	if len(m) != 2 {
		t.Fatalf("%d of two are kept", len(m))
	}
	for _, e := range m {
		if e.At.Before(began.Add(-time.Minute)) || e.At.After(time.Now().Add(time.Minute)) {
			t.Errorf("%s at %v, %s", e.Text(), e.At, e.Clock.State)
		}
		if want := map[string]string{"141 g": round.ClockRight, "114 g": round.ClockCorrected}[e.Text()]; e.Clock.State != want {
			t.Errorf("%s: the clock is %s, want %s", e.Text(), e.Clock.State, want)
		}
	}
	ctx := phones[1]
	wait(t, ctx, `!document.querySelector('.conflicts').hidden`)
	for range 5 { // the page moves while a queue goes from it, and a tap may miss, as a finger may
		tap(t, ctx, ".conflicts a")
		time.Sleep(time.Second)
		if gone, err := chromedp.Run(ctx, chromedp.Evaluate[bool](`!location.pathname.endsWith('/rounds')`)); err != nil || gone {
			break
		}
	}
	arrive(t, ctx, `location.pathname.endsWith('/seen') && document.readyState === 'complete' && document.querySelector('#conflicts') !== null`)
	axeCheck(t, ctx, "dark")
	axeCheck(t, ctx, "light")
	shot(t, ctx, "seen-conflict")
	tap(t, ctx, `#conflicts [name=keep]`)
	act(t, ctx, "by", chromedp.SendKeys("#conflicts [name=by]", "Ida"))
	tap(t, ctx, "#conflicts .do")
	arrive(t, ctx, `document.readyState === 'complete' && document.querySelector('main.seen') !== null && document.querySelector('#conflicts') === null`)
	if n := len(s.observations(t)); n != 3 {
		t.Errorf("%d entries after the decision", n)
	}
}

// offline has the browser take the network away from a page.
func offline(t *testing.T, ctx context.Context, away bool) {
	t.Helper()
	act(t, ctx, "network", chromedp.Func(func(ctx context.Context, target *chromedp.Target) error {
		if err := target.Call(ctx, "Network.enable", map[string]any{}, nil); err != nil {
			return err
		}
		return target.Call(ctx, "Network.emulateNetworkConditions", map[string]any{"offline": away, "latency": 0, "downloadThroughput": -1, "uploadThroughput": -1}, nil)
	}))
}
