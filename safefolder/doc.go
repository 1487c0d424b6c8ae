// Package safefolder changes files of a folder of this machine so that nothing is lost: a
// file is written whole or not at all, is on the disk before that is said, and takes the
// place of the very bytes that were read, never of what somebody wrote meanwhile.
//
// # Conventions
//
//   - Programs of ours exclude each other by a lock on the folder, where the system has
//     one. Against editors the bytes are compared at the last moment.
//   - Nothing outside of the folder is reached; links are not written through.
//   - What is half written has a name that begins with a dot and ends in .part.
package safefolder
