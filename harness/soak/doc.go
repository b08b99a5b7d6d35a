// Package soak has the bookkeeping of a soak: one spec played again and again
// until a claim about it is proven or refuted (stats.Claim). The playing itself is
// in package harness.
//
// # What is counted
//
// The reference is the first repeat that can be compared. A trial of the claim is
// a further repeat that surely stays in lockstep with it (clean) or surely parts
// from it (parted). A repeat that was not played to its end, cannot be compared,
// was played by another board, or parts in a way that may be the frame clocks' or
// the capture card's doing is no trial: it is left out, with the reason. So is one
// that parts while its own frame clock or the reference's is assumed. A repeat that
// was on when the program was stopped (an interrupt, a kill, a power failure, a
// full disk) is told as stopped, and played again under the same number.
//
// The soak ends when the claim is proven or refuted, which may be looked at after
// every repeat; when as many repeats were played as there may be; when 20 in a row
// were left out; when the board, its link or the card's stream is gone, or the
// board is another; when the disk is full; or when it is interrupted. A checkpoint
// that fails does not end it. Checkpoints count in the reference and the trials.
//
// # The journal
//
// soak.jsonl in the session folder. Each line is
//
//	check sum, 8 lower-case hex digits; a space; one JSON object; LF
//
// The check sum is CRC-32C (Castagnoli, as in RFC 3720) of the check sum of the
// line before ("00000000" for the first) with the space after it, and of the
// object. So a line that was changed, removed, added or moved is found; it is no
// signature. The first line is Header, every other one Entry. Numbers of repeats
// rise by one; those of stopped repeats come again. Lines are at most 1 MiB.
//
// A line is on the disk (fsync) before the next repeat begins; the header is
// written beside and renamed, and the folder is synced. A last line that was not
// written whole is left out when the journal is read, told, and removed when the
// soak goes on: one without its line end, or with two zero bytes or more in a row,
// which a power failure can leave. The repeat that it was about is found in its
// folder and entered again. Damage anywhere else is an error that names the line.
//
// .soak.room keeps 32 KiB of the disk while the soak is on; they are given back
// when a line finds the disk full. One process at a time may write a journal
// (flock, where there is one).
//
// # What survives what
//
// Whenever the process ends, every repeat is in one of these states: in the
// journal; sealed in its folder and not in the journal (it is compared and entered
// when the soak goes on); begun (it is entered as stopped and played again); or
// not begun. A soak that was stopped and resumed any number of times has the same
// entries, but for the times and the stopped ones, as one that was not, as far as
// the bench gives the same repeats: what becomes of a repeat hangs on its own
// folder and those of the first of each family alone.
//
// A soak goes on only with the very same spec, program, templates and bench
// (Subject): otherwise it is refused, with what is another. The port and the bench
// file of a real bench may change; the board that answers may not.
//
// # What is kept
//
// By the policy lean:
//
//	of every repeat       run.json, spec.yaml, program.prog, reads.csv, syncs.csv,
//	                      frames.csv, verdicts.json and what else is small
//	capture.mkv           of the reference, of the first repeat of each family, and
//	                      of the first 20 troubled ones: a checkpoint failed or is
//	                      unseen, it was left out, or the run tells of a problem
//	trace.lpt             of those, and of the last 50 others
//	of stopped repeats    nothing but their line in the journal
//
// By the policy all everything stays; the folders of stopped repeats are set aside
// as stopped-NNN-K. With F families, R reads and P pictures in a repeat, V bytes
// of video and T of trace, N repeats take under lean at most
//
//	(F+20) (V+T) + 50 T + N (9 KiB + spec + program + 70 R + 40 P bytes)
//
// and the one that is on V+T more, where R counts latch pulses. (A row of reads.csv
// has at most 40 bytes up to 10^9 reads and a week, one of service.csv 30, one of
// frames.csv 40; run.json, syncs.csv and verdicts.json without checkpoints have
// some 9 KiB, each checkpoint adds about 0.5.) Measured on the simulated bench
// (640x480 and noise would take more video; this is 256x240, 3,600 frames, two
// latch pulses in each): V 65 MB, T 10 MB, and 0.38 MB of a clean repeat, so 3.8 MB
// for 36,000 frames and 38 GB for 10,000 such repeats.
//
// A file is dropped after its repeat is in the journal, by record.Drop: run.json
// names it with its hash and the policy, and whoever asks for it is told that it
// was dropped (record.ErrDropped). A drop that was killed is finished when the soak
// goes on.
//
// # Memory
//
// No run is held but the reads of each family's first. Each repeat adds its name,
// its lifetime and its place in a family, about 90 bytes and up to twice that while
// a list grows (BenchmarkMemory in package harness), whatever its length; a suspect
// or a warning of a comparison adds its own size. The first of each family holds
// its reads, some 50 bytes each.
//
// # Not for
//
// The package neither plays nor compares. A claim is about this spec, program and
// bench in the state they were in, and about repeats that are alike and
// independent of one another: a bench that warms up is not.
package soak
