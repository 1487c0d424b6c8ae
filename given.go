package underlamp

// Origin tells where a value came from.
type Origin int

// The origins, from the weakest to the strongest.
const (
	Default  Origin = iota // nobody said it; the program assumed it
	Label                  // printed on the box or by the maker
	Stated                 // written by the person, without saying how they know
	Measured               // read from an instrument
	Fitted                 // estimated from readings, with its uncertainty
	Computed               // worked out from other values
)

// String names the origin as a person reads it.
func (o Origin) String() string {
	switch o {
	case Default:
		return "default"
	case Label:
		return "label"
	case Stated:
		return "stated"
	case Measured:
		return "measured"
	case Fitted:
		return "fitted to readings"
	case Computed:
		return "computed"
	}
	return "unknown"
}

// A Given is a value with its origin.
type Given[T any] struct {
	Value  T
	Origin Origin
	Note   string // why this default, or what it rests on; may be empty
}

// Said wraps a value that the person stated.
func Said[T any](v T) Given[T] { return Given[T]{Value: v, Origin: Stated} }

// Assumed wraps a default with the reason for it.
func Assumed[T any](v T, why string) Given[T] {
	return Given[T]{Value: v, Origin: Default, Note: why}
}

// IsDefault says that nobody gave the value.
func (g Given[T]) IsDefault() bool { return g.Origin == Default }
