// Package index makes one page over many sessions: which bench, firmware and
// board revision holds now, what got worse and since when, how the lockstep rate
// and the timing of the reads went over time, and a table of the sessions.
//
// # What is read
//
// Read walks a folder for files named report.json, as package reports writes
// them. Of each it takes what an index shows and skips the rest unread, so that
// files of older versions, which have fewer keys, and of newer ones are read
// alike. Symbolic links are not followed, neither to folders nor to files. A
// file that cannot be read never fails the whole: it is listed with the reason.
//
// Bounds: 10 folders deep, 400,000 names, 10,000 reports; a report of at most 32
// MiB, with lists and objects at most 32 deep and at most 400,000 list entries
// in all (a session of 100 repeats of ten minutes has some 1.5 MB and 20,000);
// 200 specs of a session; 5,000 sessions, the newest; and all of them with at
// most 4 GiB. What a bound leaves out is said.
//
// # What the words mean
//
// A configuration is a bench by its name, with a firmware and a revision of its
// feeder board. Reports from before there were keys for these have them taken
// out of the text that describes the board.
//
// A spec holds now when the latest session of it on the bench and configuration
// held; a soak holds when its claim is proven, a baseline check when the
// candidate is no worse. A spec got worse when a bench's latest session that told
// anything of it did not hold and an earlier one did: since the first session of
// the unbroken row that did not hold. Sessions that could not tell break no row.
// A spec fell when it held in a smaller share of the sessions on a bench's current
// configuration than on the one in use before it, by Fisher's exact test
// (one-sided, on sessions that told, not on repeats, which share a reference),
// with Holm's correction over all specs and benches, at 5 %. Sessions need not
// have asked the same of a spec: for a test that does, there is the baseline check.
//
// The lockstep rate is the share of a session's repeats, beside the first, that
// stayed in lockstep with the first, with the limits that the report gives. Read
// timing is the median over the repeats of a session, with the least and the
// most of them; the service latency reaches up to the worst single read. Values
// that cannot be (not finite, a share outside 0 to 1, jitter or service latency
// beyond ten seconds, more than a million ppm) are left out.
//
// Dates are those of the reports, in UTC. A session whose date is missing, before
// the year 2000 or more than a day ahead is listed last and stands in no trend.
//
// # The page
//
// One self-contained file without a script, which opens from disk: filters are
// plain links to places on the page (a style rule hides the rows that do not
// belong to the place, by the :target selector). Configurations are told apart by
// shape and dash as well as by colour, the same on all trends. All texts are
// untrusted and treated as in package reports. The page stays under 3 MB: rows
// of the table for which there is no room are left out, the oldest first; there are trends of at
// most 12 specs, those last played.
//
// Package index judges no run, and works out no interval.
package index
