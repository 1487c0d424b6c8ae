package aswire

import (
	"time"

	"underlamp/app/live"
	"underlamp/store"
	"underlamp/wire"
)

// Board is how a bench stands now.
func Board(b *live.Board) wire.Board {
	out := wire.Board{Bench: b.Bench, Name: b.Name, At: b.At.UTC(), Zone: b.Zone, Lit: b.Lit, Sensors: []wire.SensorNow{}, Figures: []wire.KeyedFigure{}, Plants: []wire.PlantNow{}, Messages: []wire.Message{}, Limits: []wire.WatchLimit{}, Notes: list(b.Notes),
		Today: wire.Today{Date: b.Today.Date, From: b.Today.From.UTC(), To: b.Today.To.UTC(), Rows: []wire.TodayRow{}, Cover: b.Today.Cover}}
	for _, s := range b.Sensors {
		x := wire.SensorNow{Key: s.Key, Quantity: string(s.Quantity), Unit: s.Unit, Last: s.Last, At: s.At, Note: s.Note, Checks: []wire.SensorCheck{}}
		for _, c := range s.Checks {
			x.Checks = append(x.Checks, wire.SensorCheck{Kind: string(c.Kind), Text: c.Text, Mend: c.Mend, Since: c.Since.UTC()})
		}
		out.Sensors = append(out.Sensors, x)
	}
	for _, f := range b.Figures {
		if finite(f.Value) {
			out.Figures = append(out.Figures, wire.KeyedFigure{Key: f.Key, Figure: Figure(f.Figure)})
		}
	}
	for _, r := range b.Today.Rows {
		out.Today.Rows = append(out.Today.Rows, wire.TodayRow{Key: r.Key, Name: r.Name, Unit: r.Unit, SoFar: wire.Number(r.SoFar), End: r.End, Plan: r.Plan, State: r.State})
	}
	for _, p := range b.Plants {
		out.Plants = append(out.Plants, wire.PlantNow{Name: p.Name, X: wire.Number(p.X), Y: wire.Number(p.Y), PPFD: wire.Number(p.PPFD), DLI: wire.Number(p.DLI), End: wire.Number(p.End)})
	}
	for _, m := range b.Messages {
		out.Messages = append(out.Messages, Message(m))
	}
	for _, l := range b.Limits {
		out.Limits = append(out.Limits, wire.WatchLimit{Key: string(l.Key), Text: l.Text, Origin: l.Origin, Note: l.Note, Off: l.Off})
	}
	return out
}

// Message is what people are told.
func Message(m store.Message) wire.Message {
	return wire.Message{ID: m.ID, Bench: m.Bench, Rule: m.Rule, Text: m.Text, Mend: m.Mend, Urgent: m.Urgent, Since: store.Time(m.Since), Opened: store.Time(m.Opened), Closed: since(m.Closed), Acknowledged: since(m.Acknowledged), By: m.By}
}

// since is nil for never.
func since(at int64) *time.Time {
	if at == 0 {
		return nil
	}
	t := store.Time(at)
	return &t
}

// Chart of a sensor.
func Chart(c *live.Chart) wire.Chart {
	return wire.Chart{Unit: c.Unit, From: c.From.UTC(), To: c.To.UTC(), Width: c.Width, At: list(c.At), Mean: list(c.Mean), Min: list(c.Min), Max: list(c.Max), Readings: c.Readings}
}

// Sensor is what reads.
func Sensor(s store.Sensor) wire.Sensor {
	out := wire.Sensor{Key: s.Key, Bench: s.Bench, Quantity: s.Quantity, Unit: s.Unit, X: s.X, Y: s.Y, Height: s.Height, Every: s.Every.Seconds(), Note: s.Note, Calibrations: []wire.Calibration{}}
	for _, c := range s.Calibrations {
		out.Calibrations = append(out.Calibrations, wire.Calibration{From: store.Time(c.From), Gain: c.Gain, Offset: c.Offset, By: c.By, Note: c.Note})
	}
	return out
}
