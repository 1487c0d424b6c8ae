package draw

import "testing"

// The page must follow a slider within 100 ms; drawing may take a small part.
func BenchmarkPlan49x25(b *testing.B)     { bench(b, samplePlan(Frame{ID: "b"}).Draw) }
func BenchmarkSide(b *testing.B)          { bench(b, sampleSide(Frame{ID: "b"}).Draw) }
func BenchmarkLines35Days(b *testing.B)   { bench(b, sampleLines(Frame{ID: "b"}).Draw) }
func BenchmarkSettings31x25(b *testing.B) { bench(b, sampleSettings(Frame{ID: "b"}).Draw) }
func BenchmarkPolar73(b *testing.B)       { bench(b, samplePolar(Frame{ID: "b"}).Draw) }
func BenchmarkBars6(b *testing.B)         { bench(b, sampleBars(Frame{ID: "b"}).Draw) }

func bench(b *testing.B, draw func() Picture) {
	b.ReportAllocs()
	for b.Loop() {
		b.SetBytes(int64(len(draw().SVG)))
	}
}

func BenchmarkRegion49x25(b *testing.B) {
	tr := newTracer(sampleGrid())
	b.ReportAllocs()
	for b.Loop() {
		tr.region(250)
	}
}
