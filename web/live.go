package web

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"html/template"
	"math"
	"net/http"
	"strconv"
	"strings"
	"time"

	"underlamp/access"
	"underlamp/app/live"
	"underlamp/draw"
	"underlamp/report"
	"underlamp/science/quantity"
	"underlamp/store"
	"underlamp/working"
)

// Live tells how benches stand now; a [*live.Engine] does. Benches are called by the names
// of their files, without the ending.
type Live interface {
	Board(ctx context.Context, bench string) (*live.Board, error)
	Chart(ctx context.Context, bench, sensor string, from, to time.Time, pieces int) (*live.Chart, error)
	Acknowledge(ctx context.Context, id int64, by string) error
}

var _ Live = (*live.Engine)(nil)

// liveView is what the live page shows.
type liveView struct {
	Title, ID, Bench string
	At               string
	Zone             string // for the script; empty is that of the browser
	Lit              string
	Messages         []messageView
	Date             string
	Rows             []liveRow
	Covered          string
	Sensors          []sensorRow
	Figures          template.HTML
	Plants           []live.PlantNow
	Limits           []live.Limit
	Notes            []string
	Known            string // who acknowledged last, so that the name need not be typed again
	Reads, Walks     bool   // the visitor may see the bench, may acknowledge
}

type messageView struct {
	ID         int64
	Text, Mend string
	Since      string
	Urgent     bool
	By         string // who knows of it
}

type liveRow struct {
	Name, SoFar, End, Plan, State string
	Share, Whole                  float64 // for the bar; Whole is 0 without a plan
}

type sensorRow struct {
	Key, Reads, Unit, Note, Last, Age, At string
	Chart                                 bool
	Spark                                 template.HTML
	Checks                                []live.Check
}

// board finds the bench of a request and how it stands; it answers itself if that cannot
// be told.
func (s *Site) board(w http.ResponseWriter, r *http.Request) (*entry, *live.Board) {
	e := s.find(w, r)
	if e == nil {
		return nil, nil
	}
	b, err := s.live.Board(r.Context(), e.id)
	if err != nil {
		s.liveFailed(w, r, err)
		return nil, nil
	}
	return e, b
}

func (s *Site) liveFailed(w http.ResponseWriter, r *http.Request, err error) {
	if r.Context().Err() != nil {
		return // the visitor has left
	}
	if errors.Is(err, store.ErrNotFound) {
		s.fail(w, http.StatusNotFound, "This is not kept.", "The sensors of the bench stand on its page; underlamp sensor list shows all.")
		return
	}
	s.log.Error("live", "err", err)
	s.fail(w, http.StatusServiceUnavailable, "How the bench stands cannot be read now.", "Load the page again in a while. If it stays so, underlamp doctor says why.")
}

func (s *Site) livePage(w http.ResponseWriter, r *http.Request) {
	if e, b := s.board(w, r); b != nil {
		s.page(w, http.StatusOK, "live.tmpl", s.liveView(e, b, r))
	}
}

// livePart is what of the page follows the readings.
func (s *Site) livePart(w http.ResponseWriter, r *http.Request) {
	if e, b := s.board(w, r); b != nil {
		w.Header().Set("Cache-Control", "no-store")
		s.page(w, http.StatusOK, "livenow.tmpl", s.liveView(e, b, r))
	}
}

func (s *Site) liveView(e *entry, b *live.Board, r *http.Request) liveView {
	zone := s.zoneNow()
	if z, err := time.LoadLocation(b.Zone); err == nil {
		zone = z
	}
	v := liveView{Title: e.bench.Name + ", now", ID: e.id, Bench: e.bench.Name, At: b.At.In(zone).Format("15:04:05"), Date: b.Today.From.In(zone).Format("Monday 2 January"), Plants: b.Plants, Limits: b.Limits, Notes: b.Notes}
	if b.Zone != "Local" {
		v.Zone = b.Zone
	}
	who := access.From(r.Context())
	v.Reads, v.Walks = access.Readers.Has(who), access.Walkers.Has(who)
	if c, err := r.Cookie(knownBy); err == nil {
		v.Known = c.Value
	}
	switch {
	case b.Lit == nil:
		v.Lit = "No sensor tells whether the lamps burn."
	case *b.Lit:
		v.Lit = "The lamps burn."
	default:
		v.Lit = "The lamps are off."
	}
	for _, m := range b.Messages {
		x := messageView{ID: m.ID, Text: m.Text, Mend: m.Mend, Urgent: m.Urgent, Since: since(store.Time(m.Since).In(zone), b.At.In(zone))}
		if m.Acknowledged != 0 {
			x.By = m.By
		}
		v.Messages = append(v.Messages, x)
	}
	for _, t := range b.Today.Rows {
		x := liveRow{Name: t.Name, SoFar: amount(&t.SoFar, t.Unit), End: amount(t.End, t.Unit), Plan: amount(t.Plan, t.Unit), State: t.State}
		if t.Plan != nil && *t.Plan > 0 && t.SoFar >= 0 {
			x.Share, x.Whole = min(t.SoFar, *t.Plan), *t.Plan
		}
		v.Rows = append(v.Rows, x)
	}
	if c := b.Today.Cover; c != nil && *c < 0.98 {
		v.Covered = working.Percent(*c)
	}
	for _, x := range b.Sensors {
		row := sensorRow{Key: x.Key, Reads: string(x.Quantity), Unit: x.Unit, Note: x.Note, Last: x.Text, Age: x.Age, Checks: x.Checks, Chart: x.Last != nil || len(x.Spark) > 0}
		if x.Quantity == "" {
			row.Reads = "not said"
		}
		if x.At != nil {
			row.At = x.At.In(zone).Format(time.RFC3339)
		}
		if len(x.Spark) > 0 {
			row.Spark = template.HTML(spark(x).SVG()) // made here, with its label escaped
		}
		v.Sensors = append(v.Sensors, row)
	}
	var figures []working.Figure
	for _, f := range b.Figures {
		figures = append(figures, f.Figure)
	}
	if len(figures) > 0 {
		v.Figures = report.FiguresSection(figures)
	}
	return v
}

// nowCard is how a bench stands, on its card; nil where no sensor tells or nothing is kept.
type nowCard struct {
	Text     string
	Messages []string
}

func (s *Site) nowCard(ctx context.Context, bench string) *nowCard {
	if s.live == nil {
		return nil
	}
	b, err := s.live.Board(ctx, bench)
	if err != nil {
		s.log.Error("card", "bench", bench, "err", err)
		return nil
	}
	if len(b.Sensors) == 0 && len(b.Messages) == 0 {
		return nil
	}
	c := &nowCard{Text: "lamps not known"}
	if b.Lit != nil {
		c.Text = "lamps " + map[bool]string{true: "on", false: "off"}[*b.Lit]
	}
	for _, r := range b.Today.Rows {
		if r.Key == live.KeyDLI {
			c.Text += ", " + r.Name + " so far " + amount(&r.SoFar, r.Unit)
			if r.Plan != nil {
				c.Text += " of " + amount(r.Plan, r.Unit)
			}
		}
	}
	if f, ok := b.Figure(live.KeyVPD); ok {
		c.Text += ", VPD " + f.Text()
	}
	for _, m := range b.Messages {
		c.Messages = append(c.Messages, m.Text)
	}
	return c
}

// amount is a value with its unit; a dash where it is not known.
func amount(v *float64, unit string) string {
	if v == nil || math.IsNaN(*v) {
		return "–"
	}
	return strings.TrimSpace(quantity.Number(*v, 3) + " " + unit)
}

// since says from when, as people do: the time alone of today.
func since(t, now time.Time) string {
	if t.YearDay() == now.YearDay() && t.Year() == now.Year() {
		return t.Format("15:04")
	}
	return t.Format("2 January 15:04")
}

// sparkGap is the time without readings that breaks the line.
const sparkGap = 45 * time.Minute

func spark(v live.SensorView) draw.Spark {
	low, high := math.Inf(1), math.Inf(-1)
	var out draw.Spark
	for i, p := range v.Spark {
		if i > 0 && p.At.Sub(v.Spark[i-1].At) > sparkGap {
			out.X, out.Mean, out.Min, out.Max = append(out.X, 0), append(out.Mean, math.NaN()), append(out.Min, math.NaN()), append(out.Max, math.NaN())
		}
		out.X, out.Mean, out.Min, out.Max = append(out.X, float64(p.At.Unix())), append(out.Mean, p.Mean), append(out.Min, p.Min), append(out.Max, p.Max)
		low, high = min(low, p.Min), max(high, p.Max)
	}
	out.Label = fmt.Sprintf("last 24 h: %s to %s", quantity.Number(low, 3), amount(&high, v.Unit))
	return out
}

// liveChart answers with what a sensor read, as JSON.
func (s *Site) liveChart(w http.ResponseWriter, r *http.Request) {
	e := s.find(w, r)
	if e == nil {
		return
	}
	number := func(name string) int64 {
		v, err := strconv.ParseFloat(r.FormValue(name), 64)
		if err != nil || math.IsNaN(v) || math.Abs(v) > 1e11 {
			return 0
		}
		return int64(v)
	}
	from, to, pieces := number("from"), number("to"), number("pieces")
	if from >= to || pieces < 1 {
		http.Error(w, "A chart is asked with from and to in seconds since 1970, and a number of pieces.", http.StatusBadRequest)
		return
	}
	c, err := s.live.Chart(r.Context(), e.id, r.FormValue("sensor"), time.Unix(from, 0), time.Unix(to, 0), int(min(pieces, 2000)))
	switch {
	case r.Context().Err() != nil:
		return
	case errors.Is(err, store.ErrNotFound):
		http.Error(w, "There is no such sensor of this bench.", http.StatusNotFound)
		return
	case err != nil:
		s.log.Error("chart", "err", err)
		http.Error(w, "The readings cannot be read now.", http.StatusServiceUnavailable)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("Cache-Control", "no-store")
	if err := json.NewEncoder(w).Encode(c); err != nil {
		s.log.Debug("chart", "err", err)
	}
}

// knownBy is the cookie that holds who acknowledged last.
const knownBy = "known-by"

// liveKnown notes that somebody knows of a message.
func (s *Site) liveKnown(w http.ResponseWriter, r *http.Request) {
	e := s.find(w, r)
	if e == nil {
		return
	}
	by := strings.TrimSpace(r.FormValue("by"))
	id, err := strconv.ParseInt(r.FormValue("message"), 10, 64)
	if err != nil || by == "" || len(by) > 80 || strings.ContainsAny(by, "\r\n\t") {
		s.fail(w, http.StatusBadRequest, "Who knows of it is missing.", "Go back and write a name beside the button.")
		return
	}
	if err := s.live.Acknowledge(r.Context(), id, by); err != nil {
		s.liveFailed(w, r, err)
		return
	}
	if !strings.ContainsAny(by, `";\,`) && by == strings.ToValidUTF8(by, "") && isASCII(by) {
		http.SetCookie(w, &http.Cookie{Name: knownBy, Value: by, Path: "/", MaxAge: 365 * 24 * 3600, HttpOnly: true, SameSite: http.SameSiteStrictMode})
	}
	http.Redirect(w, r, "/bench/"+e.id+"/live", http.StatusSeeOther)
}

func isASCII(s string) bool {
	for _, c := range s {
		if c < ' ' || c > '~' {
			return false
		}
	}
	return true
}
