package access

import (
	"context"
	"fmt"
	"strings"
)

// A Role is what a person may.
type Role string

// The roles.
const (
	Owner  Role = "owner"  // all
	Helper Role = "helper" // the walk past the plants, and nothing that is computed or set
	Viewer Role = "viewer" // reads what owners see, apart from the settings
)

// Roles are all.
var Roles = []Role{Owner, Helper, Viewer}

// ParseRole reads a role.
func ParseRole(text string) (Role, error) {
	for _, r := range Roles {
		if text == string(r) {
			return r, nil
		}
	}
	return "", &Wrong{fmt.Sprintf("%.20q is no role; there are owner (may all), helper (rounds only) and viewer (reads)", text)}
}

// Says tells what a person of the role may.
func (r Role) Says() string {
	switch r {
	case Owner:
		return "may all"
	case Helper:
		return "rounds only"
	case Viewer:
		return "reads"
	}
	return "may nothing"
}

// Who is a set of people that a page is for. The zero value is nobody, so that a page of
// which nothing was said is for nobody.
type Who uint8

// Sets of people.
const (
	Owners Who = 1 << iota
	Helpers
	Viewers
	Strangers // those who are not let in yet

	Readers  = Owners | Viewers
	Walkers  = Owners | Helpers
	Members  = Owners | Helpers | Viewers
	Everyone = Members | Strangers
)

// Has says that a visitor is among them.
func (w Who) Has(v Visitor) bool { return w&v.set() != 0 }

// String names the set.
func (w Who) String() string {
	var out []string
	for i, name := range []string{"owners", "helpers", "viewers", "strangers"} {
		if w&(1<<i) != 0 {
			out = append(out, name)
		}
	}
	if out == nil {
		return "nobody"
	}
	return strings.Join(out, ", ")
}

// A Visitor is who asks for a page. The zero value is a stranger.
type Visitor struct {
	Role    Role
	Person  string
	Session string // id; empty on this machine
	Here    bool   // on the machine that the server runs on
}

// Local is who sits at the machine that the server runs on.
func Local() Visitor { return Visitor{Role: Owner, Here: true} }

func (v Visitor) set() Who {
	switch v.Role {
	case Owner:
		return Owners
	case Helper:
		return Helpers
	case Viewer:
		return Viewers
	}
	return Strangers
}

type visitorKey struct{}

// With says in a context who asks.
func With(ctx context.Context, v Visitor) context.Context {
	return context.WithValue(ctx, visitorKey{}, v)
}

// From tells who asks; a stranger if nobody said.
func From(ctx context.Context) Visitor {
	v, _ := ctx.Value(visitorKey{}).(Visitor)
	return v
}
