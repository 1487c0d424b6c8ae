package live

import (
	"reflect"

	"underlamp"
)

// SameBench says that two benches are the same for an engine.
func SameBench(a, b *underlamp.Bench) bool { return equal(reflect.ValueOf(a), reflect.ValueOf(b)) }
