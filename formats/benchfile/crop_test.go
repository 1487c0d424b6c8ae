package benchfile_test

import (
	"testing"

	"underlamp"
	"underlamp/science/quantity"
)

// Species and head type go together: a head type is one of lettuce, under whatever
// key it stands; a default of a stated type is that of a standard of trade, 200 g for
// iceberg grown under protection (EU1543, from memory).
func TestSpeciesAndHeadType(t *testing.T) {
	for _, c := range []struct {
		crop, species string
		head          underlamp.HeadType
		said          bool
		saleable      quantity.Gram
	}{
		{"{}", "lettuce", underlamp.Butterhead, false, 120},
		{"{type: butter}", "lettuce", underlamp.Butterhead, true, 120},
		{"{type: iceberg}", "lettuce", underlamp.Crisphead, true, 200},
		{"{type: crisphead, saleable: 90 g}", "lettuce", underlamp.Crisphead, true, 90},
		{"{type: romaine}", "lettuce", underlamp.Romaine, true, 120},
		{"{species: Cos}", "lettuce", underlamp.Romaine, true, 120},
		{"{species: iceberg, type: leaf}", "lettuce", underlamp.Leaf, true, 120},
		{"{species: Lactuca sativa, type: oak leaf}", "Lactuca sativa", underlamp.Oakleaf, true, 120},
		{"{species: bok choy}", "bok choy", "", false, 120},
		{"{species: kale, type: leaf}", "kale", "", false, 120},
		{"{species: fennel}", "fennel", "", false, 120},
	} {
		got := read(t, bench+"crop: "+c.crop+"\n").Crop
		if got.Species.Value != c.species || got.Type.Value != c.head || got.Type.IsDefault() == c.said || got.Saleable.Value != c.saleable {
			t.Errorf("%s: %s, %q (default: %t), %g g", c.crop, got.Species.Value, got.Type.Value, got.Type.IsDefault(), got.Saleable.Value)
		}
	}
}
