package cli

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"
)

func newServe(w World) *cobra.Command {
	var o ServeOptions
	cmd := &cobra.Command{
		Use:   "serve [FOLDER]",
		Short: "Show benches as pages on this machine, and take what sensors send",
		Long: `serve shows every bench file of a folder (this one, if none is named) as pages:
light map, outlook and best setting, with controls for height, dimming and hours
that redraw at once, and how the bench stands now. The pages are for this machine
alone, unless --lan is given, and ask for nothing from anywhere else. Stop it with Ctrl-C.

What is kept (readings, the benches as they were, messages) goes into underlamp.db in the
folder, or where --store says: a file, or a PostgreSQL database that many servers share.
"--store none" keeps nothing. With --store and without a folder the benches of the store
are shown (underlamp benches import brings them in).

Sensors send over HTTP to /intake, or over MQTT, each device with a token of its own
(underlamp device add). --intake and --mqtt open addresses for devices elsewhere in the
network: give them a certificate, or a network that you trust. --broker reads from a
broker that you have; its user and password come from UNDERLAMP_MQTT_USER and
UNDERLAMP_MQTT_PASSWORD_FILE. --tables takes the tables of loggers from a folder, and
what underlamp act has put into the store turns lamps.

With --lan phones and other machines of the network at home see the pages too, each let in
by a code (underlamp people invite). It answers at a port of its own, to addresses of such
networks only, and under the addresses and names of this machine. Over plain HTTP whoever
listens in the network can read along; --https adds pages over TLS, under a certificate
authority of this machine's own, and a page /secure that leads phones to trust it. This is
for a home or a farm network: never open these ports to the internet.

/health says whether all is well and /metrics tells it to Prometheus.`,
		Example: `  Turn the lamps of all tiers on the screen, at an address that stays the same:

  underlamp demo --no-serve
  underlamp serve underlamp-demo --listen 127.0.0.1:8080

  Open http://127.0.0.1:8080/ and pull a control: map, masses and chance of burn
  follow. A file that you change is read again when its page is loaded. With a store
  of your own choice and a broker for sensors that speak MQTT:

  underlamp serve underlamp-demo --listen 127.0.0.1:8080 --store readings.db --mqtt 127.0.0.1:1883

  For phones in the same network, plainly and encrypted:

  underlamp serve underlamp-demo --lan --https`,
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
			} else if o.Store != "" && o.Store != keepNothing {
				o.Folder = ""
			}
			if o.Folder != "" {
				info, err := os.Stat(o.Folder)
				if err != nil {
					return &wrongError{err: fmt.Errorf("the folder cannot be opened: %w", err)}
				}
				if !info.IsDir() {
					return &wrongError{err: fmt.Errorf("%s is a file; serve takes the folder that holds the bench files", o.Folder)}
				}
			}
			switch o.Store {
			case "":
				o.Store = filepath.Join(o.Folder, storeFile)
			case keepNothing:
				o.Store = ""
			}
			if err := o.fit(); err != nil {
				return err
			}
			o.Terminal = w.Terminal
			return w.Serve(cmd.Context(), o, func(at Serving) { writeServing(w, o, at) })
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.Store, "store", "", storeUsage+"; it is made if it is not there; none keeps nothing (default: underlamp.db in FOLDER)")
	f.StringVar(&o.Listen, "listen", "127.0.0.1:0", "address and port; port 0 takes a free one")
	f.StringVar(&o.Zone, "zone", "", zoneUsage+"; also of the clocks of loggers")
	f.StringVar(&o.Intake, "intake", "", "a further address and port for what devices send over HTTP, such as 192.168.1.10:8180")
	f.StringVar(&o.MQTT, "mqtt", "", "address and port of a broker for devices, such as 127.0.0.1:1883")
	f.StringVar(&o.CertFile, "cert", "", "certificate of --intake and --mqtt, a PEM file")
	f.StringVar(&o.KeyFile, "key", "", "key of the certificate, a PEM file")
	f.StringVar(&o.Broker, "broker", "", "read from a broker that you have: mqtt://host or mqtts://host")
	f.StringVar(&o.BrokerCA, "broker-ca", "", "certificates of the authority of the broker, a PEM file, if it is a private one")
	f.StringArrayVar(&o.Topics, "topic", nil, "what to read from the broker, such as rack-2/#; may be given several times")
	f.StringVar(&o.Tables, "tables", "", "take the tables of data loggers from this folder, as they come")
	f.StringVar(&o.LAN, "lan", "", "show the pages to other machines of the network: =address:port, or a port of its own on all addresses at home")
	f.StringVar(&o.HTTPS, "https", "", "show them over TLS too, under an authority of this machine's own: =address:port, as with --lan")
	f.BoolVar(&o.HTTPSOnly, "https-only", false, "over plain HTTP show other machines only how to come to trust the authority")
	f.StringArrayVar(&o.Names, "lan-name", nil, "a further name by which other machines know this one; may be given several times")
	f.StringVar(&o.Certificates, "certificates", "", "folder of the authority (default: that of this user)")
	f.StringVar(&o.AccessLog, "access-log", "", "write down what other machines ask into this file, one JSON object a line")
	f.Lookup("lan").NoOptDefVal, f.Lookup("https").NoOptDefVal = lanPort, httpsPort
	return cmd
}

// Ports of the pages for other machines.
const (
	lanPort   = ":8282"
	httpsPort = ":8283"
)

// fit says which options do not fit together.
func (o *ServeOptions) fit() error {
	wrong := func(format string, args ...any) error { return &wrongError{err: fmt.Errorf(format, args...)} }
	switch {
	case o.Store == "" && (o.Intake != "" || o.MQTT != "" || o.Broker != "" || o.Tables != ""):
		return wrong("what devices send needs a store: leave \"--store none\" out")
	case (o.CertFile == "") != (o.KeyFile == ""):
		return wrong("a certificate needs its key: give both --cert and --key")
	case o.CertFile != "" && o.MQTT == "" && o.Intake == "":
		return wrong("--cert is for devices: give --mqtt or --intake, an address for them")
	case o.LAN != "" && o.Store == "":
		return wrong("--lan needs a store, which knows who may come in: leave \"--store none\" out")
	case o.LAN == "" && (o.HTTPS != "" || len(o.Names) > 0 || o.AccessLog != ""):
		return wrong("--https, --lan-name and --access-log are for other machines: give --lan too")
	case o.HTTPS == "" && (o.HTTPSOnly || o.Certificates != ""):
		return wrong("--https-only and --certificates are for pages over TLS: give --https too")
	case o.Broker == "" && (len(o.Topics) > 0 || o.BrokerCA != ""):
		return wrong("--topic and --broker-ca are for another broker: give --broker, its address")
	}
	return nil
}

const (
	storeFile   = "underlamp.db" // of a folder
	keepNothing = "none"
)

func writeServing(w World, o ServeOptions, at Serving) {
	what := "The benches of " + o.Folder
	if o.Folder == "" {
		what = "The benches of the store"
	}
	fmt.Fprintf(w.Out, "%s are shown at %s\n", what, at.Pages)
	if at.Store != "" {
		if !strings.Contains(at.Store, "://") { // an address of a database may hold a password
			fmt.Fprintf(w.Out, "Kept in %s\n", at.Store)
		}
		fmt.Fprintf(w.Out, "Devices send what they read to %sintake\n", at.Pages)
	}
	if at.Intake != "" {
		fmt.Fprintf(w.Out, "and from elsewhere to %s\n", at.Intake)
	}
	if at.MQTT != "" {
		fmt.Fprintf(w.Out, "and over MQTT to %s, user and password being name and token of the device\n", at.MQTT)
	}
	if len(o.Topics) > 0 {
		fmt.Fprintf(w.Out, "Read from %s: %s\n", o.Broker, strings.Join(o.Topics, ", "))
	}
	if o.Tables != "" {
		fmt.Fprintf(w.Out, "Tables of loggers are taken from %s\n", o.Tables)
	}
	if o.LAN != "" {
		writeElsewhere(w, o, at)
	}
	fmt.Fprintln(w.Out, "Stop with Ctrl-C.")
}

// writeElsewhere says how other machines see the pages.
func writeElsewhere(w World, o ServeOptions, at Serving) {
	fmt.Fprintln(w.Out, "\nOther machines in this network see the pages, each let in by a code, at")
	for _, a := range append(slices.Clone(at.Elsewhere.Secure), at.Elsewhere.Plain...) {
		fmt.Fprintf(w.Out, "    %s\n", a)
	}
	switch {
	case at.Fingerprint == "":
		fmt.Fprintln(w.Out, `These pages are not encrypted: whoever listens in this network can read along, and take the
place of a browser that is in. --https adds encrypted pages.`)
	default:
		plain := at.Elsewhere.First()
		if o.HTTPSOnly {
			fmt.Fprintf(w.Out, "Over plain HTTP they are led to %ssecure and see nothing else.\n", plain)
		} else {
			fmt.Fprintf(w.Out, "%ssecure leads phones to the encrypted pages; the others can be read along.\n", plain)
		}
		pairs := at.Fingerprint
		fmt.Fprintf(w.Out, "Fingerprint (SHA-256) of the authority, to compare on the phone:\n    %s\n    %s\n", pairs[:len(pairs)/2], strings.TrimSpace(pairs[len(pairs)/2:]))
	}
	fmt.Fprintln(w.Out, "Never open these ports to the internet.")
	if at.Invite == nil {
		store := at.Store
		if strings.Contains(store, "://") { // it may hold a password
			store = "…"
		}
		fmt.Fprintf(w.Out, "A code for another person: underlamp people invite NAME --store %s\n\n", store)
		return
	}
	fmt.Fprintln(w.Out)
	to := at.Elsewhere
	if o.HTTPSOnly {
		to.Plain = nil
	}
	if err := writeInvite(w, w.Out, *at.Invite, to); err != nil {
		fmt.Fprintln(w.Err, "underlamp: "+err.Error())
	}
}
