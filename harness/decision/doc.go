// Package decision says from the facts of judged runs whether a claim is
// certified. It is pure: it reads no files and plays nothing, so that whoever
// certifies and whoever checks a certificate come to the same from the same
// facts.
//
// # The rules
//
// A claim is a time in frames from one event of a spec to another. The house says
// how many benches there must be, how many repeats on each, and how many of the
// repeats of each bench must be in lockstep. Every run is held against the first
// run of the first bench.
//
// Refused because something surely does not hold (code 1):
//
//   - a checkpoint fails, or an event of the timing surely did not happen
//   - fewer runs of a bench than asked for are in lockstep
//   - the time is longer than the claimed one
//   - the runs are of another program than the claim's
//
// Refused because it cannot be told (code 3):
//
//   - a checkpoint or the timing is unseen, in any run
//   - the frame clock of a run is not a measured one: frames may be one off, so
//     what fails in such a run does not fail surely
//   - a run is partial, its evidence is damaged, nothing was captured, or it could
//     not be compared; or the board had no program data for a latch pulse
//   - runs part in a way that may be no more than that of the frame clocks or of
//     the capture card, and so few are left that it matters
//   - a run in lockstep was last seen to agree with the first more than 30 frames
//     before the later event
//   - the limits [low, high] of the times of all runs in lockstep do not leave one
//     number: these runs show one and the same event, so the truth lies within the
//     limits of each of them
//   - fewer benches, or fewer runs of one, than the house asks for; benches of the
//     same equipment, by their serial numbers, are one
//   - the equipment of a bench is not the same in all its runs
//
// What surely does not hold outweighs what cannot be told. Every reason is given,
// not only the first one.
//
// Else it is certified (code 0), with the time that was measured, whether or not
// it is shorter than the claimed one. A run that parts although the house allows it
// must hold by itself; its time does not count.
//
// # Standing
//
// Stand compares a certified time with the best of its category in a record book:
// "first" (there is none), "record" (fewer frames), "tie" (equal; the earlier
// certificate keeps the place) or "slower". It changes nothing about the
// certificate, and is not in decision.json, which does not know of any book.
//
// # decision.json
//
// Decision.JSON gives it: UTF-8, indented by two spaces, ended by one line feed, so
// that the same facts give the same bytes.
//
//	format    1
//	outcome   "certified" or "refused"
//	code      0, 1 or 3
//	policy    {house, repeats, lockstep, benches, ties}
//	claim     {claim, by, category, own, frames, program, checkpoints, rate}
//	measured  {frames, low, high, seconds, from, to} or null: as far as it is known.
//	          low and high are what all runs in lockstep leave; frames is the one
//	          number when they are the same, else -1; seconds at the exact rate of
//	          the console; from and to are the frames of the events in the first run
//	lockstep  {frames, compared, unseen, divergence, families}: frames of the longest
//	          run; how many times a frame was compared with the first run, and how
//	          many of these times one side had no picture of it
//	benches   [{name, runs, lockstep}] in the order in which they were played
//	runs      [RunFacts]
//	reasons   [{certain, run, why}]: why it is refused; run is empty when it is about
//	          all of them
//	notes     sentences
//
// # Not for
//
// It does not judge pictures, compare traces or read run folders: packages judge,
// lockstep and record do.
package decision
