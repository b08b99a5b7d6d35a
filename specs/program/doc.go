// Package program reads, writes and expands button programs: which buttons are
// held for how many controller reads. A program is open loop; it has no
// conditions.
//
// # Notation, version 1
//
// UTF-8 text, one statement a line. Lines end in LF or CR LF; a byte order mark
// at the start is passed over. Words are separated by spaces and tabs; "#"
// starts a comment that lasts to the end of the line. Other control characters
// are errors everywhere.
//
//	program 1                first line: the version of the notation
//	rest 60                  nothing pressed for 60 reads
//	hold right for 20        a button held for 20 reads
//	hold right+b for 45      several together; spaces around "+" are allowed
//	hold right + p2:a for 8  "p2:" puts the one button after it on the second
//	                         port; "p1:" the first, which is the default. So
//	                         "p2:a+b" is a on port 2 and b on port 1
//	tap start                hold for 1; "+" and ports as in hold
//	mark jump                names the read that follows
//	repeat 3                 the statements up to its "end", 3 times over;
//	  tap start              repeats may be nested
//	  rest 10
//	end
//
// Counts are decimal whole numbers of reads from 1; they take no sign, point
// or separator. Button names are those of the console profile, exactly as
// written there. A button may stand in a hold once for each port. Opposite
// directions may be held together.
//
// A mark name starts with a letter and goes on with letters, digits and "_";
// words of that form may be joined by "-". At most 64 characters. A name never
// holds "-" or "+" before a digit, so "jump-2" always means the mark jump and
// an offset. A mark names exactly one read: it is refused inside a repeat,
// and the same name may not be given twice. A mark after the last statement
// names the read just after the program's end.
//
// A program has at least one read, and so has the body of every repeat.
//
// # Problems
//
// All problems of a source are reported at once as an ErrorList, one line
// each, in the order of their places:
//
//	file:line:col: problem
//
// Lines and columns count from 1; columns count characters (Unicode code
// points, a tab is one). Data that are not text (a NUL byte, or no header and
// bytes that are not UTF-8) are one problem. After 1000 problems the rest are
// only counted.
//
// # Limits
//
// Length and nesting are checked by arithmetic while reading, with products
// that stop at the largest 64-bit number, before anything is expanded. A
// program is kept as it was written: its size in memory follows the source and
// not the number of reads. The default limits are 864,000 reads (4 hours of 60
// reads a second) and 16 nested repeats.
//
// # Canonical text
//
// Format keeps the statements as they are structured, comments and marks. It
// normalises: two spaces of indent for each repeat, one space between words,
// no space around "+", buttons in the order of console.Profile.StateNames with
// port 1 before port 2, counts without leading zeros, "p1:" left out, two
// spaces before a comment that follows a statement, at most one blank line in a
// row and none at the end, LF, no byte order mark. Formatting twice changes
// nothing, and the hash stays.
//
// # Hash
//
// The program hash is SHA-256 over the line "latchproof button stream 1\n"
// followed by four bytes for every read: the state of port 1 and then of
// port 2, each 16 bits, little endian, bit i pressed for button i of the shift
// order. Two texts with the same effect have the same hash, whatever their
// structure, comments, marks or button names. The number of reads counts: a
// longer rest at the end is another program.
//
// # CSV
//
// The CSV form (RFC 4180) has the header from,to,buttons and one row for each
// stretch of reads in ascending order: the first read and the last read of it,
// both counted from 0 and both inclusive, and the buttons as in hold, or
// nothing. Reads between rows are rest. A row without buttons is how rest at
// the end is kept. Quoted fields are read; a quoted field that runs over
// several lines is read too. Spaces around a number are part of it and so an
// error (RFC 4180, section 2, rule 4). Export writes CR LF, one row for each
// stretch with a button pressed and, when the program ends in rest, a last row
// without buttons. CSV keeps the effect, and with it the hash; it does not keep
// structure, comments or marks.
//
// # Parts
//
// Program.Parts takes a program apart into its statements and Program.With puts
// statements together, so that a program can be changed and still be read as it
// was written: what stays keeps its comments, its marks and the lines of its
// source (LineAt). Cut, Joined and Part.Unrolled change only how the same presses,
// or the first of them, are written.
//
// # What it is not for
//
// Reads are not frames: on a lag frame the program does not advance. Which
// frame a read fell on is known only after a run.
package program
