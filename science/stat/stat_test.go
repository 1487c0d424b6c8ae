package stat_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"reflect"
	"testing"

	"underlamp/science/stat"
)

// A limit that is not known is null in JSON, and the sentence of a refusal survives
// wrapping.
func TestAnswers(t *testing.T) {
	i := stat.Interval{Lower: 3, Upper: math.Inf(1), Level: 0.9}
	text, err := json.Marshal(i)
	if err != nil || string(text) != `{"Lower":3,"Upper":null,"Level":0.9}` {
		t.Errorf("%s %v", text, err)
	}
	if i.Bounded() || !i.Holds(1e9) || i.Holds(2) {
		t.Error("an interval without upper limit")
	}
	r := fmt.Errorf("mass: %w", stat.Refuse("a test", "there are %d units", 1))
	if got := stat.Refused(r); got == nil || got.Error() != "a test is not estimable, because there are 1 units" {
		t.Errorf("%v", got)
	}
	if stat.Refused(errors.New("x")) != nil || stat.Refused(nil) != nil {
		t.Error("another error is no refusal")
	}
}

func TestFactors(t *testing.T) {
	a := stat.NewFactor("light", []string{"low", "high", "low"})
	b := stat.NewFactor("run", []string{"1", "1", "2"})
	c := stat.Cross(a, b)
	if !reflect.DeepEqual(c.Levels, []string{"low:1", "high:1", "low:2"}) || !reflect.DeepEqual(a.Counts(), []int{2, 1}) {
		t.Errorf("%+v", c)
	}
	if !reflect.DeepEqual(a.Split([]float64{1, 2, 3}), [][]float64{{1, 3}, {2}}) {
		t.Error("split")
	}
	for name, err := range map[string]error{
		"NaN":    stat.Check([]float64{1, math.NaN()}),
		"length": stat.Check([]float64{1}, a),
		"level":  stat.Check([]float64{1}, stat.Factor{Name: "x", Levels: []string{"a"}, Of: []int{1}}),
	} {
		if err == nil {
			t.Error(name)
		}
	}
}
