package lightaim

import "math"

// TradeOff returns answers from the least power to the most even light, n of
// them in equal steps of power: each is the most even that its power allows
// (Haimes1971). There are fewer where a step brings nothing, and one where the
// most even light needs no more power than the least. Errors are as for MostEven.
func (p *Problem) TradeOff(n int) ([]*Answer, error) {
	q := *p
	q.Share = 0
	least, err := q.LeastPower()
	if err != nil {
		return nil, err
	}
	most, err := q.MostEven()
	if err != nil {
		return nil, err
	}
	var out []*Answer
	add := func(a *Answer) {
		if k := len(out); k == 0 || a.Uneven < out[k-1].Uneven-1e-6 {
			out = append(out, a)
		}
	}
	for k := range max(n-1, 1) {
		f := float64(k) / math.Max(1, float64(n-1))
		q.MaxWatt = least.Watt + f*(most.Watt-least.Watt)
		if k == 0 {
			q.MaxWatt *= 1 + 1e-7
		}
		if p.MaxWatt > 0 {
			q.MaxWatt = min(q.MaxWatt, p.MaxWatt)
		}
		a, err := q.MostEven()
		if err != nil {
			if k > 0 {
				continue // steps of the dimmers leave nothing at this power
			}
			a = least
		}
		add(a)
	}
	add(most)
	return out, nil
}
