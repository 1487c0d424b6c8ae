package cli

import (
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"underlamp"
	"underlamp/app/dataset"
	"underlamp/app/kept"
	"underlamp/app/light"
	"underlamp/app/trial"
	"underlamp/app/trialbook"
	"underlamp/formats/benchfolder"
	"underlamp/safefolder"
	"underlamp/store"
)

// trialsAt says where a trial lies: beside the file that is named, or in a store.
type trialsAt struct{ store string }

func (at *trialsAt) flag(cmd *cobra.Command) {
	storeFlag(cmd.Flags(), &at.store, "TRIAL is a trial of it, by its name there, such as mine.trial.yaml")
}

// with reads a trial and does something with it where it lies.
func (at *trialsAt) with(cmd *cobra.Command, w World, name string, do func(place trialbook.Place, p *trialbook.Page) error) error {
	if at.store == "" {
		place, p, err := openTrial(w, name)
		if err != nil {
			return err
		}
		return do(place, p)
	}
	return openerOf(w, &at.store)(cmd, false, func(s store.Store) error {
		place := kept.NewPlace(cmd.Context(), s, time.Now)
		p, err := openTrialIn(w, place, name, name)
		if err != nil {
			return err
		}
		return do(place, p)
	})
}

// light is the light of a trial on its bench, which lies where the trial does unless a flag
// names a file; nil if it has none.
func (at *trialsAt) light(w World, place trialbook.Place, t *underlamp.Trial, file, named string, opt trial.LightOptions) (*trial.TrialLight, error) {
	if at.store == "" || named != "" || t.Bench == "" {
		return lightOf(w, t, file, named, opt)
	}
	b, err := benchfolder.Bench(place, t.Bench)
	if err != nil {
		return nil, &wrongError{err: fmt.Errorf("the bench %s cannot be read from the store: %w", t.Bench, err)}
	}
	m, err := light.NewModel(b)
	if err != nil {
		return nil, &wrongError{err: err}
	}
	l, err := trial.CheckLight(m, t, opt)
	if err != nil {
		return nil, &wrongError{err: err}
	}
	return l, nil
}

// openTrial reads a trial, or the package of one, with what was seen so far; its mistakes are
// shown.
func openTrial(w World, name string) (trialbook.Place, *trialbook.Page, error) {
	if looksPacked(name) {
		u, err := openPackage(w, name)
		if err != nil {
			return nil, nil, err
		}
		if u.Kind != dataset.KindTrial {
			return nil, nil, wrongf("%s is the package of a bench, not of a trial", name)
		}
		place := &packed{u.Folder}
		p, err := openTrialIn(w, place, u.Begin, name)
		return place, p, err
	}
	place := safefolder.New(filepath.Dir(name))
	p, err := openTrialIn(w, place, filepath.Base(name), name)
	return place, p, err
}

// openTrialIn reads a trial where it lies; name is how a person called it.
func openTrialIn(w World, place trialbook.Place, file, name string) (*trialbook.Page, error) {
	if !fs.ValidPath(file) {
		return nil, wrongf("%q is no name of a trial", name)
	}
	p, err := trialbook.Open(place, file)
	var broken *trialbook.BrokenError
	var table *trialbook.TableError
	switch {
	case errors.As(err, &broken):
		if err := otherKind(name, broken.Source, "underlamp trial"); err != nil {
			return nil, err
		}
		fmt.Fprint(w.Err, broken.Problems.Render(name, broken.Source, w.colour()))
		return nil, &wrongError{err: fmt.Errorf("%s has errors", name), shown: true}
	case errors.As(err, &table):
		return nil, &wrongError{err: err}
	case errors.Is(err, fs.ErrNotExist):
		return nil, &wrongError{err: fmt.Errorf("the trial file cannot be opened: %w; underlamp trial design writes one", err)}
	case err != nil:
		return nil, &wrongError{err: err}
	}
	if len(p.Problems) > 0 {
		fmt.Fprint(w.Err, p.Problems.Render(name, p.Source, w.colour()))
	}
	return p, nil
}
