package dataset

import (
	"bytes"
	"encoding/json"

	"underlamp/app/aswire"
	"underlamp/app/trial"
)

// Told takes findings into what is packed.
func (a *Ask) Told(f *trial.Findings) error {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(aswire.TrialFindings(f)); err != nil {
		return err
	}
	a.tells, a.tellsJSON = f, b.Bytes()
	return nil
}
