package trialbook

import (
	"context"
	"fmt"
	"io/fs"

	"underlamp/app/trial"
	"underlamp/formats/benchfolder"
	"underlamp/formats/trialtable"
)

// Findings reads the trial: what stands in its table, with electricity and prices of the
// bench in folder that it names, and what is doubted of single values. progress hears of
// each part that is done; it may be nil.
func (p *Page) Findings(ctx context.Context, folder fs.FS, progress func(done, of int)) (*trial.Findings, error) {
	t := p.Trial
	if t.Table == "" {
		return nil, ErrNoTable
	}
	if p.All == nil {
		return nil, fmt.Errorf("there is no table %s yet", t.Table)
	}
	var terms trial.Terms
	var doubt string
	if t.Bench != "" {
		b, err := benchfolder.Bench(folder, t.Bench)
		if err == nil && p.Bench != nil {
			p.Bench(b)
		}
		if err == nil {
			terms, err = trial.TermsOf(b)
		}
		if err != nil {
			doubt = fmt.Sprintf("Electricity and prices of the bench cannot be taken: %v.", err)
		}
	}
	standing := p.Standing()
	f, err := trial.FindPriced(ctx, t, standing, terms, progress)
	if err != nil {
		return nil, err
	}
	f.Notes = append(f.Notes, trialtable.Doubts(standing)...)
	if from := Sources(standing); from != "" {
		f.Notes = append(f.Notes, from)
	}
	if doubt != "" {
		f.Notes = append(f.Notes, doubt)
	}
	return f, nil
}
