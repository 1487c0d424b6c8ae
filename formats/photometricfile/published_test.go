package photometricfile_test

import (
	"strings"
	"testing"

	"underlamp/formats/photometricfile"
	"underlamp/science/photometry"
)

// A EULUMDAT file of a fluorescent fixture whose header states an output ratio of
// 40.3 %: template fluorescent_luminaire of GitHub holg/eulumdat-rs (commit
// acad75f4), numbers only, names replaced.
const fluorescentFixture = `maker
2
4
24
15
19
5
R
fixture
N
f.ldt
2024
1170
90
0
1170
90
0
0
0
0
100
40.3
1
0
1
2
tubes
8100
tw/6500
1B/86
120
0.271
0.358
0.433
0.508
0.565
0.654
0.704
0.743
0.796
0.829
0 15 30 45 60 75 90 105 120 135 150 165 180 195 210 225 240 255 270 285 300 315 330 345
0 5 10 15 20 25 30 35 40 45 50 55 60 65 70 75 80 85 90
136 135 133 130 125 120 114 107 99 90 81 71 61 50 39 29 20 14 10
136 135 133 130 126 120 114 107 99 91 81 72 62 51 40 31 22 16 12
136 135 133 130 126 121 115 108 100 91 82 72 62 51 40 30 21 14 11
136 135 134 131 126 121 115 108 100 92 82 72 62 51 40 29 19 10 8
136 136 134 131 127 122 116 109 101 92 83 73 62 51 39 27 17 8 6
136 136 134 131 128 123 117 110 102 93 83 73 63 51 39 27 16 6 3
136 136 134 132 128 123 117 110 102 94 84 74 63 52 40 28 16 6 1
`

func TestPublishedOutputRatio(t *testing.T) {
	for name, text := range map[string]string{
		"as printed":       strings.NewReplacer(" ", "\n").Replace(fluorescentFixture),
		"several per line": fluorescentFixture,
	} {
		f, err := photometricfile.Read(strings.NewReader(text))
		if err != nil {
			t.Fatal(name, err)
		}
		// Half of the last digit of 40.3 %.
		if got := 100 * (1 + f.Difference()); got < 40.25 || got > 40.35 {
			t.Errorf("%s: output ratio %.3f %%, the header says 40.3 %%", name, got)
		}
		if f.Symmetry != photometry.Quadrant || f.Lamps != 2 || f.StatedLumens != 8100 || f.Watts != 120 || f.Web.Up() != 0 {
			t.Errorf("%s: %+v", name, f)
		}
		if got := notes(f); strings.Contains(got, "stated") {
			t.Errorf("%s: %s", name, got)
		}
	}
}
