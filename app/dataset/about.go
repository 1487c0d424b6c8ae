package dataset

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"

	"underlamp/app/trialbook"
	"underlamp/formats/aboutfile"
	"underlamp/formats/handwritten"
)

// MostAbout is the size of the largest about.yaml that is written here, in bytes.
const MostAbout = 256 << 10

// AboutText is about.yaml of a folder as it is; nil if there is none.
func AboutText(folder fs.FS) ([]byte, error) {
	f, err := folder.Open(aboutfile.Name)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	} else if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, 1<<20))
}

// AboutOf is what is said of the data of a folder; nil if nothing is. A text with mistakes gives an
// [*AboutError].
func AboutOf(folder fs.FS) (*aboutfile.About, error) {
	text, err := AboutText(folder)
	if err != nil || text == nil {
		return nil, err
	}
	return readAbout(text)
}

func readAbout(text []byte) (*aboutfile.About, error) {
	about, problems, err := aboutfile.Read(bytes.NewReader(text))
	if err == nil && about == nil {
		err = &AboutError{text, problems}
	}
	return about, err
}

// An AboutError is an about.yaml with mistakes.
type AboutError struct {
	Text     []byte
	Problems handwritten.Problems
}

// Error says what is wrong, with line and column.
func (e *AboutError) Error() string {
	return fmt.Sprintf("%s has mistakes: %v", aboutfile.Name, e.Problems)
}

// Unwrap are the mistakes by themselves.
func (e *AboutError) Unwrap() error { return e.Problems }

// An AboutChangedError says that about.yaml is not as it was read.
type AboutChangedError struct{ Text []byte } // as it is now; nil: it is gone

// Error says so to a person.
func (e *AboutChangedError) Error() string {
	return aboutfile.Name + " has been changed by somebody else since it was read"
}

// AboutStamp tells one text of about.yaml from another; nil has one too.
func AboutStamp(text []byte) string {
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:8])
}

// SaveAbout writes about.yaml in place of the text that was changed (nil: there was none). A text
// with mistakes gives an [*AboutError], another text meanwhile an [*AboutChangedError]; then nothing
// is written.
func SaveAbout(place trialbook.Place, text, base []byte) error {
	if len(text) > MostAbout {
		return fmt.Errorf("%s has at most %d kB", aboutfile.Name, MostAbout>>10)
	}
	if _, err := readAbout(text); err != nil {
		return err
	}
	return place.Change(aboutfile.Name, func(was []byte) ([]byte, error) {
		if !bytes.Equal(was, base) {
			return nil, &AboutChangedError{bytes.Clone(was)}
		}
		return text, nil
	})
}
