// Package verify checks an evidence bundle from its own contents, without taking
// the maker's word for what these show.
//
// # What is looked at, in this order
//
//	archive       the archive is in the one form of package bundle
//	signature     certificate.json is signed, in the one form of package attest, by
//	              the key asked for or, when none is, by the one that it carries
//	files         every file is a subject of the certificate with its hash, and
//	              every subject a file; nothing lies where no bundle has it
//	videos        those that lie beside the bundle have their hash
//	claim         the claim, the house's policy, the spec and the program fit one
//	              another
//
// then for each run, in the order of their names
//
//	record        run.json, its own hashes, spec, program, console and bench
//	reads         the read log: at every read the board served what the program says,
//	              from its first read to the end of the tail
//	clock         the frame clock made anew from reads.csv, syncs.csv and the stamps in
//	              frames.csv: the same clock, and the same frame for every picture
//	trace         the trace is sound and has a picture of those frames that
//	              frames.csv has one of, and of no other
//	pictures      those that the verdicts rest on are there, and each is the picture
//	              of its frame by its block means (package evidence)
//	verdicts      every checkpoint and the timing, judged anew
//	video         only when the video lies beside: the run judged wholly anew from
//	              it, and its trace made anew
//
// and then
//
//	lockstep      the runs compared anew by their traces and reads; what comes out
//	              is part of the decision
//	decision      decided anew from all this: decision.json, byte for byte
//	certificate   what the certificate states follows from the files
//	standing      only with a book: the entry is in it, and the standing that it had
//	replay        only when asked for: played on the verifier's own bench
//
// What depends on something that is broken is not looked at. A finding holds, is
// broken, could not be told, or was not looked at.
//
// # What rests on the video
//
// Without videos some things cannot be judged (package evidence says which): they
// are listed, and are the same that the certificate lists. That pictures are marked
// as repeats or damaged in frames.csv, and that no picture contradicts the clock,
// always rests on the video: a note says so. With the videos nothing is left.
//
// # Whose key
//
// Without a key the signature is checked with the key that the certificate carries.
// Everything may hold then, and nobody has said whose key it is: anybody can sign
// evidence that they made. Report.Signer is "unknown".
//
// # Hostile bundles
//
// Names and sizes are held against limits before memory is used: the archive's
// (bundle.DefaultLimits), those of every kind of file, the raster's for pictures,
// and the length of the run for its trace. Nothing that is not signed is parsed but
// the archive's heads and the certificate. Runs are unpacked into a folder of their
// own that is removed again.
//
// # Codes
//
//	0  everything that was looked at holds
//	1  something is broken
//	3  nothing is broken, but something could not be told: a file could not be read,
//	   the time was up, the verifier's own bench failed
//
// # Not for
//
// It does not say that the console was a real one, or that no person stood between
// it and the card: a maker who plays another film to the card can sign that, too.
// For this there is --replay.
package verify
