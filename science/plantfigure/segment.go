package plantfigure

import (
	"fmt"
	"math"
	"slices"
)

// Constants of what is plant. Lengths are in mm. None has a source: they are what a grower's
// plants and photos make plausible, and docs/photos.md says what each does.
const (
	darkest      = 0.004 // luminance below which a cell has no tint worth the name
	leastLeafy   = 0.045 // least leafiness of a leaf, whatever the picture
	leastSteps   = 22    // the same in steps of leafiness
	leafShare    = 0.40  // of the way from background to leaf lies the threshold
	thresholdSD  = 0.20  // of the threshold, relative: what half of the persons who set it by hand would do
	leastPiece   = 2.0   // mm²; smaller pieces are crumbs
	mostLeaf     = 0.8   // of the cells; more cannot be one plant with ground around it
	leastPlant   = 30    // cells; fewer are too few to measure
	joins        = 2.0   // mm; pieces nearer than this are one plant
	joinsShare   = 0.06  // or nearer than this share of its equivalent diameter
	closesOver   = 2.5   // mm; bays narrower than twice this are looked at for leaf that is not green
	otherShare   = 0.10  // a piece of this share of the plant may be a plant itself
	knownOutside = 0.004 // share of the background that must have a colour for it to be one of the background's
	algaeDark    = 0.45  // of the median luminance of leaves: darker may be algae
	algaePale    = 0.85  // of their median leafiness, if it is less green too
	mixesOver    = 3     // cells over which leaf and background mix at an edge
	sealsOver    = 1.0   // mm; a channel narrower than twice this does not open a hole
	smallestHole = 0.6   // mm²; smaller holes are filled
	deepShade    = 0.12  // of the median luminance of leaves; darker cells tell no colour
	shineLargest = 60.0  // mm²; a bright white spot that is larger is no highlight
	shineBright  = 2.0   // times the median luminance of leaves
	edgeBand     = 2.0   // cells at each side of an edge in which shares are worked out, for a blur of 1 pixel
	edgeSD       = 0.25  // cells; by how much all of an edge may lie off (held by the tests on rendered plants)
	mergedLobe   = 0.25  // share of the area that each of two grown-together plants has at least
	mergedNeck   = 0.45  // a neck narrower than this share of the narrower lobe's inner circle parts them
	mergedLeast  = 6.0   // cm²; smaller plants may have two seed leaves with a neck between
)

// A cut is what one plant is in a grid.
type cut struct {
	*grid
	leafy []uint8
	light []float32 // luminance
	green []bool    // leaf by its colour
	plant []bool
	share []float32 // of each cell that is plant, 0 to 1

	threshold    int     // leafiness from which a cell is leaf
	medianLeafy  int     // of leaves
	medianLight  float64 // of leaves
	outsideLeafy int     // of background
	cells        float64 // sum of share
	closeCells   [2]float64
	gapCells     float64 // holes that may be either
	pieces       int     // separate pieces that could be plants
	label        bool    // a leaf touches what is not plant
	box          piece   // that holds the plant
	doubts       []string
}

// segment finds the wanted plant.
func segment(p *Picture, w Wanted) (*cut, error) {
	g, err := onGrid(p)
	if err != nil {
		return nil, err
	}
	c := &cut{grid: g}
	c.colours()
	if err := c.cutOff(); err != nil {
		return nil, err
	}
	c.green = make([]bool, len(c.leafy))
	c.mark(c.green)
	vote(c.green, c.w, c.h)
	if err := c.choose(w); err != nil {
		return nil, err
	}
	c.complete()
	if err := c.whole(w); err != nil {
		return nil, err
	}
	c.edges(p.Blur)
	c.doubtThreshold()
	return c, nil
}

// colours works out leafiness and luminance of every cell, as the mean with its eight
// neighbours: noise in dark leaves would else change their tint.
func (c *cut) colours() {
	pal := thePalette()
	n := c.w * c.h
	c.leafy, c.light = make([]uint8, n), make([]float32, n)
	row := 3 * c.w
	bands(c.h, func(from, to int) {
		sum := make([]float32, row+6) // of three rows, with a cell repeated at each end
		for y := from; y < to; y++ {
			a := c.rgb[max(0, y-1)*row:][:row]
			b := c.rgb[y*row:][:row]
			d := c.rgb[min(c.h-1, y+1)*row:][:row]
			mid := sum[3 : 3+row]
			for i := range mid {
				mid[i] = a[i] + b[i] + d[i]
			}
			copy(sum[:3], sum[3:6])
			copy(sum[3+row:], sum[row:row+3])
			for x := range c.w {
				s := sum[3*x : 3*x+9]
				r, g, b := (s[0]+s[3]+s[6])*(1./9), (s[1]+s[4]+s[7])*(1./9), (s[2]+s[5]+s[8])*(1./9)
				light := luminance(r, g, b)
				c.light[y*c.w+x] = light
				if light > darkest {
					c.leafy[y*c.w+x] = pal.leaf[pal.at(r, g, b)]
				}
			}
		}
	})
}

// cutOff finds the leafiness that parts leaf from background: Otsu1979 splits the
// cells, and the threshold lies between the medians of both classes, nearer to the
// background so that pale leaves stay in.
func (c *cut) cutOff() error {
	var hist [256]int
	n := 0
	for i, v := range c.leafy {
		if !c.closed[i] && !c.tool[i] {
			hist[v]++
			n++
		}
	}
	if n == 0 {
		return &Refusal{NothingFound, "The photo shows nothing around the label.", "Take it from farther away, so that all of the plant is in it."}
	}
	floor := leastSteps
	split, _ := otsu(hist[:])
	split = max(split, floor)
	leaves := 0
	for _, k := range hist[split+1:] {
		leaves += k
	}
	if float64(leaves)*c.mm*c.mm < leastPiece || leaves < leastPlant {
		return &Refusal{NothingFound, "No leaf was found: nothing is green or red enough.", "Take the photo under white light, with the plant in the middle and the label beside it."}
	}
	if float64(leaves) > mostLeaf*float64(n) {
		return &Refusal{ColourCast, "Nearly everything in the photo has the colour of leaves.", "Take it from farther away, on a ground that is neither green nor red; white paper will do."}
	}
	c.outsideLeafy = quantile(hist[:], 0, split+1, 0.5)
	c.medianLeafy = quantile(hist[:], split+1, 256, 0.5)
	c.threshold = max(floor, c.outsideLeafy+int(math.Round(leafShare*float64(c.medianLeafy-c.outsideLeafy))))
	if c.medianLeafy-c.outsideLeafy < floor {
		return &Refusal{ColourCast, "Leaves and what lies under them have nearly one colour in this photo.", "Take it under white light; lay white paper under the plant if the tray is green."}
	}
	var light [1024]int
	for i, v := range c.leafy {
		if int(v) > split && !c.closed[i] && !c.tool[i] {
			light[min(1023, max(0, int(c.light[i]*512)))]++
		}
	}
	c.medianLight = (float64(quantile(light[:], 0, 1024, 0.5)) + 0.5) / 512
	return nil
}

// mark sets the cells that are leaf by their colour.
func (c *cut) mark(out []bool) {
	pale := uint8(min(255, algaePale*float64(c.medianLeafy)))
	dark := float32(algaeDark * c.medianLight)
	for i, v := range c.leafy {
		out[i] = int(v) >= c.threshold && !c.closed[i] && !c.tool[i] && !(v < pale && c.light[i] < dark)
	}
}

// vote lets the eight neighbours and the cell itself decide by majority, which takes
// single cells of noise away without moving straight edges.
func vote(m []bool, w, h int) {
	sum := make([]uint8, w*h)
	for y := range h {
		row, out := m[y*w:(y+1)*w], sum[y*w:(y+1)*w]
		for x := 1; x < w-1; x++ {
			var k uint8
			if row[x-1] {
				k++
			}
			if row[x] {
				k++
			}
			if row[x+1] {
				k++
			}
			out[x] = k
		}
	}
	for y := 1; y < h-1; y++ {
		a, b, d := sum[(y-1)*w:y*w], sum[y*w:(y+1)*w], sum[(y+1)*w:(y+2)*w]
		row := m[y*w : (y+1)*w]
		for x := 1; x < w-1; x++ {
			row[x] = a[x]+b[x]+d[x] >= 5
		}
	}
}

// choose keeps of the green cells those of the wanted plant: the piece nearest to the
// seed and what lies so near to it that it must belong to it.
func (c *cut) choose(w Wanted) error {
	labels, pieces := label(c.green, c.w, c.h, true)
	least := leastPiece / (c.mm * c.mm)
	seed := Point{w.Seed.X / float64(c.per), w.Seed.Y / float64(c.per)}
	best := 0
	if w.Reach > 0 {
		// The distance of the seed to every piece; among those within reach the greatest counts,
		// for crumbs lie everywhere, but a piece that holds the seed comes first.
		if x, y := int(math.Floor(seed.X)), int(math.Floor(seed.Y)); x >= 0 && y >= 0 && x < c.w && y < c.h {
			if k := labels[y*c.w+x]; k > 0 && float64(pieces[k-1].cells) >= least {
				best = int(k)
			}
		}
		if best == 0 {
			reach := w.Reach / c.mm
			near := make([]int, len(pieces))
			y0, y1 := max(0, int(seed.Y-reach)), min(c.h, int(seed.Y+reach)+1)
			x0, x1 := max(0, int(seed.X-reach)), min(c.w, int(seed.X+reach)+1)
			for y := y0; y < y1; y++ {
				for x := x0; x < x1; x++ {
					if k := labels[y*c.w+x]; k > 0 && math.Hypot(float64(x)+0.5-seed.X, float64(y)+0.5-seed.Y) <= reach {
						near[k-1]++
					}
				}
			}
			for i, n := range near {
				if n > 0 && float64(pieces[i].cells) >= least && (best == 0 || n > near[best-1]) {
					best = i + 1
				}
			}
		}
		if best == 0 {
			return &Refusal{NothingFound, fmt.Sprintf("No leaf was found within %.0f mm of where the plant of this label should be.", w.Reach), "Put the label nearer to its plant, its arrow toward it."}
		}
	} else {
		for i, p := range pieces {
			if float64(p.cells) >= least && (best == 0 || p.cells > pieces[best-1].cells) {
				best = i + 1
			}
		}
		if best == 0 {
			return &Refusal{NothingFound, "No leaf was found, only crumbs of green.", "Take the photo nearer, with the plant in the middle."}
		}
	}
	// Pieces join that lie within a gap of the ones already joined.
	mine := make([]bool, len(pieces)+1)
	mine[best] = true
	total := pieces[best-1].cells
	box := pieces[best-1]
	for {
		gap := max(joins, joinsShare*2*math.Sqrt(float64(total)/math.Pi)*c.mm) / c.mm
		v := c.around(box, int(gap)+2)
		plant := make([]bool, v.w*v.h)
		for y := range v.h {
			for x, k := range labels[v.at(0, y) : v.at(0, y)+v.w] {
				plant[y*v.w+x] = mine[k]
			}
		}
		distance := squaredDistance(plant, v.w, v.h, true)
		nearest := make([]int32, len(pieces)+1)
		for i := range nearest {
			nearest[i] = far
		}
		for y := range v.h {
			for x, k := range labels[v.at(0, y) : v.at(0, y)+v.w] {
				nearest[k] = min(nearest[k], distance[y*v.w+x])
			}
		}
		grew := false
		for k := 1; k <= len(pieces); k++ {
			p := pieces[k-1]
			if !mine[k] && float64(p.cells) >= least && float64(nearest[k]) <= gap*gap && !c.anothers(p, labels, int32(k), w) {
				mine[k], grew = true, true
				total += p.cells
				box = joined(box, p)
			}
		}
		if !grew {
			break
		}
	}
	c.box = box
	c.plant = make([]bool, len(labels))
	for i, k := range labels {
		c.plant[i] = mine[k]
	}
	// What else could be a plant within the crown, or within reach.
	radius := math.Sqrt(float64(total)/math.Pi) / 2
	if w.Reach > 0 {
		radius = max(radius, w.Reach/c.mm)
	}
	c.pieces = 1
	at := seed
	if w.Reach <= 0 {
		at = Point{float64(box.left+box.right) / 2, float64(box.top+box.down) / 2}
	}
	for k := 1; k <= len(pieces); k++ {
		p := pieces[k-1]
		if mine[k] || float64(p.cells) < otherShare*float64(total) || c.anothers(p, labels, int32(k), w) {
			continue
		}
		dx := max(0, float64(p.left)-at.X, at.X-float64(p.right))
		dy := max(0, float64(p.top)-at.Y, at.Y-float64(p.down))
		if math.Hypot(dx, dy) <= radius {
			c.pieces++
		}
	}
	if c.pieces > 1 {
		c.doubts = append(c.doubts, fmt.Sprintf("%d separate plants stand where one is expected; only the one nearest to the mark was measured.", c.pieces))
	}
	if total < leastPlant {
		return &Refusal{TooSmall, fmt.Sprintf("The plant is seen by only %d cells of %.2f mm.", total, c.mm), "Take the photo from nearer."}
	}
	return nil
}

// anothers reports whether a piece holds the mark of another plant.
func (c *cut) anothers(p piece, labels []int32, k int32, w Wanted) bool {
	for _, o := range w.Others {
		x, y := int(math.Floor(o.X/float64(c.per))), int(math.Floor(o.Y/float64(c.per)))
		if x >= 0 && y >= 0 && x < c.w && y < c.h && labels[y*c.w+x] == k {
			return true
		}
	}
	return false
}

// joined is the box of two pieces.
func joined(a, b piece) piece {
	a.left, a.top, a.right, a.down = min(a.left, b.left), min(a.top, b.top), max(a.right, b.right), max(a.down, b.down)
	return a
}

// A view is a part of the grid, with a number of its own for every cell.
type view struct {
	x, y, w, h int // its corner and size
	grid       int // cells in a row of the grid
}

// around is the view of a box with a margin, as far as there are cells.
func (c *cut) around(b piece, margin int) view {
	x0, y0 := max(0, b.left-margin), max(0, b.top-margin)
	return view{x0, y0, min(c.w, b.right+margin) - x0, min(c.h, b.down+margin) - y0, c.w}
}

// at is the number in the grid of a cell of the view.
func (v view) at(x, y int) int { return (y+v.y)*v.grid + x + v.x }

// crop copies the view of a mask.
func (v view) crop(mask []bool) []bool {
	out := make([]bool, v.w*v.h)
	for y := range v.h {
		copy(out[y*v.w:(y+1)*v.w], mask[v.at(0, y):])
	}
	return out
}

// whole refuses a plant that is cut off or has grown together with another.
func (c *cut) whole(w Wanted) error {
	c.bound()
	for y := c.box.top; y < c.box.down; y++ {
		for x := c.box.left; x < c.box.right; x++ {
			i := y*c.w + x
			if !c.plant[i] {
				continue
			}
			if x <= 1 || y <= 1 || x >= c.w-2 || y >= c.h-2 || c.closed[i-1] || c.closed[i+1] || c.closed[i-c.w] || c.closed[i+c.w] {
				return &Refusal{CutOff, "The plant reaches the edge of what the photo shows.", "Take the photo from farther away, so that background is seen all around the plant."}
			}
			c.label = c.label || c.tool[i-1] || c.tool[i+1] || c.tool[i-c.w] || c.tool[i+c.w]
		}
	}
	if c.label {
		c.doubts = append(c.doubts, "A leaf touches the label: what hides behind it, or lies over it, is not counted.")
	}
	for _, o := range w.Others {
		x, y := int(math.Floor(o.X/float64(c.per))), int(math.Floor(o.Y/float64(c.per)))
		if x >= 0 && y >= 0 && x < c.w && y < c.h && c.plant[y*c.w+x] {
			return &Refusal{Overlapping, "The plant has grown together with its neighbour.", "Hold a sheet of paper between the two, or turn the leaves of one aside."}
		}
	}
	if !w.One && w.View == FromAbove {
		return c.merged()
	}
	return nil
}

// bound finds the box of the plant.
func (c *cut) bound() {
	b := piece{left: c.w, top: c.h}
	for y := range c.h {
		row := c.plant[y*c.w : (y+1)*c.w]
		x := slices.Index(row, true)
		if x < 0 {
			continue
		}
		last := len(row) - 1
		for !row[last] {
			last--
		}
		b.left, b.right, b.top, b.down = min(b.left, x), max(b.right, last+1), min(b.top, y), y+1
	}
	c.box = b
}

// merged refuses two plants that touch: eroding the plant until it falls apart leaves
// two lobes that are both large, with a neck between that is narrow beside both.
func (c *cut) merged() error {
	bw, bh := c.box.right-c.box.left+2, c.box.down-c.box.top+2
	step := 1
	for bw/step*(bh/step) > 60_000 { // the shape is told by few cells
		step++
	}
	sw, sh := bw/step+2, bh/step+2
	small := make([]bool, sw*sh)
	total := 0
	for y := 1; y < sh-1; y++ {
		for x := 1; x < sw-1; x++ {
			px, py := c.box.left-1+(x-1)*step+step/2, c.box.top-1+(y-1)*step+step/2
			if px < c.w && py < c.h && c.plant[py*c.w+px] {
				small[y*sw+x] = true
				total++
			}
		}
	}
	if float64(total*step*step)*c.mm*c.mm < 100*mergedLeast {
		return nil
	}
	// Gaps in the crown are no necks.
	gaps := make([]bool, len(small))
	for i, in := range small {
		gaps[i] = !in
	}
	gapLabels, gapParts := label(gaps, sw, sh, false)
	for i, l := range gapLabels {
		if l > 0 && !gapParts[l-1].rim {
			small[i] = true
			total++
		}
	}
	inside := squaredDistance(small, sw, sh, false)
	deepest := int32(0)
	for i, in := range small {
		if in {
			deepest = max(deepest, inside[i])
		}
	}
	core := make([]bool, sw*sh)
	r := math.Sqrt(float64(deepest))
	for k := 1; k < 12; k++ {
		cut := int32(math.Pow(r*float64(k)/12, 2))
		for i := range core {
			core[i] = small[i] && inside[i] > cut
		}
		labels, cores := label(core, sw, sh, true)
		if len(cores) < 2 {
			continue
		}
		depth := make([]int32, len(cores)+1)
		for i, l := range labels {
			if l > 0 {
				depth[l] = max(depth[l], inside[i])
			}
		}
		// Cells belong to the core that they are nearest to; who calls wants area by core.
		area := nearestCore(labels, small, sw, sh, len(cores))
		var big []int
		for l := 1; l <= len(cores); l++ {
			if float64(area[l]) >= mergedLobe*float64(total) && float64(cut) < mergedNeck*mergedNeck*float64(depth[l]) {
				big = append(big, l)
			}
		}
		if len(big) >= 2 {
			return &Refusal{Overlapping, "It looks as if two plants had grown together.", "Hold a sheet of paper between them and take the photo again, or say that it is one plant."}
		}
	}
	return nil
}

// nearestCore counts the cells of a mask by the core from which a front reaches them first.
func nearestCore(labels []int32, in []bool, w, h, n int) []int {
	owner := slices.Clone(labels)
	area := make([]int, n+1)
	var front, next []int
	for i, l := range owner {
		if l > 0 {
			area[l]++
			front = append(front, i)
		}
	}
	for len(front) > 0 {
		next = next[:0]
		for _, i := range front {
			for _, j := range [4]int{i - 1, i + 1, i - w, i + w} {
				if j >= 0 && j < len(in) && in[j] && owner[j] == 0 {
					owner[j] = owner[i]
					area[owner[i]]++
					next = append(next, j)
				}
			}
		}
		front, next = next, front
	}
	return area
}
