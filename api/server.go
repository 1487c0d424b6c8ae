package api

import (
	"reflect"

	"underlamp/access"
	"underlamp/wire"
)

func typeFor[T any]() reflect.Type { return reflect.TypeFor[T]() }

func (a *API) serverOps() []Operation {
	return []Operation{
		op(Operation{ID: "getServer", Method: "GET", Path: "/", Tag: "Server", Summary: "Who answers, and what whoever asks may do"},
			func(c *Call, _ None, _ None) (wire.Server, error) {
				out := wire.Server{Program: "underlamp", Version: a.o.Version, API: DocVersion, Keeps: a.o.Keep != nil, Writes: a.o.Desk != nil, Scopes: []string{}}
				var has []access.Scope
				switch {
				case c.Token != nil:
					out.Who, has = c.Token.Name, c.Token.Scopes
				case c.Who.Here:
					out.Who, has = "this machine", access.Scopes
				case c.Who.Role != "":
					out.Who, has = c.Who.Person, sessionScopes(c.Who.Role)
				}
				for _, s := range has {
					out.Scopes = append(out.Scopes, string(s))
				}
				return out, nil
			}),
		op(Operation{ID: "getDescription", Method: "GET", Path: "/openapi.json", Tag: "Server", Summary: "This description, in OpenAPI 3.1", Gives: []string{"application/json", "application/vnd.oai.openapi+json"}},
			func(*Call, None, None) (Raw, error) {
				return Raw{Type: "application/json", Body: a.Document()}, nil
			}),
	}
}
