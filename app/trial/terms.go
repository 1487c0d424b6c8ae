package trial

// Terms are what light costs and heads bring.
type Terms struct{}
