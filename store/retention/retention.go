// Package retention forgets readings when the person says so: by rules for all sensors,
// for those of a quantity, or for one. The sums by hour stay.
//
// Rules are documents of kind "keep". Without a rule everything is kept.
package retention

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"time"

	"underlamp/store"
)

// Kind is that of the documents which hold rules.
const Kind = "keep"

// A Rule says how long readings are kept.
type Rule struct {
	Scope Scope
	Name  string // of the quantity or sensor
	Days  int    // 0 keeps them always
}

// A Scope is which sensors a rule is for.
type Scope string

// Scopes; the narrower rule counts.
const (
	All      Scope = "all"
	Quantity Scope = "quantity"
	Sensor   Scope = "sensor"
)

// Longest is the most days that a rule may name.
const Longest = 36500

// document is the name under which a rule is kept; a second rule for the same replaces it.
func (r Rule) document() string {
	if r.Scope == All {
		return string(All)
	}
	return string(r.Scope) + " " + r.Name
}

// String is the rule in words.
func (r Rule) String() string {
	of := "all sensors"
	switch r.Scope {
	case Quantity:
		of = "sensors of " + r.Name
	case Sensor:
		of = "sensor " + r.Name
	}
	if r.Days == 0 {
		return of + ": readings are kept always"
	}
	return fmt.Sprintf("%s: readings are kept for %d days", of, r.Days)
}

type text struct {
	Days int `json:"days"`
}

// Put enters a rule, in place of the one for the same.
func Put(ctx context.Context, in store.Documents, r Rule, now time.Time) error {
	switch {
	case r.Scope != All && r.Name == "":
		return fmt.Errorf("a rule for a %s names it", r.Scope)
	case r.Days < 0 || r.Days > Longest:
		return fmt.Errorf("%d days are no time to keep readings for; say 1 to %d, or 0 for always", r.Days, Longest)
	}
	data, err := json.Marshal(text{r.Days})
	if err != nil {
		return err
	}
	return in.PutDocument(ctx, store.Document{Kind: Kind, Name: r.document(), Recorded: store.At(now), Text: data})
}

// Drop takes the rule for the same away.
func Drop(ctx context.Context, in store.Documents, r Rule) error {
	return in.DropDocument(ctx, Kind, r.document())
}

// Rules are all, by name. One that cannot be read is an error: a rule in doubt forgets
// nothing.
func Rules(ctx context.Context, in store.Documents) ([]Rule, error) {
	all, err := in.Documents(ctx, Kind)
	if err != nil {
		return nil, err
	}
	var out []Rule
	for _, d := range all {
		scope, name, _ := strings.Cut(d.Name, " ")
		r := Rule{Scope: Scope(scope), Name: name}
		var t text
		known := r.Scope == All && name == "" || (r.Scope == Quantity || r.Scope == Sensor) && name != ""
		if err := json.Unmarshal(d.Text, &t); err != nil || !known || t.Days < 0 || t.Days > Longest {
			return nil, fmt.Errorf("the rule %q for keeping readings cannot be read; nothing is forgotten until it is entered anew", d.Name)
		}
		r.Days = t.Days
		out = append(out, r)
	}
	return out, nil
}

// For is the rule that counts for a sensor: its own, or that of its quantity, or that for
// all; ok is false if there is none.
func For(rules []Rule, s store.Sensor) (rule Rule, ok bool) {
	rank := func(r Rule) int {
		switch {
		case r.Scope == Sensor && r.Name == s.Key:
			return 3
		case r.Scope == Quantity && r.Name == s.Quantity:
			return 2
		case r.Scope == All:
			return 1
		}
		return 0
	}
	for _, r := range rules {
		if rank(r) > 0 && (!ok || rank(r) > rank(rule)) {
			rule, ok = r, true
		}
	}
	return rule, ok
}

// A Keeper is what retention needs of a store.
type Keeper interface {
	store.Documents
	store.Sensors
	store.Readings
}

// Apply forgets what the rules say by now. A sensor that fails does not stop the others.
func Apply(ctx context.Context, s Keeper, now time.Time) error {
	rules, err := Rules(ctx, s)
	if err != nil || len(rules) == 0 {
		return err
	}
	sensors, err := s.Sensors(ctx)
	if err != nil {
		return err
	}
	var failed []error
	for _, x := range sensors {
		if r, ok := For(rules, x); ok && r.Days > 0 {
			if err := s.Forget(ctx, x.ID, store.At(now)-int64(r.Days)*store.Day); err != nil {
				failed = append(failed, fmt.Errorf("sensor %q: %w", x.Key, err))
			}
		}
	}
	return errors.Join(failed...)
}
