package cli

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"underlamp/access"
	"underlamp/store"
)

func newToken(w World) *cobra.Command {
	var address, may string
	var days int
	cmd := &cobra.Command{
		Use:   "token",
		Short: "With which tokens programs use the HTTP API: add, list, revoke",
		Long: `token keeps the tokens with which programs ask underlamp serve over its HTTP API
(/api/v1/, described at /api/v1/openapi.json). A token is shown once; the store keeps
only its hash. It may what its scopes say, and ends by itself: after a year if nobody
says otherwise. Who asks with one that was revoked is refused from then on.

On the machine that underlamp serve runs on no token is needed. Devices that send
readings have tokens of their own: underlamp device.

Scopes:
` + scopeLines(),
		Example: `  A script that reads, and begins computations, for 90 days:

  underlamp token add nightly-plan --may read,plan --days 90 --store readings.db
  underlamp token list --store readings.db
  underlamp token revoke nightly-plan --store readings.db

  It asks with the token in a header, so that no address and no log has it:

  curl -H "Authorization: Bearer $TOKEN" http://127.0.0.1:8080/api/v1/benches`,
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	storeFlag(cmd.PersistentFlags(), &address, "")
	open := openerOf(w, &address)
	add := &cobra.Command{Use: "add NAME", Short: "Make a token and show it, once", Args: arguments(1, 1, "the name of one token"), RunE: func(cmd *cobra.Command, args []string) error {
		scopes, err := access.ParseScopes(may)
		if err != nil {
			return wrongInvite(err)
		}
		return open(cmd, true, func(s store.Store) error {
			text, t, err := access.NewTokens(s, nil).Add(cmd.Context(), args[0], scopes, time.Duration(days)*24*time.Hour)
			if err != nil {
				return wrongInvite(err)
			}
			fmt.Fprintln(w.Out, text)
			fmt.Fprintf(w.Err, "This is the token of %s; it may %s, until %s. It is shown once: keep it where others cannot read it.\n", t.Name, scopeText(t.Scopes), t.Until.Local().Format(time.DateOnly))
			return nil
		})
	}}
	add.Flags().StringVar(&may, "may", string(access.ScopeRead), "scopes, parted by commas: read, plan, write, rounds, manage")
	add.Flags().IntVar(&days, "days", 365, "days that it lasts, at most three years of them")
	cmd.AddCommand(
		add,
		&cobra.Command{Use: "list", Short: "List the tokens", Args: noArguments, RunE: func(cmd *cobra.Command, _ []string) error {
			return open(cmd, false, func(s store.Store) error {
				all, err := access.NewTokens(s, nil).All(cmd.Context())
				if err != nil {
					return err
				}
				if len(all) == 0 {
					fmt.Fprintln(w.Out, "No program has a token. underlamp token add NAME makes one.")
					return nil
				}
				var rows [][]string
				for _, t := range all {
					used, until := "never", t.Until.Local().Format(time.DateOnly)
					if !t.Used.IsZero() {
						used = t.Used.Local().Format("2006-01-02 15:04")
					}
					if t.Revoked {
						until = "revoked"
					} else if t.Expired {
						until = "over"
					}
					rows = append(rows, []string{t.Name, scopeText(t.Scopes), t.Made.Local().Format(time.DateOnly), until, used, t.ID})
				}
				writeTable(w.Out, []column{{head: "token"}, {head: "may"}, {head: "since"}, {head: "until"}, {head: "last used"}, {head: "id"}}, rows)
				return nil
			})
		}},
		&cobra.Command{Use: "revoke NAME", Short: "End a token, by its name or id", Args: arguments(1, 1, "the name or id of one token"), RunE: func(cmd *cobra.Command, args []string) error {
			return open(cmd, false, func(s store.Store) error {
				t, err := access.NewTokens(s, nil).Revoke(cmd.Context(), args[0])
				if errors.Is(err, access.ErrNobody) {
					return &wrongError{err: fmt.Errorf("no token called %q may be used; underlamp token list shows them", args[0])}
				}
				if err != nil {
					return err
				}
				fmt.Fprintf(w.Out, "The token %s lets nobody in any more.\n", t.Name)
				return nil
			})
		}},
	)
	return cmd
}

func scopeText(scopes []access.Scope) string {
	var out []string
	for _, s := range scopes {
		out = append(out, string(s))
	}
	return strings.Join(out, ", ")
}

func scopeLines() string {
	var b strings.Builder
	for _, s := range access.Scopes {
		fmt.Fprintf(&b, "  %-8s %s\n", s, s.Says())
	}
	return strings.TrimSuffix(b.String(), "\n")
}
