// Package photofile looks at pictures that phones send before anything decodes them, reads
// when and how they were taken, makes them upright and sRGB, takes out of them what tells
// where and with what they were taken, and makes small ones.
//
// # Conventions
//
//   - JPEG, PNG and WebP. HEIC is recognised and refused with what to do: the only readers
//     for it in reach carry a library under the LGPL and patents of video coding, and need
//     half a gigabyte for one photo. A phone hands JPEG to a page that asks for it.
//   - Size in pixels is read from the head of the file; a picture beyond [MaxPixels], or of
//     so many pixels that its few bytes cannot be a photo, is refused before it is decoded.
//   - The original is the caller's to keep, byte by byte. [Plain] is for showing and
//     handing on: the same picture data without EXIF, comments, embedded further pictures
//     and what follows the end of the picture. How it is turned and its colour profile stay.
//   - [Decode] turns the picture by its EXIF and converts colours of a profile of three
//     curves and a matrix (Display P3 of phones) to sRGB, relative colorimetric; what lies
//     outside is cut off. Profiles of other kinds are told in the notes.
//   - When a picture was taken is DateTimeOriginal with OffsetTimeOriginal. Many cameras do
//     not write the latter: the zone is then the caller's to say.
//
// # Sources
//
//   - ITUT81: ITU-T T.81 (1992), Digital compression and coding of continuous-tone still
//     images, annex B: markers and segments.
//   - W3CPNG: W3C (2003), Portable Network Graphics Specification, second edition, chapter
//     5: chunks.
//   - RFC9649: RFC 9649 (2024), WebP Image Format, section 2: chunks.
//   - CIPA2012: CIPA DC-008 (2012), Exchangeable image file format, version 2.3, section 4.6:
//     tags.
//   - ICC2010: ICC.1:2010, Image technology colour management, annex F.3: profiles of three
//     components and a matrix.
package photofile
