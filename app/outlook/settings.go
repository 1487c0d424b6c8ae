package outlook

import (
	"context"

	"underlamp"
	"underlamp/science/quantity"
)

// A SettingsMap is the outlook over PPFD and hours with the lamps at one
// height: where the bench could be.
type SettingsMap struct {
	Height quantity.Metre
	PPFD   []float64 // mean at the planting surface over the plants, µmol m⁻² s⁻¹
	Hours  []float64
	PerKWh []float64 // saleable g per kWh, hours · len(PPFD) + PPFD
	Chance []float64 // of burn, 0 to 1
	Fresh  []float64 // g per head

	NowPPFD, NowHours float64
	MaxPPFD           float64 // what the lamps give at the highest dimming allowed
	MinPPFD           float64
}

// Sizes of the settings map.
const (
	MapColumns = 40
	MapRows    = 24
	mapDraws   = 48
)

// hung is the light of a bench with its lamps at one height, at full power.
type hung struct {
	classes []class
	full    float64 // mean PPFD at the planting surface
}

func (o *Outlook) hang(height quantity.Metre, classes int) (hung, error) {
	lit, err := o.m.At(height)
	if err != nil {
		return hung{}, err
	}
	h := hung{classes: classesOf(lit.ClosingProfiles(levelSpacing, levelCount), classes)}
	h.full = meanClass(h.classes).Levels[0]
	return h, nil
}

// small are the first n draws of the ensemble, for searches.
func (e ensemble) small(n int) ensemble {
	n = min(n, len(e.traits))
	return ensemble{traits: e.traits[:n], light: e.light[:n]}
}

// kWh is the energy of a cycle at a dimming and hours.
func (o *Outlook) kWh(dim, hours float64) float64 {
	return float64(quantity.EnergyOf(o.b.DrawAt(quantity.Fraction(dim)), quantity.Hours(hours))) * float64(o.b.Crop.Days.Value)
}

// shareAt is the share of the full light at a dimming.
func (o *Outlook) shareAt(dim quantity.Fraction) float64 { return float64(o.b.LightAt(dim)) }

// Map computes the settings map with the lamps where they are. Columns and rows
// of 0 mean [MapColumns] and [MapRows]. It stops early with the context's error
// if that is cancelled.
func (o *Outlook) Map(ctx context.Context, columns, rows int) (*SettingsMap, error) {
	return o.mapOf(ctx, columns, rows, mapDraws)
}

// Draft is a coarse settings map of few draws, for a first look while the whole one
// is computed.
func (o *Outlook) Draft(ctx context.Context) (*SettingsMap, error) {
	return o.mapOf(ctx, MapColumns/2, MapRows/2, mapDraws/3)
}

func (o *Outlook) mapOf(ctx context.Context, columns, rows, draws int) (*SettingsMap, error) {
	if columns == 0 || rows == 0 {
		columns, rows = MapColumns, MapRows
	}
	now := o.b.Setting()
	h, err := o.hang(now.Height, maxClasses)
	if err != nil {
		return nil, err
	}
	lim := o.b.Limits
	mp := &SettingsMap{
		Height:  now.Height,
		NowPPFD: h.full * o.shareAt(now.Dimming), NowHours: float64(now.Hours),
		MaxPPFD: h.full * o.shareAt(lim.MaxDim.Value), MinPPFD: h.full * o.shareAt(lim.MinDim.Value),
	}
	lo := min(mp.MinPPFD, mp.NowPPFD) * 0.9
	hi := max(mp.MaxPPFD, mp.NowPPFD) * 1.05
	mp.PPFD = steps(lo, hi, columns)
	mp.Hours = steps(min(float64(lim.MinHours.Value), mp.NowHours), max(float64(lim.MaxHours.Value), mp.NowHours), rows)
	if len(mp.Hours) == 1 {
		mp.Hours = steps(max(1, mp.Hours[0]-2), min(24, mp.Hours[0]+2), rows)
	}
	// The response is smooth: a quarter of the columns and a third of the rows carry it.
	t := newTable(ctx, o.b, h.classes, logSteps(lo/h.full, hi/h.full, max(columns/4, 2)), steps(mp.Hours[0], mp.Hours[len(mp.Hours)-1], max(rows/3, 2)), o.ens.small(draws))
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	plants := float64(len(o.b.Plants))
	dims := make([]float64, len(mp.PPFD))
	for i, e := range mp.PPFD {
		dims[i] = float64(o.b.DimmingFor(quantity.Fraction(e / h.full)))
	}
	for _, hours := range mp.Hours {
		for i, e := range mp.PPFD {
			r := t.at(e/h.full, hours)
			mp.PerKWh = append(mp.PerKWh, r.saleable*plants/o.kWh(dims[i], hours))
			mp.Chance = append(mp.Chance, r.chance)
			mp.Fresh = append(mp.Fresh, r.fresh)
		}
	}
	return mp, nil
}

// A Candidate is one setting of the search with what the table says of it.
type Candidate struct {
	Setting underlamp.Setting
	PPFD    float64 // mean at the planting surface
	PerKWh  float64 // saleable g per kWh
	Chance  float64
	Fresh   float64 // g per head
	Sold    float64 // share of heads
}
