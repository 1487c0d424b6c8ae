package cli

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"underlamp"
	"underlamp/formats/notifyfile"
	"underlamp/notify"
	"underlamp/store"
)

type notifyOptions struct {
	store string
	test  bool
}

func newNotify(w World) *cobra.Command {
	var o notifyOptions
	cmd := &cobra.Command{
		Use:   "notify [FILE]",
		Short: "Who is told of messages, and on which way: webhook, mail, MQTT",
		Long: `notify enters the file that says who is told of the messages of benches, and on which
way. Without a file it shows who is told now, and what did not arrive lately. With --test
each receiver is sent a word at once.

Secrets do not stand in the file: it names the variable of the environment, or the file,
in which the server finds them.`,
		Example: `  Messages go to the broker of the house; the file is typed here, and ends with Ctrl-D:

  underlamp device add rack-logger-2 --store live.db
  underlamp notify - --store live.db
      underlamp notify: 1
      receivers: [{name: house, mqtt: underlamp/messages}]

  Who is told:

  underlamp notify --store live.db`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			s, err := openStore(cmd, w, o.store, false)
			if err != nil {
				return err
			}
			defer s.Close()
			if len(args) == 1 {
				if err := enterReceivers(cmd.Context(), w, s, args[0]); err != nil {
					return err
				}
			}
			return runNotify(cmd.Context(), w, s, o, len(args) == 0)
		},
	}
	storeFlag(cmd.Flags(), &o.store, "")
	cmd.Flags().BoolVar(&o.test, "test", false, "send each receiver a word at once")
	return cmd
}

func enterReceivers(ctx context.Context, w World, s store.Store, name string) error {
	text, err := readInput(w, name)
	if err != nil {
		return err
	}
	got, problems, err := notifyfile.Read(bytes.NewReader(text))
	if err := shown(w, name, text, problems, err); err != nil {
		return err
	}
	if err := s.PutDocument(ctx, store.Document{Kind: notify.Kind, Name: notify.Name, Recorded: store.At(time.Now()), Text: text}); err != nil {
		return err
	}
	fmt.Fprintf(w.Out, "%s told from now on.\n", map[bool]string{true: "One receiver is", false: fmt.Sprint(len(got)) + " receivers are"}[len(got) == 1])
	return nil
}

func runNotify(ctx context.Context, w World, s store.Store, o notifyOptions, list bool) error {
	got, err := notify.FromStore(s, notifyfile.Parse)(ctx)
	if err != nil {
		return err
	}
	if o.test {
		return tryReceivers(ctx, w, got)
	}
	if !list {
		return nil
	}
	if len(got) == 0 {
		fmt.Fprintln(w.Out, "Nobody is told. underlamp notify FILE enters who is; docs/formats/notify.md says how the file looks.")
		return nil
	}
	var rows [][]string
	for _, r := range got {
		benches := strings.Join(r.Benches, ", ")
		if benches == "" {
			benches = "all"
		}
		what := "everything"
		if r.Urgent {
			what = "only what is urgent"
		}
		rows = append(rows, []string{r.Name, wayText(r), benches, what})
	}
	writeTable(w.Out, []column{{head: "receiver"}, {head: "way"}, {head: "benches"}, {head: "told"}}, rows)
	now := time.Now()
	messages, err := s.Messages(ctx, "", store.At(now.AddDate(0, 0, -2)), store.At(now))
	if err != nil {
		return err
	}
	var faults [][]string
	for _, m := range messages {
		ds, err := s.Deliveries(ctx, m.ID)
		if err != nil {
			return err
		}
		for _, d := range ds {
			if d.Fault != "" {
				faults = append(faults, []string{fmt.Sprint(m.ID), m.Bench, m.Rule, d.Event, d.Receiver, fmt.Sprint(d.Tries), d.Fault})
			}
		}
	}
	if len(faults) > 0 {
		fmt.Fprintln(w.Out)
		writeTable(w.Out, []column{{head: "no."}, {head: "bench"}, {head: "rule"}, {head: "event"}, {head: "receiver"}, {"tries", true}, {head: "not sent, because"}}, faults)
	}
	return nil
}

// wayText is the way to a receiver, without what may be secret in it.
func wayText(r underlamp.Receiver) string {
	switch {
	case r.Webhook != nil:
		text, _, _ := strings.Cut(r.Webhook.URL, "?")
		return "webhook " + text
	case r.Mail != nil:
		return "mail to " + strings.Join(r.Mail.To, ", ")
	}
	return "MQTT " + r.Topic
}

func tryReceivers(ctx context.Context, w World, all []underlamp.Receiver) error {
	if w.Tell == nil {
		return errors.New("this program has no way to receivers")
	}
	if len(all) == 0 {
		return &wrongError{err: errors.New("nobody is told; underlamp notify FILE enters who is")}
	}
	failed := 0
	for i := range all {
		now := store.At(time.Now())
		n := notify.Notice{Event: notify.EventTest, Message: store.Message{Bench: "underlamp", Rule: "test", Text: "This is a test of the way to " + all[i].Name + ".", Mend: "Nothing is to be done.", Since: now, Opened: now}}
		one, cancel := context.WithTimeout(ctx, 30*time.Second)
		err := w.Tell(one, &all[i], n)
		cancel()
		if err != nil {
			failed++
			fmt.Fprintf(w.Out, "%s: %v\n", all[i].Name, err)
			continue
		}
		fmt.Fprintf(w.Out, "%s: sent\n", all[i].Name)
	}
	if failed > 0 {
		return fmt.Errorf("%d of %d receivers were not reached", failed, len(all))
	}
	return nil
}
