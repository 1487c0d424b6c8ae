// Package doctor finds what is wrong with a store and with what it stands on, names it,
// and says what to do. It only looks.
package doctor

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"strings"
	"time"

	"underlamp/store"
	"underlamp/store/retention"
)

// A Level says how bad a finding is.
type Level int

// Levels, the worst last.
const (
	Good  Level = iota // looked at, and well
	Look               // look at it when there is time
	Wrong              // data are lost or will be
)

// A Finding is one thing that was looked at.
type Finding struct {
	Level Level
	Where string
	What  string
	Do    string // empty where nothing is to be done
}

// Worst is the worst level of findings.
func Worst(all []Finding) Level {
	worst := Good
	for _, f := range all {
		worst = max(worst, f.Level)
	}
	return worst
}

// Limits of what is taken as usual (choices of ours, no source).
const (
	manyWaiting  = 1_000_000 // readings that wait to be packed: some minutes of many sensors
	ahead        = time.Hour // how far a clock may run ahead, as intake has it
	silentTimes  = 3         // intervals without a reading
	silentLeast  = 5 * time.Minute
	silentUsual  = 24 * time.Hour // where no interval is known
	gapDays      = 7
	littleRoom   = 1 << 30   // bytes
	hardlyRoom   = 100 << 20 // bytes
	longLog      = 1 << 30   // bytes
	mostNamed    = 8         // sensors named in one finding
	clockStep    = 2 * time.Minute
	mostOutdated = 30 * 24 * time.Hour
)

// Store looks at what a store holds. benches are the names of those that are kept
// elsewhere, in bench files. An error means that the store could not be read at all.
func Store(ctx context.Context, s store.Store, benches []string, now time.Time) ([]Finding, error) {
	var out []Finding
	add := func(l Level, where, what, do string) { out = append(out, Finding{l, where, what, do}) }
	faults, err := s.Verify(ctx)
	if err != nil {
		return nil, err
	}
	for _, f := range faults {
		add(Wrong, f.Where, f.What, f.Mend)
	}
	if len(faults) == 0 {
		add(Good, "content", "all readings, sums and entries agree", "")
	}
	waiting, err := s.Backlog(ctx)
	if err != nil {
		return nil, err
	}
	if waiting > manyWaiting {
		add(Look, "backlog", fmt.Sprintf("%d readings wait to be packed; nothing is lost, but charts are slow", waiting), "look into the log of the server for errors of packing; underlamp serve packs every minute while it runs")
	} else {
		add(Good, "backlog", fmt.Sprintf("%d readings wait to be packed", waiting), "")
	}
	if _, err := retention.Rules(ctx, s); err != nil {
		add(Wrong, "rules", err.Error(), "underlamp store keep enters one, underlamp store keep none takes it away")
	}
	jobs, err := s.Documents(ctx, "job")
	if err != nil {
		return nil, err
	}
	if n := len(slices.DeleteFunc(jobs, func(d store.Document) bool { return !strings.Contains(string(d.Text), `"given_up":true`) })); n > 0 {
		add(Look, "work", fmt.Sprintf("%d jobs were given up after many attempts", n), "look into the log of the server for why")
	}
	more, err := sensors(ctx, s, benches, now)
	if err != nil {
		return nil, err
	}
	clock, err := entered(ctx, s, now)
	return slices.Concat(out, more, clock), err
}

// names are some of many.
func names(all []string) string {
	if len(all) > mostNamed {
		return strings.Join(all[:mostNamed], ", ") + fmt.Sprintf(" and %d more", len(all)-mostNamed)
	}
	return strings.Join(all, ", ")
}

// sensors looks at the register and at the age of what sensors read.
func sensors(ctx context.Context, s store.Store, benches []string, now time.Time) ([]Finding, error) {
	all, err := s.Sensors(ctx)
	if err != nil {
		return nil, err
	}
	latest, err := s.Latest(ctx)
	if err != nil {
		return nil, err
	}
	kept, err := s.Benches(ctx)
	if err != nil {
		return nil, err
	}
	known := slices.Concat(benches, kept)
	age := map[int64]time.Duration{}
	for _, r := range latest {
		age[r.Sensor] = now.Sub(store.Time(r.At))
	}
	var unit, bench, strange, silent, never, future, gaps []string
	for _, x := range all {
		if x.Unit == "" {
			unit = append(unit, x.Key)
		}
		switch {
		case x.Bench == "":
			bench = append(bench, x.Key)
		case !slices.Contains(known, x.Bench):
			strange = append(strange, fmt.Sprintf("%s (bench %s)", x.Key, x.Bench))
		}
		a, read := age[x.ID]
		quiet := silentUsual
		if x.Every > 0 {
			quiet = max(silentTimes*x.Every, silentLeast)
		}
		switch {
		case !read:
			never = append(never, x.Key)
			continue
		case a < -ahead:
			future = append(future, fmt.Sprintf("%s (%s ahead)", x.Key, rounded(-a)))
		case a > quiet && a < mostOutdated: // what has been silent for long was put away
			silent = append(silent, fmt.Sprintf("%s (for %s)", x.Key, rounded(a)))
		}
		if x.Every > 0 && x.Every <= time.Hour {
			missing, err := missingHours(ctx, s, x.ID, now.Add(-max(a, 0)))
			if err != nil {
				return nil, err
			}
			if missing > 0 {
				gaps = append(gaps, fmt.Sprintf("%s (%d hours)", x.Key, missing))
			}
		}
	}
	var out []Finding
	say := func(l Level, list []string, what, do string) {
		if len(list) > 0 {
			out = append(out, Finding{l, "sensors", what + ": " + names(list), do})
		}
	}
	say(Wrong, future, "they have readings of a time that has not come", "set the clock of this machine and those of the devices, by time servers; readings stay as they are")
	say(Look, silent, "they have fallen silent", "look at device, cable, battery and network; underlamp device list shows who may send")
	say(Look, gaps, fmt.Sprintf("they have hours without a reading in the last %d days before their newest", gapDays), "look at the network; a device that keeps what it could not send may send it late")
	say(Look, never, "they never sent a reading", "look at the name under which the device sends")
	say(Look, unit, "they have no unit, so their readings have no meaning yet", "say it in the register of sensors, or let the device send it")
	say(Look, bench, "they stand on no bench", "say in the register where they stand, if they do not read a whole room")
	say(Look, strange, "they stand on a bench that nobody described", "correct the name, or enter the bench")
	if len(out) == 0 {
		out = append(out, Finding{Good, "sensors", fmt.Sprintf("%d sensors, all described and sending", len(all)), ""})
	}
	return out, nil
}

// rounded is a stretch of time in words.
func rounded(d time.Duration) string {
	switch {
	case d < 2*time.Hour:
		return fmt.Sprintf("%.0f min", d.Minutes())
	case d < 48*time.Hour:
		return fmt.Sprintf("%.0f h", d.Hours())
	}
	return fmt.Sprintf("%.0f days", d.Hours()/24)
}

// missingHours counts whole hours without a reading, between the first and the last reading
// of some days before an instant.
func missingHours(ctx context.Context, s store.Readings, sensor int64, end time.Time) (int64, error) {
	to := store.At(end)
	sums, err := s.Buckets(ctx, sensor, max(0, to-gapDays*store.Day), to, store.Hour)
	if err != nil || len(sums) == 0 {
		return 0, err
	}
	return (sums[len(sums)-1].From-sums[0].From)/store.Hour + 1 - int64(len(sums)), nil
}

// entered looks for entries of a time that has not come: the clock of this machine was
// ahead when they were made, or was set back since.
func entered(ctx context.Context, s store.Store, now time.Time) ([]Finding, error) {
	newest := int64(0)
	devices, err := s.Devices(ctx)
	if err != nil {
		return nil, err
	}
	for _, d := range devices {
		newest = max(newest, d.Made, d.Revoked)
	}
	names, err := s.Benches(ctx)
	if err != nil {
		return nil, err
	}
	for _, b := range names {
		h, err := s.History(ctx, b)
		if err != nil {
			return nil, err
		}
		for _, v := range h {
			newest = max(newest, v.Recorded)
		}
		seen, err := s.Observations(ctx, b, 0, store.At(now)+100*365*store.Day)
		if err != nil {
			return nil, err
		}
		for _, o := range seen {
			newest = max(newest, o.Recorded)
		}
	}
	if back := store.Time(newest).Sub(now); newest > 0 && back > clockStep {
		return []Finding{{Wrong, "clock", fmt.Sprintf("something was entered %s from now: the clock of this machine was set back, or was ahead", rounded(back)),
			"set the clock by a time server; what was entered in between is kept, and may stand in the wrong order"}}, nil
	}
	return []Finding{{Good, "clock", "nothing was entered in the future", ""}}, nil
}

// A File is what is known of the file of a store, apart from its content.
type File struct {
	Path        string
	Err         error // why it could not be looked at; nil if it was
	Regular     bool
	Writable    bool        // by whom runs this
	FolderOK    bool        // files can be made beside it
	Mode        fs.FileMode // rights
	Log         int64       // bytes of the log ahead of it (WAL)
	Room        int64       // bytes free; −1 if not known
	NetworkKind string      // of the file system; empty if it is none of a network
}

// Disk looks at the file of a store.
func Disk(f File) []Finding {
	var out []Finding
	add := func(l Level, what, do string) { out = append(out, Finding{l, f.Path, what, do}) }
	switch {
	case errors.Is(f.Err, fs.ErrNotExist):
		add(Wrong, "there is no such file", "correct the name; underlamp serve --store makes a new one, underlamp store restore brings one back")
		return out
	case f.Err != nil:
		add(Wrong, "it cannot be looked at: "+f.Err.Error(), "correct its rights, or run this as the user of the server")
		return out
	case !f.Regular:
		add(Wrong, "it is no file", "name the file of the store")
		return out
	}
	if !f.Writable {
		add(Wrong, "this user may not write to it", "give it to the user of the server (chown), or run this as that user")
	}
	if !f.FolderOK {
		add(Wrong, "no files can be made in its folder, and the store needs two beside it (-wal, -shm)", "give the folder to the user of the server")
	}
	if f.Mode&0o002 != 0 {
		add(Look, "everybody on this machine may change it", "chmod o-w "+f.Path)
	}
	if f.NetworkKind == "FUSE" {
		add(Look, "its file system is one of a program (FUSE); if that reaches over a network, the store can be damaged", "move it to a disk of this machine")
	} else if f.NetworkKind != "" {
		add(Wrong, "it lies on a file system of the network ("+f.NetworkKind+"), where a store can be damaged", "move it to a disk of this machine, or use a PostgreSQL database for many machines")
	}
	switch {
	case f.Room >= 0 && f.Room < hardlyRoom:
		add(Wrong, fmt.Sprintf("%d MB are free on its disk: readings will soon be refused", f.Room>>20), "make room; underlamp store size says what takes it, underlamp store keep how long readings stay")
	case f.Room >= 0 && f.Room < littleRoom:
		add(Look, fmt.Sprintf("%d MB are free on its disk", f.Room>>20), "make room; underlamp store size says what takes it")
	}
	if f.Log > longLog {
		add(Look, fmt.Sprintf("its log (-wal) has grown to %d MB: something has been reading for very long", f.Log>>20), "stop what reads, an export that hangs for example; the server takes the log in by itself")
	}
	if len(out) == 0 {
		free := ""
		if f.Room >= 0 {
			free = fmt.Sprintf(", %d GB free", f.Room>>30)
		}
		add(Good, "rights and disk are well"+free, "")
	}
	return out
}
