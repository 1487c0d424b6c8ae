package cli

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"underlamp/store"
)

// openStore opens a store. A file that is not there is made only if make is true: a
// slip in its name must not make an empty one.
func openStore(cmd *cobra.Command, w World, address string, make bool) (store.Store, error) {
	if address == "" {
		return nil, &wrongError{err: fmt.Errorf("%s needs --store: the file or database that underlamp serve keeps", cmd.CommandPath())}
	}
	if !make && !strings.Contains(address, "://") {
		switch _, err := os.Stat(address); {
		case errors.Is(err, fs.ErrNotExist):
			return nil, wrongf("the store cannot be opened: there is no %s; underlamp serve FOLDER --store %s makes it", address, address)
		case err != nil:
			return nil, &wrongError{err: fmt.Errorf("the store cannot be opened: %w", err)}
		}
	}
	return w.OpenStore(cmd.Context(), address)
}

// opener calls work with the store that a command names, and closes it.
type opener func(cmd *cobra.Command, make bool, work func(s store.Store) error) error

// openerOf is an opener of the store at *address, which is known when the command runs.
func openerOf(w World, address *string) opener {
	return func(cmd *cobra.Command, make bool, work func(s store.Store) error) error {
		s, err := openStore(cmd, w, *address, make)
		if err != nil {
			return err
		}
		return errors.Join(work(s), s.Close())
	}
}

// arguments asks for so many arguments, none empty; what names them.
func arguments(least, most int, what string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		for _, a := range args {
			if a == "" {
				return &wrongError{err: fmt.Errorf("%s takes %s", cmd.CommandPath(), what)}
			}
		}
		if len(args) < least || len(args) > most {
			return &wrongError{err: fmt.Errorf("%s takes %s", cmd.CommandPath(), what)}
		}
		return nil
	}
}
