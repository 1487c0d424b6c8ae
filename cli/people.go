package cli

import (
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"underlamp/access"
	"underlamp/draw/qr"
	"underlamp/store"
)

func newPeople(w World) *cobra.Command {
	var address, role string
	cmd := &cobra.Command{
		Use:   "people",
		Short: "Who may see the pages from other machines: invite, list, end, remove",
		Long: `people keeps the list of those who may see the pages of underlamp serve --lan from other
machines of the network. invite makes a code that lets one browser in, once, within ten
minutes: as an owner (may all), a helper (rounds only) or a viewer (reads). In a terminal
it is shown as a QR code too. end signs one browser out, by its id in the list; remove ends
all sessions and codes of a person. Who asks with them is refused from then on.

Who sits at the machine that underlamp serve runs on needs no code, and is the owner.`,
		Example: `  A viewer comes in with a phone, and is taken out again:

  underlamp people invite Ida --role viewer --store readings.db
  underlamp people list --store readings.db
  underlamp people remove Ida --store readings.db`,
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	storeFlag(cmd.PersistentFlags(), &address, "")
	open := openerOf(w, &address)
	name := arguments(1, 1, "the name of one person")
	invite := &cobra.Command{Use: "invite NAME", Short: "Make a code that lets one browser in, once", Args: name, RunE: func(cmd *cobra.Command, args []string) error {
		return open(cmd, true, func(s store.Store) error {
			to, err := access.ReadAddresses(cmd.Context(), s)
			if err != nil {
				return err
			}
			i, err := access.New(s, nil).Invite(cmd.Context(), args[0], access.Role(role))
			if err != nil {
				return wrongInvite(err)
			}
			return writeInvite(w, w.Out, i, to)
		})
	}}
	invite.Flags().StringVar(&role, "role", string(access.Viewer), "what they may do: owner, helper or viewer")
	cmd.AddCommand(
		invite,
		&cobra.Command{Use: "list", Short: "Who is in, and which codes can still be used", Args: noArguments, RunE: func(cmd *cobra.Command, _ []string) error {
			return open(cmd, false, func(s store.Store) error {
				sessions, codes, err := access.New(s, nil).Sessions(cmd.Context())
				if err != nil {
					return err
				}
				if len(sessions)+len(codes) == 0 {
					fmt.Fprintln(w.Out, "Nobody is in from another machine. underlamp people invite NAME makes a code.")
					return nil
				}
				var rows [][]string
				for _, x := range sessions {
					rows = append(rows, []string{x.Person, string(x.Role), x.Device, x.Made.Local().Format(time.DateOnly), x.Seen.Local().Format("2006-01-02 15:04"), x.ID})
				}
				for _, x := range codes {
					rows = append(rows, []string{x.Person, string(x.Role), "(a code, until " + x.Until.Local().Format("15:04") + ")", "", "", ""})
				}
				writeTable(w.Out, []column{{head: "person"}, {head: "may"}, {head: "device"}, {head: "since"}, {head: "last here"}, {head: "id"}}, rows)
				return nil
			})
		}},
		&cobra.Command{Use: "end ID", Example: "  underlamp people end 4KTB7 --store readings.db", Short: "Sign one browser out", Args: arguments(1, 1, "the id of a session, as people list shows it"), RunE: func(cmd *cobra.Command, args []string) error {
			return open(cmd, false, func(s store.Store) error {
				err := access.New(s, nil).End(cmd.Context(), args[0])
				if errors.Is(err, access.ErrNobody) {
					return &wrongError{err: fmt.Errorf("no session has the id %q; underlamp people list shows them", args[0])}
				}
				if err != nil {
					return err
				}
				fmt.Fprintln(w.Out, "The browser is signed out.")
				return nil
			})
		}},
		&cobra.Command{Use: "remove NAME", Short: "End all sessions and codes of a person", Args: name, RunE: func(cmd *cobra.Command, args []string) error {
			return open(cmd, false, func(s store.Store) error {
				n, err := access.New(s, nil).Remove(cmd.Context(), args[0])
				if errors.Is(err, access.ErrNobody) {
					return &wrongError{err: fmt.Errorf("nobody called %q is in, and no code for them can be used; underlamp people list shows who is", args[0])}
				}
				if err != nil {
					return err
				}
				fmt.Fprintf(w.Out, "%s is out; sessions and codes that ended: %d.\n", strings.TrimSpace(args[0]), n)
				return nil
			})
		}},
	)
	return cmd
}

func wrongInvite(err error) error {
	var bad *access.Wrong
	if errors.As(err, &bad) {
		return &wrongError{err: err}
	}
	return err
}

// writeInvite shows a code: for people, and in a terminal as a QR code with the address. The
// code stands in the part of the address that browsers send to nobody.
func writeInvite(w World, out io.Writer, i access.Invite, to access.Addresses) error {
	fmt.Fprintf(out, "%s comes in as %s (%s) with this code, once, until %s:\n\n    %s\n\n", i.Person, i.Role, i.Role.Says(), i.Until.Local().Format("15:04"), i.Code)
	first := to.First()
	if first == "" {
		fmt.Fprintln(out, "No server of this store answers other machines yet: underlamp serve --lan does.")
		return nil
	}
	fmt.Fprintf(out, "Open %spair on the phone and type it", first)
	if !w.Terminal {
		fmt.Fprintln(out, ".")
		return nil
	}
	picture, err := qr.Terminal(first+"pair#"+i.Code, w.colour())
	if err != nil {
		return err
	}
	fmt.Fprintf(out, ", or scan:\n\n%s\n", picture)
	return nil
}
