package cli

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"underlamp/app/light"
	"underlamp/app/outlook"
	"underlamp/app/round"
	"underlamp/app/trouble"
	"underlamp/formats/evidencefile"
	"underlamp/safefolder"
	"underlamp/science/diagnosis"
	"underlamp/store"
	"underlamp/working"
)

type troubleOptions struct {
	bench, store, zone, evidence string
	symptoms, answers            []string
	list, table, cases           bool
	keep                         bool
	by, note                     string
	outcome, cause, helped       string
	json, noAsk                  bool
}

func newTrouble(w World) *cobra.Command {
	var o troubleOptions
	cmd := &cobra.Command{
		Use:   "trouble [BENCH]",
		Short: "What is wrong with these plants: likely causes by the bench's records, and a first change",
		Long: `trouble ranks causes of what you see on the plants (--symptom, again for each; --list
shows them) by a table of evidence, in the light of the records of the bench: light,
air, feed, days, weighings, and what sensors read in the last three days (--store).
What nobody gave counts for nothing. On a terminal it asks at most four questions, the
one that tells most first; --answer gives answers beforehand.

It says what speaks for and against each cause, what one observation would tell the first
two apart, what to change first, what the outlook expects of that, and when to look again.

--keep keeps the case, in the store or else in a file beside the bench file; --cases
lists them; --outcome CASE --cause C records what it was. The table can be read with
--evidence-table, and amended by a file (--evidence, or evidence.yaml beside the bench file).`,
		Example: `  The demo's middle tier has brown margins in its hearts:

  underlamp demo --no-serve
  underlamp trouble underlamp-demo/tier-2-middle.yaml --symptom inner-leaf-burn

  Plants are small and pale below, and their roots are white; the case is kept:

  underlamp trouble underlamp-demo/tier-2-middle.yaml --symptom slow --symptom pale-old --answer roots=white --keep --by Ines
  underlamp trouble underlamp-demo/tier-2-middle.yaml --cases

  What can be seen, and the table itself:

  underlamp trouble --list
  underlamp trouble --evidence-table`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) > 1 || len(args) == 0 && !o.list && !o.table {
				return &wrongError{err: fmt.Errorf("%s takes one bench file, for example: %s mybench.yaml --symptom inner-leaf-burn", cmd.CommandPath(), cmd.CommandPath())}
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 1 {
				o.bench = args[0]
			}
			return runTrouble(cmd, w, o)
		},
	}
	f := cmd.Flags()
	f.StringArrayVarP(&o.symptoms, "symptom", "s", nil, "what you see, by its key or a word of its name; may be given several times")
	f.StringArrayVarP(&o.answers, "answer", "a", nil, "an answer beforehand, such as roots=white; may be given several times")
	f.BoolVar(&o.list, "list", false, "list symptoms and questions with their keys, and end")
	f.BoolVar(&o.table, "evidence-table", false, "print the table of evidence as a file that can be amended, and end")
	f.StringVar(&o.evidence, "evidence", "", "a file that amends the table of evidence (default: evidence.yaml beside the bench file, if it is there)")
	storeFlag(f, &o.store, "its sensors, rounds and cases are looked at")
	zoneFlag(f, &o.zone, "")
	f.BoolVar(&o.keep, "keep", false, "keep the case")
	byFlag(f, &o.by)
	f.StringVar(&o.note, "note", "", noteUsage+"; it is kept with the case")
	f.BoolVar(&o.cases, "cases", false, "list the cases of the bench and how often the first cause was right, and end")
	f.StringVar(&o.outcome, "outcome", "", "record what became of the case of this id, and end")
	f.StringVar(&o.cause, "cause", "", "with --outcome: key of the cause that it was, or else; left out if it was never found")
	f.StringVar(&o.helped, "helped", "", "with --outcome: whether the change helped, yes or no")
	f.BoolVar(&o.noAsk, "no-questions", false, "ask nothing")
	jsonFlag(f, &o.json, "nothing is asked")
	renamedFlag(w, f, "table", "evidence-table")
	return cmd
}

func runTrouble(cmd *cobra.Command, w World, o troubleOptions) error {
	if o.table {
		_, err := w.Out.Write(evidencefile.Text())
		return err
	}
	t, err := evidenceFor(w, o)
	if err != nil {
		return err
	}
	if o.list {
		listTrouble(w, t)
		return nil
	}
	zone, err := zoneOf(o.zone)
	if err != nil {
		return err
	}
	ctx, now := cmd.Context(), time.Now().In(zone)
	key := strings.TrimSuffix(filepath.Base(o.bench), filepath.Ext(o.bench))
	var s store.Store
	var keep trouble.Keep
	if o.store != "" {
		if s, err = openStore(cmd, w, o.store, false); err != nil {
			return err
		}
		defer s.Close()
		keep = s
	} else {
		folder, err := safefolder.Open(filepath.Dir(o.bench))
		if err != nil {
			return &wrongError{err: err}
		}
		keep = &trouble.Beside{Folder: folder, File: trouble.BesideName(filepath.Base(o.bench))}
	}
	switch {
	case o.cases:
		return listCases(ctx, w, keep, key, o.json)
	case o.outcome != "":
		err := trouble.Conclude(ctx, keep, t, key, o.outcome, trouble.Outcome{At: now.UTC().Truncate(time.Second), By: o.by, Cause: o.cause, Help: o.helped, Note: o.note}, now)
		if errors.Is(err, store.ErrNotFound) {
			return &wrongError{err: fmt.Errorf("there is no case %q of %s; --cases lists them", o.outcome, key)}
		} else if err != nil {
			return &wrongError{err: err}
		}
		fmt.Fprintln(w.Out, "The outcome is recorded.")
		return nil
	}
	asked := trouble.Asked{}
	for _, word := range o.symptoms {
		k, err := trouble.Symptom(t, word)
		if err != nil {
			return &wrongError{err: err}
		}
		if !slices.Contains(asked.Symptoms, k) {
			asked.Symptoms = append(asked.Symptoms, k)
		}
	}
	if len(asked.Symptoms) == 0 {
		return &wrongError{err: errors.New("say what you see: --symptom inner-leaf-burn; underlamp trouble --list shows what there is")}
	}
	for _, a := range o.answers {
		f, state, ok := strings.Cut(a, "=")
		if !ok {
			return &wrongError{err: fmt.Errorf("%q is no answer; answers are written roots=white", a)}
		}
		asked.Answers = append(asked.Answers, trouble.Answer{Finding: f, State: state})
	}
	b, err := troubleBench(ctx, w, o.bench, key, s, now)
	if err != nil {
		return err
	}
	model, err := diagnosis.New(t)
	if err != nil {
		return err
	}
	x, err := trouble.Examine(model, b, asked)
	if err != nil {
		return &wrongError{err: err}
	}
	if w.Terminal && !o.json && !o.noAsk {
		lines := bufio.NewScanner(w.In)
		for x.Next != nil {
			answer, more := ask(w, lines, x.Next.Finding, len(asked.Answers)+1)
			if !more {
				break
			}
			asked.Answers = append(asked.Answers, answer)
			if x, err = trouble.Examine(model, b, asked); err != nil {
				return err
			}
		}
	}
	if err := x.Advise(b); err != nil {
		return err
	}
	var c *trouble.Case
	if o.keep {
		c = trouble.NewCase(key, x, o.by, o.note)
		if err := trouble.Save(ctx, keep, c, now); err != nil {
			return err
		}
	}
	if o.json {
		return writeJSON(w, troubleJSON(b, x, c))
	}
	printTrouble(w, b, x, c)
	return nil
}

// evidenceFor is the table as a file amends it.
func evidenceFor(w World, o troubleOptions) (*diagnosis.Table, error) {
	name := o.evidence
	if name == "" && o.bench != "" {
		beside := filepath.Join(filepath.Dir(o.bench), evidencefile.Name)
		if _, err := os.Stat(beside); err == nil {
			name = beside
		}
	}
	if name == "" {
		return evidencefile.Builtin(), nil
	}
	text, err := os.ReadFile(name)
	if err != nil {
		return nil, &wrongError{err: fmt.Errorf("the table of evidence cannot be read: %w", err)}
	}
	t, problems, err := evidencefile.Read(strings.NewReader(string(text)), evidencefile.Builtin())
	if err := shown(w, name, text, problems, err); err != nil {
		return nil, err
	}
	return t, nil
}

// troubleBench reads a bench with what its records can be made of.
func troubleBench(ctx context.Context, w World, name, key string, s store.Store, now time.Time) (*trouble.Bench, error) {
	bench, err := load(w, name)
	if err != nil {
		return nil, err
	}
	out := &trouble.Bench{Bench: bench, Now: now}
	if s != nil {
		if out.Sensed, err = trouble.Sense(ctx, s, key, now); err != nil {
			return nil, err
		}
		all, err := s.Observations(ctx, key, 0, math.MaxInt64)
		if err != nil {
			return nil, err
		}
		entries, faults := round.ReadAll(all)
		for _, f := range faults {
			fmt.Fprintln(w.Err, "underlamp: an observation cannot be read:", f)
		}
		out.Weighed = trouble.Weighings(round.NewRecord(entries, now.Location()), bench, now)
	}
	if out.Light, err = light.NewModel(bench); err != nil {
		return nil, err
	}
	var none *outlook.NotSupported
	switch out.Outlook, err = outlook.New(out.Light, troubleDraws); {
	case errors.As(err, &none):
		return out, nil
	case err != nil:
		return nil, err
	}
	if len(out.Weighed) > 0 { // nothing else is set beside it
		out.Forecast, err = out.Outlook.Forecast(nil)
	}
	return out, err
}

// troubleDraws is the number of draws of the outlook here.
const troubleDraws = 300

// ask asks one question; false at the end of what is typed.
func ask(w World, lines *bufio.Scanner, f *diagnosis.Finding, n int) (trouble.Answer, bool) {
	fmt.Fprintf(w.Out, "\n%d of at most %d. %s\n", n, trouble.MostQuestions, f.Ask)
	for i, s := range f.States {
		fmt.Fprintf(w.Out, "  %d  %s\n", i+1, s.Name)
	}
	fmt.Fprintln(w.Out, "  0  not known")
	for {
		fmt.Fprint(w.Out, "> ")
		if !lines.Scan() {
			return trouble.Answer{}, false
		}
		text := strings.TrimSpace(lines.Text())
		if k, err := strconv.Atoi(text); err == nil && k >= 0 && k <= len(f.States) {
			a := trouble.Answer{Finding: f.Key}
			if k > 0 {
				a.State = f.States[k-1].Key
			}
			return a, true
		}
		fmt.Fprintf(w.Out, "Type a number from 0 to %d.\n", len(f.States))
	}
}

func listTrouble(w World, t *diagnosis.Table) {
	fmt.Fprintln(w.Out, "Symptoms (--symptom):")
	var rows [][]string
	for _, f := range trouble.Symptoms(t) {
		rows = append(rows, []string{f.Key, f.Name})
	}
	writeTable(w.Out, []column{{}, {}}, rows)
	fmt.Fprintln(w.Out, "\nQuestions (--answer KEY=STATE):")
	for _, f := range t.Findings {
		if !f.Askable() {
			continue
		}
		fmt.Fprintf(w.Out, "\n  %s: %s\n", f.Key, f.Ask)
		rows = nil
		for _, s := range f.States {
			rows = append(rows, []string{"  " + s.Key, s.Name})
		}
		writeTable(w.Out, []column{{}, {}}, rows)
	}
	fmt.Fprintf(w.Out, "\nCauses (--cause): ")
	var keys []string
	for _, c := range t.Causes {
		keys = append(keys, c.Key)
	}
	fmt.Fprintln(w.Out, strings.Join(append(keys, diagnosis.Else), ", "))
}

func listCases(ctx context.Context, w World, keep trouble.Keep, key string, asJSON bool) error {
	all, faults, err := trouble.Cases(ctx, keep, key)
	if err != nil {
		return err
	}
	for _, f := range faults {
		fmt.Fprintln(w.Err, "underlamp: a case cannot be read:", f)
	}
	tally := trouble.Count(all)
	if asJSON {
		return writeJSON(w, casesOut{append([]*trouble.Case{}, all...), tally})
	}
	if len(all) == 0 {
		fmt.Fprintf(w.Out, "No case of %s is kept. --keep keeps one.\n", key)
		return nil
	}
	var rows [][]string
	for _, c := range all {
		first := ""
		if len(c.Causes) > 0 {
			first = fmt.Sprintf("%s (%s)", c.Causes[0].Name, working.Percent(c.Causes[0].Chance))
		}
		became := "open, look again " + c.Again
		if o := c.Outcome(); o != nil {
			if became = o.Cause; became == "" {
				became = "never found out"
			}
			if o.Help != "" {
				became += ", helped: " + o.Help
			}
		}
		rows = append(rows, []string{c.ID, c.At.Format(time.DateOnly), strings.Join(c.Symptoms, ", "), first, became})
	}
	writeTable(w.Out, []column{{head: "case"}, {head: "day"}, {head: "seen"}, {head: "first cause"}, {head: "outcome"}}, rows)
	fmt.Fprintln(w.Out)
	writeParagraph(w.Out, "", tally.Says())
	return nil
}

// shownCauses is how many causes are told with their evidence.
const shownCauses = 3

func printTrouble(w World, b *trouble.Bench, x *trouble.Examination, c *trouble.Case) {
	fmt.Fprintf(w.Out, "%s, %s\n\n", b.Name, x.At.Format("2006-01-02"))
	var rows [][]string
	for _, r := range x.Causes[:min(6, len(x.Causes))] {
		rows = append(rows, []string{r.Name(), working.Percent(r.Chance), working.Percent(r.Low) + " to " + working.Percent(r.High), strings.Repeat("█", int(20*r.Chance+0.5))})
	}
	writeTable(w.Out, []column{{head: "cause"}, {"chance", true}, {"as the table allows", true}, {}}, rows)
	for i, r := range x.Causes[:min(shownCauses, len(x.Causes))] {
		if r.Cause == nil {
			continue
		}
		fmt.Fprintf(w.Out, "\n%d. %s\n", i+1, r.Name())
		writeParagraph(w.Out, "   ", r.Cause.Because)
		speaks, against := x.Reasons(r)
		for _, y := range speaks[:min(5, len(speaks))] {
			writeParagraph(w.Out, "   + ", reasonText(y))
		}
		for _, y := range against[:min(4, len(against))] {
			writeParagraph(w.Out, "   - ", reasonText(y))
		}
	}
	fmt.Fprintln(w.Out)
	if x.Apart != nil {
		writeParagraph(w.Out, "To tell the first two apart: ", trouble.LookText(x.Apart.Finding))
	}
	switch {
	case x.First != nil:
		writeParagraph(w.Out, "Change first: ", x.First.Text+". "+x.First.Says())
	default:
		writeParagraph(w.Out, "Change first: ", "nothing yet; what is seen fits no cause of the table well.")
	}
	fmt.Fprintf(w.Out, "Look again: %s\n", x.Again.Format("Monday 2 January 2006"))
	var unknown []string
	for _, r := range x.Records {
		if r.Default() {
			unknown = append(unknown, r.Name)
		}
	}
	if len(unknown) > 0 {
		fmt.Fprintln(w.Out)
		writeParagraph(w.Out, "", "Not given, and counted for nothing: "+strings.Join(unknown, ", ")+".")
	}
	fmt.Fprintln(w.Out)
	writeParagraph(w.Out, "", trouble.CannotSee(x))
	if c != nil {
		fmt.Fprintf(w.Out, "\nKept as case %s.\n", c.ID)
	}
}

func reasonText(y trouble.Reason) string {
	return fmt.Sprintf("%s: %s the odds; %s.", y.Text, y.Times, y.Says())
}

type troubleAnswer struct {
	Bench   string           `json:"bench" doc:"its name"`
	At      time.Time        `json:"at" doc:"when it was examined"`
	Seen    []string         `json:"symptoms" doc:"keys of what was seen"`
	Answers []trouble.Answer `json:"answers" doc:"to the questions that were asked"`
	Records []trouble.Record `json:"records" doc:"what is known by the records of the bench"`
	Causes  []troubleCause   `json:"causes" doc:"likeliest first"`
	Next    string           `json:"next_question,omitempty" doc:"question whose answer would tell most"`
	Apart   string           `json:"tells_first_two_apart,omitempty" doc:"one observation that tells the first two causes apart"`
	Change  string           `json:"change_first,omitempty" doc:"what to change first"`
	Expects string           `json:"expects,omitempty" doc:"what the outlook expects of that change"`
	Again   string           `json:"look_again" doc:"when to look again"`
	Case    string           `json:"case,omitempty" doc:"its id, if it was kept"`
}

type troubleCause struct {
	Key     string           `json:"key" doc:"of the cause"`
	Name    string           `json:"name" doc:"of the cause, in words"`
	Chance  float64          `json:"chance" doc:"of the cause, 0 to 1"`
	Low     float64          `json:"low" doc:"low end of the 90 % band over what the table leaves open"`
	High    float64          `json:"high" doc:"high end of the 90 % band over what the table leaves open"`
	Hidden  bool             `json:"hidden" doc:"no record can show it: a pest, a disease, a virus"`
	For     []trouble.Reason `json:"for" doc:"what speaks for it"`
	Against []trouble.Reason `json:"against" doc:"what speaks against it"`
}

func troubleJSON(b *trouble.Bench, x *trouble.Examination, c *trouble.Case) troubleAnswer {
	out := troubleAnswer{Bench: b.Name, At: x.At, Seen: x.Asked.Symptoms, Answers: append([]trouble.Answer{}, x.Asked.Answers...), Records: append([]trouble.Record{}, x.Records...), Again: x.Again.Format(time.DateOnly)}
	for _, r := range x.Causes {
		speaks, against := x.Reasons(r)
		out.Causes = append(out.Causes, troubleCause{r.Key, r.Name(), r.Chance, r.Low, r.High, r.Cause != nil && r.Cause.Hidden, speaks, against})
	}
	if x.Next != nil {
		out.Next = x.Next.Finding.Key
	}
	if x.Apart != nil {
		out.Apart = x.Apart.Finding.Key
	}
	if x.First != nil {
		out.Change, out.Expects = x.First.Text, x.First.Says()
	}
	if c != nil {
		out.Case = c.ID
	}
	return out
}

// casesOut is the cases of a bench.
type casesOut struct {
	Cases []*trouble.Case `json:"cases" doc:"the newest first"`
	Tally trouble.Tally   `json:"tally" doc:"how often the ranking was right"`
}
