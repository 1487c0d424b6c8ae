package energycost

import (
	"fmt"
	"math"
	"slices"

	"underlamp/science/quantity"
)

// A LightDay asks when lamps should burn.
type LightDay struct {
	Tariff Tariff
	Hours  quantity.Hours // of light a day; rounded up to the quarter
	Dark   quantity.Hours // the dark period must be whole for so long

	From, To int  // quarters between which light is allowed; equal is the whole day; To below From runs over midnight
	Broken   bool // light may come in several stretches outside the dark period
	Stretch  int  // if broken: quarters that each stretch of light lasts at least; 0 means 4, an hour
}

// A Stretch is light from one quarter hour to another; To may be 96 or beyond it
// by the next day's quarters.
type Stretch struct{ From, To int }

// String prints the stretch as times of day.
func (s Stretch) String() string {
	return Clock(s.From%Quarters) + " to " + Clock((s.To-1)%Quarters+1)
}

// A Placing is when the lamps burn.
type Placing struct {
	Light   []Stretch
	PerHour float64        // mean price of a kWh over the light
	Hours   quantity.Hours // as placed, to the quarter
	Dark    quantity.Hours // longest dark period
}

// Money is what a power costs for one such day, in the currency of the tariff.
func (p Placing) Money(w quantity.Watt) float64 {
	return Money(quantity.EnergyOf(w, p.Hours), quantity.Price{PerKWh: p.PerHour})
}

// Place finds the cheapest time for the light. In one stretch it tries every start;
// broken, it tries every start of the dark period and for each fills the rest by
// dynamic programming over quarters, so the answer is exact both ways. Of equal
// cost the fewest stretches win, then the earliest start after From.
//
// An error says why no placing keeps the hours, the dark period and the window.
func (d LightDay) Place() (Placing, error) {
	need := int(math.Ceil(float64(d.Hours)*4 - 1e-9))
	dark := int(math.Ceil(float64(d.Dark)*4 - 1e-9))
	allowed, room := d.window()
	switch {
	case !(d.Hours >= 0 && d.Hours <= 24) || !(d.Dark >= 0 && d.Dark <= 24):
		return Placing{}, fmt.Errorf("%g h of light and %g h of dark: want 0 to 24", float64(d.Hours), float64(d.Dark))
	case d.From < 0 || d.From > Quarters || d.To < 0 || d.To > Quarters:
		return Placing{}, fmt.Errorf("light from quarter %d to %d: want 0 to %d", d.From, d.To, Quarters)
	case need+dark > Quarters:
		return Placing{}, fmt.Errorf("%g h of light and %g h of whole dark make more than a day", float64(need)/4, float64(dark)/4)
	case need > room:
		return Placing{}, fmt.Errorf("%g h of light do not fit between %s and %s", float64(need)/4, Clock(d.From), Clock(d.To))
	}
	if need == 0 {
		return Placing{Dark: 24}, nil
	}
	var light [Quarters]bool
	if need == Quarters {
		for q := range light {
			light[q] = true
		}
		return d.placing(light, d.From%Quarters), nil
	}
	if !d.Broken {
		best, at := math.Inf(1), -1
		for k := range Quarters {
			start := (d.From + k) % Quarters
			cost, ok := 0.0, true
			for i := range need {
				q := (start + i) % Quarters
				ok = ok && allowed[q]
				cost += d.Tariff.PerKWh[q]
			}
			if ok && cost < best-1e-12 {
				best, at = cost, start
			}
		}
		if at < 0 {
			return Placing{}, fmt.Errorf("%g h of light in one stretch do not fit between %s and %s", float64(need)/4, Clock(d.From), Clock(d.To))
		}
		for i := range need {
			light[(at+i)%Quarters] = true
		}
		return d.placing(light, at), nil
	}
	stretch := d.Stretch
	if stretch <= 0 {
		stretch = 4
	}
	f := newFiller(&d, need, Quarters-max(dark, 1), min(stretch, need), allowed)
	best, at := math.Inf(1), -1
	for k := range Quarters {
		// The dark period ends at start; a dark of 0 still needs a place to begin.
		start := (d.From + k) % Quarters
		if f.atBest(start) >= best {
			continue
		}
		if c := f.cost(start); c < best {
			best, at = c, start
		}
	}
	if at < 0 {
		return Placing{}, fmt.Errorf("%g h of light in stretches of at least %g h do not fit between %s and %s with %g h of whole dark",
			float64(need)/4, float64(stretch)/4, Clock(d.From), Clock(d.To), float64(dark)/4)
	}
	f.cost(at)
	return d.placing(f.light(at), d.From%Quarters), nil
}

// window says which quarters may be lit, and how many there are.
func (d LightDay) window() (allowed [Quarters]bool, room int) {
	for q := range allowed {
		switch {
		case d.From%Quarters == d.To%Quarters:
			allowed[q] = true
		case d.From < d.To:
			allowed[q] = q >= d.From && q < d.To
		default:
			allowed[q] = q >= d.From || q < d.To
		}
		if allowed[q] {
			room++
		}
	}
	return allowed, room
}

// A filler lights need of the n quarters after a dark period, in stretches of at
// least so many quarters, for the least cost and then in the fewest stretches: by
// dynamic programming over the quarter, the number lit so far, and how long the
// stretch has lasted (0 is dark, least is as long as it must be or longer).
type filler struct {
	d              *LightDay
	n, need, least int
	allowed        [Quarters]bool
	begin          float64   // what a stretch counts: less than any difference of price that matters
	now, next      []float64 // least cost by lit and run
	from           []uint8   // run of the quarter before, by quarter, lit and run
}

func newFiller(d *LightDay, need, n, least int, allowed [Quarters]bool) *filler {
	most := 0.0
	for _, p := range d.Tariff.PerKWh {
		most = max(most, p)
	}
	size := (need + 1) * (least + 1)
	return &filler{
		d: d, n: n, need: need, least: least, allowed: allowed, begin: 1e-9 * (most + 1e-9),
		now: make([]float64, size), next: make([]float64, size), from: make([]uint8, (n+1)*size),
	}
}

// atBest is a cost that no filling from start can be below: the cheapest
// quarters, in one stretch.
func (f *filler) atBest(start int) float64 {
	var p []float64
	for i := range f.n {
		if q := (start + i) % Quarters; f.allowed[q] {
			p = append(p, f.d.Tariff.PerKWh[q])
		}
	}
	if len(p) < f.need {
		return math.Inf(1)
	}
	slices.Sort(p)
	sum := f.begin * (1 - 1e-6)
	for _, v := range p[:f.need] {
		sum += v
	}
	return sum
}

// cost is the least cost from start; the way to it stays in from.
func (f *filler) cost(start int) float64 {
	width := f.least + 1
	for j := range f.now {
		f.now[j] = math.Inf(1)
	}
	f.now[0] = 0
	for i := range f.n {
		for j := range f.next {
			f.next[j] = math.Inf(1)
		}
		q := (start + i) % Quarters
		price := f.d.Tariff.PerKWh[q]
		from := f.from[(i+1)*len(f.now) : (i+2)*len(f.now)]
		put := func(j int, c float64, run int) {
			if c < f.next[j] {
				f.next[j], from[j] = c, uint8(run)
			}
		}
		for lit := max(0, f.need-(f.n-i)); lit <= min(i, f.need); lit++ {
			for run := range width {
				c := f.now[lit*width+run]
				if math.IsInf(c, 1) {
					continue
				}
				if run == 0 || run == f.least {
					put(lit*width, c, run)
				}
				if f.allowed[q] && lit < f.need {
					add := price
					if run == 0 {
						add += f.begin
					}
					put((lit+1)*width+min(run+1, f.least), c+add, run)
				}
			}
		}
		f.now, f.next = f.next, f.now
	}
	return min(f.now[f.need*width], f.now[f.need*width+f.least])
}

// light follows the way that cost left.
func (f *filler) light(start int) (out [Quarters]bool) {
	width := f.least + 1
	lit, run := f.need, 0
	if f.now[f.need*width+f.least] < f.now[f.need*width] {
		run = f.least
	}
	for i := f.n; i > 0; i-- {
		before := int(f.from[i*len(f.now)+lit*width+run])
		if run > 0 {
			out[(start+i-1)%Quarters] = true
			lit--
		}
		run = before
	}
	return out
}

// placing describes lit quarters, stretches in the order of the day from a
// quarter on.
func (d LightDay) placing(light [Quarters]bool, from int) Placing {
	p := Placing{}
	sum, n := 0.0, 0
	for q, on := range light {
		if on {
			sum += d.Tariff.PerKWh[q]
			n++
		}
	}
	p.PerHour, p.Hours = sum/float64(n), quantity.Hours(float64(n)/4)
	if n == Quarters {
		p.Light = []Stretch{{from, from + Quarters}}
		return p
	}
	dark, longest := 0, 0
	for k := range 2 * Quarters { // twice round, for the dark over midnight
		if light[k%Quarters] {
			dark = 0
		} else {
			dark++
			longest = max(longest, min(dark, Quarters))
		}
	}
	p.Dark = quantity.Hours(float64(longest) / 4)
	for k := range Quarters {
		q := (from + k) % Quarters
		if !light[q] || light[(q+Quarters-1)%Quarters] {
			continue
		}
		end := q
		for light[end%Quarters] {
			end++
		}
		p.Light = append(p.Light, Stretch{q, end})
	}
	return p
}
