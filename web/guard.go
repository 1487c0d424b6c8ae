package web

import (
	"net"
	"net/http"
	"slices"
	"strings"
)

// policy allows this server and nothing else.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// permissions leaves the pages the camera, for labels of plants, and keeps the screen on.
const permissions = "camera=(self), screen-wake-lock=(self), geolocation=(), microphone=(), payment=(), usb=(), serial=(), bluetooth=(), midi=()"

// guard puts the rules around every answer: no sniffing, no framing, no referrer, and a
// request from another site is refused.
//
// Strict-Transport-Security is not among them: it would hold for all ports of this machine,
// and shut out phones that do not trust its authority.
func (s *Site) guard(next http.Handler) http.Handler {
	cross := http.NewCrossOriginProtection()
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Permissions-Policy", permissions)
		cross.Handler(next).ServeHTTP(w, r)
	})
}

// OnHosts answers under these host names alone, without port: a page elsewhere must not
// read what is here through a name of its own that it has made to point here.
func OnHosts(hosts []string, next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		host := r.Host
		if name, _, err := net.SplitHostPort(host); err == nil {
			host = name
		}
		if !slices.Contains(hosts, strings.Trim(host, "[]")) {
			http.Error(w, "This server answers under the address that it printed at its start.", http.StatusMisdirectedRequest)
			return
		}
		next.ServeHTTP(w, r)
	})
}
