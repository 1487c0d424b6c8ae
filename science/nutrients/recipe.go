package nutrients

import (
	_ "embed"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"sync"
)

//go:embed data/recipes.csv
var recipesCSV string

// A Recipe is a published composition.
type Recipe struct {
	Name     string
	Also     []string
	Source   string  // key of the bibliography
	Read     string  // how the figures came here
	Amounts  Amounts // mmol/L
	Asks     [Ions]bool
	StatedEC float64 // mS/cm at 25 °C as the source has it; NaN: not known
	Note     string
}

// Remembered says that the figures could not be read in print.
func (r *Recipe) Remembered() bool { return strings.HasPrefix(r.Read, "from memory") }

var recipes = sync.OnceValue(func() []Recipe {
	rows, err := table(recipesCSV, "name,also,source,read,NO3-N,NH4-N,P,K,Ca,Mg,S,Fe,Mn,Zn,B,Cu,Mo,stated_ec,note")
	if err != nil {
		panic("nutrients: " + err.Error())
	}
	var out []Recipe
	for _, row := range rows {
		r := Recipe{Name: row[0], Also: strings.Split(row[1], ";"), Source: row[2], Read: row[3], StatedEC: math.NaN(), Note: row[18]}
		for k, i := range []Ion{Nitrate, Ammonium, Phosphorus, Potassium, Calcium, Magnesium, Sulfur, Iron, Manganese, Zinc, Boron, Copper, Molybdenum} {
			if row[4+k] == "" {
				continue
			}
			v, err := strconv.ParseFloat(row[4+k], 64)
			if err != nil {
				panic("nutrients: " + r.Name + ": " + err.Error())
			}
			if i.Micro() {
				v /= 1000
			}
			r.Amounts[i], r.Asks[i] = v, true
		}
		if row[17] != "" {
			if r.StatedEC, err = strconv.ParseFloat(row[17], 64); err != nil {
				panic("nutrients: " + r.Name + ": " + err.Error())
			}
		}
		out = append(out, r)
	}
	return out
})

// Recipes are the published ones, in the order of the table.
func Recipes() []Recipe { return slices.Clone(recipes()) }

// FindRecipe is a recipe by its name or another of its names.
func FindRecipe(name string) (Recipe, error) {
	word := plain(name)
	var names []string
	for _, r := range recipes() {
		if plain(r.Name) == word || slices.ContainsFunc(r.Also, func(a string) bool { return plain(a) == word }) {
			return r, nil
		}
		names = append(names, r.Name)
	}
	return Recipe{}, fmt.Errorf("no recipe is called %q; there are %s", name, strings.Join(names, ", "))
}
