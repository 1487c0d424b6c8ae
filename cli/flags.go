package cli

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"sync"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"underlamp/science/quantity"
)

// What flags that many commands have say of themselves. A flag means the same and takes
// the same wherever it stands; what a command does with it follows after a semicolon.
const (
	storeUsage   = "the store that underlamp serve keeps: a file, or postgres://user@host/database"
	zoneUsage    = "time zone of the days, such as Europe/Berlin (default: that of this machine)"
	outputUsage  = "write to this file"
	byUsage      = "who says so"
	noteUsage    = "a note for people"
	jsonUsage    = "print as JSON"
	workingUsage = "show how each figure was reached"
	seedUsage    = "seed of what is drawn by chance; the same seed gives the same answer"
)

// also adds what one command does with a flag.
func also(usage, more string) string {
	if more == "" {
		return usage
	}
	return usage + "; " + more
}

func storeFlag(f *pflag.FlagSet, to *string, more string) {
	f.StringVar(to, "store", "", also(storeUsage, more))
}

func zoneFlag(f *pflag.FlagSet, to *string, more string) {
	f.StringVar(to, "zone", "", also(zoneUsage, more))
}

// outputFlag names a file; without says what is done without it.
func outputFlag(f *pflag.FlagSet, to *string, without string) {
	usage := outputUsage
	if without != "" {
		usage += " (default: " + without + ")"
	}
	f.StringVarP(to, "output", "o", "", usage)
}

// swallowed finds an option that another took for its value, as -o does with --help in
// "-o --help": a file of that name is hardly ever meant.
func swallowed(cmd *cobra.Command) error {
	var err error
	cmd.Flags().Visit(func(f *pflag.Flag) {
		if v := f.Value.String(); err == nil && f.Value.Type() == "string" && strings.HasPrefix(v, "--") {
			err = &wrongError{err: fmt.Errorf("--%s needs a value, and %q looks like the next option (%s --help lists the options; a file of that name is ./%s)", f.Name, v, cmd.CommandPath(), v)}
		}
	})
	return err
}

func byFlag(f *pflag.FlagSet, to *string) { f.StringVar(to, "by", "", byUsage) }
func noteFlag(f *pflag.FlagSet, to *string, more string) {
	f.StringVar(to, "note", "", also(noteUsage, more))
}
func jsonFlag(f *pflag.FlagSet, to *bool, more string) {
	f.BoolVar(to, "json", false, also(jsonUsage, more))
}
func workingFlag(f *pflag.FlagSet, to *bool)              { f.BoolVar(to, "working", false, workingUsage) }
func seedFlag(f *pflag.FlagSet, to *uint64, usual uint64) { f.Uint64Var(to, "seed", usual, seedUsage) }

func htmlFlag(f *pflag.FlagSet, to *string) {
	f.StringVar(to, "html", "", "also write a page with the pictures to this HTML file, or PDF if it ends in .pdf")
}

func svgFlag(f *pflag.FlagSet, to *string) {
	f.StringVar(to, "svg", "", "also write the picture to this SVG file")
}

// unitsFlag chooses the system of units; without says which is taken without it.
func unitsFlag(f *pflag.FlagSet, to *string, without string) {
	f.StringVar(to, "units", "", "units of what is printed: metric or us (default: "+without+")")
}

// system reads --units; empty text is the usual one.
func system(text string, usual quantity.System) (quantity.System, error) {
	switch strings.ToLower(text) {
	case "":
		return usual, nil
	case "metric":
		return quantity.Metric, nil
	case "us":
		return quantity.US, nil
	}
	return usual, wrongf("--units is metric or us, not %q", text)
}

// A span is a flag for a time that goes by, with its unit: "7 d", "90 s". A number
// alone counts in unit; what Go writes, such as 1m30s, is understood too.
type span struct {
	to   *time.Duration
	unit time.Duration
}

func spanFlag(f *pflag.FlagSet, to *time.Duration, name string, unit time.Duration, usage string) {
	f.Var(&span{to, unit}, name, usage)
}

// Type names the flag in help.
func (s *span) Type() string { return "span" }

// String is the time as people write it.
func (s *span) String() string {
	if s.to == nil || *s.to == 0 {
		return ""
	}
	if days := s.to.Hours() / 24; s.unit >= 24*time.Hour {
		return quantity.Days.Format(days, quantity.Metric, 3)
	}
	return quantity.Duration.Format(s.to.Hours(), quantity.Metric, 3)
}

// Set reads a time.
func (s *span) Set(text string) error {
	if n, err := strconv.ParseFloat(text, 64); err == nil && (s.unit == 0 || n < 0 || n > 1e6) {
		return errors.New("it is out of range")
	} else if err == nil {
		*s.to = time.Duration(n * float64(s.unit))
		return nil
	}
	if d, err := time.ParseDuration(strings.ReplaceAll(text, " ", "")); err == nil && d >= 0 {
		*s.to = d
		return nil
	}
	h, err := quantity.Duration.Parse(text)
	if err != nil {
		h, err = quantity.Days.Parse(text)
		h *= 24
	}
	if err != nil || h < 0 || h > 1e6 {
		return errors.New(`it is no time such as "7 d", "2 h", "1 min" or "10 s"`)
	}
	*s.to = time.Duration(h * float64(time.Hour)).Round(time.Millisecond)
	return nil
}

// renamedFlag takes the old name of a flag for one version more, and says the new one
// on standard error. The old name stands in no help and in no completion.
func renamedFlag(w World, f *pflag.FlagSet, old, name string) {
	before := f.GetNormalizeFunc()
	var once sync.Once
	f.SetNormalizeFunc(func(f *pflag.FlagSet, said string) pflag.NormalizedName {
		if said == old {
			once.Do(func() {
				fmt.Fprintf(w.Err, "underlamp: --%s is called --%s now; the old name goes with the next version\n", old, name)
			})
			return pflag.NormalizedName(name)
		}
		return before(f, said)
	})
}

// retiredFlag takes a switch for one version more, and says on standard error what is
// written instead.
func retiredFlag(w World, f *pflag.FlagSet, to *bool, old, instead string) {
	f.Var(&retired{to: to, told: func() {
		fmt.Fprintf(w.Err, "underlamp: write %s instead of --%s; the old name goes with the next version\n", instead, old)
	}}, old, "the same as "+instead)
	retired := f.Lookup(old)
	retired.NoOptDefVal, retired.Hidden = "true", true
}

// retired is a switch that tells when it is used.
type retired struct {
	to   *bool
	told func()
}

func (r *retired) Type() string   { return "bool" }
func (r *retired) String() string { return strconv.FormatBool(r.to != nil && *r.to) }
func (r *retired) Set(text string) (err error) {
	r.told()
	*r.to, err = strconv.ParseBool(text)
	return err
}
