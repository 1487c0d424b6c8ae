package access

import (
	"context"
	"encoding/json"
	"time"

	"underlamp/store"
)

// Addresses are where other machines reach a server; each ends with a slash, the best is
// first.
type Addresses struct {
	Plain  []string `json:"plain,omitempty"`
	Secure []string `json:"secure,omitempty"`
}

// First is the address at which a code is used: the plain one, since a phone that is new
// trusts no authority yet.
func (a Addresses) First() string {
	for _, all := range [][]string{a.Plain, a.Secure} {
		if len(all) > 0 {
			return all[0]
		}
	}
	return ""
}

const addressKind = "addresses in the network"

// PutAddresses notes where the server on a machine is reached, so that other commands can
// say it.
func PutAddresses(ctx context.Context, docs store.Documents, machine string, a Addresses, now time.Time) error {
	text, err := json.Marshal(a)
	if err != nil {
		return err
	}
	return docs.PutDocument(ctx, store.Document{Kind: addressKind, Name: machine, Recorded: store.At(now), Text: text})
}

// ReadAddresses are those of the server that began last; none if there was none.
func ReadAddresses(ctx context.Context, docs store.Documents) (Addresses, error) {
	var out Addresses
	all, err := docs.Documents(ctx, addressKind)
	if err != nil {
		return out, err
	}
	var newest *store.Document
	for i := range all {
		if newest == nil || all[i].Recorded > newest.Recorded {
			newest = &all[i]
		}
	}
	if newest == nil {
		return out, nil
	}
	err = json.Unmarshal(newest.Text, &out)
	return out, err
}
