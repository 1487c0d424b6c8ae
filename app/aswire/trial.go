package aswire

import (
	"math"
	"slices"

	"underlamp"
	"underlamp/app/trial"
	"underlamp/app/trialbook"
	"underlamp/wire"
)

// above is a number that is not known where it is 0.
func above[T ~float64](v T) wire.Number {
	if v == 0 {
		return wire.Number(math.NaN())
	}
	return wire.Number(v)
}

// Trial is a plan with how far its recording is.
func Trial(card wire.TrialCard, bench string, p *trialbook.Page) wire.Trial {
	t := p.Trial
	out := wire.Trial{TrialCard: card, Note: t.Note, Bench: bench, Response: string(t.Response), Unit: t.Response.Unit(), Difference: above(t.Difference), Layout: string(t.Layout), Seed: t.Seed,
		Treatments: []wire.TrialTreatment{}, Factors: []wire.TrialFactor{}, Cycles: []wire.TrialCycle{}, Units: []wire.TrialUnit{}, Records: len(p.All)}
	for _, x := range t.Treatments {
		out.Treatments = append(out.Treatments, wire.TrialTreatment{Name: x.Name, Control: x.Control, DLI: above(x.DLI), Levels: x.Levels, Note: x.Note})
	}
	for _, x := range t.Factors {
		out.Factors = append(out.Factors, wire.TrialFactor{Name: x.Name, Unit: x.Unit, Levels: list(x.Levels)})
	}
	for _, x := range t.Cycles {
		out.Cycles = append(out.Cycles, wire.TrialCycle{Block: x.Block, Transplanted: x.Transplanted, Harvested: x.Harvested})
	}
	units, _ := p.Progress()
	for _, u := range units {
		x := wire.TrialUnit{Name: u.Unit.Name, Treatment: u.Unit.Treatment, Block: u.Unit.Block, Part: u.Unit.Part, Lamp: u.Unit.Lamp, DLI: above(u.Unit.DLI), Seen: u.Seen, Absent: u.Absent, Due: u.Due(), Done: u.Done(), Plants: []wire.TrialPlant{}}
		for _, y := range u.Plants {
			x.Plants = append(x.Plants, wire.TrialPlant{Code: y.Code, Seen: y.Seen, Absent: y.Absent, Any: y.Any, Guard: y.Guard})
		}
		out.Units = append(out.Units, x)
	}
	return out
}

// TrialRecord is a line of the table of a trial; counts says whether it does.
func TrialRecord(e underlamp.TrialEntry, counts bool) wire.TrialRecord {
	out := wire.TrialRecord{ID: e.ID, Time: e.Time, Unit: e.TrialUnit, Plant: e.Plant, What: string(e.What), Value: wire.Number(e.Value), Measure: e.What.Unit(), Missing: e.Missing, By: e.By, With: e.With, Note: e.Note, Corrects: e.Corrects, Struck: e.Struck, Counts: counts}
	if e.Missing != "" || e.Struck {
		out.Value = wire.Number(math.NaN())
	}
	return out
}

// TrialRecords are all lines of a trial, in the order of its table.
func TrialRecords(p *trialbook.Page) []wire.TrialRecord {
	counts := map[string]bool{}
	for _, e := range p.Standing() {
		counts[e.ID] = true
	}
	out := []wire.TrialRecord{}
	for _, e := range p.All {
		out = append(out, TrialRecord(e, counts[e.ID]))
	}
	return out
}

// TrialProposals are layouts as plans of what was asked.
func TrialProposals(a *trialbook.Asked, all []trial.Proposal, not []string) wire.TrialProposals {
	out := wire.TrialProposals{Proposals: []wire.TrialProposal{}, Not: list(not)}
	for _, p := range all {
		t := a.Plan(p)
		x := wire.TrialProposal{Fingerprint: trialbook.Fingerprint(t), Name: p.Name, Layout: string(p.Layout), Unit: p.Unit, Repeats: p.Repeats, DF: p.DF, Power: wire.Number(p.Power), Why: p.Why, Cannot: list(p.Cannot), Figures: Figures(p.Figures), Units: []wire.TrialUnitPlan{}}
		for _, u := range t.Places {
			x.Units = append(x.Units, wire.TrialUnitPlan{Name: u.Name, Treatment: u.Treatment, Block: u.Block, Part: u.Part, Lamp: u.Lamp, Plants: u.Plants})
		}
		out.Proposals = append(out.Proposals, x)
	}
	return out
}

// TrialSheet is what stands where, and in what light.
func TrialSheet(s *trial.Sheet) wire.TrialSheet {
	out := wire.TrialSheet{Trial: s.Trial.Name, Blocks: []wire.TrialSheetBlock{}, Says: []string{}}
	if s.Light != nil {
		out.Says = list(s.Light.Says)
	}
	for _, b := range s.Blocks {
		x := wire.TrialSheetBlock{Name: b.Name, Start: b.Start, End: b.End, Days: b.Days, Units: []wire.TrialSheetUnit{}}
		var lit []trial.LitUnit
		if b.Light != nil {
			x.Says, lit = b.Light.Says, b.Light.Units
		}
		for _, u := range b.Units {
			y := wire.TrialSheetUnit{Name: u.Name, Treatment: u.Treatment, Lamp: u.Lamp, Plants: []wire.TrialSheetPlant{}}
			if i := slices.IndexFunc(lit, func(l trial.LitUnit) bool { return l.Unit == u.Name || l.Lamp == u.Lamp && u.Lamp != "" }); i >= 0 {
				l := lit[i]
				got, dimming := wire.Number(l.Got), wire.Number(l.Dimming)
				y.Got = &got
				if l.Aim > 0 {
					aim := wire.Number(l.Aim)
					y.Aim, y.Dimming, y.Achieved = &aim, &dimming, &l.Achieved
				}
			}
			for _, p := range u.Plants {
				y.Plants = append(y.Plants, wire.TrialSheetPlant{Code: p.Code, Name: p.Name, Part: p.Part, Guard: p.Guard})
			}
			x.Units = append(x.Units, y)
		}
		out.Blocks = append(out.Blocks, x)
	}
	return out
}

// TrialJobs are the jobs of a sheet by day.
func TrialJobs(s *trial.Sheet) []wire.TrialJob {
	out := []wire.TrialJob{}
	for _, j := range s.Jobs {
		out = append(out, wire.TrialJob{ID: j.ID(s.Trial), Block: j.Block, Day: j.Day, Date: j.Date, Of: j.Of, Title: j.Title, Set: j.Set, What: j.What})
	}
	return out
}

// TrialFindings are what a trial tells.
func TrialFindings(f *trial.Findings) wire.TrialFindings {
	out := wire.TrialFindings{Trial: f.Trial.Name, Summary: list(f.Summary), Units: []wire.FoundUnit{}, Lines: []wire.FoundLine{}, Parts: []wire.FindingsPart{}, Notes: list(f.Notes)}
	for _, u := range f.Units {
		out.Units = append(out.Units, wire.FoundUnit{Name: u.Name, Treatment: u.Treatment, Block: u.Block, Dose: above(u.Dose), Plants: u.N, Mean: wire.Number(u.Mean)})
	}
	none := wire.Number(math.NaN())
	for _, l := range f.Lines {
		x := wire.FoundLine{Name: l.Name, DF: l.DF, SS: wire.Number(l.SS), MS: wire.Number(l.MS), F: none, P: none, Why: l.Why}
		if l.Tested {
			x.F, x.P = wire.Number(l.F), wire.Number(l.P)
		}
		out.Lines = append(out.Lines, x)
	}
	for _, p := range f.Parts {
		x := wire.FindingsPart{Title: p.Title, Says: list(p.Says), Figures: Figures(p.Figures), Tests: []wire.FindingsTest{}}
		for _, t := range p.Tests {
			y := wire.FindingsTest{What: t.What, F: none, DF1: none, DF2: none, P: none, Adjusted: none, Why: t.Why}
			if t.Why == "" {
				y.F, y.DF1, y.DF2, y.P, y.Adjusted = wire.Number(t.F), wire.Number(t.DF1), wire.Number(t.DF2), wire.Number(t.P), wire.Number(t.Adjusted)
			}
			x.Tests = append(x.Tests, y)
		}
		out.Parts = append(out.Parts, x)
	}
	return out
}

// TrialTaking is what taking rounds over would do.
func TrialTaking(t *trialbook.Taking) wire.TrialTaking {
	out := wire.TrialTaking{Fingerprint: t.Fingerprint(), Moves: []wire.TrialMove{}, Clashes: []wire.TrialClash{}, Known: t.Known, Left: list(t.Left), Doubts: list(t.Doubts)}
	for _, m := range t.Moves {
		out.Moves = append(out.Moves, wire.TrialMove{Record: TrialRecord(m.Entry, !m.Entry.Struck), Name: m.Name, Was: m.Was})
	}
	for _, c := range t.Clashes {
		out.Clashes = append(out.Clashes, wire.TrialClash{Key: c.Key(), Name: c.Name, Rounds: TrialRecord(c.Rounds, false), Table: TrialRecord(c.Table, true)})
	}
	return out
}
