package cli

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"underlamp/mqtt"
	"underlamp/store"
)

func newDevice(w World) *cobra.Command {
	var address string
	cmd := &cobra.Command{
		Use:   "device",
		Short: "Who may send readings: add a device, list them, revoke one",
		Long: `device keeps the list of devices that may send readings to underlamp serve. A device
has a token of its own, which is shown once; the store keeps only its hash. Revoke a
device whose token may be known to others.`,
		Example: `  A logger that sends over the network gets a token:

  underlamp device add rack-logger --store readings.db
  underlamp device list --store readings.db
  underlamp device revoke rack-logger --store readings.db

  It sends SenML (RFC 8428) to the address that underlamp serve --store prints:
  POST /intake, Authorization: Bearer TOKEN, Content-Type: application/senml+json,
  [{"bn":"rack-2/","n":"air","u":"Cel","v":21.4},{"n":"humidity","u":"%RH","v":62}]`,
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	storeFlag(cmd.PersistentFlags(), &address, "")
	one := func(cmd *cobra.Command, args []string) error {
		if len(args) != 1 || args[0] == "" || strings.ContainsAny(args[0], "\n\t") || len(args[0]) > 80 {
			return &wrongError{err: fmt.Errorf("%s takes the name of one device", cmd.CommandPath())}
		}
		return nil
	}
	cmd.AddCommand(
		&cobra.Command{Use: "add NAME", Short: "Enter a device and show its token, once", Args: one, RunE: func(cmd *cobra.Command, args []string) error {
			s, err := openStore(cmd, w, address, true)
			if err != nil {
				return err
			}
			defer s.Close()
			token, hash := store.NewToken()
			err = s.AddDevice(cmd.Context(), store.Device{Name: args[0], Made: store.At(time.Now())}, hash)
			if errors.Is(err, store.ErrDiffers) {
				return &wrongError{err: fmt.Errorf("there is a device called %q already, or was one; give the new one another name", args[0])}
			} else if err != nil {
				return err
			}
			fmt.Fprintf(w.Out, "%s\n", token)
			fmt.Fprintf(w.Err, "This is the token of %s. It is shown once: put it into the device now.\n", args[0])
			if !mqtt.ValidName(args[0]) {
				fmt.Fprintln(w.Err, "With this name it can send over HTTP and not over MQTT, where names have letters, digits and -:._ alone and begin with one of the first two.")
			}
			return nil
		}},
		&cobra.Command{Use: "list", Short: "List the devices", Args: cobra.NoArgs, RunE: func(cmd *cobra.Command, _ []string) error {
			s, err := openStore(cmd, w, address, false)
			if err != nil {
				return err
			}
			defer s.Close()
			all, err := s.Devices(cmd.Context())
			if err != nil {
				return err
			}
			if len(all) == 0 {
				fmt.Fprintln(w.Out, "No device may send. underlamp device add NAME enters one.")
				return nil
			}
			var rows [][]string
			for _, d := range all {
				revoked := ""
				if d.Revoked != 0 {
					revoked = store.Time(d.Revoked).Format(time.DateOnly)
				}
				rows = append(rows, []string{d.Name, store.Time(d.Made).Format(time.DateOnly), revoked})
			}
			writeTable(w.Out, []column{{head: "device"}, {head: "since"}, {head: "revoked"}}, rows)
			return nil
		}},
		&cobra.Command{Use: "revoke NAME", Short: "End the right of a device to send", Args: one, RunE: func(cmd *cobra.Command, args []string) error {
			s, err := openStore(cmd, w, address, false)
			if err != nil {
				return err
			}
			defer s.Close()
			err = s.Revoke(cmd.Context(), args[0], store.At(time.Now()))
			if errors.Is(err, store.ErrNotFound) {
				return &wrongError{err: fmt.Errorf("no device called %q may send; underlamp device list shows them", args[0])}
			} else if err != nil {
				return err
			}
			fmt.Fprintf(w.Out, "%s may not send any more. What it has sent stays.\n", args[0])
			return nil
		}},
	)
	return cmd
}
