package air

import (
	"context"
	"testing"
	"time"

	"underlamp/app/live"
	"underlamp/app/measurand"
)

// fakeRecorder has one probe of temperature and one of humidity, by the hour, with a gap.
type fakeRecorder struct{ now time.Time }

func (f fakeRecorder) Board(context.Context, string) (*live.Board, error) {
	return &live.Board{Sensors: []live.SensorView{
		{Key: "air", Quantity: measurand.AirTemperature}, {Key: "rh", Quantity: measurand.Humidity}, {Key: "tank", Quantity: measurand.SolutionTemperature},
	}}, nil
}

func (f fakeRecorder) Chart(_ context.Context, _, key string, from, to time.Time, pieces int) (*live.Chart, error) {
	c := &live.Chart{}
	for t := from; t.Before(to); t = t.Add(time.Hour) {
		if t.Hour() == 3 {
			continue // nobody read
		}
		v := 20.0
		if key == "rh" {
			if v = 60; t.Hour() == 5 {
				v = 100
			}
		}
		c.At, c.Mean = append(c.At, t.Unix()), append(c.Mean, &v)
	}
	if len(c.At) > pieces {
		panic("more pieces than were asked")
	}
	return c, nil
}

// What sensors of a bench have read is joined by the hour; hours that lack one of the two are
// left out.
func TestRecorded(t *testing.T) {
	t.Parallel()
	m, _ := demoBench(t, "tier-2-middle.yaml", 5)
	now := time.Date(2026, 11, 20, 12, 30, 0, 0, time.UTC)
	r, err := Recorded(context.Background(), fakeRecorder{now}, m.Bench(), "tier-2-middle", now)
	if err != nil || r == nil {
		t.Fatal(err)
	}
	if want := RecordedDays*23 + 1; len(r.Hours) != want || r.Wet != RecordedDays || r.Leaves || r.Light {
		t.Errorf("%d hours, want %d; %d wet", len(r.Hours), want, r.Wet)
	}
	if r.Worst.RH != 1 || r.Worst.At.Hour() != 5 {
		t.Errorf("worst %+v", r.Worst)
	}
}
