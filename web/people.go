package web

import (
	"context"
	"errors"
	"fmt"
	"html/template"
	"io"
	"net/http"
	"net/netip"
	"os"
	"slices"
	"strconv"
	"strings"
	"time"

	"underlamp/access"
	"underlamp/app/settings"
	"underlamp/draw/qr"
	"underlamp/web/door"
)

// People lets people in and out; an [*access.Door] does.
type People interface {
	Invite(ctx context.Context, person string, role access.Role) (access.Invite, error)
	Redeem(ctx context.Context, code string, from netip.Addr, device string) (token string, v access.Visitor, err error)
	Sessions(ctx context.Context) ([]access.Session, []access.Open, error)
	End(ctx context.Context, session string) error
	Remove(ctx context.Context, person string) (int64, error)
}

var _ People = (*access.Door)(nil)

// An Authority is what phones are asked to trust; a [*localca.Authority] is one.
type Authority interface {
	DER() []byte
	Name() string
	Fingerprint() string
	Ends() time.Time
}

// Here is what the pages tell of the server.
type Here struct {
	Where  string // what is kept in, as people may see it; empty: nothing is kept
	Zone   string // that was given at the start, so that it cannot be set; may be empty
	Backup func(ctx context.Context, to io.Writer) error

	Plain     []string  // addresses for other machines over HTTP, the best first, with a slash at the end
	Secure    []string  // those over TLS
	Authority Authority // nil without TLS
}

// zoneNow is the zone of the days.
func (s *Site) zoneNow() *time.Location {
	if s.here.Zone == "" {
		if z := s.benches.set().Location(); z != nil {
			return z
		}
	}
	return s.zone
}

// pairView is what the page for a code shows.
type pairView struct {
	Title, Wrong, Code, Device string
	You                        *access.Visitor
	Plain, Authority           bool
}

func (s *Site) pairView(r *http.Request) pairView {
	v := pairView{Title: "Come in", Device: "computer", Plain: r.TLS == nil, Authority: s.here.Authority != nil}
	if strings.Contains(r.UserAgent(), "Mobi") { // as small screens say of themselves, by common practice
		v.Device = "phone"
	}
	if you := access.From(r.Context()); you.Role != "" {
		v.You = &you
	}
	return v
}

func (s *Site) pairPage(w http.ResponseWriter, r *http.Request) {
	s.page(w, http.StatusOK, "pair.tmpl", s.pairView(r))
}

// pair lets a browser in.
func (s *Site) pair(w http.ResponseWriter, r *http.Request) {
	v := s.pairView(r)
	if v.You != nil && v.You.Here {
		s.fail(w, http.StatusBadRequest, "This machine needs no code.", "Whoever sits at it is the owner.")
		return
	}
	device := r.PostFormValue("device")
	token, who, err := s.people.Redeem(r.Context(), r.PostFormValue("code"), door.From(r), device)
	var many *access.TooMany
	var bad *access.Wrong
	status := http.StatusUnprocessableEntity
	switch {
	case err == nil:
		s.log.Info("let in", "person", who.Person, "role", who.Role, "session", who.Session, "from", door.From(r))
		door.SetToken(w, r, token)
		http.Redirect(w, r, "/", http.StatusSeeOther)
		return
	case errors.As(err, &many):
		status = http.StatusTooManyRequests
		w.Header().Set("Retry-After", fmt.Sprint(int(many.Wait/time.Second)+1))
	case !errors.Is(err, access.ErrCode) && !errors.As(err, &bad):
		s.log.Error("pair", "err", err)
		s.fail(w, http.StatusServiceUnavailable, "The code cannot be looked up now.", "Try again in a while. If it stays so, underlamp doctor says why.")
		return
	}
	s.log.Info("not let in", "from", door.From(r), "why", err)
	v.Wrong, v.Code = sentence(err), r.PostFormValue("code")
	if len(v.Code) > 64 {
		v.Code = ""
	}
	if device != "" && len(device) <= 160 {
		v.Device = device
	}
	s.page(w, status, "pair.tmpl", v)
}

// sentence makes one of an error.
func sentence(err error) string {
	text := err.Error()
	return strings.ToUpper(text[:1]) + text[1:] + "."
}

// leave ends the session of a browser.
func (s *Site) leave(w http.ResponseWriter, r *http.Request) {
	v := access.From(r.Context())
	if v.Session != "" {
		if err := s.people.End(r.Context(), v.Session); err != nil && !errors.Is(err, access.ErrNobody) {
			s.peopleFailed(w, err)
			return
		}
		door.DropToken(w, r)
	}
	http.Redirect(w, r, "/pair", http.StatusSeeOther)
}

func (s *Site) peopleFailed(w http.ResponseWriter, err error) {
	s.log.Error("people", "err", err)
	s.fail(w, http.StatusServiceUnavailable, "The store cannot be read or written now.", "Try again in a while. If it stays so, underlamp doctor says why.")
}

// settingsView is what the page of settings shows.
type settingsView struct {
	Title, Wrong  string
	Set           settings.Settings
	Rates         string // as they are typed
	CanSet        bool
	GivenZone     string // at the start
	MachineZone   string
	Zones         []string
	People        bool
	Sessions      []sessionRow
	Names         []string // of people, to remove
	Open          []access.Open
	Roles         []access.Role
	Plain, Secure []string
	Authority     Authority
	Where         string
	Backup, Saved bool
	Programs      bool // tokens are kept
	Tokens        []tokenRow
	Scopes        []access.Scope
	NewToken      *newToken // made just now
}

type tokenRow struct{ ID, Name, May, Used, Until string }

type newToken struct{ Name, Text string }

type sessionRow struct {
	access.Session
	SinceText, SeenText string
	Mine                bool
}

// zones are offered; any other can be typed.
var zones = []string{"Africa/Cairo", "Africa/Johannesburg", "Africa/Lagos", "Africa/Nairobi", "America/Anchorage", "America/Argentina/Buenos_Aires", "America/Bogota", "America/Chicago", "America/Denver", "America/Halifax", "America/Los_Angeles", "America/Mexico_City", "America/New_York", "America/Phoenix", "America/Santiago", "America/Sao_Paulo", "Asia/Dhaka", "Asia/Dubai", "Asia/Jakarta", "Asia/Karachi", "Asia/Kolkata", "Asia/Manila", "Asia/Seoul", "Asia/Shanghai", "Asia/Singapore", "Asia/Tokyo", "Australia/Adelaide", "Australia/Brisbane", "Australia/Perth", "Australia/Sydney", "Europe/Athens", "Europe/Berlin", "Europe/Helsinki", "Europe/Istanbul", "Europe/Lisbon", "Europe/London", "Europe/Madrid", "Europe/Paris", "Europe/Rome", "Europe/Stockholm", "Europe/Warsaw", "Pacific/Auckland", "Pacific/Honolulu", "UTC"}

func (s *Site) settingsView(r *http.Request) (settingsView, error) {
	you := access.From(r.Context())
	v := settingsView{Title: "Settings", CanSet: s.settings != nil, GivenZone: s.here.Zone, MachineZone: s.zone.String(), Zones: zones,
		People: s.people != nil, Roles: access.Roles, Plain: s.here.Plain, Secure: s.here.Secure, Authority: s.here.Authority,
		Where: s.here.Where, Backup: s.here.Backup != nil, Saved: r.FormValue("saved") != ""}
	if v.MachineZone == "Local" {
		v.MachineZone = time.Now().Format("MST")
	}
	if s.settings != nil {
		var err error
		if v.Set, err = s.settings.Now(r.Context()); err != nil {
			v.Wrong = sentence(err)
		}
	}
	v.Rates = v.Set.RatesText()
	if r.Method == http.MethodPost && r.Pattern == "POST /settings" { // what was typed and cannot be set is on the page again
		v.Set = settings.Settings{Units: r.PostFormValue("units"), Zone: r.PostFormValue("zone"), Numbers: r.PostFormValue("numbers"), Currency: r.PostFormValue("currency")}
		v.Rates = r.PostFormValue("rates")
	}
	if s.tokens != nil {
		v.Programs, v.Scopes = true, access.Scopes
		live, err := s.tokens.Live(r.Context())
		if err != nil {
			return v, err
		}
		now, zone := time.Now(), s.zoneNow()
		for _, t := range live {
			row := tokenRow{ID: t.ID, Name: t.Name, Used: "never", Until: t.Until.In(zone).Format("2 January 2006")}
			if !t.Used.IsZero() {
				row.Used = since(t.Used.In(zone), now.In(zone))
			}
			var may []string
			for _, x := range t.Scopes {
				may = append(may, string(x))
			}
			row.May = strings.Join(may, ", ")
			v.Tokens = append(v.Tokens, row)
		}
	}
	if s.people == nil {
		return v, nil
	}
	all, open, err := s.people.Sessions(r.Context())
	if err != nil {
		return v, err
	}
	v.Open = open
	now, zone := time.Now(), s.zoneNow()
	for i := range open {
		open[i].Until = open[i].Until.In(zone)
		v.Names = append(v.Names, open[i].Person)
	}
	for _, x := range all {
		v.Sessions = append(v.Sessions, sessionRow{x, since(x.Made.In(zone), now.In(zone)), since(x.Seen.In(zone), now.In(zone)), x.ID == you.Session})
		v.Names = append(v.Names, x.Person)
	}
	slices.Sort(v.Names)
	v.Names = slices.Compact(v.Names)
	return v, nil
}

func (s *Site) settingsPage(w http.ResponseWriter, r *http.Request) {
	s.settingsShow(w, r, http.StatusOK, "")
}

func (s *Site) settingsShow(w http.ResponseWriter, r *http.Request, status int, wrong string) {
	s.settingsWith(w, r, status, wrong, nil)
}

func (s *Site) settingsWith(w http.ResponseWriter, r *http.Request, status int, wrong string, made *newToken) {
	v, err := s.settingsView(r)
	if err != nil {
		s.peopleFailed(w, err)
		return
	}
	v.NewToken = made
	if wrong != "" {
		v.Wrong = wrong
	}
	w.Header().Set("Cache-Control", "no-store")
	s.page(w, status, "settings.tmpl", v)
}

// settingsPut sets units, numbers, money and zone.
func (s *Site) settingsPut(w http.ResponseWriter, r *http.Request) {
	set := settings.Settings{Units: r.PostFormValue("units"), Zone: strings.TrimSpace(r.PostFormValue("zone")), Numbers: r.PostFormValue("numbers"), Currency: strings.TrimSpace(r.PostFormValue("currency"))}
	rates, err := settings.ParseRates(r.PostFormValue("rates"), set.Currency)
	if err != nil {
		s.settingsShow(w, r, http.StatusUnprocessableEntity, sentence(err))
		return
	}
	set.Rates = rates
	if s.here.Zone != "" { // the field is not on the page
		now, err := s.settings.Now(r.Context())
		if err != nil {
			s.peopleFailed(w, err)
			return
		}
		set.Zone = now.Zone
	}
	err = s.settings.Put(r.Context(), set)
	var bad *settings.Wrong
	switch {
	case errors.As(err, &bad):
		s.settingsShow(w, r, http.StatusUnprocessableEntity, sentence(err))
	case err != nil:
		s.peopleFailed(w, err)
	default:
		http.Redirect(w, r, "/settings?saved=1", http.StatusSeeOther)
	}
}

// invite makes a code and shows it, once.
func (s *Site) invite(w http.ResponseWriter, r *http.Request) {
	if len(s.here.Plain)+len(s.here.Secure) == 0 {
		s.settingsShow(w, r, http.StatusUnprocessableEntity, "The pages answer on this machine alone, so a code would let nobody in. Start underlamp serve with --lan.")
		return
	}
	i, err := s.people.Invite(r.Context(), r.PostFormValue("person"), access.Role(r.PostFormValue("role")))
	var bad *access.Wrong
	if errors.As(err, &bad) {
		s.settingsShow(w, r, http.StatusUnprocessableEntity, sentence(err))
		return
	}
	if err != nil {
		s.peopleFailed(w, err)
		return
	}
	type way struct {
		Name, Address string
		Picture       template.HTML
	}
	view := struct {
		Title string
		access.Invite
		UntilText string
		Ways      []way
	}{Title: "A code for " + i.Person, Invite: i, UntilText: i.Until.In(s.zoneNow()).Format("15:04")}
	add := func(name string, addresses []string) {
		if len(addresses) == 0 {
			return
		}
		svg, err := qr.SVG(addresses[0]+"pair#"+i.Code, "QR code that opens "+addresses[0]+"pair with the code")
		if err != nil {
			s.log.Error("QR", "err", err)
			return
		}
		view.Ways = append(view.Ways, way{name, addresses[0] + "pair", template.HTML(svg)}) // made here, with its label escaped
	}
	add("A phone that trusts this machine (encrypted)", s.here.Secure)
	add("Any other (not encrypted)", s.here.Plain)
	w.Header().Set("Cache-Control", "no-store")
	s.page(w, http.StatusOK, "code.tmpl", view)
}

// endSession revokes one.
func (s *Site) endSession(w http.ResponseWriter, r *http.Request) {
	s.ended(w, r, s.people.End(r.Context(), r.PostFormValue("session")))
}

// removePerson revokes all of a person.
func (s *Site) removePerson(w http.ResponseWriter, r *http.Request) {
	_, err := s.people.Remove(r.Context(), r.PostFormValue("person"))
	s.ended(w, r, err)
}

func (s *Site) ended(w http.ResponseWriter, r *http.Request, err error) {
	if err != nil && !errors.Is(err, access.ErrNobody) { // somebody else was faster
		s.peopleFailed(w, err)
		return
	}
	http.Redirect(w, r, "/settings#people", http.StatusSeeOther)
}

// backup makes a copy of the store whole and hands it out: what fails must not look like a
// copy.
func (s *Site) backup(w http.ResponseWriter, r *http.Request) {
	r.ParseForm()
	select {
	case s.backing <- struct{}{}:
		defer func() { <-s.backing }()
	default:
		s.fail(w, http.StatusConflict, "A copy is being made already.", "Wait until it is done, then ask again.")
		return
	}
	f, err := os.CreateTemp("", "underlamp-copy-*") // for this user alone
	if err == nil {
		defer os.Remove(f.Name())
		defer f.Close()
		if err = s.here.Backup(r.Context(), f); err == nil {
			_, err = f.Seek(0, io.SeekStart)
		}
	}
	if r.Context().Err() != nil {
		return
	}
	if err != nil {
		s.log.Error("backup", "err", err)
		s.fail(w, http.StatusInternalServerError, "The copy could not be made, and nothing was changed.", "Look whether the disk for temporary files is full. underlamp store backup makes a copy where you say.")
		return
	}
	s.log.Info("a copy was handed out", "person", access.From(r.Context()).Person, "from", door.From(r))
	w.Header().Set("Content-Type", "application/zip")
	w.Header().Set("Content-Disposition", `attachment; filename="underlamp-`+time.Now().In(s.zoneNow()).Format(time.DateOnly)+`.zip"`)
	w.Header().Set("Cache-Control", "no-store")
	http.ServeContent(w, r, "", time.Time{}, f)
}

// securePage leads to encrypted pages, step by step.
func (s *Site) securePage(w http.ResponseWriter, r *http.Request) {
	a := s.here.Authority
	view := struct {
		Title, Name, Print, Ends, Address string
		Secure                            []string
		Encrypted                         bool
		Picture                           template.HTML
	}{Title: "Encrypted pages", Name: a.Name(), Print: a.Fingerprint(), Ends: a.Ends().Format("2006"), Secure: s.here.Secure, Encrypted: r.TLS != nil}
	if len(s.here.Secure) > 0 {
		view.Address = s.here.Secure[0]
		svg, err := qr.SVG(view.Address, "QR code that opens "+view.Address)
		if err != nil {
			s.log.Error("QR", "err", err)
		}
		view.Picture = template.HTML(svg) // made here, with its label escaped
	}
	s.page(w, http.StatusOK, "secure.tmpl", view)
}

// authority hands out the certificate of the authority, which is no secret.
func (s *Site) authority(w http.ResponseWriter, _ *http.Request) {
	w.Header().Set("Content-Type", "application/x-x509-ca-cert")
	w.Header().Set("Content-Disposition", `attachment; filename="underlamp-authority.crt"`)
	w.Write(s.here.Authority.DER())
}

// tokenMake makes a token for a program and shows it, once.
func (s *Site) tokenMake(w http.ResponseWriter, r *http.Request) {
	r.ParseForm()
	var bad *access.Wrong
	scopes, err := access.ParseScopes(strings.Join(r.PostForm["may"], " "))
	days, numErr := strconv.Atoi(strings.TrimSpace(r.PostFormValue("days")))
	if err == nil && (numErr != nil || days < 1 || days > 3*365) {
		err = &access.Wrong{Text: "a token lasts for 1 to 1095 days"}
	}
	var text string
	var t access.Token
	if err == nil {
		text, t, err = s.tokens.Add(r.Context(), r.PostFormValue("token"), scopes, time.Duration(days)*24*time.Hour)
	}
	switch {
	case errors.As(err, &bad):
		s.settingsShow(w, r, http.StatusUnprocessableEntity, sentence(err))
	case err != nil:
		s.peopleFailed(w, err)
	default:
		s.log.Info("a token was made", "token", t.ID, "name", t.Name, "person", access.From(r.Context()).Person)
		s.settingsWith(w, r, http.StatusOK, "", &newToken{t.Name, text})
	}
}

// tokenRevoke ends one.
func (s *Site) tokenRevoke(w http.ResponseWriter, r *http.Request) {
	_, err := s.tokens.Revoke(r.Context(), r.PostFormValue("token"))
	if err != nil && !errors.Is(err, access.ErrNobody) { // somebody else was faster
		s.peopleFailed(w, err)
		return
	}
	http.Redirect(w, r, "/settings#tokens", http.StatusSeeOther)
}
