package plantlabel

import "testing"

// FuzzParsePayload: what is taken as a label's text is what that label would have written.
func FuzzParsePayload(f *testing.F) {
	for _, l := range Layouts() {
		f.Add(l.Payload("7K3Q"))
		f.Add(l.Payload("0123456789AB"))
	}
	f.Add("HTTPS://EXAMPLE.ORG")
	f.Add("US")
	f.Fuzz(func(t *testing.T, text string) {
		l, c, err := ParsePayload(text)
		if err != nil {
			return
		}
		if back, err := ParseCode(string(c)); err != nil || back != c || l.Payload(c) != text {
			t.Errorf("%q was taken as %q on %c", text, c, l.Letter)
		}
	})
}
