package pinhole

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Figures of OpenCV 4.6.0 for a camera of focal length 1500 and centre (800, 600);
// testdata/opencv.py made them.
func TestPoseAgainstOpenCV(t *testing.T) {
	prior := Prior{Camera{1500, 800, 600}, 1e-7, 1e-4}
	for _, c := range []struct {
		name     string
		from, to []Point
		r        [3][3]float64
		t        [3]float64
	}{
		{"label", labelMarks, labelSeen, [3][3]float64{{0.9920197528461633, -0.07551346493122935, -0.10096794826635351}, {0.056300127235157565, 0.9818407826422456, -0.18116007621373853}, {0.1128144744097233, 0.1740298656970765, 0.9782568682146399}}, [3]float64{-1.4398095451642972, 2.7938571027951116, 257.2673890185136}},
		{"eight", eightMarks, eightSeen, [3][3]float64{{0.9818924050784523, -0.07802906705102003, -0.1726232010605755}, {0.01628464449218547, 0.9426247626136414, -0.333456694731624}, {0.18873821871315727, 0.324607488519171, 0.9268267708661962}}, [3]float64{-70.64472236465407, -51.283300306520594, 151.2390282739722}},
	} {
		var m []Match
		for i := range c.from {
			m = append(m, Match{c.from[i], c.to[i], 1})
		}
		f, err := FitPlane(m, prior)
		if err != nil {
			t.Fatal(err)
		}
		for i := range 3 {
			if math.Abs(f.T[i]-c.t[i]) > 1e-3 {
				t.Errorf("%s: place %d = %.5f mm, OpenCV has %.5f", c.name, i, f.T[i], c.t[i])
			}
			for j := range 3 {
				if math.Abs(f.R[i][j]-c.r[i][j]) > 1e-5 {
					t.Errorf("%s: rotation [%d][%d] = %.7f, OpenCV has %.7f", c.name, i, j, f.R[i][j], c.r[i][j])
				}
			}
		}
	}
}

// The five poses of the pattern that Zhang2000 printed beside his data (focal length 832.5
// pixels, centre 303.959, 206.585, lengths in inches, pattern of 17 cm; as quoted by two open
// repositories). Corners where the printed calibration puts them, less its distortion, give back
// the printed place, to the six digits that are printed.
func TestPosesOfZhang(t *testing.T) {
	for i, v := range [][12]float64{
		{0.992759, -0.026319, 0.117201, 0.0139247, 0.994339, 0.105341, -0.11931, -0.102947, 0.987505, -3.84019, 3.65164, 12.791},
		{0.997397, -0.00482564, 0.0719419, 0.0175608, 0.983971, -0.17746, -0.0699324, 0.178262, 0.981495, -3.71693, 3.76928, 13.1974},
		{0.915213, -0.0356648, 0.401389, -0.00807547, 0.994252, 0.106756, -0.402889, -0.100946, 0.909665, -2.94409, 3.77653, 14.2456},
		{0.986617, -0.0175461, -0.16211, 0.0337573, 0.994634, 0.0977953, 0.159524, -0.101959, 0.981915, -3.40697, 3.6362, 12.4551},
		{0.967585, -0.196899, -0.158144, 0.191542, 0.980281, -0.0485827, 0.164592, 0.0167167, 0.98622, -4.07238, 3.21033, 14.3441},
	} {
		const focal, cx, cy, inch = 832.5, 303.959, 206.585, 25.4
		var m []Match
		for _, p := range []Point{{0, 0}, {6.7, 0}, {6.7, -6.7}, {0, -6.7}} {
			x, y, z := v[0]*p.X+v[1]*p.Y+v[9], v[3]*p.X+v[4]*p.Y+v[10], v[6]*p.X+v[7]*p.Y+v[11]
			m = append(m, Match{Point{p.X * inch, p.Y * inch}, Point{focal*x/z + cx, focal*y/z + cy}, 0.1})
		}
		// The camera is known as well as EXIF tells it, and is off by as much.
		f, err := FitPlane(m, Prior{Camera{focal * 1.02, 320, 240}, 0.04, 30})
		if err != nil {
			t.Fatal(err)
		}
		d, sd := f.Distance()
		// Distance along the normal: n·t with n the third column.
		want := inch * (v[2]*v[9] + v[5]*v[10] + v[8]*v[11])
		if math.Abs(d-want) > 2*sd+0.01*want {
			t.Errorf("view %d: distance %.1f ± %.1f mm, printed %.1f", i+1, d, sd, want)
		}
		f, err = FitPlane(m, Prior{Camera{focal, cx, cy}, 1e-6, 1e-3})
		if err != nil {
			t.Fatal(err)
		}
		for j := range 3 {
			if math.Abs(f.T[j]-v[9+j]*inch) > 1e-3*inch {
				t.Errorf("view %d: place %d = %.3f mm, printed %.3f", i+1, j, f.T[j], v[9+j]*inch)
			}
			for k := range 3 {
				if math.Abs(f.R[j][k]-v[3*j+k]) > 2e-5 {
					t.Errorf("view %d: rotation [%d][%d] = %.6f, printed %.6f", i+1, j, k, f.R[j][k], v[3*j+k])
				}
			}
		}
	}
}

// camera makes matches of a label that a known camera sees, with noise.
func camera(rng *rand.Rand, tilt, focal, noise float64) (m []Match, r [3][3]float64, t [3]float64) {
	s, c := math.Sincos(tilt)
	a := 2 * math.Pi * rng.Float64()
	sa, ca := math.Sincos(a)
	// Rz(a)·Rx(tilt).
	r = [3][3]float64{{ca, -sa * c, sa * s}, {sa, ca * c, -ca * s}, {0, s, c}}
	t = [3]float64{-20 + 40*rng.Float64(), -20 + 40*rng.Float64(), 350}
	for _, p := range labelMarks {
		var q [3]float64
		for i := range q {
			q[i] = r[i][0]*p.X + r[i][1]*p.Y + t[i]
		}
		m = append(m, Match{p, Point{focal*q[0]/q[2] + 2000 + noise*rng.NormFloat64(), focal*q[1]/q[2] + 1500 + noise*rng.NormFloat64()}, noise})
	}
	return m, r, t
}

// The stated standard deviations are those that repeated photos have: for the scale at a
// plant 120 mm from the label, and the distance, over cameras drawn from the prior.
func TestStatedSpreads(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 8))
	const n = 300
	var scale, distance float64
	for range n {
		focal := 3000 * math.Exp(0.04*rng.NormFloat64())
		m, r, place := camera(rng, 35*math.Pi/180*rng.Float64(), focal, 0.3)
		f, err := FitPlane(m, Prior{Camera{3000, 2000, 1500}, 0.04, 5})
		if err != nil {
			t.Fatal(err)
		}
		truth := Fit{Camera: Camera{focal, 2000, 1500}, R: r, T: place}
		h := truth.Plane(0)
		px := h.Apply(Point{30, -120})
		got, sd := f.PlaceScale(px, 0)
		back := h.Inverse()
		j := back.Jacobian(px)
		want := math.Sqrt(math.Abs(j[0][0]*j[1][1] - j[0][1]*j[1][0]))
		scale += math.Pow(math.Log(got/want)/sd, 2)
		d, dsd := f.Distance()
		var along float64
		for i := range 3 {
			along += r[i][2] * place[i]
		}
		distance += math.Pow((d-along)/dsd, 2)
	}
	// The mean square of 300 normal deviates is 1 ± 0.08; slopes are not straight over the whole
	// spread, so the bound is three times that.
	for name, v := range map[string]float64{"scale": scale / n, "distance": distance / n} {
		if v < 0.76 || v > 1.3 {
			t.Errorf("%s: mean square of error over stated standard deviation %.2f, want 1", name, v)
		}
	}
}

// Heights: what stands 50 mm over a plane is seen larger by distance/(distance − 50), whatever the tilt.
func TestHigherPlane(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 8))
	m, _, _ := camera(rng, 0.4, 3000, 1e-6)
	for i := range m {
		m[i].SD = 0.1
	}
	f, err := FitPlane(m, Prior{Camera{3000, 2000, 1500}, 1e-6, 1e-3})
	if err != nil {
		t.Fatal(err)
	}
	d, _ := f.Distance()
	px := Point{2000, 1500}
	low, _ := f.PlaceScale(px, 0)
	high, _ := f.PlaceScale(px, 50)
	if got, want := low/high, d/(d-50); math.Abs(got/want-1) > 1e-6 {
		t.Errorf("ratio of scales %.6f, want %.6f", got, want)
	}
	twice := f.Stretched(2)
	if dd, _ := twice.Distance(); math.Abs(dd/d-2) > 1e-12 {
		t.Errorf("stretched distance %.3f of %.3f", dd, d)
	}
}

func TestPriorOfPhones(t *testing.T) {
	// 26 mm on a frame of 43.27 mm diagonal: 0.601 of the photo's diagonal of 5000 pixels.
	if p := Usual(4000, 3000, 26); math.Abs(p.Focal-3004.6) > 0.5 || p.CX != 2000 || p.CY != 1500 {
		t.Errorf("prior %+v", p)
	}
	if p := Usual(4000, 3000, 0); p.FocalSD < 0.3 {
		t.Errorf("a camera that is not known has a spread of %.2f", p.FocalSD)
	}
}

func BenchmarkFitPlane(b *testing.B) {
	m, _, _ := camera(rand.New(rand.NewPCG(3, 8)), 0.4, 3000, 0.3)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := FitPlane(m, Usual(4000, 3000, 26)); err != nil {
			b.Fatal(err)
		}
	}
}
