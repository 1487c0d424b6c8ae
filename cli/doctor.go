package cli

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"net"
	"os"
	"path"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"underlamp/app/doctor"
	"underlamp/formats/benchfile"
	"underlamp/formats/benchfolder"
	"underlamp/internal/machine"
)

func newDoctor(w World) *cobra.Command {
	var asJSON bool
	var address, listen string
	cmd := &cobra.Command{
		Use:   "doctor [FOLDER]",
		Short: "Find what is wrong with store, bench files, sensors and machine, and what to do",
		Long: `doctor looks at all that a server stands on and says what is wrong and what to do: damage
of the store, its version, rights and room on the disk, a file system of a network, a
clock that is wrong or was set back, sensors without unit or bench, sensors that have
fallen silent or have gaps, readings that wait to be packed, bench files of FOLDER with
mistakes, and with --listen whether the address is free. It only looks, save that a
store of an earlier version is brought up to date, with a copy beside it.

It ends with 0 if nothing was found, 1 if there is something to look at, 2 if something
is wrong.`,
		Example: `  Is all well with the benches of a folder, and with what sensors sent?

  underlamp demo --no-serve
  underlamp device add rack-logger --store readings.db
  underlamp doctor underlamp-demo --store readings.db`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) > 1 || len(args) == 0 && address == "" && listen == "" {
				return &wrongError{err: fmt.Errorf("%s takes a folder of bench files, --store, or both", cmd.CommandPath())}
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			var all []doctor.Finding
			var benches []string
			if len(args) == 1 {
				var err error
				if benches, all, err = lookAtFolder(args[0]); err != nil {
					return err
				}
			}
			if address != "" {
				all = append(all, w.lookAtStore(cmd, address, benches)...)
			}
			if listen != "" {
				all = append(all, lookAtPort(listen))
			}
			if asJSON {
				return errors.Join(writeJSON(w, doctorJSON(all)), verdictOf(all))
			}
			w.tell(all)
			return verdictOf(all)
		},
	}
	storeFlag(cmd.Flags(), &address, "")
	jsonFlag(cmd.Flags(), &asJSON, "")
	cmd.Flags().StringVar(&listen, "listen", "", "address and port; whether a server could have it, for example 127.0.0.1:8080")
	return cmd
}

// tell shows findings, the worst first.
func (w World) tell(all []doctor.Finding) {
	for _, part := range []struct {
		level doctor.Level
		head  string
	}{{doctor.Wrong, "wrong"}, {doctor.Look, "look"}, {doctor.Good, "well"}} {
		for _, f := range all {
			if f.Level != part.level {
				continue
			}
			writeParagraph(w.Out, fmt.Sprintf("%-7s", part.head), f.Where+": "+f.What)
			if f.Do != "" {
				writeParagraph(w.Out, "  do   ", f.Do)
			}
		}
	}
}

// verdictOf fails by the worst finding.
func verdictOf(all []doctor.Finding) error {
	bad := 0
	for _, f := range all {
		if f.Level != doctor.Good {
			bad++
		}
	}
	switch doctor.Worst(all) {
	case doctor.Wrong:
		return &wrongError{err: fmt.Errorf("%s, some of it wrong", count(bad, "finding"))}
	case doctor.Look:
		return fmt.Errorf("%s to look at", count(bad, "finding"))
	}
	return nil
}

// lookAtFolder reads the bench files of a folder, and says how its benches are called.
func lookAtFolder(name string) (benches []string, out []doctor.Finding, err error) {
	if info, err := os.Stat(name); err != nil {
		return nil, nil, &wrongError{err: fmt.Errorf("the folder cannot be opened: %w", err)}
	} else if !info.IsDir() {
		return nil, nil, &wrongError{err: fmt.Errorf("%s is a file; name the folder that holds the bench files", name)}
	}
	folder := os.DirFS(name)
	entries, err := fs.ReadDir(folder, ".")
	if err != nil {
		return nil, nil, err
	}
	for _, e := range entries {
		if e.IsDir() || !benchfolder.IsYAML(e.Name()) || benchfolder.KindOf(folder, e.Name()) != benchfolder.BenchFile {
			continue
		}
		where := filepath.Join(name, e.Name())
		wrong := func(what string) {
			out = append(out, doctor.Finding{Level: doctor.Wrong, Where: where, What: what, Do: "underlamp check " + where + " shows each place"})
		}
		source, err := readInput(World{}, where)
		if err != nil {
			wrong(err.Error())
			continue
		}
		benches = append(benches, strings.TrimSuffix(e.Name(), path.Ext(e.Name())))
		bench, problems, err := benchfile.ReadWith(bytes.NewReader(source), benchfolder.Files(folder))
		switch {
		case err != nil:
			wrong(err.Error())
		case problems.HasErrors():
			wrong("it has mistakes")
		case len(problems) > 0:
			out = append(out, doctor.Finding{Level: doctor.Look, Where: where, What: "it has warnings", Do: "underlamp check " + where + " shows each place"})
			benches = append(benches, bench.Name)
		default:
			benches = append(benches, bench.Name)
		}
	}
	if len(out) == 0 {
		out = append(out, doctor.Finding{Where: name, What: fmt.Sprintf("its bench files are in order (%d)", len(benches)/2)})
	}
	return benches, out, nil
}

// lookAtStore looks at the file of a store and at what is in it.
func (w World) lookAtStore(cmd *cobra.Command, address string, benches []string) []doctor.Finding {
	var out []doctor.Finding
	if !strings.Contains(address, "://") {
		out = doctor.Disk(fileOf(address))
		if doctor.Worst(out) == doctor.Wrong {
			if info, err := os.Stat(address); err != nil || !info.Mode().IsRegular() {
				return out
			}
		}
	}
	s, err := w.OpenStore(cmd.Context(), address)
	if err != nil {
		return append(out, doctor.Finding{Level: doctor.Wrong, Where: "store", What: err.Error(), Do: "a store of a newer version needs the newer program; one that is damaged is restored from a backup (underlamp store restore); a database must run and be reached"})
	}
	found, err := doctor.Store(cmd.Context(), s, benches, time.Now())
	if err != nil {
		found = append(found, doctor.Finding{Level: doctor.Wrong, Where: "store", What: "it cannot be read: " + err.Error(), Do: "stop the server, keep a copy of the store, and restore a backup (underlamp store restore)"})
	}
	if err := s.Ping(cmd.Context()); err != nil {
		found = append(found, doctor.Finding{Level: doctor.Wrong, Where: "store", What: "it cannot be written: " + err.Error(), Do: "look at the rights of file and folder, and at the room on the disk"})
	}
	if err := s.Close(); err != nil {
		found = append(found, doctor.Finding{Level: doctor.Wrong, Where: "store", What: "it could not be closed: " + err.Error(), Do: "look at the room on the disk"})
	}
	return append(out, found...)
}

// fileOf is what the system knows of the file of a store.
func fileOf(name string) doctor.File {
	f := doctor.File{Path: name, Room: -1}
	info, err := os.Stat(name)
	if err != nil {
		f.Err = err
		return f
	}
	f.Regular, f.Mode = info.Mode().IsRegular(), info.Mode().Perm()
	if h, err := os.OpenFile(name, os.O_RDWR, 0); err == nil {
		f.Writable = true
		h.Close()
	}
	if h, err := os.CreateTemp(filepath.Dir(name), ".underlamp-doctor-*"); err == nil {
		f.FolderOK = true
		h.Close()
		os.Remove(h.Name())
	}
	if info, err := os.Stat(name + "-wal"); err == nil {
		f.Log = info.Size()
	}
	f.Room, f.NetworkKind = machine.Room(filepath.Dir(name))
	return f
}

// lookAtPort says whether an address can be listened on.
func lookAtPort(address string) doctor.Finding {
	l, err := net.Listen("tcp", address)
	if err == nil {
		l.Close()
		return doctor.Finding{Where: address, What: "the address is free"}
	}
	var in *net.OpError
	what := err.Error()
	if errors.As(err, &in) {
		what = in.Err.Error()
	}
	return doctor.Finding{Level: doctor.Look, Where: address, What: "it cannot be listened on: " + what, Do: "a server that runs already is one reason; underlamp serve --listen takes another address"}
}
