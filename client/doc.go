// Package client asks a server of underlamp from Go, over its HTTP API.
//
//	c, err := client.New("http://127.0.0.1:8080", client.Options{Token: os.Getenv("UNDERLAMP_TOKEN")})
//	for card, err := range c.ListBenches(ctx, nil) { … }
//	light, err := c.GetLight(ctx, "tier-1-top", &client.GetLightParams{Hours: new(14.0)})
//
// There is a method for every operation of the API; they are generated from its table, and answer
// in the types of package wire. Lists come as iterators that ask for one piece after the other.
// What is refused is a [*Problem]. Requests that can be sent again without harm are, when the
// server is busy or the network fails: those that read, that replace, and those that create, which
// carry an Idempotency-Key of their own. Options of a call send ETags, wait for long work, and
// hand out the headers of the answer.
package client
