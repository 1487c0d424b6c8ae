package draw_test

import (
	"fmt"

	"underlamp/draw"
)

// What would lower the chance of burn most? The picture says it with bars; its
// table says it in words.
func ExampleBars() {
	p := draw.Bars{
		Frame: draw.Frame{ID: "whatif"},
		Name:  "Change in chance of burn", Unit: "points",
		Items: []draw.Bar{
			{Name: "fan on at night", Value: -18, Low: -25, High: -9},
			{Name: "dimming 90 %", Value: 7, Low: 3, High: 12},
		},
	}.Draw()
	fmt.Println(p.Desc)
	for _, row := range p.Table.Rows {
		fmt.Println(row)
	}
	// Output:
	// fan on at night: −18 points (−25 to −9). dimming 90 %: +7 points (+3 to +12). The table gives the numbers.
	// [fan on at night −18 −25 −9]
	// [dimming 90 % +7 +3 +12]
}
