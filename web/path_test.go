package web_test

import (
	"context"
	"fmt"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"underlamp/app/kept"
	"underlamp/app/settings"
	"underlamp/safefolder"
	"underlamp/store/sqlite"
	"underlamp/web"
)

// The whole path of the tool, from an empty folder to a report: a bench is described at a desk,
// its light looked at, a target asked for, an outlook read, a trial planned; plants are seen on
// a phone, partly without network; findings and report tell it. Pages are loaded again on the
// way, and nothing is lost.
func TestTheWholePath(t *testing.T) {
	ctx := browser(t, 6*time.Minute)
	dir := t.TempDir()
	st, err := sqlite.Open(context.Background(), filepath.Join(t.TempDir(), "store.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer st.Close()
	f, err := safefolder.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	s := httptest.NewServer(web.New(web.Options{Folder: os.DirFS(dir), Hosts: []string{"127.0.0.1"}, Rounds: st, Desk: kept.NewDesk(st, f, time.Now), Trials: f, Settings: settings.New(st), Zone: time.UTC}).Handler())
	defer s.Close()

	// At a desk: an empty folder, five questions.
	began := time.Now()
	act(t, ctx, "start", chromedp.EmulateViewport(1280, 900), chromedp.Navigate(s.URL+"/"))
	complaints := listen(ctx)
	act(t, ctx, "describe", chromedp.Click(`a[href="/new"]`))
	arrive(t, ctx, `document.querySelector('#q-price') !== null`)
	for _, q := range [][2]string{{"name", "Attic shelf"}, {"space", "120 x 60 x 45 cm"}, {"lamps", "3, 40 W, 32 cm"}, {"plants", "18 butterhead"}, {"fan", "across"}, {"price", "0,31 EUR/kWh"}} {
		act(t, ctx, q[0], chromedp.SendKeys("#q-"+q[0], q[1]))
	}
	act(t, ctx, "done", chromedp.Click(".new .do"))
	arrive(t, ctx, `location.pathname === '/bench/attic-shelf/edit' && document.querySelector('main').dataset.shown > 0`)

	// Light, and what if.
	act(t, ctx, "the bench", chromedp.Click(`.crumb a[href="/bench/attic-shelf"]`))
	arrive(t, ctx, `document.querySelector('#light-part svg') !== null && document.querySelector('#c-height')?.value === '32'`)
	if took := time.Since(began); took > time.Duration(busy()*float64(3*time.Minute)) { // of a machine that does nothing else
		t.Errorf("from an empty folder to the light of a bench: %v", took)
	} else {
		t.Logf("from an empty folder to the light of a bench: %.1f s, with 72 keys and three clicks", took.Seconds())
	}
	ask[bool](t, ctx, `(() => { const i = document.querySelector('#c-height'); i.value = '27,5'; i.dispatchEvent(new Event('input', {bubbles: true})); return true })()`)
	arrive(t, ctx, `document.querySelector('#light-part .setting').textContent.includes('27.5 cm')`)
	act(t, ctx, "again", chromedp.Reload())
	arrive(t, ctx, `document.querySelector('#light-part .setting')?.textContent.includes('27.5 cm') && document.querySelector('.state').textContent === 'What if'`)

	// A target, and its outlook.
	act(t, ctx, "a target", chromedp.Click(`.sections a[href$="/aim"]`))
	arrive(t, ctx, `document.querySelector('#level') !== null`)
	act(t, ctx, "150", chromedp.SetValue("#level", "150"), chromedp.Click("label:has([name=one])"), chromedp.Click(".aim .go"))
	arrive(t, ctx, `document.querySelector('#answer a[href*="/bench/attic-shelf?"]') !== null`)
	act(t, ctx, "take", chromedp.Click(`#answer a[href*="/bench/attic-shelf?"]`))
	arrive(t, ctx, `document.querySelector('#outlook-part .lead')?.textContent.includes('a head should weigh') && document.querySelector('.state').textContent === 'What if'`)

	// A trial on that bench.
	q := twoLevels("name", "More light", "bench", "attic-shelf.yaml", "levels", "9\n11 mol/m²/d", "control", "9", "cycles", "3")
	act(t, ctx, "a trial", chromedp.Navigate(s.URL+"/trials/new?"+q.Encode()))
	arrive(t, ctx, `document.querySelector('.proposal .do') !== null`)
	act(t, ctx, "this one", chromedp.Click(".proposal .do"))
	arrive(t, ctx, `location.pathname === '/trial/more-light.trial/plan'`)

	// Rounds with a phone: on without network, and a page that is loaded again without it.
	openRounds(t, ctx, s.URL+"/bench/attic-shelf/rounds")
	wait(t, ctx, `document.querySelector('main').dataset.level === '2'`)
	offline(t, ctx, true)
	enterMass(t, ctx, "P1", "12,5")
	enterMass(t, ctx, "P2", "13.5")
	waiting(t, ctx, 2)
	act(t, ctx, "again", chromedp.Reload())
	arrive(t, ctx, `document.querySelector('main')?.dataset.ready === 'yes'`)
	waiting(t, ctx, 2)
	offline(t, ctx, false)
	sendNow(t, ctx)
	waiting(t, ctx, 0)

	// The record of the trial on the phone; the rest of its plants come by themselves.
	trial := s.URL + "/trial/more-light.trial"
	act(t, ctx, "record", chromedp.Navigate(trial+"/record"))
	first := ask[string](t, ctx, `document.querySelector('#units .chip').href`)
	act(t, ctx, "unit", chromedp.Navigate(first))
	act(t, ctx, "plant", chromedp.Click(`#plants .chip`))
	arrive(t, ctx, `document.querySelector('#v-mass') !== null && document.documentElement.classList.contains('script')`)
	act(t, ctx, "mass", chromedp.SendKeys("#v-mass", "151,5"))
	act(t, ctx, "again", chromedp.Reload())
	arrive(t, ctx, `document.querySelector('#v-mass')?.value === '151,5'`)
	act(t, ctx, "keep", chromedp.Click(".keep"))
	arrive(t, ctx, `document.querySelector('#kept')?.textContent.includes('151.5 g')`)
	units := strings.Fields(ask[string](t, ctx, `[...document.querySelectorAll('#units .chip')].map((a) => new URL(a.href).searchParams.get('unit')).join(' ')`))
	n := 0
	for i, unit := range units {
		for plant := range 4 {
			n++
			if i == 0 && plant == 0 {
				continue
			}
			mass := 150 + 9*strings.Count(unit, "L2") + 3*i%7 + 5*plant%6
			if status, to := postForm(t, trial+"/record", url.Values{"key": {fmt.Sprintf("path%05d", n)}, "unit": {unit}, "plant": {fmt.Sprintf("P%d", plant+1)}, "date": {"2026-01-05"}, "mass": {fmt.Sprint(mass)}}); status != 303 {
				t.Fatalf("%s: %d %s", unit, status, to)
			}
		}
	}

	// Findings, and the report of the bench.
	act(t, ctx, "findings", chromedp.EmulateViewport(1280, 900), chromedp.Navigate(trial))
	arrive(t, ctx, `document.querySelector('#findings svg') !== null && document.querySelector('#findings').textContent.includes('The units are the repeats')`)
	act(t, ctx, "report", chromedp.Navigate(s.URL+"/bench/attic-shelf/report"))
	until(t, ctx, `document.querySelector('.papers a') !== null && document.querySelector('#missing table') !== null`)
	act(t, ctx, "whole report", chromedp.Navigate(s.URL+"/bench/attic-shelf/report/bench.html"))
	arrive(t, ctx, `document.body.textContent.includes('Attic shelf') && document.querySelectorAll('svg').length > 4`)
	for _, c := range complaints.take() {
		if !strings.Contains(c, "ERR_INTERNET_DISCONNECTED") { // the network that was taken away
			t.Errorf("the browser complains: %s", c)
		}
	}
}
