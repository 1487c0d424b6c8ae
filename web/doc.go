// Package web shows the benches of a folder as pages: a list of them, and for
// each its light, outlook and best setting, with controls for height, dimming
// and hours that redraw at once. The sections are those of package report.
//
// # Conventions
//
//   - Every page works without script: the controls are a form. The script only
//     asks for the same sections again and puts them in place.
//   - The rounds alone need a script: what is typed there is in the phone's own database
//     before a button lets go. The page of what was seen enters by form.
//   - A strict content-security policy: scripts, styles and requests from this
//     server alone, nothing inline.
//   - A request must name the host that the server listens on, so that a foreign
//     page cannot reach it under another name.
//   - Each address says who it is for ([Site.Routes]); everybody else is refused, in one
//     place. On this machine whoever asks is the owner; package web/door tells who asks
//     from elsewhere.
//   - Benches are read anew when their file changes; a file with mistakes shows
//     them with line and column in place of the bench.
package web
