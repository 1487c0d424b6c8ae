package photo_test

import (
	"bytes"
	"context"
	"errors"
	"image"
	"image/color"
	"image/gif"
	"image/png"
	"io/fs"
	"math"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"underlamp"
	"underlamp/app/photo"
	"underlamp/demo"
	"underlamp/formats/photofile"
	"underlamp/science/plantfigure"
	"underlamp/science/plantlabel"
	"underlamp/science/quantity"
	"underlamp/store"
)

// Codes of printed labels must not change: they stand on labels in people's rooms.
func TestCodesStay(t *testing.T) {
	for want, s := range map[plantlabel.Code]photo.Subject{
		"7ETBRAVC": {Bench: "tier-2-middle", Plant: "P8"},
		"Y1HXXKXC": {Trial: "light-levels", Unit: "C1-L3-P1"},
	} {
		if got := photo.CodeOf(s); got != want {
			t.Errorf("%+v: %s, was printed as %s", s, got, want)
		}
	}
	r := photo.Register{}
	s := photo.Subject{Bench: "b", Plant: "P1"}
	if clash := r.Add(s, s, photo.Subject{Bench: "b", Plant: "P2"}); len(clash) != 0 || len(r.Subjects()) != 2 || r[photo.CodeOf(s)] != s {
		t.Errorf("%v, %v", clash, r)
	}
}

func shot(t testing.TB, name string) []byte {
	t.Helper()
	data, err := fs.ReadFile(demo.Photos(), name)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// A photo of the demo was drawn (package photoscene) with a leaf area of 227.8 cm² and leaves
// up to 9 cm high: with the height the area lies within two standard deviations of it. What is
// made of the photo says nothing of where it was taken, which the photo itself does.
func TestMeasure(t *testing.T) {
	const p4 = plantlabel.Code("E86B3CD2")
	data := shot(t, "2026-10-29-P4.jpg")
	ask := photo.Ask{Zone: time.UTC, Heights: func(time.Time) map[plantlabel.Code]photo.Tall {
		return map[plantlabel.Code]photo.Tall{p4: {CM: 9, SD: 1}}
	}}
	f, made, err := photo.Measure(data, ask)
	if err != nil || len(f.Reads) != 1 || f.Reads[0].Code != p4 || f.Reads[0].Refused != nil {
		t.Fatalf("%+v, %v", f, err)
	}
	if want := time.Date(2026, 10, 29, 18, 5, 0, 0, time.UTC); !f.Taken.Equal(want) || f.From != "camera" {
		t.Errorf("taken %v (%s), want %v", f.Taken, f.From, want)
	}
	a, _ := f.Reads[0].Figure(photo.Area)
	if math.Abs(a.Value-227.8) > 2*a.SD || a.SD > 0.12*a.Value {
		t.Errorf("area %.1f ± %.1f cm², drawn with 227.8", a.Value, a.SD)
	}
	if len(made) != 2 {
		t.Fatalf("%d pictures", len(made))
	}
	for _, m := range made {
		i, err := photofile.Check(m.Data)
		if err != nil || i.Shot != (photofile.Shot{}) || bytes.Contains(m.Data, []byte("Exif")) {
			t.Errorf("%s: %+v, %v", m.Name, i, err)
		}
	}
	doc, err := f.JSON()
	if err != nil {
		t.Fatal(err)
	}
	if again, err := photo.ReadFinding(doc); err != nil || len(again.Reads[0].Figures) != len(f.Reads[0].Figures) {
		t.Errorf("%v, %v", again, err)
	}
	if f, _, err := photo.Measure(shot(t, "2026-11-02-P11.jpg"), ask); err != nil || f.Refused == nil || f.Refused.Advice == "" {
		t.Errorf("a blurred photo: %+v, %v", f, err)
	}
	if codes, _, err := photo.Identify(data); err != nil || len(codes) != 1 || codes[0] != p4 {
		t.Errorf("%v, %v", codes, err)
	}
}

// finding makes the figures of a photo of one plant.
func finding(sha string, s photo.Subject, day int, area float64, spots ...photo.Spot) *photo.Finding {
	return &photo.Finding{Method: photo.Method, SHA256: sha, Taken: time.Date(2026, 10, 12+day, 12, 0, 0, 0, time.UTC), Reads: []photo.Read{{
		Code: photo.CodeOf(s), Figures: []photo.Figure{{What: photo.Area, Value: area, SD: area / 20}}, Spots: spots, Picture: string(photo.CodeOf(s)), MMPerPixel: 0.5, Corrected: true,
	}}}
}

var subject = photo.Subject{Bench: "b", Plant: "P1"}

func book(t *testing.T, k photo.Kept, findings ...*photo.Finding) *photo.Book {
	t.Helper()
	for _, f := range findings {
		doc, err := f.JSON()
		if err != nil {
			t.Fatal(err)
		}
		k.Photos = append(k.Photos, store.Photo{ID: f.SHA256, Bench: "b", At: store.At(f.Taken)})
		k.Measures = append(k.Measures, store.Measure{Photo: f.SHA256, Method: f.Method, Doc: doc})
	}
	r := photo.Register{}
	r.Add(subject)
	b := &underlamp.Bench{Crop: underlamp.Crop{Species: underlamp.Said("lettuce"), Transplanted: "2026-10-12"}}
	out, faults := photo.NewBook("b", b, k, r, time.UTC)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	return out
}

// The newest method counts, and older figures stay; methods are compared by number.
func TestNewestMethodCounts(t *testing.T) {
	old, odd := finding("a", subject, 10, 100), finding("a", subject, 10, 100)
	old.Method, odd.Method = "plantphoto 2", "plantphoto 10"
	odd.Reads[0].Figures[0].Value = 120
	doc, _ := odd.JSON()
	k := photo.Kept{Photos: []store.Photo{{ID: "a", Bench: "b"}}, Measures: []store.Measure{{Photo: "a", Method: odd.Method, Doc: doc}}}
	doc, _ = old.JSON()
	k.Measures = append(k.Measures, store.Measure{Photo: "a", Method: old.Method, Doc: doc})
	b := book(t, k)
	l := b.Looks("P1")
	if f, _ := l[0].Figure(photo.Area); f.Value != 120 || len(l[0].Shot.Older) != 1 || l[0].Day != 10 {
		t.Errorf("%+v", l)
	}
	if photo.Stale("a", k.Measures, "plantphoto 10") || !photo.Stale("a", k.Measures, "plantphoto 11") {
		t.Error("stale")
	}
}

// A verdict settles its spot, the last one of two; and it teaches: after ten that call such
// spots sound, another one is less likely burnt.
func TestVerdictsTeach(t *testing.T) {
	seen := plantfigure.Features{Brown: 1, Contrast: 1, Size: 2}
	spot := func(id string) photo.Spot { return photo.Spot{ID: id, Area: 100, Seen: seen} }
	f := finding("a", subject, 20, 200, spot("s1"), spot("s2"))
	before := book(t, photo.Kept{}, f).Looks("")[0].Brown
	var k photo.Kept
	for i := range 10 {
		v := photo.Verdict{ID: strings.Repeat("v", 8) + string(rune('a'+i)), Photo: "other", Spot: string(rune('a' + i)), Recorded: time.Unix(int64(i), 0), Cultivar: "X", Seen: seen}
		s, err := v.Kept()
		if err != nil {
			t.Fatal(err)
		}
		k.Verdicts = append(k.Verdicts, s)
	}
	for i, burnt := range []bool{false, true} { // somebody changes their mind
		v := photo.Verdict{ID: "mine" + string(rune('0'+i)), Photo: "a", Spot: "s1", Burnt: burnt, Recorded: time.Unix(int64(100+i), 0), Seen: seen}
		s, _ := v.Kept()
		k.Verdicts = append(k.Verdicts, s)
	}
	after := book(t, k, f).Looks("")[0].Brown
	if after.Burnt != 1 || after.Open != 1 || after.Chances[0] != 1 || !(after.Chances[1] < before.Chances[1]) {
		t.Errorf("before %+v, after %+v", before, after)
	}
	if got := photo.OfCultivar(k.Verdicts, "Y"); len(got) != 0 {
		t.Errorf("another cultivar: %d", len(got))
	}
}

// Areas become masses by the plants that were weighed, and go into a cycle as from a photo,
// not beside a weighing.
func TestMassesGoIntoTheCycle(t *testing.T) {
	var all []*photo.Finding
	for i, a := range []float64{160, 200, 240, 300, 340, 420} {
		all = append(all, finding(strings.Repeat(string(rune('a'+i)), 12), subject, 8+4*i, a))
	}
	k := photo.Kept{Weighed: []photo.Weighed{{Plant: "P1", At: all[2].Taken.Add(time.Hour), Grams: 60}}}
	b := book(t, k, all...)
	if b.Masses == nil || len(b.Masses.Pairs) != 1 {
		t.Fatalf("%+v %s", b.Masses, b.NoMasses)
	}
	m := b.Looks("P1")[3].Mass
	if m == nil || m.Low >= m.Grams || m.High <= m.Grams || m.Grams < 60 || m.Grams > 140 {
		t.Fatalf("300 cm² weigh %+v", m)
	}
	grams := underlamp.Observation{Plant: "P1", Day: 16, Date: "2026-10-28"}
	g := quantity.Gram(60)
	grams.Mass = &g
	c := &underlamp.Cycle{Transplanted: "2026-10-12", Observations: []underlamp.Observation{grams, {Plant: "P1", Day: 24, Cut: true}}}
	n := b.AddMasses(c, time.UTC)
	if n != 4 || len(c.Observations) != 6 { // days 8, 12, 20, 24; 16 was weighed, 28 is after the cut
		t.Errorf("%d: %+v", n, c.Observations)
	}
	for _, o := range c.Observations {
		if strings.HasPrefix(o.With, "photo") && (o.MassError <= 0 || !strings.Contains(o.Note, photo.Method)) {
			t.Errorf("%+v", o)
		}
	}
}

// All pictures of a strip have one scale: a plant of twice the size is twice as wide, whatever
// the scale of its own picture; and the film has the same.
func TestStripIsToScale(t *testing.T) {
	a, b := finding("aaaa", subject, 10, 100), finding("bbbb", subject, 14, 400)
	b.Reads[0].MMPerPixel = 0.25
	bk := book(t, photo.Kept{}, a, b)
	s, err := photo.StripOf("A bench", bk.Looks(""), []string{"P1"}, time.UTC)
	if err != nil || len(s.Columns) != 2 || len(s.Rows) != 1 {
		t.Fatalf("%+v, %v", s, err)
	}
	s.Load(func(l *photo.Look) (image.Image, error) { // 60 mm and 120 mm wide
		n := map[string]int{"aaaa": 120, "bbbb": 480}[l.Shot.ID]
		m := image.NewRGBA(image.Rect(0, 0, n, n))
		for i := range m.Pix {
			m.Pix[i] = []uint8{200, 0, 0, 255}[i%4]
		}
		return m, nil
	})
	red := func(m image.Image, from, to int) int {
		n := 0
		b := m.Bounds()
		for x := from; x < min(to, b.Max.X); x++ {
			for y := b.Min.Y; y < b.Max.Y; y++ {
				if c := color.RGBAModel.Convert(m.At(x, y)).(color.RGBA); c.R > 180 && c.G < 60 {
					n++
					break
				}
			}
		}
		return n
	}
	data, err := s.PNG(800)
	if err != nil {
		t.Fatal(err)
	}
	m, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	w := m.Bounds().Dx()
	half := 124 + 324
	if small, large := red(m, 0, half-4), red(m, half, w); small < 40 || math.Abs(float64(large)/float64(small)-2) > 0.05 {
		t.Errorf("%d and %d pixels wide", small, large)
	}
	film, err := s.GIF(400)
	if err != nil {
		t.Fatal(err)
	}
	g, err := gif.DecodeAll(bytes.NewReader(film))
	if err != nil || len(g.Image) != 2 {
		t.Fatalf("%v", err)
	}
	if small, large := red(g.Image[0], 0, 400), red(g.Image[1], 0, 400); math.Abs(float64(large)/float64(small)-2) > 0.05 {
		t.Errorf("film: %d and %d pixels wide", small, large)
	}
	if _, err := photo.StripOf("x", nil, []string{"P1"}, time.UTC); err == nil {
		t.Error("a strip of nothing")
	}
}

// A folder is gone through once; what was stopped is taken up again; a file that is no photo
// is told and not asked of again; and only one photo is held at a time.
func TestFolderTakesUpAgain(t *testing.T) {
	folder := fstest.MapFS{".hidden/x.jpg": {Data: []byte("x")}, "notes.txt": {Data: []byte("x")}, "bad.heic": {Data: []byte("\x00\x00\x00\x18ftypheic")}}
	for _, n := range []string{"a.jpg", "b.jpg", "sub/c.JPG"} {
		folder[n] = &fstest.MapFile{Data: []byte(n)}
	}
	done := map[string]photo.Mark{}
	var kept []string
	looks, stop := 0, 2
	job := &photo.FolderJob{
		Folder: folder,
		Done:   func(m photo.Mark) bool { return done[m.File] == m },
		Look: func(data []byte, _ fs.FileInfo) (*photo.Finding, []store.NamedPicture, error) {
			looks++
			if bytes.Contains(data, []byte("ftyp")) {
				return nil, nil, errors.New("HEIC")
			}
			return &photo.Finding{SHA256: string(data)}, nil, nil
		},
	}
	ctx, cancel := context.WithCancel(t.Context())
	job.Keep = func(_ context.Context, r photo.Result) error {
		done[r.File] = r.Mark
		kept = append(kept, r.File)
		if len(kept) == stop {
			cancel()
		}
		return nil
	}
	if err := job.Run(ctx); !errors.Is(err, context.Canceled) || looks != 2 {
		t.Fatalf("%v after %d", err, looks)
	}
	if err := job.Run(t.Context()); err != nil || looks != 4 {
		t.Errorf("%v after %d: %v", err, looks, kept)
	}
	if err := job.Run(t.Context()); err != nil || looks != 4 {
		t.Errorf("a third time: %d", looks)
	}
	// A fixed camera: a file counts when it has stayed the same from one look to the next.
	cancel()
	ctx, cancel = context.WithCancel(t.Context())
	defer cancel()
	folder["d.jpg"] = &fstest.MapFile{Data: []byte("d")}
	stop, job.Every = 5, time.Millisecond
	if err := job.Watch(ctx); err != nil || looks != 5 {
		t.Errorf("watched: %v, %d", err, looks)
	}
}

// The list that a run leaves is read back, without the line that a kill broke off.
func TestLinesBrokenOff(t *testing.T) {
	var b bytes.Buffer
	for _, r := range []photo.Result{{Mark: photo.Mark{File: "a.jpg", Size: 3}, Finding: finding("a", subject, 3, 100)}, {Mark: photo.Mark{File: "b.txt"}, Problem: "no photo"}} {
		l, err := photo.LineOf(r)
		if err != nil {
			t.Fatal(err)
		}
		b.Write(l)
	}
	whole := int64(b.Len())
	b.WriteString(`{"file":"c.jpg","fin`)
	var got []photo.Result
	n, err := photo.ReadLines(&b, func(r photo.Result) { got = append(got, r) })
	if err != nil || n != whole || len(got) != 2 || got[0].Finding.Reads[0].Code != photo.CodeOf(subject) || got[1].Problem != "no photo" {
		t.Errorf("%d of %d, %v: %+v", n, whole, err, got)
	}
}

func FuzzReadFinding(f *testing.F) {
	doc, err := finding("a", subject, 3, 100, photo.Spot{ID: "x"}).JSON()
	if err != nil {
		f.Fatal(err)
	}
	f.Add(doc)
	f.Add([]byte(`{"underlamp photo figures":1,"reads":[{"code":"A","figures":[{"what":"area","value":1e999}]}]}`))
	f.Fuzz(func(t *testing.T, raw []byte) {
		got, err := photo.ReadFinding(raw)
		if err != nil {
			return
		}
		again, err := got.JSON()
		if err != nil {
			t.Fatalf("what was read cannot be written: %v", err)
		}
		if _, err := photo.ReadFinding(again); err != nil {
			t.Fatalf("what was written cannot be read: %v", err)
		}
		photo.ReadLines(bytes.NewReader(raw), func(photo.Result) {})
	})
}
