package cli

import (
	"fmt"
	"os"
	"strings"

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
PostgreSQL database. underlamp logged says what they read.

With a store there are more ways in and out: --mqtt runs a broker for devices, --broker and
--topic read from another one, --tables takes the tables of data loggers from a folder as
they come, and what underlamp act has put into the store turns lamps.`,
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
			if err := serveFits(&o); err != nil {
				return err
			}
			return w.Serve(cmd.Context(), o, func(address string) {
				fmt.Fprintf(w.Out, "The benches of %s are shown at %s\n", o.Folder, address)
				if o.Store != "" {
					fmt.Fprintf(w.Out, "Devices send what they read to %sintake\n", address)
				}
				if o.MQTT != "" {
					fmt.Fprintf(w.Out, "Devices reach the broker at %s, with their name and token (underlamp device add)\n", o.MQTT)
				}
				if len(o.Topics) > 0 {
					fmt.Fprintf(w.Out, "The broker %s is read from: %s\n", o.Broker, strings.Join(o.Topics, ", "))
				}
				if o.Tables != "" {
					fmt.Fprintf(w.Out, "Tables of loggers are taken from %s\n", o.Tables)
				}
				fmt.Fprintln(w.Out, "Stop with Ctrl-C.")
			})
		},
	}
	cmd.Flags().StringVar(&o.Store, "store", "", "take what sensors send into this file, or postgres://user@host/database")
	cmd.Flags().StringVar(&o.MQTT, "mqtt", "", "with --store: run a broker for devices at this address, such as 127.0.0.1:1883")
	cmd.Flags().StringVar(&o.MQTTCert, "mqtt-cert", "", "certificate of the broker in PEM, for TLS")
	cmd.Flags().StringVar(&o.MQTTKey, "mqtt-key", "", "its key")
	cmd.Flags().StringVar(&o.Broker, "broker", "", "with --store: another broker, mqtt://host:1883 or mqtts://host:8883; user and password are in UNDERLAMP_MQTT_USER and UNDERLAMP_MQTT_PASSWORD_FILE")
	cmd.Flags().StringVar(&o.BrokerCA, "broker-ca", "", "certificates of its authority in PEM, if it is a private one")
	cmd.Flags().StringArrayVar(&o.Topics, "topic", nil, "a topic of that broker with readings, such as rack/#; may be given several times")
	cmd.Flags().StringVar(&o.Tables, "tables", "", "with --store: take loggers' tables from this folder, as they come")
	cmd.Flags().StringVar(&o.Zone, "zone", "", "time zone of their clocks, such as Europe/Berlin")
	cmd.Flags().StringVar(&o.Listen, "listen", "127.0.0.1:0", "address and port; port 0 takes a free one")
	return cmd
}

// serveFits says which options do not fit together.
func serveFits(o *ServeOptions) error {
	wrong := func(format string, args ...any) error { return &wrongError{err: fmt.Errorf(format, args...)} }
	switch {
	case o.Store == "" && (o.MQTT != "" || o.Broker != "" || o.Tables != ""):
		return wrong("readings need a place: give --store, a file or a database")
	case (o.MQTTCert == "") != (o.MQTTKey == ""):
		return wrong("a certificate needs its key: give both --mqtt-cert and --mqtt-key")
	case o.MQTT == "" && o.MQTTCert != "":
		return wrong("--mqtt-cert is for the own broker: give --mqtt, its address")
	case o.Broker == "" && (len(o.Topics) > 0 || o.BrokerCA != ""):
		return wrong("--topic and --broker-ca are for another broker: give --broker, its address")
	case o.Tables == "" && o.Zone != "":
		return wrong("--zone is for the clocks of tables: give --tables, their folder")
	}
	return nil
}
