package labelsheet_test

import (
	"bytes"
	"image"
	"image/draw"
	"image/png"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"underlamp/draw/labelsheet"
	"underlamp/science/labelfind"
	"underlamp/science/plantlabel"
)

func someLabels(n int) []plantlabel.Content {
	var out []plantlabel.Content
	for i := range n {
		out = append(out, plantlabel.Content{Code: plantlabel.Code([]string{"7K3QA1", "ZZ10", "A1B2C3D4"}[i%3]), Title: []string{"P3", "Кресс 12", "ein sehr langer Name einer Pflanze, der nicht hineinpasst"}[i%3], Note: "tier-2-middle"})
	}
	return out
}

// Cells lie on the page, hold their label, and do not touch each other.
func TestFormatsLieOnThePage(t *testing.T) {
	for _, l := range plantlabel.Layouts() {
		all := labelsheet.Formats(l)
		if len(all) < 2 || !all[0].Cut {
			t.Errorf("%s: formats %+v", l.Name, all)
		}
		for _, f := range all {
			if f.Left < -0.01 || f.Top < -0.01 || f.Left+float64(f.Columns-1)*f.StepX+f.Width > f.Page.Width+0.01 || f.Top+float64(f.Rows-1)*f.StepY+f.Height > f.Page.Height+0.01 {
				t.Errorf("%s on %s lies beside the page: %+v", l.Name, f.Name, f)
			}
			if f.Width < l.Width || f.Height < l.Height || f.StepX < f.Width || f.StepY < f.Height || f.Cut && f.StepX < f.Width+4 {
				t.Errorf("%s on %s: %+v", l.Name, f.Name, f)
			}
		}
	}
	if _, err := labelsheet.FormatOf(plantlabel.Layouts()[0], "a5"); err == nil || !strings.Contains(err.Error(), "a4") {
		t.Errorf("%v", err)
	}
}

// A printer that prints 1 % small is made good by what a ruler reads; a slip is not believed.
func TestScale(t *testing.T) {
	s, err := labelsheet.ScaleOf(148.5, 198)
	if err != nil || s.X*148.5 != labelsheet.CheckAcross || s.Y*198 != labelsheet.CheckDown {
		t.Errorf("%+v, %v", s, err)
	}
	for _, wrong := range [][2]float64{{15, 20}, {200, 150}, {0, 0}, {-150, 200}} {
		if _, err := labelsheet.ScaleOf(wrong[0], wrong[1]); err == nil {
			t.Errorf("%v is taken", wrong)
		}
	}
}

// The words stand in the PDF for every reader: pdftotext of poppler finds them. The same
// labels give the same bytes.
func TestWordsOfTheSheet(t *testing.T) {
	l := plantlabel.Layouts()[0]
	o := labelsheet.Options{Layout: l, Format: labelsheet.Formats(l)[0], Title: "Labels"}
	pdf, err := labelsheet.Labels(o, someLabels(3))
	if err != nil {
		t.Fatal(err)
	}
	if again, _ := labelsheet.Labels(o, someLabels(3)); !bytes.Equal(again, pdf) {
		t.Error("the same labels give other bytes")
	}
	if _, err := labelsheet.Labels(o, nil); err == nil {
		t.Error("a sheet of nothing")
	}
	o.Skip = o.Format.Cells()
	if _, err := labelsheet.Labels(o, someLabels(1)); err == nil {
		t.Error("all cells skipped")
	}
	check, err := labelsheet.Check(labelsheet.A4, labelsheet.Scale{})
	if err != nil {
		t.Fatal(err)
	}
	if !labelsheet.Writable("Ώμος Кресс Ärmel ß 12") || labelsheet.Writable("菜") {
		t.Error("letters")
	}
	tool, err := exec.LookPath("pdftotext")
	if err != nil {
		t.Skip("pdftotext of poppler-utils is not installed")
	}
	for want, data := range map[string][]byte{"P3|Кресс 12|tier-2-middle|…": pdf, "steel rule|50 × 50 mm|--scale 148.5x198": check} {
		file := filepath.Join(t.TempDir(), "sheet.pdf")
		if err := os.WriteFile(file, data, 0o644); err != nil {
			t.Fatal(err)
		}
		text, err := exec.Command(tool, file, "-").Output()
		if err != nil {
			t.Fatal(err)
		}
		for _, w := range strings.Split(want, "|") {
			if !strings.Contains(string(text), w) {
				t.Errorf("%q is not in\n%s", w, text)
			}
		}
	}
}

// The sheet as a printer would draw it (pdftoppm of poppler) has every label where the finder
// of photos finds it, read right, and of the size that it should have: a page laid on a
// scanner is a photo without perspective.
func TestLabelsAreFoundOnThePage(t *testing.T) {
	tool, err := exec.LookPath("pdftoppm")
	if err != nil {
		t.Skip("pdftoppm of poppler-utils is not installed")
	}
	for _, name := range []string{"small", "large", "stick"} {
		l, err := labelsheet.LayoutOf(name)
		if err != nil {
			t.Fatal(err)
		}
		f := labelsheet.Formats(l)[0]
		want := min(f.Cells(), 6)
		var all []plantlabel.Content
		for i := range want {
			all = append(all, plantlabel.Content{Code: plantlabel.Code([]string{"7K3QA1", "ZZ10", "A1B2C3D4", "0123", "QQQQWWWW", "X"}[i]), Title: "P3"})
		}
		pdf, err := labelsheet.Labels(labelsheet.Options{Layout: l, Format: f, Scale: labelsheet.Scale{X: 1.01, Y: 1.01}}, all)
		if err != nil {
			t.Fatal(err)
		}
		dir := t.TempDir()
		if err := os.WriteFile(filepath.Join(dir, "s.pdf"), pdf, 0o644); err != nil {
			t.Fatal(err)
		}
		const dpi = 150
		if out, err := exec.Command(tool, "-r", "150", "-png", "-singlefile", filepath.Join(dir, "s.pdf"), filepath.Join(dir, "s")).CombinedOutput(); err != nil {
			t.Fatalf("%v: %s", err, out)
		}
		file, err := os.Open(filepath.Join(dir, "s.png"))
		if err != nil {
			t.Fatal(err)
		}
		page, err := png.Decode(file)
		file.Close()
		if err != nil {
			t.Fatal(err)
		}
		dim := image.NewRGBA(page.Bounds()) // the white of a drawing is brighter than a camera lets paper be
		draw.Draw(dim, dim.Rect, page, page.Bounds().Min, draw.Src)
		for i := range dim.Pix {
			if i%4 != 3 {
				dim.Pix[i] = uint8(float64(dim.Pix[i]) * 0.88)
			}
		}
		found := map[plantlabel.Code]bool{}
		for _, x := range labelfind.Find(dim, labelfind.Options{}).Labels {
			found[x.Code] = true
			perMM := dpi / 25.4 * 1.01 // the scale that was asked for
			if x.Refused != nil || x.Layout.Letter != l.Letter || math.Abs(x.PerMM/perMM-1) > 0.01 {
				t.Errorf("%s %s: %.3f pixels a mm, want %.3f; %v", name, x.Code, x.PerMM, perMM, x.Refused)
			}
		}
		if len(found) != want {
			t.Errorf("%s: found %v of %d", name, found, want)
		}
	}
}
