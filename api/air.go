package api

import (
	"context"
	"fmt"

	"underlamp"
	"underlamp/access"
	"underlamp/app/air"
	"underlamp/app/aswire"
	"underlamp/app/tasks"
	"underlamp/science/fanjet"
	"underlamp/science/quantity"
	"underlamp/wire"
)

// airKnobs are what can be turned, in the units that metric pages show.
type airKnobs struct {
	DayTemperature   *float64 `query:"day_temperature_c" min:"5" max:"40" unit:"°C"`
	DayHumidity      *float64 `query:"day_humidity_percent" min:"20" max:"99" unit:"%"`
	NightTemperature *float64 `query:"night_temperature_c" min:"2" max:"35" unit:"°C"`
	NightHumidity    *float64 `query:"night_humidity_percent" min:"20" max:"99" unit:"%"`
	Speed            *float64 `query:"speed_m_s" min:"0.01" max:"2" unit:"m/s" doc:"of the air at the plants"`
	OutsideTemp      *float64 `query:"outside_temperature_c" min:"-30" max:"45" unit:"°C"`
	OutsideHumidity  *float64 `query:"outside_humidity_percent" min:"10" max:"100" unit:"%"`
	Volume           *float64 `query:"volume_m3" min:"0.02" max:"5000" unit:"m³" doc:"of the room"`
	Leak             *float64 `query:"leak_per_h" min:"0" max:"60" unit:"1/h" doc:"changes of air by chinks"`
	CO2              *float64 `query:"co2_ppm" min:"150" max:"5000" unit:"ppm"`
	Altitude         *float64 `query:"altitude_m" min:"-430" max:"5000" unit:"m"`
	Fan              string   `query:"fan" enum:"none|across|down" doc:"where the air is blown"`
}

// turn is the bench with what was turned.
func (k airKnobs) turn(b *underlamp.Bench) (*underlamp.Bench, error) {
	out := b
	if k.Fan != "" && k.Fan != string(b.Air.Fan.Value) {
		out = air.Aimed(out, underlamp.FanAim(k.Fan))
	}
	values := map[string]*float64{"day-temperature": k.DayTemperature, "day-humidity": k.DayHumidity, "night-temperature": k.NightTemperature, "night-humidity": k.NightHumidity, "speed": k.Speed, "outside-temperature": k.OutsideTemp, "outside-humidity": k.OutsideHumidity, "volume": k.Volume, "leak": k.Leak, "co2": k.CO2, "altitude": k.Altitude}
	for _, x := range air.Knobs() {
		v, ok := values[x.Name]
		if !ok {
			return nil, fmt.Errorf("nothing turns %s", x.Name) // a knob that came without a parameter: a test finds it
		}
		if v == nil {
			continue
		}
		turned, err := x.Turn(out, x.Kept(*v, quantity.Metric))
		if err != nil {
			return nil, unfit(err, "")
		}
		out = turned
	}
	return out, nil
}

type airParams struct {
	benchThen
	airKnobs
}

// airOf is the air of a bench that differs from what was read in air and room alone.
func airOf(b Bench, turned *underlamp.Bench, day int) (*air.Answer, error) {
	fast, err := b.Outlook(false)
	if err != nil {
		lit, bad := b.Lit(b.Bench().Setting())
		if bad != nil {
			return nil, bad
		}
		return air.Of(turned, nil, err, lit.Answer(nil, 5).Mean.Value, day), nil
	}
	f, err := fast.Under(turned, air.WhatIfDraws)
	if err != nil {
		return nil, unfit(err, "")
	}
	return air.Of(turned, f, nil, f.AtSurface, day), nil
}

func (a *API) airOps() []Operation {
	return []Operation{
		op(Operation{ID: "getAir", Method: "GET", Path: "/benches/{bench}/air", Tag: "Air", Summary: "Water and warmth that must go as the crop grows, and how", Scopes: reads,
			Doc: "With parameters it tells what other air, another room or another fan would do. CO2 above 5000 ppm is the limit for a working day; never enrich a room where people sleep."},
			func(c *Call, p struct {
				airParams
				Day int `query:"day" min:"1" max:"400" unit:"d" doc:"of the crop to show; that of most water if it is not said"`
			}, _ None) (wire.Air, error) {
				b, err := a.bench(c, p.Bench, p.At)
				if err != nil {
					return wire.Air{}, err
				}
				turned, err := p.turn(b.Bench())
				if err != nil {
					return wire.Air{}, err
				}
				if err := c.Tag(b.Stamp()); err != nil {
					return wire.Air{}, err
				}
				now, err := airOf(b, b.Bench(), p.Day)
				if err != nil || turned == b.Bench() {
					return aswireAir(now, nil, err)
				}
				then, err := airOf(b, turned, p.Day)
				return aswireAir(then, now, err)
			}),
		op(Operation{ID: "beginHearts", Method: "POST", Path: "/benches/{bench}/air/hearts", Tag: "Air", Summary: "What moving air and drier nights do for the youngest leaves", Scopes: []access.Scope{access.ScopePlan}, Once: true, Task: result[wire.AirHearts]()},
			func(c *Call, p airParams, _ None) (wire.Task, error) {
				b, err := a.bench(c, p.Bench, p.At)
				if err != nil {
					return wire.Task{}, err
				}
				turned, err := p.turn(b.Bench())
				if err != nil {
					return wire.Task{}, err
				}
				fast, err := b.Outlook(false)
				if err != nil {
					return wire.Task{}, noOutlook(err)
				}
				x := turned.Air
				key := fmt.Sprint(b.Stamp(), x.Day.Temperature.Value, x.Day.Humidity.Value, x.Night.Temperature.Value, x.Night.Humidity.Value, x.Speed.Value, x.Fan.Value, x.CO2.Value, x.Altitude.Value)
				return c.begin(tasks.Work{Kind: "air at the hearts", Key: key, Title: "Air at the hearts of " + b.Bench().Name, Page: "/bench/" + b.ID() + "/air?hearts=1#hearts", Again: "",
					Do: func(ctx context.Context, t *tasks.Task) (tasks.Result, error) {
						t.Progress("asking the outlook over speeds and nights", 0)
						h, err := air.HeartsOf(ctx, turned, fast, 0)
						if err != nil {
							return nil, err
						}
						return give(aswire.AirHearts(h), nil)
					}})
			}),
		op(Operation{ID: "getFan", Method: "GET", Path: "/benches/{bench}/air/fan", Tag: "Air", Summary: "How fast the air of a fan is at the heads", Scopes: reads},
			func(c *Call, p struct {
				benchPath
				Diameter float64  `query:"diameter_m" need:"yes" min:"0.02" max:"1.5" unit:"m" doc:"of the blades" example:"0.12"`
				Flow     *float64 `query:"flow_m3_h" above:"0" max:"100000" unit:"m³/h" doc:"of one fan; this, or outlet_m_s, or turns_min" example:"90"`
				Outlet   *float64 `query:"outlet_m_s" above:"0" max:"40" unit:"m/s" doc:"speed at the blades"`
				Turns    *float64 `query:"turns_min" above:"0" max:"20000" unit:"1/min"`
				Distance float64  `query:"distance_m" need:"yes" min:"0.01" max:"20" unit:"m" doc:"to the heads" example:"0.4"`
				Aim      string   `query:"aim" enum:"across|down" doc:"down if it is not said"`
				Count    int      `query:"fans" min:"1" max:"100" doc:"alike, spread evenly; 1 if it is not said"`
			}, _ None) (wire.AirBlown, error) {
				b, err := a.bench(c, p.Bench, nil)
				if err != nil {
					return wire.AirBlown{}, err
				}
				value := func(v *float64) float64 {
					if v == nil {
						return 0
					}
					return *v
				}
				f := air.Blades{Diameter: quantity.Metre(p.Diameter), Flow: value(p.Flow), Outlet: value(p.Outlet), Turns: value(p.Turns), Distance: quantity.Metre(p.Distance), Aim: underlamp.Down, Count: p.Count}
				if p.Aim == "across" {
					f.Aim = underlamp.Across
				}
				w, err := air.Blow(b.Bench(), f)
				if err != nil {
					return wire.AirBlown{}, unfit(err, "")
				}
				return aswire.AirBlown(b.Bench(), w, nil), nil
			}),
		op(Operation{ID: "surveyAir", Method: "POST", Path: "/benches/{bench}/air/survey", Tag: "Air", Summary: "What readings of an anemometer mean; nothing is kept", Scopes: reads, Body: 32 << 10},
			func(c *Call, p benchPath, r wire.AirReadings) (wire.AirSurvey, error) {
				b, err := a.bench(c, p.Bench, nil)
				if err != nil {
					return wire.AirSurvey{}, err
				}
				var all []fanjet.Reading
				for _, x := range r.Readings {
					y := fanjet.Reading{Speed: x.Speed, Depth: 1}
					if x.Depth != nil {
						y.Depth = *x.Depth
					}
					all = append(all, y)
				}
				s, err := fanjet.SurveyOf(all)
				if err != nil {
					return wire.AirSurvey{}, unfit(err, "")
				}
				return aswire.AirSurvey(s, b.Bench().Units), nil
			}),
		op(Operation{ID: "getAirRecord", Method: "GET", Path: "/benches/{bench}/air/recorded", Tag: "Air", Summary: "What the hours recorded by sensors say of dew", Scopes: readsRounds,
			Doc: "Of the last two weeks."},
			func(c *Call, p benchPath, _ None) (wire.AirRecord, error) {
				b, err := a.bench(c, p.Bench, nil)
				if err != nil {
					return wire.AirRecord{}, err
				}
				recorder, ok := a.o.Live.(air.Recorder)
				if a.o.Live == nil || !ok {
					return wire.AirRecord{}, noStore()
				}
				r, err := air.Recorded(c.Context(), recorder, b.Bench(), b.ID(), a.o.Now())
				if err != nil {
					return wire.AirRecord{}, err
				}
				if r == nil {
					return wire.AirRecord{}, missing("No sensor of air temperature and humidity of this bench has read any.", "Describe sensors, and send readings.")
				}
				return aswire.AirRecord(b.Bench(), r, a.o.Zone()), nil
			}),
	}
}

func aswireAir(a, now *air.Answer, err error) (wire.Air, error) {
	if err != nil {
		return wire.Air{}, err
	}
	return aswire.Air(a, now), nil
}
