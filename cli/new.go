package cli

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"underlamp"
	"underlamp/formats/benchfile"
	"underlamp/science/quantity"
)

type newOptions struct {
	out   string
	yes   bool
	us    bool
	units string
	force bool
}

func newNew(w World) *cobra.Command {
	var o newOptions
	cmd := &cobra.Command{
		Use:   "new",
		Short: "Write a bench file from five questions",
		Long: `new asks five questions (space, lamps, plants, fan, price of electricity) and
writes a bench file with comments. Press Enter where you do not know: the value
that is assumed is marked as assumed. With --no-questions it asks nothing.`,
		Example: `  A tent of 80 x 80 x 90 cm with one lamp of 100 W that hangs at 45 cm, nine
  heads of romaine, a fan across them. Answer the five questions so:

  underlamp new -o tent.yaml
      80 x 80 x 90 cm
      1, 100 W, 45 cm
      9 romaine
      across
      0.28 EUR/kWh

  Then correct in the file what is marked as assumed, and check it:

  underlamp check tent.yaml

  Nothing known yet, everything assumed, in inches:

  underlamp new --no-questions --units us > shelf.yaml`,
		Args: noArguments,
		RunE: func(*cobra.Command, []string) error { return runNew(w, o) },
	}
	outputFlag(cmd.Flags(), &o.out, "standard output")
	cmd.Flags().BoolVar(&o.yes, "no-questions", false, "ask nothing; everything is assumed")
	renamedFlag(w, cmd.Flags(), "yes", "no-questions")
	unitsFlag(cmd.Flags(), &o.units, "metric")
	retiredFlag(w, cmd.Flags(), &o.us, "us", "--units us")
	cmd.Flags().BoolVar(&o.force, "force", false, "write over a file that is there")
	return cmd
}

func runNew(w World, o newOptions) error {
	if o.out != "" && !o.force {
		if _, err := os.Stat(o.out); err == nil {
			return &wrongError{err: fmt.Errorf("%s is there already; --force writes over it", o.out)}
		} else if !errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("%s: %w", o.out, err)
		}
	}
	var a benchfile.Answers
	units, err := system(o.units, quantity.Metric)
	if err != nil {
		return err
	}
	if o.us = o.us || units == quantity.US; o.us {
		a.Units = quantity.US
	}
	if !o.yes {
		q := questions{in: bufio.NewReader(io.LimitReader(w.In, maxInput)), out: w.Err, us: o.us}
		if err := q.ask(&a); err != nil {
			return err
		}
	}
	var b bytes.Buffer
	if err := benchfile.Write(&b, a); err != nil {
		return &wrongError{err: err}
	}
	if o.out == "" {
		_, err := w.Out.Write(b.Bytes())
		return err
	}
	if err := writeFile(o.out, b.Bytes()); err != nil {
		return err
	}
	w.news("%s written. Open it, correct what is marked as assumed, then: underlamp check %s\n", o.out, o.out)
	return nil
}

// questions asks a person on a terminal, or reads the answers line by line.
type questions struct {
	in  *bufio.Reader
	out io.Writer
	us  bool
}

// errNoMore ends the questions: the input is over, the rest is assumed.
var errNoMore = errors.New("no more answers")

// ask asks the five questions. An empty answer leaves the value assumed; a wrong
// one is explained and asked again.
func (q *questions) ask(a *benchfile.Answers) error {
	length := "120 x 60 x 45 cm"
	if q.us {
		length = "48 x 24 x 18 in"
	}
	steps := []func() error{
		func() error {
			return q.line(fmt.Sprintf("1/5 Space: width x depth x height between planting surface and what is above, for example %s", length), func(s string) error {
				v, err := benchfile.ParseSpace(s)
				if err == nil {
					a.Space = v
				}
				return err
			})
		},
		func() error {
			height := "32 cm"
			if q.us {
				height = "13 in"
			}
			return q.line(fmt.Sprintf("2/5 Lamps: how many, watts or photon flux of each, height, for example 2, 48 W, %s", height), func(s string) error {
				v, err := benchfile.ParseLamps(s)
				if err != nil {
					return err
				}
				if a.Space != nil && v.Height > a.Space.Height {
					return fmt.Errorf("the lamps would hang above what is over the plants, which is at %s; the height is that over the planting surface", quantity.Length.Format(float64(a.Space.Height), a.Units, 4))
				}
				a.Lamps = v
				return nil
			})
		},
		func() error {
			var types []string
			for _, t := range underlamp.HeadTypes() {
				types = append(types, string(t))
			}
			return q.line("3/5 Plants: how many and what type, for example 18 butterhead ("+strings.Join(types, ", ")+")", func(s string) error {
				v, err := benchfile.ParsePlants(s)
				if err == nil {
					a.Plants = v
				}
				return err
			})
		},
		func() error {
			return q.line("4/5 Fan: none, across (over the heads) or down (onto the hearts)", func(s string) error {
				v, err := benchfile.ParseFan(s)
				if err == nil {
					a.Fan = v
				}
				return err
			})
		},
		func() error {
			return q.line("5/5 Electricity: price, for example 0.31 EUR/kWh", func(s string) error {
				p, err := quantity.ParsePrice(s)
				if err == nil {
					a.Price = &p
				}
				return err
			})
		},
	}
	for _, step := range steps {
		if err := step(); errors.Is(err, errNoMore) {
			fmt.Fprintln(q.out)
			return nil
		} else if err != nil {
			return err
		}
	}
	return nil
}

// line asks until the answer is empty or understood.
func (q *questions) line(question string, take func(string) error) error {
	refused := false // what was answered last was not understood
	for {
		fmt.Fprintf(q.out, "%s\n  > ", question)
		s, err := q.in.ReadString('\n')
		s = strings.TrimSpace(s)
		if s != "" {
			if wrong := take(s); wrong != nil {
				fmt.Fprintf(q.out, "  %v\n", wrong)
				refused = true
				if err == nil {
					continue
				}
			}
		}
		switch {
		case errors.Is(err, io.EOF) && refused:
			fmt.Fprintln(q.out)
			return wrongf("the input ended before question %s was answered so that it is understood; nothing was written", question[:strings.IndexByte(question, '/')])
		case errors.Is(err, io.EOF):
			return errNoMore
		case err != nil:
			return fmt.Errorf("the answer cannot be read: %w", err)
		}
		return nil
	}
}
