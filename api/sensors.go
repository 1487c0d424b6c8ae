package api

import (
	"errors"
	"fmt"
	"net/http"
	"strings"
	"time"

	"underlamp/access"
	"underlamp/app/aswire"
	"underlamp/app/live"
	"underlamp/app/measurand"
	"underlamp/science/quantity"
	"underlamp/store"
	"underlamp/wire"
)

// sensorPath names a sensor.
type sensorPath struct {
	Sensor string `path:"sensor" maxlen:"200" example:"middle/air" doc:"its key, with / as %2F"`
}

type readingParams struct {
	sensorPath
	From   *time.Time `query:"from" doc:"first instant; a day ago if it is not said" example:"2026-11-23T08:00:00Z"`
	To     *time.Time `query:"to" doc:"before this instant; now if it is not said"`
	Limit  int        `query:"limit" min:"1" max:"10000" doc:"most readings of a piece; 1000 if it is not said"`
	Cursor string     `query:"cursor" maxlen:"400" doc:"from next of the piece before"`
}

type chartParams struct {
	benchPath
	Sensor string     `query:"sensor" need:"yes" maxlen:"200" example:"middle/air"`
	From   *time.Time `query:"from" doc:"a day ago if it is not said"`
	To     *time.Time `query:"to" doc:"now if it is not said"`
	Pieces int        `query:"pieces" min:"1" max:"2000" doc:"at most so many; 500 if it is not said"`
}

type messageParams struct {
	Paging
	Bench string     `query:"bench" maxlen:"100" doc:"of this bench alone"`
	From  *time.Time `query:"from" doc:"all that were open since; without it those that are open now"`
}

// span is a stretch of time; a day until now if it is not said.
func (a *API) span(from, to *time.Time) (time.Time, time.Time, error) {
	end := a.o.Now()
	if to != nil {
		end = *to
	}
	begin := end.Add(-24 * time.Hour)
	if from != nil {
		begin = *from
	}
	if !begin.Before(end) {
		return begin, end, problem(http.StatusBadRequest, "parameters", "The time ends before it begins.", "Send from before to.").at(fault("#from", "must be before to"))
	}
	return begin, end, nil
}

func (a *API) live() (Live, error) {
	if a.o.Live == nil {
		return nil, noStore()
	}
	return a.o.Live, nil
}

func (a *API) keep() (store.Store, error) {
	if a.o.Keep == nil {
		return nil, noStore()
	}
	return a.o.Keep, nil
}

func (a *API) sensor(c *Call, key string) (store.Sensor, error) {
	k, err := a.keep()
	if err != nil {
		return store.Sensor{}, err
	}
	s, err := k.Sensor(c.Context(), key)
	if errors.Is(err, store.ErrNotFound) {
		err = missing("No sensor is called so.", Prefix+"/sensors lists them.")
	}
	return s, err
}

func (a *API) sensorOps() []Operation {
	walk := []access.Scope{access.ScopeWrite, access.ScopeRounds}
	return []Operation{
		op(Operation{ID: "getBoard", Method: "GET", Path: "/benches/{bench}/live", Tag: "Live", Summary: "How a bench stands now by its sensors", Scopes: both},
			func(c *Call, p benchPath, _ None) (wire.Board, error) {
				l, err := a.live()
				if err != nil {
					return wire.Board{}, err
				}
				if _, err := a.found(p.Bench); err != nil {
					return wire.Board{}, err
				}
				b, err := l.Board(c.Context(), p.Bench)
				if errors.Is(err, store.ErrNotFound) {
					err = missing("This bench is not watched.", "A bench file with mistakes is not; see it in "+Prefix+"/benches.")
				}
				if err != nil {
					return wire.Board{}, err
				}
				return aswire.Board(b), nil
			}),
		op(Operation{ID: "getChart", Method: "GET", Path: "/benches/{bench}/live/chart", Tag: "Live", Summary: "What a sensor of a bench read, summed up in pieces of equal width", Scopes: both},
			func(c *Call, p chartParams, _ None) (wire.Chart, error) {
				l, err := a.live()
				if err != nil {
					return wire.Chart{}, err
				}
				from, to, err := a.span(p.From, p.To)
				if err != nil {
					return wire.Chart{}, err
				}
				if to.Sub(from) > 60*366*24*time.Hour {
					return wire.Chart{}, problem(http.StatusBadRequest, "parameters", "That is more than 60 years.", "Ask for less.").at(fault("#from", "is too far back"))
				}
				pieces := p.Pieces
				if pieces == 0 {
					pieces = 500
				}
				x, err := l.Chart(c.Context(), p.Bench, p.Sensor, from, to, pieces)
				if errors.Is(err, store.ErrNotFound) {
					err = missing("This bench has no such sensor.", Prefix+"/sensors lists them.")
				}
				if err != nil {
					return wire.Chart{}, err
				}
				return aswire.Chart(x), nil
			}),
		op(Operation{ID: "listMessages", Method: "GET", Path: "/messages", Tag: "Live", Summary: "What people are told of benches, the oldest first", Scopes: both},
			func(c *Call, p messageParams, _ None) (wire.Page[wire.Message], error) {
				none := wire.Page[wire.Message]{Items: []wire.Message{}}
				k, err := a.keep()
				if err != nil {
					return none, err
				}
				var all []store.Message
				if p.From == nil {
					all, err = k.OpenMessages(c.Context(), p.Bench)
				} else {
					all, err = k.Messages(c.Context(), p.Bench, store.At(*p.From), store.At(a.o.Now())+1)
				}
				if err != nil {
					return none, err
				}
				out := make([]wire.Message, len(all))
				for i, m := range all {
					out[i] = aswire.Message(m)
				}
				return pageInOrder(c, p.Paging, out, func(m wire.Message) string { return fmt.Sprint(m.ID) })
			}),
		op(Operation{ID: "acknowledgeMessage", Method: "POST", Path: "/messages/{message}/acknowledgement", Tag: "Live", Summary: "Say that somebody knows of a message", Scopes: walk, Body: 4 << 10,
			Doc: "The first who says so counts."},
			func(c *Call, p struct {
				Message int64 `path:"message" min:"1"`
			}, q wire.Acknowledgement) (None, error) {
				l, err := a.live()
				if err != nil {
					return None{}, err
				}
				by := c.By(q.By)
				if by == "" {
					by = "somebody"
				}
				if strings.ContainsAny(by, "\r\n\x00") {
					return None{}, wrongField("/by", "is one line")
				}
				err = l.Acknowledge(c.Context(), p.Message, by)
				if errors.Is(err, store.ErrNotFound) {
					err = missing("There is no such message.", Prefix+"/messages lists those that are open.")
				}
				return None{}, err
			}),
		op(Operation{ID: "listSensors", Method: "GET", Path: "/sensors", Tag: "Sensors", Summary: "The sensors, by key", Scopes: reads},
			func(c *Call, p Paging, _ None) (wire.Page[wire.Sensor], error) {
				none := wire.Page[wire.Sensor]{Items: []wire.Sensor{}}
				k, err := a.keep()
				if err != nil {
					return none, err
				}
				all, err := k.Sensors(c.Context())
				if err != nil {
					return none, err
				}
				out := make([]wire.Sensor, len(all))
				for i, s := range all {
					out[i] = aswire.Sensor(s)
				}
				return page(c, p, out, func(s wire.Sensor) string { return s.Key })
			}),
		op(Operation{ID: "getSensor", Method: "GET", Path: "/sensors/{sensor}", Tag: "Sensors", Summary: "All that is known of a sensor", Scopes: reads},
			func(c *Call, p sensorPath, _ None) (wire.Sensor, error) {
				s, err := a.sensor(c, p.Sensor)
				return aswire.Sensor(s), err
			}),
		op(Operation{ID: "describeSensor", Method: "PATCH", Path: "/sensors/{sensor}", Tag: "Sensors", Summary: "Say what a sensor reads and where it stands; one that is not known is entered", Scopes: writes, Body: 16 << 10},
			func(c *Call, p sensorPath, q wire.SensorChange) (wire.Sensor, error) {
				return a.describeSensor(c, p.Sensor, q)
			}),
		op(Operation{ID: "calibrateSensor", Method: "POST", Path: "/sensors/{sensor}/calibrations", Tag: "Sensors", Summary: "Enter a calibration of a sensor", Scopes: writes, Body: 64 << 10, Once: true, Status: http.StatusCreated,
			Doc: "By pairs of what it read and what was true, by gain and offset, or by a factor. Readings are kept as they were sent, so that a calibration can be put right by another."},
			func(c *Call, p sensorPath, q wire.NewCalibration) (wire.Sensor, error) {
				return a.calibrate(c, p.Sensor, q)
			}),
		op(Operation{ID: "listReadings", Method: "GET", Path: "/sensors/{sensor}/readings", Tag: "Sensors", Summary: "What a sensor read, in order", Scopes: reads,
			Doc: "As it was sent, and true by its calibration. Devices send readings to /intake."},
			func(c *Call, p readingParams, _ None) (wire.Readings, error) { return a.readings(c, p) }),
	}
}

func (a *API) describeSensor(c *Call, key string, q wire.SensorChange) (wire.Sensor, error) {
	k, err := a.keep()
	if err != nil {
		return wire.Sensor{}, err
	}
	if strings.TrimSpace(key) == "" || strings.ContainsAny(key, "\r\n\t\x00") {
		return wire.Sensor{}, problem(http.StatusUnprocessableEntity, "unfit", "No sensor can be called so.", "Use a key of one line, such as rack/air.")
	}
	was, err := k.Sensor(c.Context(), key)
	if err != nil && !errors.Is(err, store.ErrNotFound) {
		return wire.Sensor{}, err
	}
	was.Key = key
	change := live.Change{Reads: q.Quantity, Unit: q.Unit, Note: q.Note}
	if q.Every != nil {
		d := time.Duration(*q.Every * float64(time.Second))
		change.Every = &d
	}
	for _, x := range []struct {
		said *float64
		to   **quantity.Metre
	}{{q.X, &change.X}, {q.Y, &change.Y}, {q.Height, &change.Height}} {
		if x.said != nil {
			m := quantity.Metre(*x.said)
			*x.to = &m
		}
	}
	if q.Bench != nil && *q.Bench == "" {
		change.NoBench = true
	} else if q.Bench != nil {
		b, err := a.bench(c, *q.Bench, nil)
		var miss *Problem
		if errors.As(err, &miss) && miss.Status == http.StatusNotFound {
			return wire.Sensor{}, wrongField("/bench", "there is no bench of this name")
		}
		if err != nil {
			return wire.Sensor{}, err
		}
		change.Bench = &live.Bench{Key: b.ID(), Bench: b.Bench()}
	}
	s, err := live.Described(was, change)
	if err != nil {
		return wire.Sensor{}, unfit(err, "Say otherwise; nothing was written.")
	}
	if _, err := k.PutSensor(c.Context(), s); err != nil {
		return wire.Sensor{}, err
	}
	return aswire.Sensor(s), nil
}

func (a *API) calibrate(c *Call, key string, q wire.NewCalibration) (wire.Sensor, error) {
	k, err := a.keep()
	if err != nil {
		return wire.Sensor{}, err
	}
	s, err := a.sensor(c, key)
	if err != nil {
		return wire.Sensor{}, err
	}
	byHand := q.Gain != nil || q.Offset != nil
	ways := 0
	for _, is := range []bool{len(q.Pairs) > 0, byHand, q.Factor != nil} {
		if is {
			ways++
		}
	}
	if ways != 1 {
		return wire.Sensor{}, wrongField("/pairs", "a calibration is by pairs, by gain and offset, or by a factor")
	}
	found := live.Calibrated{Calibration: store.Calibration{Gain: 1}}
	switch {
	case len(q.Pairs) > 0:
		var pairs []live.Pair
		for _, p := range q.Pairs {
			pairs = append(pairs, live.Pair(p))
		}
		m, _ := measurand.Named(s.Quantity)
		if found, err = live.FromPairs(m.Quantity, pairs); err != nil {
			return wire.Sensor{}, unfit(err, "Change the pairs.")
		}
	case byHand:
		if q.Gain != nil {
			found.Calibration.Gain = *q.Gain
		}
		if q.Offset != nil {
			found.Calibration.Offset = *q.Offset
		}
		found.How = "as said"
	default:
		found.Calibration.Gain, found.How = *q.Factor, "factor as said"
	}
	x := found.Calibration
	x.From, x.By, x.Note = store.At(a.o.Now()), c.By(q.By), q.Note
	if q.From != nil {
		x.From = store.At(*q.From)
	}
	if x.Note == "" {
		x.Note = found.How
	}
	then, err := live.WithCalibration(s, x, q.Factor != nil)
	if err != nil {
		return wire.Sensor{}, unfit(err, "Change the calibration; nothing was written.")
	}
	if _, err := k.PutSensor(c.Context(), then); err != nil {
		return wire.Sensor{}, err
	}
	return aswire.Sensor(then), nil
}

// mostScanned is how far a single piece looks, so that no request reads years of readings.
const mostScanned = 31 * 24 * time.Hour

func (a *API) readings(c *Call, p readingParams) (wire.Readings, error) {
	out := wire.Readings{Items: []wire.Reading{}}
	s, err := a.sensor(c, p.Sensor)
	if err != nil {
		return out, err
	}
	begin, end, err := a.span(p.From, p.To)
	if err != nil {
		return out, err
	}
	from, to := store.At(begin), store.At(end)
	after, err := Paging{Cursor: p.Cursor}.after()
	if err != nil {
		return out, err
	}
	if after != "" {
		if _, err := fmt.Sscan(after, &from, &to); err != nil || from > to {
			return out, problem(http.StatusBadRequest, "cursor", "The cursor is none of this address.", "Take it from next of the piece before.").at(fault("#cursor", "cannot be read"))
		}
	}
	most := p.Limit
	if most == 0 {
		most = 1000
	}
	// A day is read at a time: readings of months are not held for a piece of a thousand.
	for looked := time.Duration(0); from < to; looked += 24 * time.Hour {
		if looked >= mostScanned {
			out.Next = c.nextOf(fmt.Sprint(from, " ", to))
			return out, nil
		}
		upTo := min(to, from+store.Day)
		samples, err := a.o.Keep.Samples(c.Context(), s.ID, from, upTo)
		if err != nil {
			return out, err
		}
		for _, x := range samples {
			if len(out.Items) == most {
				out.Next = c.nextOf(fmt.Sprint(x.At, " ", to))
				return out, nil
			}
			out.Items = append(out.Items, wire.Reading{At: store.Time(x.At), Sent: wire.Number(x.Value), True: wire.Number(s.True(x.At, x.Value))})
		}
		from = upTo
	}
	return out, nil
}
