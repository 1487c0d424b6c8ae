package binary_test

import (
	"fmt"

	"underlamp/science/stat/binary"
)

// Burnt plants of eight under each lamp: up to which light is the chance 20 %? (The limits by
// glm of R 4.2.2 with the covariance of runs.)
func ExampleFindThreshold() {
	light := []float64{8, 11, 14, 17, 20, 23, 8, 11, 14, 17, 20, 23, 8, 11, 14, 17, 20, 23}
	run := []int{1, 1, 1, 1, 1, 1, 2, 2, 2, 2, 2, 2, 3, 3, 3, 3, 3, 3}
	burnt := []int{0, 0, 1, 2, 4, 7, 0, 1, 0, 3, 5, 6, 0, 0, 1, 1, 4, 6}
	plants := make([]int, len(burnt))
	for i := range plants {
		plants[i] = 8
	}
	t, err := binary.FindThreshold(burnt, plants, light, run, 0.20, 0.90)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.1f, 90 %% limits %.1f to %.1f, by %s\n", t.Limits.Value, t.Limits.Lower, t.Limits.Upper, t.Clusters)
	// Output:
	// 16.3, 90 % limits 14.4 to 17.5, by runs
}
