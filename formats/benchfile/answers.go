package benchfile

import (
	"fmt"
	"strconv"
	"strings"

	"underlamp"
	"underlamp/formats/handwritten"
	"underlamp/science/quantity"
)

// The answers of a person to the questions of a new bench, as the command line and the pages
// ask them. Errors are sentences for that person.

// ParseSpace reads "120 x 60 x 45 cm"; the first two may leave their unit to the last.
func ParseSpace(s string) (*SpaceAnswer, error) {
	var out [3]quantity.Metre
	parts := strings.FieldsFunc(strings.ToLower(s), func(r rune) bool { return r == 'x' || r == '×' })
	if len(parts) != 3 {
		return nil, fmt.Errorf("%q is not three lengths with x between them; write for example 120 x 60 x 45 cm", s)
	}
	unit := strings.TrimLeft(strings.TrimSpace(parts[2]), "0123456789., ")
	for i, p := range parts {
		p = strings.TrimSpace(p)
		if strings.TrimLeft(p, "0123456789.,") == "" {
			p = strings.TrimSpace(p + " " + unit)
		}
		v, err := quantity.Length.Parse(p)
		if err != nil {
			return nil, err
		}
		out[i] = quantity.Metre(v)
	}
	return &SpaceAnswer{Width: out[0], Depth: out[1], Height: out[2]}, nil
}

// ParseLamps reads "2, 48 W, 32 cm": how many, watts or photon flux of each, height.
func ParseLamps(s string) (*LampsAnswer, error) {
	parts := strings.Split(s, ", ")
	if len(parts) != 3 {
		return nil, fmt.Errorf("%q is not a number, an amount and a height with commas between them; write for example 2, 48 W, 32 cm", s)
	}
	a := &LampsAnswer{}
	count := strings.ToLower(strings.TrimSpace(parts[0]))
	n, err := strconv.Atoi(strings.TrimSpace(strings.TrimSuffix(strings.TrimSuffix(count, "s"), "lamp"))) // "4 lamps"
	if err != nil || n < 1 || n > 50 {
		return nil, fmt.Errorf("%q is not a number of lamps from 1 to 50; write for example 2, 48 W, 32 cm", parts[0])
	}
	a.Count = n
	watts, wattErr := quantity.Power.Parse(parts[1])
	flux, fluxErr := quantity.PhotonFlux.Parse(parts[1])
	switch {
	case wattErr == nil:
		a.Watts = quantity.Watt(watts)
	case fluxErr == nil:
		a.Flux = quantity.PPF(flux)
	default:
		return nil, fmt.Errorf("%q is neither watts (48 W) nor a photon flux (120 µmol/s)", parts[1])
	}
	h, err := quantity.Length.Parse(parts[2])
	if err != nil {
		return nil, err
	}
	a.Height = quantity.Metre(h)
	return a, nil
}

// ParsePlants reads "18 butterhead": how many and, if said, of what type. "18", "18 lettuce"
// and the like leave the type open.
func ParsePlants(s string) (*PlantsAnswer, error) {
	fields := strings.Fields(strings.ToLower(s))
	a := &PlantsAnswer{}
	if len(fields) == 0 || len(fields) > 2 {
		return nil, fmt.Errorf("%q is not a number and a type", s)
	}
	n, err := strconv.Atoi(fields[0])
	if err != nil || n < 1 || n > 500 {
		return nil, fmt.Errorf("%q is not a number of plants from 1 to 500; write for example 18 butterhead", fields[0])
	}
	a.Count = n
	if len(fields) == 2 && fields[1] != "lettuce" && fields[1] != "plants" && fields[1] != "heads" {
		for _, t := range underlamp.HeadTypes() {
			if fields[1] == string(t) {
				a.Type = t
				return a, nil
			}
		}
		var types []string
		for _, t := range underlamp.HeadTypes() {
			types = append(types, string(t))
		}
		if near := handwritten.Nearest(fields[1], types); near != "" {
			return nil, fmt.Errorf("%q is no type that the outlook knows; did you mean %q?", fields[1], near)
		}
		return nil, fmt.Errorf("%q is no type that the outlook knows; there are %s, or give the number alone", fields[1], strings.Join(types, ", "))
	}
	return a, nil
}

// ParseFan reads where a fan blows: none, across or down.
func ParseFan(s string) (*underlamp.FanAim, error) {
	for _, aim := range underlamp.FanAims() {
		if strings.EqualFold(strings.TrimSpace(s), string(aim)) {
			return &aim, nil
		}
	}
	return nil, fmt.Errorf("%q is not one of none, across, down", s)
}
