package api

import (
	"encoding/json"
	"errors"
	"io"
	"net/http"
	"os"
	"strconv"
	"time"

	"underlamp/access"
	"underlamp/app/settings"
	"underlamp/wire"
)

var manages = []access.Scope{access.ScopeManage}

// An Authority is what phones are asked to trust.
type Authority interface {
	DER() []byte
	Name() string
	Fingerprint() string
	Ends() time.Time
}

func (a *API) peopleOps() []Operation {
	return []Operation{
		op(Operation{ID: "getSettings", Method: "GET", Path: "/settings", Tag: "Settings", Summary: "What is set for all pages", Scopes: []access.Scope{access.ScopeRead, access.ScopeManage}},
			func(c *Call, _ None, _ None) (wire.Settings, error) {
				set, stamp, err := a.settings(c)
				if err != nil {
					return wire.Settings{}, err
				}
				return settingsJSON(set), c.Version(stamp)
			}),
		op(Operation{ID: "putSettings", Method: "PUT", Path: "/settings", Tag: "Settings", Summary: "Replace what is set for all pages", Scopes: manages, Body: 16 << 10, Match: true,
			Doc: "What is left out is set no more. Units and money change what is computed of every bench. A zone that was given at the start of the server stays."},
			func(c *Call, _ None, s wire.Settings) (wire.Settings, error) {
				a.changes.Lock()
				defer a.changes.Unlock()
				_, stamp, err := a.settings(c)
				if err != nil {
					return wire.Settings{}, err
				}
				if err := c.Expects(stamp); err != nil {
					return wire.Settings{}, err
				}
				set := settings.Settings{Units: s.Units, Zone: s.Zone, Numbers: s.Numbers, Currency: s.Currency}
				for k, v := range s.Rates {
					if set.Rates == nil {
						set.Rates = map[string]float64{}
					}
					set.Rates[k] = float64(v)
				}
				err = a.o.Settings.Put(c.Context(), set)
				var bad *settings.Wrong
				if errors.As(err, &bad) {
					return wire.Settings{}, unfit(bad, "")
				}
				if err != nil {
					return wire.Settings{}, err
				}
				if set, stamp, err = a.settings(c); err != nil {
					return wire.Settings{}, err
				}
				return settingsJSON(set), c.Version(stamp)
			}),
		op(Operation{ID: "getPeople", Method: "GET", Path: "/people", Tag: "People", Summary: "Who may see the pages from elsewhere, and which codes are open", Scopes: manages},
			func(c *Call, _ None, _ None) (wire.People, error) {
				out := wire.People{Sessions: []wire.Session{}, Invitations: []wire.Invitation{}, Plain: append([]string{}, a.o.Plain...), Secure: append([]string{}, a.o.Secure...)}
				if a.o.People == nil {
					return out, noStore()
				}
				all, open, err := a.o.People.Sessions(c.Context())
				for _, x := range all {
					out.Sessions = append(out.Sessions, wire.Session{ID: x.ID, Person: x.Person, Role: string(x.Role), Device: x.Device, Made: x.Made.UTC(), Seen: x.Seen.UTC()})
				}
				for _, x := range open {
					out.Invitations = append(out.Invitations, wire.Invitation{Person: x.Person, Role: string(x.Role), Until: x.Until.UTC()})
				}
				return out, err
			}),
		op(Operation{ID: "invite", Method: "POST", Path: "/people/invitations", Tag: "People", Summary: "Make a code that lets a browser in, once", Scopes: manages, Body: 4 << 10, Status: http.StatusCreated,
			Doc: "The code is told here and nowhere else. It takes no Idempotency-Key, since answers to those are kept."},
			func(c *Call, _ None, i wire.Invited) (wire.Invitation, error) {
				if a.o.People == nil {
					return wire.Invitation{}, noStore()
				}
				if len(a.o.Plain)+len(a.o.Secure) == 0 {
					return wire.Invitation{}, unfit(errors.New("the pages answer on this machine alone, so a code would let nobody in"), "Start underlamp serve with --lan.")
				}
				x, err := a.o.People.Invite(c.Context(), i.Person, access.Role(i.Role))
				var bad *access.Wrong
				if errors.As(err, &bad) {
					return wire.Invitation{}, unfit(bad, "")
				}
				if err != nil {
					return wire.Invitation{}, err
				}
				out := wire.Invitation{Code: x.Code, Person: x.Person, Role: string(x.Role), Until: x.Until.UTC()}
				for _, at := range append(append([]string{}, a.o.Secure...), a.o.Plain...) {
					out.Links = append(out.Links, at+"pair#"+x.Code)
				}
				c.Created("/people")
				return out, nil
			}),
		op(Operation{ID: "endSession", Method: "DELETE", Path: "/people/sessions/{session}", Tag: "People", Summary: "End a session", Scopes: manages, Status: http.StatusNoContent},
			func(c *Call, p struct {
				Session string `path:"session" maxlen:"64"`
			}, _ None) (None, error) {
				if a.o.People == nil {
					return None{}, noStore()
				}
				err := a.o.People.End(c.Context(), p.Session)
				if errors.Is(err, access.ErrNobody) {
					return None{}, missing("There is no such session, or it has ended.", Prefix+"/people lists them.")
				}
				return None{}, err
			}),
		op(Operation{ID: "removePerson", Method: "DELETE", Path: "/people/{person}", Tag: "People", Summary: "End all sessions and codes of a person", Scopes: manages},
			func(c *Call, p struct {
				Person string `path:"person" maxlen:"80"`
			}, _ None) (wire.Removed, error) {
				if a.o.People == nil {
					return wire.Removed{}, noStore()
				}
				n, err := a.o.People.Remove(c.Context(), p.Person)
				if errors.Is(err, access.ErrNobody) {
					return wire.Removed{}, missing("Nobody of this name is let in.", Prefix+"/people lists them.")
				}
				return wire.Removed{Ended: int(n)}, err
			}),
		op(Operation{ID: "makeBackup", Method: "POST", Path: "/settings/backup", Tag: "Settings", Summary: "Make a copy of the store, and hand it out", Scopes: manages, Gives: []string{"application/zip"}, Errors: []int{http.StatusConflict},
			Doc: "The copy is made whole before the first byte goes out: what fails never looks like a copy. underlamp store restore reads it."},
			func(c *Call, _ None, _ None) (stream, error) { return a.backup(c) }),
		op(Operation{ID: "getCertificate", Method: "GET", Path: "/server/certificate", Tag: "Server", Summary: "The certificate authority of the server, that phones are asked to trust"},
			func(*Call, None, None) (wire.Certificate, error) {
				if a.o.Authority == nil {
					return wire.Certificate{}, missing("This server has no certificate authority.", "Start underlamp serve with --https.")
				}
				x := a.o.Authority
				return wire.Certificate{Name: x.Name(), Fingerprint: x.Fingerprint(), Ends: x.Ends().UTC(), Addresses: append([]string{}, a.o.Secure...)}, nil
			}),
		op(Operation{ID: "getCertificateFile", Method: "GET", Path: "/server/certificate.crt", Tag: "Server", Summary: "The same as a file (DER)", Gives: []string{"application/x-x509-ca-cert"}},
			func(*Call, None, None) (Raw, error) {
				if a.o.Authority == nil {
					return Raw{}, missing("This server has no certificate authority.", "Start underlamp serve with --https.")
				}
				return Raw{Type: "application/x-x509-ca-cert", Body: a.o.Authority.DER(), Name: "underlamp-authority.crt"}, nil
			}),
	}
}

// settings are what is set now, with what tells it apart.
func (a *API) settings(c *Call) (settings.Settings, string, error) {
	if a.o.Settings == nil {
		return settings.Settings{}, "", noStore()
	}
	set, err := a.o.Settings.Now(c.Context())
	if err != nil {
		return set, "", err
	}
	text, err := json.Marshal(set)
	return set, tagOf(string(text)), err
}

func settingsJSON(s settings.Settings) wire.Settings {
	out := wire.Settings{Units: s.Units, Zone: s.Zone, Numbers: s.Numbers, Currency: s.Currency}
	for k, v := range s.Rates {
		if out.Rates == nil {
			out.Rates = map[string]wire.Number{}
		}
		out.Rates[k] = wire.Number(v)
	}
	return out
}

// backup makes a copy of the store whole, then hands it out.
func (a *API) backup(c *Call) (stream, error) {
	if a.o.Backup == nil {
		return nil, noStore()
	}
	if !a.copying.TryLock() {
		return nil, problem(http.StatusConflict, "in-progress", "A copy is being made already.", "Ask again when it is done.").after(10)
	}
	f, err := os.CreateTemp("", "underlamp-copy-*") // for this user alone
	done := func() {
		if f != nil {
			f.Close()
			os.Remove(f.Name())
		}
		a.copying.Unlock()
	}
	if err == nil {
		if err = a.o.Backup(c.Context(), f); err == nil {
			_, err = f.Seek(0, io.SeekStart)
		}
	}
	var size int64
	if err == nil {
		var info os.FileInfo
		if info, err = f.Stat(); err == nil {
			size = info.Size()
		}
	}
	if err != nil {
		done()
		if c.Context().Err() != nil {
			return nil, c.Context().Err()
		}
		a.o.Log.Error("backup", "err", err)
		return nil, problem(http.StatusInternalServerError, "fault", "The copy could not be made, and nothing was changed.", "Look whether the disk for temporary files is full. underlamp store backup makes a copy where you say.")
	}
	name := "underlamp-" + a.today().Format(time.DateOnly) + ".zip"
	return func(w http.ResponseWriter) {
		defer done()
		h := w.Header()
		h.Set("Content-Type", "application/zip")
		h.Set("Content-Disposition", `attachment; filename="`+name+`"`)
		h.Set("Content-Length", strconv.FormatInt(size, 10))
		io.Copy(w, f) // whoever asked may leave
	}, nil
}
