package layout

import "underlamp/science/stat"

// Augmented draws blocks that hold every check each times and share the entries, which
// stand once, as evenly as they go (Federer1956). Checks are the treatments 0 to
// checks − 1, entries follow. The repeats of the checks alone tell the error and how the
// blocks differ; entries add to neither. It refuses what leaves no error.
func Augmented(checks, each, entries, blocks int, seed uint64) (BlockDesign, error) {
	what := "an augmented design"
	switch {
	case checks < 1 || each < 1 || entries < 1:
		return BlockDesign{}, stat.Refuse(what, "it needs a check in every block and at least one entry")
	case blocks < 2:
		return BlockDesign{}, stat.Refuse(what, "with one block nothing is repeated")
	case checks*each < 2:
		return BlockDesign{}, stat.Refuse(what, "one check that stands once in a block leaves no error; take a second check or set it twice")
	case checks+entries > 1000 || blocks > MostBlocks:
		return BlockDesign{}, stat.Refuse(what, "more than 1000 treatments or %d blocks are not planned here", MostBlocks)
	}
	r := source(seed)
	d := BlockDesign{Treatments: checks + entries, Blocks: make([][]int, blocks)}
	for b := range blocks {
		for c := range checks {
			for range each {
				d.Blocks[b] = append(d.Blocks[b], c)
			}
		}
	}
	// Which blocks hold one entry more is drawn too.
	order := r.Perm(blocks)
	for i, e := range r.Perm(entries) {
		b := order[i%blocks]
		d.Blocks[b] = append(d.Blocks[b], checks+e)
	}
	for _, b := range d.Blocks {
		r.Shuffle(len(b), func(i, j int) { b[i], b[j] = b[j], b[i] })
	}
	return d, nil
}
