package cli

import (
	"fmt"
	"io"
	"strings"
	"sync"
	"time"
	"unicode/utf8"

	"github.com/spf13/cobra"

	"underlamp/draw/terminal"
)

// A look is how a command line may show itself: what the terminals can, and what
// --color and --quiet say.
type look struct {
	color string // auto, always or never
	quiet bool

	mutex   sync.Mutex // work reports from several goroutines
	shown   time.Time  // when the progress line was last printed
	began   time.Time  // of the work whose progress is shown
	label   string     // of that work
	visible bool       // a progress line stands on the terminal
}

// The values of --color.
const (
	colorAuto   = "auto"
	colorAlways = "always"
	colorNever  = "never"
)

// flags adds what every command takes.
func (l *look) flags(root *cobra.Command) {
	f := root.PersistentFlags()
	f.StringVar(&l.color, "color", colorAuto, "colour in what is printed: auto, always or never; auto is where a terminal shows it and NO_COLOR is not set")
	f.BoolVarP(&l.quiet, "quiet", "q", false, "no progress and no news of what went well on standard error")
}

// check refuses a value of --color that is none.
func (l *look) check() error {
	switch l.color {
	case colorAuto, colorAlways, colorNever:
		return nil
	}
	return wrongf("--color is auto, always or never, not %q", l.color)
}

// colour says whether standard error may be coloured.
func (w World) colour() bool {
	if w.look == nil || w.look.color == colorAuto || w.look.color == "" {
		return w.Colour
	}
	return w.look.color == colorAlways
}

// palette is the colours that standard output may have.
func (w World) palette() terminal.Colours {
	switch {
	case w.look == nil || w.look.color == colorAuto || w.look.color == "":
		return w.Colours
	case w.look.color == colorNever:
		return terminal.NoColours
	}
	return max(w.Colours, terminal.Colours256)
}

// style is what pictures in standard output may be made of.
func (w World) style() terminal.Style {
	return terminal.Style{Colours: w.palette(), ASCII: w.ASCII}
}

// width is how many columns a picture or a help text may have: those of the terminal,
// and 80 where nobody knows.
func (w World) width() int {
	if w.Width <= 0 {
		return 80
	}
	return w.Width
}

// news says on standard error what went well, unless --quiet asks for silence.
func (w World) news(format string, args ...any) {
	if w.look == nil || !w.look.quiet {
		fmt.Fprintf(w.Err, format, args...)
	}
}

// progressEvery is the time between two pictures of progress.
const progressEvery = 100 * time.Millisecond

// progress shows on standard error how much of a work is done, from 0 to 1, with what is
// left of its time once that can be told. It does so only on a terminal, on one line,
// and takes the line away at the end.
func (w World) progress(share float64, format string, args ...any) {
	l := w.look
	if !w.Follows || l == nil || l.quiet {
		return
	}
	l.mutex.Lock()
	defer l.mutex.Unlock()
	now := time.Now()
	label := fmt.Sprintf(format, args...)
	if subject, _, _ := strings.Cut(label, ":"); subject != l.label || l.began.IsZero() {
		l.label, l.began = subject, now
	}
	if share >= 1 {
		l.clear(w.Err)
		l.began = time.Time{}
		return
	}
	if now.Sub(l.shown) < progressEvery {
		return
	}
	l.shown, l.visible = now, true
	line := "  " + label + left(now.Sub(l.began), share)
	if most := w.width() - 1; utf8.RuneCountInString(line) > most {
		line = string([]rune(line)[:most])
	}
	fmt.Fprintf(w.Err, "\r\033[K%s", line)
}

// left is the time that a work will still take, at the rate that it had so far; empty
// until that can be told.
func left(gone time.Duration, share float64) string {
	if gone < time.Second || share < 0.02 || share >= 1 {
		return ""
	}
	rest := time.Duration(float64(gone) * (1 - share) / share)
	switch {
	case rest < time.Minute:
		return fmt.Sprintf(", %d s left", int(rest.Seconds())+1)
	case rest < time.Hour:
		return fmt.Sprintf(", %d min left", int(rest.Minutes())+1)
	}
	return fmt.Sprintf(", %.1f h left", rest.Hours())
}

// clearProgress takes the line of progress away.
func (w World) clearProgress() {
	w.look.mutex.Lock()
	defer w.look.mutex.Unlock()
	w.look.clear(w.Err)
}

func (l *look) clear(err io.Writer) {
	if l.visible {
		fmt.Fprint(err, "\r\033[K")
		l.visible = false
	}
}

// part is how much of a count is done, from 0 to 1.
func part(done, of int) float64 {
	if of <= 0 {
		return 0
	}
	return float64(done) / float64(of)
}
