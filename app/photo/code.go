package photo

import (
	"cmp"
	"crypto/sha256"
	"slices"

	"underlamp/science/plantlabel"
)

// A Subject is what a label stands for: a plant of a bench, or of a trial.
type Subject struct {
	Bench string // name of the bench file without ending; empty: of no bench
	Plant string // name on the bench
	Trial string // name of the trial file without ending; empty: of no trial
	Unit  string // with Trial: the code of the plant in its plan
}

// letters of codes: digits and capitals without I, L, O and U, which eyes mistake.
const letters = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"

// codeLength gives 40 bits: among 10 000 labels two are alike once in 20 000 farms.
const codeLength = 8

// CodeOf is the code of a subject. It is made of its names, so that the same label can be
// printed again, and no list has to be kept. A plant that grows in the same place later has the
// same label; the day tells which crop it is.
func CodeOf(s Subject) plantlabel.Code {
	text := "bench\x00" + s.Bench + "\x00" + s.Plant
	if s.Trial != "" {
		text = "trial\x00" + s.Trial + "\x00" + s.Unit
	}
	h := sha256.Sum256([]byte(text))
	out := make([]byte, codeLength)
	bits, n := uint64(0), 0
	for i, at := 0, 0; i < codeLength; i++ {
		for n < 5 {
			bits, n = bits<<8|uint64(h[at]), n+8
			at++
		}
		out[i] = letters[bits>>(n-5)&31]
		n -= 5
	}
	return plantlabel.Code(out)
}

// A Register finds what labels stand for.
type Register map[plantlabel.Code]Subject

// Add enters subjects. It returns those whose code stands for something else already; they
// are left out.
func (r Register) Add(all ...Subject) (clashes []Subject) {
	for _, s := range all {
		c := CodeOf(s)
		if old, ok := r[c]; ok && old != s {
			clashes = append(clashes, s)
			continue
		}
		r[c] = s
	}
	return clashes
}

// Subjects are those registered, by bench, trial and name.
func (r Register) Subjects() []Subject {
	var out []Subject
	for _, s := range r {
		out = append(out, s)
	}
	slices.SortFunc(out, func(a, b Subject) int {
		return cmp.Or(cmp.Compare(a.Bench, b.Bench), cmp.Compare(a.Trial, b.Trial), cmp.Compare(a.Unit, b.Unit), cmp.Compare(a.Plant, b.Plant))
	})
	return out
}
