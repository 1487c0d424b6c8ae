package stat

import (
	"errors"
	"fmt"
)

// A Refusal says that a figure cannot be had from these data, and why. Every
// procedure returns it as its error where the data, and not the caller, stand in
// the way.
type Refusal struct {
	What    string // a noun phrase: "a test between the groups"
	Because string // a clause: "there is one unit in each group"
}

// Error says it in one sentence.
func (r *Refusal) Error() string {
	return fmt.Sprintf("%s is not estimable, because %s", r.What, r.Because)
}

// Refuse returns a Refusal; because is formatted with its arguments.
func Refuse(what, because string, arguments ...any) *Refusal {
	return &Refusal{What: what, Because: fmt.Sprintf(because, arguments...)}
}

// Refused returns the refusal in an error, or nil if there is none.
func Refused(err error) *Refusal {
	var r *Refusal
	if errors.As(err, &r) {
		return r
	}
	return nil
}
