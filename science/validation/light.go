package validation

// Light checks the field of light.
func Light() []Check { return nil }
