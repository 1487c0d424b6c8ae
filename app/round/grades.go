package round

import (
	"fmt"

	"underlamp"
	"underlamp/science/calcium"
)

// A Grade is one grade of burn.
type Grade struct {
	Number int
	Says   string // what is seen: "under 5 % of the leaves: one or two brown tips"
}

// Grades are the grades of burn from none up, as a person tells them apart: how many of
// the leaves, the youngest ones of the heart included, have a brown or black margin. The
// bounds are those of package calcium.
func Grades() []Grade {
	looks := [underlamp.MaxSeverity + 1]string{
		"no brown margin on any leaf, also when the heart is opened",
		"a leaf or two with brown tips",
		"some young leaves with brown margins; they can be trimmed",
		"a ring of young leaves with brown margins",
		"most young leaves of the heart brown",
		"the heart is brown or rotten",
	}
	var out []Grade
	for n, look := range looks {
		from, to := 100*calcium.SeverityFrom(n), 100*calcium.SeverityFrom(n+1)
		var share string
		switch {
		case n == 0:
			share = "none"
		case n == 1:
			share = fmt.Sprintf("under %.0f %% of the leaves", to)
		case n == underlamp.MaxSeverity:
			share = fmt.Sprintf("%.0f %% of the leaves and more", from)
		default:
			share = fmt.Sprintf("%.0f to %.0f %% of the leaves", from, to)
		}
		out = append(out, Grade{n, share + ": " + look})
	}
	return out
}
