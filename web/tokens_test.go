package web_test

import (
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"underlamp/access"
)

// An owner makes a token on the page of settings; it is shown once, lets a program in with its
// scopes, and ends there. Others do not see the page.
func TestTokensOnThePage(t *testing.T) {
	n := newNetwork(t)
	owner, viewer := n.in(t, "Ida", access.Owner), n.in(t, "Kim", access.Viewer)
	form := url.Values{"token": {"heat watch"}, "may": {"read", "plan"}, "days": {"30"}}
	if status, _, _ := viewer.ask("POST", "/settings/token", form, viewer.at); status != 403 {
		t.Errorf("a viewer makes a token: %d", status)
	}
	if status, _, _ := owner.ask("POST", "/settings/token", form, "http://evil.example"); status != 403 {
		t.Errorf("a page elsewhere makes a token: %d", status)
	}
	status, h, body := owner.ask("POST", "/settings/token", form, owner.at)
	text := regexp.MustCompile(`ult_[\w-]{43}`).FindString(body)
	if status != 200 || text == "" || !strings.Contains(h.Get("Cache-Control"), "no-store") {
		t.Fatalf("%d %v\n%s", status, h, body)
	}
	for _, c := range []struct {
		form url.Values
		says string
	}{{form, "There is a token called"}, {url.Values{"token": {"x"}, "days": {"30"}}, "A token needs a scope"}, {url.Values{"token": {"x"}, "may": {"read"}, "days": {"4000"}}, "1 to 1095 days"}} {
		if status, _, body := owner.ask("POST", "/settings/token", c.form, owner.at); status != 422 || !strings.Contains(body, c.says) {
			t.Errorf("%v: %d", c.form, status)
		}
	}
	_, _, page := owner.ask("GET", "/settings", nil, "")
	id := regexp.MustCompile(`name="token" value="([^"]+)"><button class="quiet" type="submit" aria-label="Revoke the token of heat watch"`).FindStringSubmatch(page)
	if id == nil || strings.Contains(page, text) || !strings.Contains(page, "read, plan") {
		t.Fatalf("the list\n%s", page)
	}
	ask := func() int {
		r, err := http.NewRequest("GET", n.there.URL+"/api/v1/crops", nil)
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Authorization", "Bearer "+text)
		res, err := http.DefaultClient.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		res.Body.Close()
		return res.StatusCode
	}
	if got := ask(); got != 200 {
		t.Errorf("the token: %d", got)
	}
	if status, h, _ := owner.ask("POST", "/settings/token/revoke", url.Values{"token": {id[1]}}, owner.at); status != 303 || h.Get("Location") != "/settings#tokens" {
		t.Errorf("revoke: %d", status)
	}
	if got := ask(); got != 401 {
		t.Errorf("after it was revoked: %d", got)
	}
}
