// Package photofile looks at pictures that phones send before anything decodes them, takes
// out of them what tells where and with what they were taken, and makes small ones.
//
// # Conventions
//
//   - JPEG and PNG. A phone that takes HEIC hands JPEG to a page that asks for it.
//   - Size in pixels is read from the head of the file; a picture beyond [MaxPixels] is
//     refused before it is decoded.
//   - The original is the caller's to keep, byte by byte. [Plain] is for showing and
//     handing on: the same picture data without EXIF, comments, embedded further pictures
//     and what follows the end of the picture. How it is turned and its colour profile stay.
//
// # Sources
//
//   - ITUT81: ITU-T T.81 (1992), Digital compression and coding of continuous-tone still
//     images, annex B: markers and segments.
//   - W3CPNG: W3C (2003), Portable Network Graphics Specification, second edition, chapter
//     5: chunks.
//   - CIPA2012: CIPA DC-008 (2012), Exchangeable image file format, version 2.3, section 4.6:
//     tag 274, orientation.
package photofile
