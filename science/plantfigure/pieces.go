package plantfigure

// A piece is a connected part of a mask.
type piece struct {
	cells                  int
	left, top, right, down int // cells, right and down exclusive
	first                  int // index of its first cell
	rim                    bool
}

// label numbers the connected parts of the cells for which in is set: 0 is elsewhere.
// Diagonal neighbours are connected if diagonal. Runs of cells are joined row by row by
// union-find with path halving. Pieces come in the order of their first cell.
func label(in []bool, w, h int, diagonal bool) (labels []int32, pieces []piece) {
	type run struct{ from, to, y int }
	var runs []run
	parent := []int32{}
	find := func(i int32) int32 {
		for parent[i] != i {
			parent[i] = parent[parent[i]]
			i = parent[i]
		}
		return i
	}
	reach := 0
	if diagonal {
		reach = 1
	}
	above, above1 := 0, 0 // runs of the row above are [above, above1)
	for y := range h {
		row := in[y*w : (y+1)*w]
		begin := len(runs)
		k := above
		for x := 0; x < w; x++ {
			if !row[x] {
				continue
			}
			from := x
			for x < w && row[x] {
				x++
			}
			me := int32(len(runs))
			runs = append(runs, run{from, x, y})
			parent = append(parent, me)
			for k < above1 && runs[k].to+reach <= from {
				k++
			}
			for j := k; j < above1 && runs[j].from < x+reach; j++ {
				a, b := find(int32(j)), find(me)
				if a < b {
					parent[b] = a
				} else {
					parent[a] = b
				}
			}
		}
		above, above1 = begin, len(runs)
	}
	labels = make([]int32, w*h)
	number := make([]int32, len(runs))
	for i, r := range runs {
		root := find(int32(i))
		if number[root] == 0 {
			pieces = append(pieces, piece{left: r.from, top: r.y, right: r.to, first: r.y*w + r.from})
			number[root] = int32(len(pieces))
		}
		n := number[root]
		p := &pieces[n-1]
		p.cells += r.to - r.from
		p.left, p.right, p.down = min(p.left, r.from), max(p.right, r.to), r.y+1
		if r.from == 0 || r.to == w || r.y == 0 || r.y == h-1 {
			p.rim = true
		}
		out := labels[r.y*w+r.from : r.y*w+r.to]
		for j := range out {
			out[j] = n
		}
	}
	return labels, pieces
}
