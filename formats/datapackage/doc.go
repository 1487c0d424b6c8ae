// Package datapackage answers: how do tables leave as an open package that other programs
// read, and what is in such a package?
//
// A package is a folder, or a zip file of one, with datapackage.json, which says what each
// table and file is, and CSV tables beside it. [Write] makes one of a [Package], [Read] makes
// a Package of one, whoever wrote it. [WriteJSON] writes the same in one JSON file, the tables
// inside the descriptor.
//
// # Conventions
//
//   - The profile is "data-package" of version 1 of the standard, with "tabular-data-resource"
//     for tables: the validators that the registries offer know it, "tabular-data-package"
//     allows no file that is no table, and version 2 reads version 1. A field has its unit under
//     "unit", a property that the standard leaves free.
//   - Hashes are sha256 of the bytes of each resource. The bytes of a package are a function of
//     what is in it: the same content gives the same file.
//   - A table is read row by row. Faults name file, line and column.
//
// # What is refused
//
// Paths that leave the package, addresses of the network (nothing is fetched), zip files that
// unpack to more than [Limits] allow, several files for one table, columns of types that do
// not fit a cell (geopoint, object, array are read as text).
//
// # Sources
//
//   - DataPackageV1: Data Package, Data Resource, Tabular Data Resource and Table Schema, version 1.
//   - CFF12: Citation File Format 1.2.0.
package datapackage
