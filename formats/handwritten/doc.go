// Package handwritten reads YAML that people write by hand. It answers: what
// stands under which key, as an amount, a word, a day or a list; and where and
// why is something else than what belongs there? Bench files, cycle files and
// profiles are read with it.
//
// # Conventions
//
//   - One run reports everything: each problem has its line, its column, what
//     was expected and the nearest right word. Only a text that is no YAML ends
//     at its first mistake. Of a list that is too long the rest is not read.
//   - Lines and columns count from 1; columns count characters, not bytes.
//   - A key with nothing after it counts as not written.
//   - A [Grammar] lists the keys of every part; a key that it does not have is
//     an error, because a misspelt key would else be silently left out.
//
// # What is left out, and why
//
// Of YAML, anchors, aliases, merge keys, tags, directives and a second document
// are refused: they let a small file grow without bound.
//
// # Limits
//
// 1 MiB, 10 000 lines, 100 000 YAML tokens, 16 levels. They bound time and
// memory.
//
// # Sources
//
//   - YAML2021: YAML Ain't Markup Language, version 1.2.2 (2021). The reader is
//     the library goccy/go-yaml.
package handwritten
