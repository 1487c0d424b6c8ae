// Package parquetfile writes a table as an Apache Parquet file, for programs that analyse
// data.
//
// # Conventions
//
//   - One file a table; columns keep their names and types: UTF-8 text, double, 64-bit whole
//     number, boolean, day, instant in UTC to the millisecond. A missing cell is null; columns that
//     are never missing are required.
//   - Plain encoding in pages of the first kind, packed with gzip, in groups of 65 536 rows: the
//     part of the format that every reader knows. Rows are streamed, a group at a time.
//   - Units, descriptions and titles stand in the metadata by key: "title", "description", and
//     "unit.COLUMN", "description.COLUMN"; "datapackage.schema" has the schema of the package.
//   - There are no statistics of columns.
//
// # Why it is written here
//
// The part of the format that is needed is small; the general library cost 11.8 MiB of
// binary. Files are read back by two general readers in tools/datacheck.
//
// # Sources
//
//   - ParquetFormat: layout, Thrift definitions and the compact protocol.
package parquetfile
