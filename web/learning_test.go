package web_test

import (
	"io"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"underlamp/demo"
)

func post(t testing.TB, address string, form url.Values) (int, string) {
	t.Helper()
	client := http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	r, err := client.PostForm(address, form)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Body.Close()
	body, err := io.ReadAll(r.Body)
	if err != nil {
		t.Fatal(err)
	}
	return r.StatusCode, string(body)
}

// Cycles and profiles are no benches; a bench with cycles has a section for them, one
// without has none; a cycle with mistakes says them on the page.
func TestCyclesBesideABench(t *testing.T) {
	dir := folder(t)
	if err := os.WriteFile(filepath.Join(dir, "bad.yaml"), []byte("underlamp cycle: 1\nbench: tier-2-middle.yaml\ntransplanted: <b>soon</b>\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	s := site(t, dir)
	_, _, list := get(t, s.URL+"/")
	if strings.Contains(list, "cycle") || strings.Contains(list, "/bench/bad") {
		t.Error("a cycle is listed as a bench")
	}
	if status, _, _ := get(t, s.URL+"/bench/tier-2-middle.summer.cycle"); status != http.StatusNotFound {
		t.Errorf("the page of a cycle answers %d", status)
	}
	_, _, with := get(t, s.URL+"/bench/tier-2-middle")
	for _, want := range []string{"What your cycles taught", "records of 2 cycles: Summer, Early autumn", "bad.yaml has mistakes", "is no day of the calendar"} {
		if !strings.Contains(with, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	if strings.Contains(with, "<b>soon") {
		t.Error("a text of a file is not escaped")
	}
	if _, _, without := get(t, s.URL+"/bench/tier-1-top"); strings.Contains(without, "What your cycles taught") {
		t.Error("a bench without cycles has a section of them")
	}
	learn := s.URL + "/bench/tier-2-middle/learn"
	if status, _ := post(t, learn, url.Values{"do": {"dance"}}); status != http.StatusBadRequest {
		t.Errorf("another word answers %d", status)
	}
	if status, _, _ := get(t, s.URL+"/bench/tier-2-middle/profile"); status != http.StatusNotFound {
		t.Errorf("a profile before learning answers %d", status)
	}
	r, err := http.NewRequest("POST", learn, strings.NewReader("do=start"))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Origin", "http://elsewhere.example")
	r.Header.Set("Sec-Fetch-Site", "cross-site")
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	answer.Body.Close()
	if answer.StatusCode != http.StatusForbidden {
		t.Errorf("a form of another site answers %d", answer.StatusCode)
	}
}

// A person presses the button, sees progress, and then the outlook before and after;
// the profile can be saved, and the page keeps WCAG 2.2 AA.
func TestLearningInABrowser(t *testing.T) {
	dir := folder(t)
	if err := os.Remove(filepath.Join(dir, "tier-2-middle.autumn.cycle.yaml")); err != nil {
		t.Fatal(err)
	}
	// One crop of two weeks is learned in a seventh of the time; the page is the same.
	summer := filepath.Join(dir, "tier-2-middle.summer.cycle.yaml")
	var short []string
	for line := range strings.Lines(string(demo.File(filepath.Base(summer)))) {
		if !regexp.MustCompile(`date: 2026-08-[12]`).MatchString(line) {
			short = append(short, strings.Replace(line, "harvested: 2026-08-21", "harvested: 2026-08-03", 1))
		}
	}
	if err := os.WriteFile(summer, []byte(strings.Join(short, "")), 0o644); err != nil {
		t.Fatal(err)
	}
	s := site(t, dir)
	ctx := browser(t, 10*time.Minute)
	act(t, ctx, "open", chromedp.EmulateViewport(1280, 900), chromedp.Navigate(s.URL+"/bench/tier-2-middle"))
	wait(t, ctx, `document.querySelectorAll('#best-part .take').length > 0`)
	act(t, ctx, "learn", chromedp.Click("#learn-part .do"))
	arrive(t, ctx, `document.querySelector('#learn-part [data-work] progress') !== null`)
	until(t, ctx, `document.querySelector('#learn-part [data-state="done"]') !== null`)
	if lead := text(t, ctx, "#learn-part .lead"); !strings.Contains(lead, "Learned from Summer") {
		t.Errorf("lead %q", lead)
	}
	if pictures := ask[int](t, ctx, `document.querySelectorAll('#learn-part svg').length`); pictures != 4 {
		t.Errorf("%d pictures, want two wide and two narrow", pictures)
	}
	if twice := ask[string](t, ctx, `[...document.querySelectorAll('[id]')].map((e) => e.id).filter((id, i, all) => all.indexOf(id) !== i).join(' ')`); twice != "" {
		t.Errorf("ids twice: %s", twice)
	}
	status, header, profile := get(t, s.URL+"/bench/tier-2-middle/profile")
	if status != http.StatusOK || !strings.Contains(header.Get("Content-Disposition"), "profile.yaml") || !strings.Contains(profile, "underlamp profile: 1") {
		t.Errorf("the profile answers %d, %q", status, header.Get("Content-Disposition"))
	}
	for _, look := range []struct {
		width int64
		theme string
	}{{390, "dark"}} {
		act(t, ctx, "look", chromedp.EmulateViewport(look.width, 900), chromedp.Navigate(s.URL+"/bench/tier-2-middle#learn"))
		wait(t, ctx, `document.querySelectorAll('#best-part .take').length > 0 && document.querySelector('#learn-part [data-state="done"]') !== null`)
		if over := ask[int](t, ctx, `document.documentElement.scrollWidth - window.innerWidth`); over > 0 {
			t.Errorf("at %d px the page is %d px too wide", look.width, over)
		}
		axeCheck(t, ctx, look.theme)
	}
}
