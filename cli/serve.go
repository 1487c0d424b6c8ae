package cli

import (
	"fmt"
	"os"

	"github.com/spf13/cobra"
)

func newServe(w World) *cobra.Command {
	var o ServeOptions
	cmd := &cobra.Command{
		Use:   "serve [FOLDER]",
		Short: "Show the benches of a folder as pages on this machine",
		Long: `serve shows every bench file of a folder (this one, if none is named) as pages:
light map, outlook and best setting, with controls for height, dimming and hours
that redraw at once. It listens on this machine alone and asks for nothing from
anywhere else. Stop it with Ctrl-C.

With --store it also takes what sensors send, as SenML packs to /intake, each device
with a token of its own (underlamp device add), and keeps them in a file or in a
PostgreSQL database. underlamp logged says what they read.`,
		Example: `  Turn the lamps of all tiers on the screen, at an address that stays the same:

  underlamp demo --no-serve
  underlamp serve underlamp-demo --listen 127.0.0.1:8080

  Open http://127.0.0.1:8080/ and pull a control: map, masses and chance of burn
  follow. A file that you change is read again when its page is loaded. With a store
  for what sensors send:

  underlamp serve underlamp-demo --listen 127.0.0.1:8080 --store readings.db`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) > 1 {
				return &wrongError{err: fmt.Errorf("%s takes one folder", cmd.CommandPath())}
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			o.Folder = "."
			if len(args) == 1 {
				o.Folder = args[0]
			}
			info, err := os.Stat(o.Folder)
			if err != nil {
				return &wrongError{err: fmt.Errorf("the folder cannot be opened: %w", err)}
			}
			if !info.IsDir() {
				return &wrongError{err: fmt.Errorf("%s is a file; serve takes the folder that holds the bench files", o.Folder)}
			}
			return w.Serve(cmd.Context(), o, func(address string) {
				fmt.Fprintf(w.Out, "The benches of %s are shown at %s\n", o.Folder, address)
				if o.Store != "" {
					fmt.Fprintf(w.Out, "Devices send what they read to %sintake\n", address)
				}
				fmt.Fprintln(w.Out, "Stop with Ctrl-C.")
			})
		},
	}
	cmd.Flags().StringVar(&o.Store, "store", "", "take what sensors send into this file, or postgres://user@host/database")
	cmd.Flags().StringVar(&o.Listen, "listen", "127.0.0.1:0", "address and port; port 0 takes a free one")
	return cmd
}
