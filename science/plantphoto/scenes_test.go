package plantphoto

import (
	"bytes"
	"flag"
	"fmt"
	"image/jpeg"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"underlamp/internal/photoscene"
	"underlamp/science/plantlabel"
)

var (
	scenes = flag.Uint64("scenes", 0, "draw this many scenes of each kind at 2400 pixels and print how they came out")
	sidePx = flag.Int("side", 2400, "with -scenes: pixels of the longer side")
	write  = flag.String("write", "", "write twelve photos of 2400 pixels and one of 4000 into this folder, and print what they tell and how long it took; photos that are there already are kept")
	kind   = flag.String("kind", "", "with -scenes: only this kind")
	show   = flag.Bool("show", false, "with -scenes: a line for each plant")
)

// A tally is how the plants of many scenes came out.
type tally struct {
	plants, measured, wrong int
	area, width, z          []float64 // relative errors; errors of area in units of their SD
	refused                 map[string]int
}

func (c *tally) add(t *testing.T, n uint64, trial photoscene.Trial, r *Result) {
	t.Helper()
	for _, s := range trial.Stands {
		c.plants++
		code := s.Label.Content.Code
		i := slices.IndexFunc(r.Plants, func(p Plant) bool { return p.Label.Code == code })
		if i < 0 {
			reason := "no label read"
			if r.None != nil {
				reason = "no label read: " + r.None.Reason
			}
			c.refused[reason]++
			if *show {
				fmt.Printf("%4d %s: %s\n", n, trial.Words, reason)
			}
			continue
		}
		p := r.Plants[i]
		if p.Refused != nil {
			c.refused[p.Refused.Reason]++
			if *show {
				fmt.Printf("%4d %s: %s\n", n, trial.Words, p.Refused.Because)
			}
			continue
		}
		c.measured++
		a, w := p.Top.Area.Value/s.Area-1, p.Top.Width.Value/s.Width-1
		c.area, c.width = append(c.area, a), append(c.width, w)
		c.z = append(c.z, (p.Top.Area.Value-s.Area)/p.Top.Area.SD)
		if *show {
			fmt.Printf("%4d %s: tilt there %.0f°, area %+.1f %% (SD %.1f %%), width %+.1f %%, label ±%.2f %% %v\n", n, trial.Words, p.Label.Tilt*180/math.Pi, 100*a, 100*p.Top.Area.SD/p.Top.Area.Value, 100*w, 100*p.Label.ScaleSD, p.Doubts)
		}
	}
	// Identity: every label that was read is one that is there, where it is.
	for _, p := range r.Plants {
		i := slices.IndexFunc(trial.Stands, func(s photoscene.Stand) bool { return s.Label.Content.Code == p.Label.Code })
		if i < 0 {
			c.wrong++
			t.Errorf("scene %d (%s): code %s is none of those in it", n, trial.Words, p.Label.Code)
			continue
		}
		l := trial.Stands[i].Label
		x, y, z := l.At(plantlabel.Point{X: l.Layout.Width / 2, Y: l.Layout.Height / 2})
		u, v := trial.Camera.Project(x, y, z)
		c0, c2 := p.Label.Corners[0], p.Label.Corners[2]
		if p.Label.Layout.Letter != l.Layout.Letter || math.Hypot((c0.X+c2.X)/2-u, (c0.Y+c2.Y)/2-v) > 0.2*math.Hypot(c0.X-c2.X, c0.Y-c2.Y) {
			c.wrong++
			t.Errorf("scene %d (%s): label %s was found elsewhere", n, trial.Words, p.Label.Code)
		}
	}
}

// quantile of absolute values.
func quantile(v []float64, q float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	var a []float64
	for _, x := range v {
		a = append(a, math.Abs(x))
	}
	slices.Sort(a)
	return a[min(len(a)-1, int(q*float64(len(a))))]
}

func mean(v []float64) (m float64) {
	for _, x := range v {
		m += x / float64(len(v))
	}
	return m
}

func (c *tally) String() string {
	var why []string
	for r, n := range c.refused {
		why = append(why, fmt.Sprintf("%s %d", r, n))
	}
	slices.Sort(why)
	inside := 0
	for _, z := range c.z {
		if math.Abs(z) < 1.96 {
			inside++
		}
	}
	return fmt.Sprintf("%d plants, %d measured, %d wrong; area: mean %+.2f %%, median %.2f %%, 95 %% within %.2f %%, worst %.2f %%; width: mean %+.2f %%, 95 %% within %.2f %%, worst %.2f %%; %d of %d true areas within 1.96 SD; refused: %s",
		c.plants, c.measured, c.wrong, 100*mean(c.area), 100*quantile(c.area, 0.5), 100*quantile(c.area, 0.95), 100*quantile(c.area, 1), 100*mean(c.width), 100*quantile(c.width, 0.95), 100*quantile(c.width, 1), inside, len(c.z), strings.Join(why, ", "))
}

// run measures scenes from one number on.
func run(t *testing.T, from, n uint64, side, stands int, form photoscene.Form) *tally {
	c := &tally{refused: map[string]int{}}
	for i := from; i < from+n; i++ {
		trial := photoscene.Draw(i, side, stands, form)
		img := trial.Render()
		o := Options{}
		if form != photoscene.Flat {
			o.Heights = map[plantlabel.Code]Height{}
			for _, s := range trial.Stands {
				o.Heights[s.Label.Content.Code] = Height{s.Height, 0.05 * s.Height}
			}
		}
		c.add(t, i, trial, Measure(img, o))
	}
	return c
}

func TestManyScenes(t *testing.T) {
	if *scenes == 0 {
		t.Skip("long: go test ./science/plantphoto -run ManyScenes -scenes 100 -timeout 2h")
	}
	for _, k := range []struct {
		name   string
		stands int
		form   photoscene.Form
	}{{"flat", 1, photoscene.Flat}, {"half way up", 1, photoscene.Middle}, {"bowl", 1, photoscene.Bowl}, {"two plants", 2, photoscene.Flat}, {"three plants", 3, photoscene.Flat}} {
		if *kind != "" && *kind != k.name {
			continue
		}
		fmt.Printf("%s: %s\n", k.name, run(t, 1, *scenes, *sidePx, k.stands, k.form))
	}
}

// TestWritePhotos writes photos for testdata/opencv.py, which measures them by other means.
func TestWritePhotos(t *testing.T) {
	if *write == "" {
		t.Skip("go test ./science/plantphoto -run WritePhotos -write DIR, then python3 testdata/opencv.py DIR")
	}
	var list strings.Builder
	for i := uint64(101); i <= 113; i++ {
		side := 2400
		if i == 113 {
			side = 4000
		}
		trial := photoscene.Draw(i, side, 1, photoscene.Flat)
		name := fmt.Sprintf("%d.jpg", i)
		data, err := os.ReadFile(filepath.Join(*write, name))
		if err != nil {
			var out bytes.Buffer
			if err := jpeg.Encode(&out, trial.Render(), &jpeg.Options{Quality: 90}); err != nil {
				t.Fatal(err)
			}
			data = out.Bytes()
			if err := os.WriteFile(filepath.Join(*write, name), data, 0o600); err != nil {
				t.Fatal(err)
			}
		}
		s := trial.Stands[0]
		begin := time.Now()
		m, err := jpeg.Decode(bytes.NewReader(data))
		if err != nil {
			t.Fatal(err)
		}
		r := Measure(m, Options{})
		took := time.Since(begin)
		what := "not read"
		if len(r.Plants) > 0 {
			if p := r.Plants[0]; p.Refused != nil {
				what = p.Refused.Reason
			} else {
				what = fmt.Sprintf("area %.2f cm² (%+.2f %%), width %.1f mm (%+.2f %%)", p.Top.Area.Value, 100*(p.Top.Area.Value/s.Area-1), p.Top.Width.Value, 100*(p.Top.Width.Value/s.Width-1))
			}
		}
		fmt.Printf("%s, truth %.2f cm² %.1f mm: %s, %d ms (%s)\n", name, s.Area, s.Width, what, took.Milliseconds(), trial.Words)
		fmt.Fprintf(&list, "%s %s %.4f %.4f %.4f\n", name, s.Label.Layout.Payload(s.Label.Content.Code), s.Label.Layout.QR.Width, s.Area, s.Width)
	}
	if err := os.WriteFile(filepath.Join(*write, "truth.txt"), []byte(list.String()), 0o600); err != nil {
		t.Fatal(err)
	}
}
