// Package baseline keeps runs as the reference that a changed bench is held
// against, and says whether the changed bench, the candidate, does worse.
//
// # The folder
//
//	baseline.json         what was accepted; below
//	specs/SPEC/...        a spec and every file that it names (specs.Spec.Files)
//	runs/SPEC/run-001/... sealed runs (package record); the first is the reference
//
// Files of runs are further names (hard links) of those that they were taken
// from, or copies where the file system cannot do that: what is changed in one
// place is changed in both, and noticed. Only the reference keeps
// its video, unless all are asked for: it is dropped from the others as
// record.Drop does it.
//
// baseline.json is UTF-8 JSON, one object:
//
//	format    1, the version of this layout
//	self      SHA-256, lower-case hex, of baseline.json itself with these 64 digits
//	          replaced by zeros. It finds damage; it is not a signature
//	accepted  RFC 3339 time
//	versions  versions of the programs that took part, by name
//	bench     what the runs say of their bench, kept as it is
//	board     what the feeder board said of itself, as in run.json
//	anyway    sentences about checkpoints that failed or are unseen in runs that
//	          were accepted all the same
//	specs     [{name, folder, file, sha256, program_hash, files, runs}]: the spec's
//	          name, its folder below specs/ and runs/, the spec file in it and its
//	          hash, the program hash, {path: {sha256, bytes}} of all files with the
//	          spec file among them, and [{folder, run: {sha256, bytes}}], the hash
//	          being that of run.json, which holds those of the run's other files
//
// It is written to a folder beside its place, synced and renamed; one that is
// replaced is exchanged for the new one at once where the file system can. What
// no baseline holds (links, devices, files that nothing speaks of, names that
// lead out of it, files larger than a run has them) is damage, and is refused
// before it is read.
//
// # What is compared
//
// All runs, of the baseline and of the candidate, are held against one and the
// same reference: the baseline's first run, chosen before anything is looked at,
// for it is the first. So when nothing has changed the other runs are
// exchangeable, whatever the reference is like: every naming of them as the
// baseline's or the candidate's is as likely. All tests rest on that alone. A run
// may part from the reference, agree with it to its end, or be unknown: left out
// (partial, a clock that is not measured, nothing seen), cut short, or parted for a
// doubtful reason.
//
// The reference is not counted where runs are held against it (lockstep,
// survival, reads), and is counted otherwise.
//
// # Tests
//
// All are one-sided: they ask for worse.
//
//	lockstep     runs that part, of those known: Fisher's exact test
//	survival     frames to the parting: log-rank, by its permutation distribution
//	             (survival.go)
//	read jitter  RMS of the read times about the frame grid, one number a run: rank
//	             sum test, exact with ties, of the candidate's against the
//	             baseline's times Times (1.25)
//	service median, service worst
//	             latency of the first bit after the latch pulse: the same, against
//	             the baseline's times Times plus PlusUS (1 us)
//	odd clocks, underruns, late serves
//	             runs with any, of those that tell: Fisher's exact test
//	reads        runs with another number of reads, lag frames, extra, late or
//	             double reads than the reference: Fisher's exact test
//	checkpoints  runs with a failed checkpoint (or timing), of those in which none
//	             is unseen or one failed: Fisher's exact test
//
// Sources: R. A. Fisher, Statistical Methods for Research Workers, section 21.02;
// the others stand at their functions here and in package stats.
//
// A test that could not have come out at Alpha whatever was seen, given the
// numbers of runs and of troubled runs in all, is none and is not corrected for (R.
// E. Tarone, Biometrics 46:515-522, 1990, of which this is the first step): where
// no run has an underrun nothing can be said of underruns. Over all others, of all
// specs together, p is corrected by Holm's method (S. Holm, Scandinavian Journal
// of Statistics 6:65-70, 1979), which holds the chance of any false "worse" at
// Alpha however the tests hang together.
//
// # Verdicts
//
// A row is worse when its corrected p is at most Alpha. It is no worse when it is
// not worse and that is shown: for counts, the upper limit of the difference of
// rates (stats.RateDifference at a one-sided confidence of 1-Alpha) is below
// Margin, where every unknown run of the candidate counts as troubled and every
// unknown one of the baseline as sound; for times, the rank sum test in the
// opposite direction, that they are not beyond their margin, comes out at Alpha.
// Otherwise it cannot be told. Survival has no margin of its own and follows
// lockstep.
//
// A spec, and all of them, are worse when a row is; no worse when every row is;
// otherwise it cannot be told. "No worse" needs no correction for the number of
// rows, as all of them must be shown (R. L. Berger, Technometrics 24:295-300,
// 1982). Alpha, Margin, Times and PlusUS are by common practice, no source.
//
// With CannotTell it is said how many more runs of the candidate would do, if all
// of them were without trouble and the times came over again: found by trying, for
// times with more than 60 runs by the normal approximation. Where the candidate's
// alone would not do (up to 10,000), it is how many more of both.
//
// What one side does not tell (a board without service latencies) is not asked,
// and a note says so: "no worse" does not speak of it.
//
// # Looking once
//
// The rules are fixed before the candidate is played, and are good for one look.
// Whoever plays more repeats makes a new check of all of them; whoever looks after
// every few repeats and stops when it pleases has a greater chance of a false
// verdict than is stated. The same goes for a baseline that was played anew until
// it pleased.
//
// # Not for
//
// The package plays nothing and compares no pictures. It does not find out why a
// candidate is worse, and it cannot tell a change of the bench from one of the
// room: warm a bench up, and play both the same way. Runs are taken to be
// independent.
package baseline
