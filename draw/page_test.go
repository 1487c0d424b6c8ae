package draw

import (
	"os"
	"testing"
)

// TestPage writes a page with every picture to the file named by
// UNDERLAMP_DRAW_PAGE, for looking at; without it there is nothing to do.
func TestPage(t *testing.T) {
	name := os.Getenv("UNDERLAMP_DRAW_PAGE")
	if name == "" {
		t.Skip("set UNDERLAMP_DRAW_PAGE to a file name to look at the pictures")
	}
	us := samplePlan(Frame{})
	us.Scale = ScaleBurn
	us.Unit, us.Quantity = "", "Scale of burn"
	body := Fit(Frame{ID: "plan"}, func(f Frame) Picture { return samplePlan(f).Draw() }) +
		Fit(Frame{ID: "planus", Units: 1}, func(f Frame) Picture { us.Frame = f; return us.Draw() }) +
		Fit(Frame{ID: "side"}, func(f Frame) Picture { return sampleSide(f).Draw() }) +
		Fit(Frame{ID: "lines"}, func(f Frame) Picture { return sampleLines(f).Draw() }) +
		Fit(Frame{ID: "settings"}, func(f Frame) Picture { return sampleSettings(f).Draw() }) +
		Fit(Frame{ID: "polar"}, func(f Frame) Picture { return samplePolar(f).Draw() }) +
		Fit(Frame{ID: "polardown"}, func(f Frame) Picture { return samplePolarDown(f).Draw() }) +
		Fit(Frame{ID: "bars"}, func(f Frame) Picture { return sampleBars(f).Draw() })
	page := `<!doctype html><html lang="en" data-theme="` + os.Getenv("UNDERLAMP_DRAW_THEME") + `"><meta charset="utf-8"><meta name="viewport" content="width=device-width"><style>` + CSS +
		`body{margin:16px;background:#fff;font-family:system-ui}[data-theme=dark] body{background:#14181d}figure{margin:0 0 32px!important}</style>` + body + `</html>`
	if err := os.WriteFile(name, []byte(page), 0o644); err != nil {
		t.Fatal(err)
	}
}
