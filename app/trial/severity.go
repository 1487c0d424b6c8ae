package trial

// A Grades is a stub replaced below.
type Grades struct{}

func (f *Findings) severity() {}
