package store

import "context"

// A Measure is what a method read in a photo.
type Measure struct {
	Photo    string // id
	Method   string // with its version: "plantphoto 1"
	Recorded int64  // when it was read
	Doc      []byte // figures, as JSON

	Pictures []NamedPicture // made beside; not filled by [Measures.Measures]
}

// A NamedPicture is a picture that was made of a photo.
type NamedPicture struct {
	Name string // "overlay", or of what
	Data []byte // JPEG
}

// A Verdict is what a person says of something that a method found in a photo.
type Verdict struct {
	ID       string // given by who says it, so that sending twice enters once
	Photo    string
	Recorded int64
	By       string
	Doc      []byte // JSON
}

// Measures keep what was read in photos. They are only ever added: figures of a method
// stay when a later one reads the photo anew.
type Measures interface {
	// PutMeasure enters what a method read, with the pictures made beside. If there is
	// one of its photo and method already nothing changes.
	PutMeasure(ctx context.Context, m Measure) error
	// Measures are those of the photos of a bench by all methods, by photo in the order of
	// the taking, of one photo in the order of recording.
	Measures(ctx context.Context, bench string) ([]Measure, error)
	// MeasurePicture finds a picture that was made beside a measure.
	MeasurePicture(ctx context.Context, photo, method, name string) ([]byte, error)
	// PutVerdict enters what a person says. One whose id is known is taken as sent again
	// if it says the same; if it does not, the call fails with [ErrDiffers].
	PutVerdict(ctx context.Context, v Verdict) error
	// Verdicts are those on the photos of a bench in the order of recording; of all
	// benches if the name is empty.
	Verdicts(ctx context.Context, bench string) ([]Verdict, error)
}
