// Package sqlcommon is the store over database/sql: the SQL that both engines
// share. What differs stands in a [Dialect], which packages sqlite and postgres give.
//
// # Readings
//
// What arrives is added as it came, a batch a row, so that keeping it costs one write
// whatever the number of sensors. Folding packs batches into blocks, one for each sensor
// and hour, and sums every block up anew. Both happen in one transaction with the removal
// of the batches, so a reading is in a batch or in a block and never in both. Who reads
// takes blocks and batches together, in one snapshot.
//
// Sums lie apart from blocks (tables hour_sum and raw): a chart of a year reads narrow
// rows, and readings are forgotten by deleting blocks. On PostgreSQL the blocks are in parts
// of [PartWidth], which are dropped when nothing is left in them.
package sqlcommon
