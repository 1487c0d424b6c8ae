package web_test

import (
	"fmt"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// A trial is planned at a desk and recorded on a phone: what is typed survives a reload, a
// double tap and a server that does not answer are taken once, and every page keeps WCAG
// 2.2 AA in both themes and fits the screen.
func TestTrialInABrowser(t *testing.T) {
	ctx := browser(t, 10*time.Minute)
	dir := folder(t)
	s := site(t, dir)
	act(t, ctx, "start", chromedp.EmulateViewport(1280, 900), chromedp.Navigate(s.URL+"/trials"))
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
	fits := func(what string) {
		t.Helper()
		if over := ask[int](t, ctx, `document.documentElement.scrollWidth - window.innerWidth`); over > 0 {
			t.Errorf("%s is %d px too wide", what, over)
		}
		if small := ask[string](t, ctx, `[...document.querySelectorAll('main button, main input:not([type=hidden]):not([type=radio]), main select, main .chip, main .picks label, main.record summary')].filter(e => e.offsetParent && !e.closest('.working') && e.getBoundingClientRect().height < 44).map(e => e.outerHTML.slice(0, 90)).join('\n')`); small != "" {
			t.Errorf("%s: smaller than 44 px:\n%s", what, small)
		}
		if elsewhere := ask[string](t, ctx, `performance.getEntriesByType('resource').map(e => e.name).filter(n => !n.startsWith(location.origin)).join(' ')`); elsewhere != "" {
			t.Errorf("%s asks elsewhere: %s", what, elsewhere)
		}
	}

	// At the desk. What is typed is in the address at once, so a reload keeps it.
	act(t, ctx, "a trial", chromedp.Click(`a[href="/trials/new"]`))
	arrive(t, ctx, `document.querySelector('#f-name') !== null && document.documentElement.classList.contains('script')`)
	act(t, ctx, "typing", chromedp.SendKeys("#f-name", "Zwei <Stufen> & mehr"), chromedp.SendKeys("#f-levels", "12\n15"))
	arrive(t, ctx, `location.search.includes('Stufen') && location.search.includes('15')`)
	act(t, ctx, "reload", chromedp.Reload())
	arrive(t, ctx, `document.querySelector('#f-name')?.value === 'Zwei <Stufen> & mehr' && document.querySelector('#f-levels').value === '12\n15'`)
	act(t, ctx, "a difference that is none", chromedp.SendKeys("#f-difference", "heavy"), chromedp.Click(".ask .do"))
	arrive(t, ctx, `document.activeElement?.id === 'f-difference' && document.querySelector('#w-difference') !== null`)
	axeCheck(t, ctx, "light")
	f := twoLevels("name", "Zwei <Stufen> & mehr")
	f.Del("show")
	act(t, ctx, "the rest", chromedp.Navigate(s.URL+"/trials/new?"+f.Encode()))
	arrive(t, ctx, `document.querySelector('#f-lamps').offsetParent === null`)
	act(t, ctx, "layouts", chromedp.Click(".ask .do"))
	arrive(t, ctx, `document.querySelectorAll('.proposal').length > 1`)
	fits("the form with layouts")
	act(t, ctx, "take", chromedp.Click(".proposal .do"))
	arrive(t, ctx, `location.pathname === '/trial/zwei-stufen-mehr.trial/plan'`)
	fits("the plan")
	ask[bool](t, ctx, `(history.back(), true)`)
	arrive(t, ctx, `document.querySelectorAll('.proposal').length > 1 && document.querySelector('#f-name').value.includes('Stufen')`)

	// In the growing room.
	at := s.URL + "/trial/zwei-stufen-mehr.trial"
	lines := func() int {
		_, _, page := get(t, at+"/record?unit=C1-L1&plant=P1")
		return strings.Count(page, "<li><p>")
	}
	act(t, ctx, "phone", chromedp.EmulateViewport(390, 844), chromedp.Navigate(at+"/record"))
	fits("the units on a phone")
	act(t, ctx, "unit", chromedp.Click(`.chip[href*="C1-L1"]`))
	arrive(t, ctx, `document.querySelectorAll('#plants .chip').length === 9`)
	act(t, ctx, "plant", chromedp.Click(`#plants .chip[href*="plant=P1"]`))
	arrive(t, ctx, `document.querySelector('#v-mass') !== null && document.documentElement.classList.contains('script')`)
	fits("a plant on a phone")
	if down := ask[bool](t, ctx, `(() => { const b = document.querySelector('.keep').getBoundingClientRect(); return b.bottom > innerHeight || b.height < 56 })()`); down {
		t.Error("the button is out of reach")
	}
	ask[bool](t, ctx, `(() => { const m = document.querySelector('[name=mass-measure]'); m.value = 'oz'; m.dispatchEvent(new Event('input', {bubbles: true})); return true })()`)
	act(t, ctx, "typing", chromedp.SendKeys("#v-mass", "5,1"), chromedp.SendKeys("#r-note", "leaf torn"), chromedp.SendKeys("#r-by", "Ida"))
	arrive(t, ctx, `document.querySelector('.look')?.textContent.includes('144.6 g')`)
	act(t, ctx, "reload", chromedp.Reload())
	arrive(t, ctx, `document.querySelector('#v-mass')?.value === '5,1' && document.querySelector('#r-note').value === 'leaf torn' && document.querySelector('[name=mass-measure]').value === 'oz' && document.querySelector('#r-by').value === 'Ida'`)

	// The server does not answer: nothing is lost, and the next try is taken once.
	ask[bool](t, ctx, `(window.theirs = window.fetch, window.fetch = () => Promise.reject(new TypeError('gone')), document.querySelector('.keep').click(), true)`)
	arrive(t, ctx, `document.querySelector('.keepbar .state').textContent.includes('the server does not answer')`)
	axeCheck(t, ctx, "dark")
	ask[bool](t, ctx, `(window.fetch = window.theirs, document.querySelector('.keep').click(), document.querySelector('.keep').click(), true)`)
	arrive(t, ctx, `document.querySelector('#kept')?.textContent.includes('144.6 g') && document.querySelector('h2').textContent.includes('P2')`)
	if n := lines(); n != 1 {
		t.Errorf("a double tap kept %d lines", n)
	}
	arrive(t, ctx, `document.querySelector('[name=mass-measure]').value === 'oz' && document.querySelector('#r-by').value === 'Ida' && document.querySelector('#v-mass').value === ''`)

	// A fault stands beside its field; what was typed stays.
	act(t, ctx, "a word", chromedp.SendKeys("#v-mass", "heavy"), chromedp.SendKeys("#r-note", "hm"), chromedp.Click(".keep"))
	arrive(t, ctx, `document.querySelector('#w-mass')?.textContent.includes('is no mass') && document.querySelector('#r-note').value === 'hm' && !document.querySelector('.keep').disabled`)
	fits("a fault on a phone")
	axeCheck(t, ctx, "dark")

	// A correction shows both.
	act(t, ctx, "back to the first", chromedp.Navigate(at+"/record?unit=C1-L1&plant=P1"))
	act(t, ctx, "correct", chromedp.Click(".lines .back"))
	arrive(t, ctx, `document.querySelector('main').dataset.correct !== '' && document.querySelector('#v-mass') !== null && document.querySelector('[name=burn]') === null`)
	ask[bool](t, ctx, `(document.querySelector('[name=mass-measure]').value = 'g', true)`)
	act(t, ctx, "the right value", chromedp.SendKeys("#v-mass", "150"), chromedp.Click(".keep"))
	arrive(t, ctx, `document.querySelector('.lines .before s')?.textContent.includes('144.6 g') && document.querySelector('.lines strong').textContent.includes('150 g')`)
	axeCheck(t, ctx, "dark")

	// The rest comes over the network; then the findings, on desktop and phone.
	n := 0
	for cycle := range 4 {
		for lamp := range 2 {
			for plant := range 9 {
				n++
				if status, to := postForm(t, at+"/record", url.Values{"key": {fmt.Sprintf("rest%05d", n)}, "unit": {fmt.Sprintf("C%d-L%d", cycle+1, lamp+1)}, "plant": {fmt.Sprintf("P%d", plant+1)}, "date": {"2026-01-05"}, "mass": {fmt.Sprint(140 + 7*cycle + 11*lamp + plant*3%7)}}); status != 303 {
					t.Fatalf("%d %s", status, to)
				}
			}
		}
	}
	act(t, ctx, "findings", chromedp.Click(`nav a[href="/trial/zwei-stufen-mehr.trial"]`))
	arrive(t, ctx, `document.querySelector('#findings svg') !== null`)
	fits("the findings on a phone")

	for {
		select {
		case c := <-complaints:
			if !strings.Contains(c, "422") { // the browser notes refusals, which the page tells
				t.Errorf("the browser complains: %s", c)
			}
			continue
		default:
		}
		break
	}
}
