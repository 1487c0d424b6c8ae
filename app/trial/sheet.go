package trial

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"hash/fnv"
	"math/rand/v2"
	"slices"
	"strings"
	"time"

	"underlamp"
)

// SheetOptions are choices of [NewSheet].
type SheetOptions struct {
	Start string // day of the first transplanting, YYYY-MM-DD, where the plan says none; empty: days are counted
	Days  int    // of a cycle, where the plan says none; 0 means 35
	Gap   int    // days from one harvest to the next transplanting, where the plan says none; 0 means 1
}

// A Sheet is what one needs to run a trial: what stands where, what to do on which day, and
// the codes of units and plants.
type Sheet struct {
	Trial  *underlamp.Trial
	Light  *TrialLight // nil without a bench
	Blocks []SheetBlock
	Jobs   []Job // by day
	Dated  bool  // jobs have a day of the calendar
}

// A SheetBlock is one block, mostly a cycle.
type SheetBlock struct {
	Name       string
	Start, End string      // days of transplanting and harvest; empty if not known
	Days       int         // from one to the other
	Light      *BlockLight // nil without a bench
	Units      []SheetUnit // in the drawn order in which they are looked at and cut
}

// A SheetUnit is what one walks up to: a lamp with its plants.
type SheetUnit struct {
	Name, Treatment, Lamp string
	Plants                []SheetPlant
}

// A SheetPlant is a plant with its code.
type SheetPlant struct {
	Code, Name string // Name on the bench; empty without one
	Part       string
	Guard      string // why it does not count; empty if it counts
}

// A Job is something to do on one day.
type Job struct {
	Block string
	Day   int    // from the first transplanting of the trial
	Date  string // YYYY-MM-DD; empty if not known
	Of    int    // day of the cycle
	Title string
	Set   string // what is set on this day: "left panel 77 %, right panel 61 %"; empty: nothing
	What  string // how it is done, the same for all jobs of a title
}

// Text is all that is to be said of the job but its title.
func (j Job) Text() string {
	if j.Set == "" {
		return j.What
	}
	return j.Set + ". " + j.What
}

// ID is a name of the job that is unique in the world and the same for the same plan.
func (j Job) ID(t *underlamp.Trial) string {
	h := sha256.Sum256(fmt.Appendf(nil, "%s\x00%d\x00%s\x00%d\x00%s", t.Name, t.Seed, j.Block, j.Of, j.Title))
	return hex.EncodeToString(h[:10]) + "@underlamp.invalid"
}

// Days of the jobs within a cycle. Burn is first seen about day 22 in conditions that lead
// to it, and its day is known only between two rounds: hence rounds every few days from the
// day on when it may begin. Common practice, no source.
const (
	firstLook  = 0.4 // of the cycle
	lookEvery  = 4   // days
	sheetDays  = 35
	sheetGap   = 1
	mostPlants = 5000
)

// NextJob is the first job from a day on, as YYYY-MM-DD, of a plan that says when its cycles
// are grown; ok is false without such days, or after the last job.
func NextJob(t *underlamp.Trial, day string) (j Job, ok bool) {
	s, err := NewSheet(t, nil, SheetOptions{})
	if err != nil || !s.Dated {
		return Job{}, false
	}
	for _, x := range s.Jobs {
		if x.Date >= day && (!ok || x.Date < j.Date) {
			j, ok = x, true
		}
	}
	return j, ok
}

// NewSheet makes the sheet of a trial. light is nil without a bench.
func NewSheet(t *underlamp.Trial, light *TrialLight, opt SheetOptions) (*Sheet, error) {
	if opt.Days == 0 {
		opt.Days = sheetDays
	}
	if opt.Gap == 0 {
		opt.Gap = sheetGap
	}
	if opt.Days < 1 || opt.Days > 400 {
		return nil, fmt.Errorf("a cycle lasts 1 to 400 days, not %d", opt.Days)
	}
	if opt.Gap < 0 || opt.Gap > 400 {
		return nil, fmt.Errorf("between two cycles lie 1 to 400 days, not %d", opt.Gap)
	}
	s := &Sheet{Trial: t, Light: light}
	next := opt.Start
	if next != "" {
		if _, err := time.Parse(time.DateOnly, next); err != nil {
			return nil, fmt.Errorf("%q is no day such as 2026-10-01", next)
		}
	}
	plants := 0
	for _, u := range t.Places {
		if !slices.ContainsFunc(s.Blocks, func(b SheetBlock) bool { return b.Name == u.Block }) {
			s.Blocks = append(s.Blocks, SheetBlock{Name: u.Block})
		}
	}
	counted := 0
	for i := range s.Blocks {
		b := &s.Blocks[i]
		b.Days = opt.Days
		if c := t.Cycle(b.Name); c != nil && c.Transplanted != "" {
			b.Start, b.End = c.Transplanted, c.Harvested
			if c.Harvested != "" {
				b.Days = daysBetween(c.Transplanted, c.Harvested)
			}
		} else {
			b.Start = next
		}
		if b.Start != "" {
			b.End = dayAfter(b.Start, b.Days)
			next = dayAfter(b.End, opt.Gap)
		}
		if light != nil {
			for k := range light.Blocks {
				if light.Blocks[k].Block == b.Name {
					b.Light = &light.Blocks[k]
				}
			}
		}
		b.Units = unitsOf(t, b)
		for _, u := range b.Units {
			if plants += len(u.Plants); plants > mostPlants {
				return nil, fmt.Errorf("the trial has more than %d plants; that is no sheet to print", mostPlants)
			}
		}
		s.jobs(b, counted)
		counted += b.Days + opt.Gap
	}
	s.Dated = len(s.Jobs) > 0
	for _, j := range s.Jobs {
		s.Dated = s.Dated && j.Date != ""
	}
	if s.Dated {
		first := slices.MinFunc(s.Jobs, func(a, b Job) int { return strings.Compare(a.Date, b.Date) }).Date
		for i := range s.Jobs {
			s.Jobs[i].Day = daysBetween(first, s.Jobs[i].Date)
		}
	}
	slices.SortStableFunc(s.Jobs, func(a, b Job) int { return a.Day - b.Day })
	return s, nil
}

func dayAfter(day string, n int) string {
	t, err := time.Parse(time.DateOnly, day)
	if err != nil {
		return ""
	}
	return t.AddDate(0, 0, n).Format(time.DateOnly)
}

func daysBetween(a, b string) int {
	x, err := time.Parse(time.DateOnly, a)
	y, err2 := time.Parse(time.DateOnly, b)
	if err != nil || err2 != nil {
		return 0
	}
	return int(y.Sub(x).Hours() / 24)
}

// Ways are the titles of the jobs and how each is done, in the order of the jobs.
func (s *Sheet) Ways() (out [][2]string) {
	for _, j := range s.Jobs {
		if way := [2]string{j.Title, j.What}; !slices.Contains(out, way) {
			out = append(out, way)
		}
	}
	return out
}

// unitsOf are the units of a block with their plants, in an order drawn by the seed of the
// plan: whoever looks at all plants of one treatment first and of another last measures the
// hour of the day too.
func unitsOf(t *underlamp.Trial, b *SheetBlock) []SheetUnit {
	var out []SheetUnit
	at := map[string]int{}
	lit := map[string]bool{}
	if b.Light != nil {
		for _, u := range b.Light.Units {
			lit[u.Unit] = true
			x := SheetUnit{Name: u.Unit, Treatment: u.Treatment, Lamp: u.Lamp}
			for _, p := range u.Plants {
				x.Plants = append(x.Plants, SheetPlant{Code: p.Code, Name: p.Name, Part: p.Part, Guard: p.Guard})
			}
			out = append(out, x)
		}
	}
	for _, u := range t.Places {
		name := u.Name
		if u.Whole != "" {
			name = u.Whole
		}
		if u.Block != b.Name || lit[name] {
			continue
		}
		i, ok := at[name]
		if !ok {
			i = len(out)
			at[name] = i
			out = append(out, SheetUnit{Name: name, Treatment: u.Treatment, Lamp: u.Lamp})
		}
		for p := range max(u.Plants, 1) {
			out[i].Plants = append(out[i].Plants, SheetPlant{Code: fmt.Sprintf("%s-P%d", u.Name, p+1), Part: u.Part})
		}
	}
	h := fnv.New64a()
	h.Write([]byte(b.Name))
	rand.New(rand.NewPCG(t.Seed, h.Sum64())).Shuffle(len(out), func(i, j int) { out[i], out[j] = out[j], out[i] })
	return out
}

// jobs adds those of a block. before is the day on which its cycle begins if no day of the
// calendar is known.
func (s *Sheet) jobs(b *SheetBlock, before int) {
	add := func(of int, title, set, what string) {
		j := Job{Block: b.Name, Of: of, Day: before + of, Title: title, Set: set, What: what}
		if b.Start != "" {
			j.Date = dayAfter(b.Start, of)
		}
		s.Jobs = append(s.Jobs, j)
	}
	set := ""
	if b.Light != nil {
		var parts []string
		for _, l := range b.Light.Lamps {
			if l.Unit != "" {
				parts = append(parts, fmt.Sprintf("%s %d %%", l.Name, int(100*float64(l.After)+0.5)))
			}
		}
		if len(parts) > 0 {
			set = strings.Join(parts, ", ")
		}
	}
	add(0, "Set the lamps, transplant", set, "Turn the lamps to what the sheet says. Read the light at every unit and write it down. Sort out seedlings that are odd, mix the others and set them as they come: no unit gets the larger ones. Weigh ten that are left over.")
	add(b.Days/2, "Read the light again", "", "Read the light of every unit at the height of the leaves, and write it down.")
	var looks []int
	for d := b.Days - lookEvery; d >= max(1, int(firstLook*float64(b.Days))); d -= lookEvery {
		looks = append(looks, d)
	}
	slices.Reverse(looks)
	for _, d := range looks {
		add(d, "Look for burn", "", "Look at every plant for burn, in the order of the sheet. Write down also that there was none: between two looks lies all that is known of the day.")
	}
	add(b.Days, "Cut and weigh", "", "Look for burn, then cut and weigh every plant that counts, unit by unit in the order of the sheet; guards apart.")
}
