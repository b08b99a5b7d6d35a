// Package bundle packs files into one archive that has only one form, and reads
// it back without trusting it.
//
// # The archive
//
// A bundle is an uncompressed ustar archive (POSIX.1-1988, IEEE Std 1003.1,
// "pax", ustar interchange format) of regular files alone, so any tar reads it:
//
//   - one entry per file, in the order of the bytes of their names; no entries for
//     folders;
//   - mode 0644, owner and group 0 without names, time 0, no device, no link;
//   - numbers in octal digits with leading zeros and a final NUL; the check sum as
//     six digits, NUL and a space;
//   - a name of up to 100 bytes stands in the name field; a longer one is divided
//     at the last slash of its first 156 bytes, what is before it going into the
//     prefix field. A name that cannot be divided so is refused;
//   - contents padded with zeros to 512 bytes;
//   - two blocks of 512 zeros at the end, and nothing after them.
//
// The same files therefore give the same bytes, whatever the order in which they
// are given, the clock, the user and the file system.
//
// # Names
//
// A name is a relative path with slashes, of printable ASCII without \ : * ? " < > |,
// of at most 256 bytes. No part of it is empty, "." or "..", begins or ends with a
// space, or ends with a dot. No name is that of a folder of another, and no two
// names, or a name and a folder, differ in letter case alone: a bundle must be
// unpackable on every common file system.
//
// # Reading
//
// Read goes through all headers once and holds only names and places in memory, and
// no contents. Limits on the number of files and their sizes are held before memory
// is used. Every byte that is not contents is held against what Write would have
// written there, so a bundle that was read is, packed again, the same bytes. What
// the contents should be is said by the certificate (harness/attest), not here.
//
// # Not for
//
// Archives from elsewhere, links, folders without files, permissions, sparse files.
package bundle
