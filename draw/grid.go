package draw

import (
	"math"
	"sort"
)

// A Grid is a field of values at the crossings of columns and rows.
type Grid struct {
	X, Y   []float64 // ascending, at least two each
	Values []float64 // row by row: the value at X[i], Y[j] is Values[j*len(X)+i]; NaN makes a hole
}

// empty tells whether there is no grid at all, which is allowed.
func (g Grid) empty() bool { return len(g.X) == 0 && len(g.Y) == 0 && len(g.Values) == 0 }

// check panics if the grid is no grid.
func (g Grid) check(who string) {
	if g.empty() {
		return
	}
	if len(g.X) < 2 || len(g.Y) < 2 || len(g.Values) != len(g.X)*len(g.Y) {
		panic("draw: " + who + ": grid needs at least 2 columns, 2 rows and one value for each crossing")
	}
	for _, axis := range [2][]float64{g.X, g.Y} {
		for i, v := range axis {
			if !finite(v) || i > 0 && v <= axis[i-1] {
				panic("draw: " + who + ": columns and rows of a grid must ascend")
			}
		}
	}
}

// at interpolates between the four neighbours (bilinear). Outside, or beside a
// missing value, it is NaN.
func (g Grid) at(x, y float64) float64 {
	if g.empty() || !(x >= g.X[0] && x <= g.X[len(g.X)-1] && y >= g.Y[0] && y <= g.Y[len(g.Y)-1]) {
		return math.NaN()
	}
	i := min(max(sort.SearchFloat64s(g.X, x)-1, 0), len(g.X)-2)
	j := min(max(sort.SearchFloat64s(g.Y, y)-1, 0), len(g.Y)-2)
	u := (x - g.X[i]) / (g.X[i+1] - g.X[i])
	v := (y - g.Y[j]) / (g.Y[j+1] - g.Y[j])
	k := j*len(g.X) + i
	a, b, c, d := g.Values[k], g.Values[k+1], g.Values[k+len(g.X)], g.Values[k+len(g.X)+1]
	if !finite(a) || !finite(b) || !finite(c) || !finite(d) {
		return math.NaN()
	}
	return (1-v)*((1-u)*a+u*b) + v*((1-u)*c+u*d)
}

// extremes returns the places of the least and the greatest value; ok is false
// if there is none.
func (g Grid) extremes() (least, most int, ok bool) {
	for k, v := range g.Values {
		if !finite(v) {
			continue
		}
		if !ok {
			least, most, ok = k, k, true
		}
		if v < g.Values[least] {
			least = k
		}
		if v > g.Values[most] {
			most = k
		}
	}
	return least, most, ok
}

// place is where the k-th value stands.
func (g Grid) place(k int) point { return point{g.X[k%len(g.X)], g.Y[k/len(g.X)]} }

// A point is a place in the coordinates of the grid or of the picture.
type point struct{ x, y float64 }

// A tracer follows contours over a grid by marching squares (Lorensen1987):
// exact where the field is linear, by chords elsewhere. A cell with a missing
// corner is a hole. In a cell with two opposite corners above the level, the mean
// of the four tells whether the high ground is connected.
//
// Vertices have numbers, so that neighbours meet without comparing coordinates:
// node k, then the crossing on the edge from node k to the right, then on that
// from node k upwards. Edges run with the high ground to their left.
type tracer struct {
	g      Grid
	nx, ny int
	n      int     // nodes
	next   []int32 // the vertex that follows, or -1
	other  []int32 // a second one, where two cells touch at a corner
	enter  []bool  // something leads here
	solid  []bool  // cells without a missing corner
	level  float64
}

func newTracer(g Grid) *tracer {
	t := &tracer{g: g, nx: len(g.X), ny: len(g.Y), n: len(g.Values)}
	if g.empty() {
		return t
	}
	t.next, t.other = make([]int32, 3*t.n), make([]int32, 3*t.n)
	t.enter = make([]bool, 3*t.n)
	t.solid = make([]bool, t.n)
	for j := range t.ny - 1 {
		for i := range t.nx - 1 {
			k := j*t.nx + i
			t.solid[k] = finite(g.Values[k]) && finite(g.Values[k+1]) && finite(g.Values[k+t.nx]) && finite(g.Values[k+t.nx+1])
		}
	}
	return t
}

// region returns the outline of the ground at or above level, as rings with the
// ground to their left; holes run the other way.
func (t *tracer) region(level float64) [][]point { return t.trace(level, true) }

// lines returns the contours at level, each with the high ground to its left. A
// contour that closes ends where it began.
func (t *tracer) lines(level float64) [][]point { return t.trace(level, false) }

func (t *tracer) trace(level float64, border bool) [][]point {
	if t.g.empty() {
		return nil
	}
	t.level = level
	for i := range t.next {
		t.next[i], t.other[i], t.enter[i] = -1, -1, false
	}
	for j := range t.ny - 1 {
		for i := range t.nx - 1 {
			if t.solid[j*t.nx+i] {
				t.cell(i, j, border)
			}
		}
	}
	var out [][]point
	// Lines that begin at the border come first; what is left are rings.
	for v := range t.next {
		if t.next[v] >= 0 && !t.enter[v] {
			out = append(out, t.follow(int32(v), false))
		}
	}
	for v := range t.next {
		for t.next[v] >= 0 {
			out = append(out, t.follow(int32(v), !border))
		}
	}
	return out
}

// cell adds the edges of one cell.
func (t *tracer) cell(i, j int, border bool) {
	k := j*t.nx + i
	corner := [4]int{k, k + 1, k + t.nx + 1, k + t.nx} // anticlockwise
	cross := [4]int{t.n + k, 2*t.n + k + 1, t.n + k + t.nx, 2*t.n + k}
	var above [4]bool
	count := 0
	for c, at := range corner {
		above[c] = t.g.Values[at] >= t.level
		if above[c] {
			count++
		}
	}
	if count > 0 && count < 4 {
		saddle := count == 2 && above[0] == above[2]
		joined := saddle && t.mean(corner) >= t.level
		for c := range 4 {
			if !above[c] || above[(c+1)%4] {
				continue
			}
			// The outline leaves the high ground on side c and comes back on
			// the next side that leads up, or, where two peaks are apart, on
			// the one before.
			d := (c + 1) % 4
			if saddle && !joined {
				d = (c + 3) % 4
			} else {
				for above[d] || !above[(d+1)%4] {
					d = (d + 1) % 4
				}
			}
			t.edge(cross[c], cross[d])
		}
	}
	if !border || count == 0 {
		return
	}
	beside := [4]bool{j > 0 && t.solid[k-t.nx], i+1 < t.nx-1 && t.solid[k+1], j+1 < t.ny-1 && t.solid[k+t.nx], i > 0 && t.solid[k-1]}
	for c := range 4 {
		if beside[c] {
			continue
		}
		d := (c + 1) % 4
		switch {
		case above[c] && above[d]:
			t.edge(corner[c], corner[d])
		case above[c]:
			t.edge(corner[c], cross[c])
		case above[d]:
			t.edge(cross[c], corner[d])
		}
	}
}

func (t *tracer) mean(corner [4]int) float64 {
	var sum float64
	for _, c := range corner {
		sum += t.g.Values[c] / 4
	}
	return sum
}

func (t *tracer) edge(from, to int) {
	if t.next[from] < 0 {
		t.next[from] = int32(to)
	} else {
		t.other[from] = int32(to)
	}
	t.enter[to] = true
}

// follow walks from v until nothing follows, and takes up what it walks on. A
// closed line ends with its first point if again is true.
func (t *tracer) follow(v int32, again bool) []point {
	line := []point{t.vertex(v)}
	first := v
	for {
		to := t.next[v]
		if to < 0 {
			return line
		}
		t.next[v], t.other[v] = t.other[v], -1
		if to == first {
			if again {
				line = append(line, line[0])
			}
			return line
		}
		line = append(line, t.vertex(to))
		v = to
	}
}

// vertex is the place of a vertex; on an edge, by linear interpolation.
func (t *tracer) vertex(v int32) point {
	k := int(v) % t.n
	i, j := k%t.nx, k/t.nx
	x, y := t.g.X[i], t.g.Y[j]
	switch int(v) / t.n {
	case 1:
		u := share(t.g.Values[k], t.g.Values[k+1], t.level)
		x += u * (t.g.X[i+1] - x)
	case 2:
		u := share(t.g.Values[k], t.g.Values[k+t.nx], t.level)
		y += u * (t.g.Y[j+1] - y)
	}
	return point{x, y}
}

// share is how far from a to b a linear change meets the level. Halves keep the
// difference of the largest numbers finite.
func share(a, b, level float64) float64 {
	return math.Min(math.Max((level/2-a/2)/(b/2-a/2), 0), 1)
}

// simplify leaves out points that lie within tol of the line drawn without them
// (DouglasPeucker1973). A closed line keeps its first point and the farthest.
func simplify(line []point, tol float64) []point {
	if len(line) < 3 {
		return line
	}
	keep := make([]bool, len(line))
	keep[0], keep[len(line)-1] = true, true
	type span struct{ a, b int }
	todo := []span{{0, len(line) - 1}}
	for len(todo) > 0 {
		s := todo[len(todo)-1]
		todo = todo[:len(todo)-1]
		worst, at := tol, -1
		for i := s.a + 1; i < s.b; i++ {
			if d := distance(line[i], line[s.a], line[s.b]); d > worst {
				worst, at = d, i
			}
		}
		if at >= 0 {
			keep[at] = true
			todo = append(todo, span{s.a, at}, span{at, s.b})
		}
	}
	out := make([]point, 0, len(line)/2)
	for i, k := range keep {
		if k {
			out = append(out, line[i])
		}
	}
	return out
}

// distance from p to the segment from a to b.
func distance(p, a, b point) float64 {
	dx, dy := b.x-a.x, b.y-a.y
	u := 0.0
	if l := dx*dx + dy*dy; l > 0 {
		u = math.Min(math.Max(((p.x-a.x)*dx+(p.y-a.y)*dy)/l, 0), 1)
	}
	return math.Hypot(p.x-a.x-u*dx, p.y-a.y-u*dy)
}
