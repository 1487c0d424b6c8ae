package cli

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"time"

	"github.com/spf13/cobra"

	"underlamp/formats/tablefile"
	"underlamp/intake/fileintake"
	"underlamp/store"
)

func newTables(w World) *cobra.Command {
	var address string
	cmd := &cobra.Command{
		Use:   "tables",
		Short: "Which column of a logger's table is which sensor: list, show, put, drop",
		Long: `tables keeps which column of a table is which sensor, for the tables that underlamp serve
--tables takes from a folder. An entry is made when a table with a new heading is met; show
it, correct it and put it back. docs/formats/intake.md describes it.`,
		Example: `  What serve --tables has met so far:

  underlamp tables list --store readings.db

  If it says "rack-2 3f9a1c20", correct that one and put it back:

    underlamp tables show "rack-2 3f9a1c20" --store readings.db > rack-2.table.yaml
    underlamp tables put "rack-2 3f9a1c20" rack-2.table.yaml --store readings.db`,
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	storeFlag(cmd.PersistentFlags(), &address, "")
	open := openerOf(w, &address)
	none := func(name string, err error) error {
		if errors.Is(err, store.ErrNotFound) {
			return &wrongError{err: fmt.Errorf("the store knows no table %q; underlamp tables list shows them", name)}
		}
		return err
	}
	cmd.AddCommand(
		&cobra.Command{Use: "list", Short: "The tables that were met", Args: noArguments, RunE: func(cmd *cobra.Command, _ []string) error {
			return open(cmd, false, func(s store.Store) error {
				all, err := s.Documents(cmd.Context(), fileintake.KindTable)
				if err != nil {
					return err
				}
				if len(all) == 0 {
					fmt.Fprintln(w.Out, "No table was met so far. underlamp serve --tables FOLDER takes them.")
					return nil
				}
				var rows [][]string
				for _, d := range all {
					t, problems, err := tablefile.Read(bytes.NewReader(d.Text))
					if err != nil {
						return err
					}
					if t == nil {
						rows = append(rows, []string{d.Name, "", "cannot be read: " + firstLine(problems)})
						continue
					}
					for _, c := range t.Columns {
						name, sensor := c.Name, c.Sensor
						if c.Unit != "" {
							name += " (" + c.Unit + ")"
						}
						if sensor == "" {
							sensor = "none: left out"
						}
						rows = append(rows, []string{d.Name, name, sensor})
					}
				}
				writeTable(w.Out, []column{{head: "table"}, {head: "column"}, {head: "sensor"}}, rows)
				return nil
			})
		}},
		&cobra.Command{Use: "show TABLE", Example: "  underlamp tables show rack.csv --store readings.db", Short: "The text of an entry", Args: arguments(1, 1, "the name of a table"), RunE: func(cmd *cobra.Command, args []string) error {
			return open(cmd, false, func(s store.Store) error {
				d, err := s.Document(cmd.Context(), fileintake.KindTable, args[0])
				if err != nil {
					return none(args[0], err)
				}
				_, err = w.Out.Write(d.Text)
				return err
			})
		}},
		&cobra.Command{Use: "put TABLE FILE", Example: "  underlamp tables put rack.csv rack.table.yaml --store readings.db", Short: "Put a corrected entry back; it counts for what comes from now on", Args: arguments(2, 2, "the name of a table and a file"), RunE: func(cmd *cobra.Command, args []string) error {
			text, err := os.ReadFile(args[1])
			if err != nil {
				return &wrongError{err: fmt.Errorf("the entry cannot be opened: %w", err)}
			}
			t, problems, err := tablefile.Read(bytes.NewReader(text))
			if err != nil {
				return &wrongError{err: fmt.Errorf("%s: %w", args[1], err)}
			}
			if len(problems) > 0 {
				fmt.Fprint(w.Err, problems.Render(args[1], text, w.colour()))
			}
			if t == nil {
				return &wrongError{err: fmt.Errorf("%s has errors", args[1]), shown: true}
			}
			return open(cmd, false, func(s store.Store) error {
				if _, err := s.Document(cmd.Context(), fileintake.KindTable, args[0]); err != nil {
					return none(args[0], err)
				}
				if err := s.PutDocument(cmd.Context(), store.Document{Kind: fileintake.KindTable, Name: args[0], Recorded: store.At(time.Now()), Text: text}); err != nil {
					return err
				}
				fmt.Fprintf(w.Out, "%s of %s. What was read before stays with its sensors; a file is taken anew when it changes.\n", count(len(t.Columns), "column"), args[0])
				return nil
			})
		}},
		&cobra.Command{Use: "drop TABLE", Example: "  underlamp tables drop rack.csv --store readings.db", Short: "Forget an entry; it is made anew when such a table comes", Args: arguments(1, 1, "the name of a table"), RunE: func(cmd *cobra.Command, args []string) error {
			return open(cmd, false, func(s store.Store) error {
				if err := s.DropDocument(cmd.Context(), fileintake.KindTable, args[0]); err != nil {
					return none(args[0], err)
				}
				fmt.Fprintf(w.Out, "%s is forgotten.\n", args[0])
				return nil
			})
		}},
	)
	return cmd
}
