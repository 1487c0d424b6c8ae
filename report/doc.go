// Package report turns answers of the app into HTML: sections with their
// pictures, the table behind each, and the working of every headline figure;
// and from these one self-contained file. The web pages show the same sections,
// so that screen and paper cannot part.
//
// # Conventions
//
//   - A section is a struct handed to one template; no template computes.
//   - The HTML holds no script and no style attribute, and asks for nothing from
//     anywhere.
//   - Cautions stand once in every report.
package report
