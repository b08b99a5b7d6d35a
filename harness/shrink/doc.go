// Package shrink makes a button program short that makes repeats part, while
// they go on to part: the shorter it is, the plainer is what they part by.
//
// It is the pure search. What tests a candidate program is handed in as an
// Oracle, so that the search can be held against made oracles with a known
// answer. It plays nothing and knows of no bench.
//
// # The search
//
//  1. The program is cut after the read of the first divergence (Options.Cuts).
//  2. Statements are taken out by delta debugging (A. Zeller and R. Hildebrandt,
//     IEEE Transactions on Software Engineering 28(2):183-200, 2002), level by
//     level from the outermost repeats in (hierarchical delta debugging,
//     G. Misherghi and Z. Su, Proceedings of ICSE 2006, 142-151). Only
//     complements are tried: a chunk is taken out, never kept alone. The
//     guarantee below rests on complements alone.
//  3. Each count of reads is bisected to one that passes while one less does not.
//  4. Each button is left out of each hold; a hold without buttons is a rest.
//  5. Neighbours that press the same are written as one statement, and a repeat of
//     one statement as that statement. That changes nothing that is pressed.
//  6. When nothing of this changes anything any more, the passes of repeats are
//     bisected likewise, and repeats are written out and searched as statements;
//     one of which nothing falls away stays a repeat. Then from 2 on again.
//
// The end is 1-minimal: taking out any one statement, any one button, one read
// of a statement or one pass of a repeat gives a program that was tried and
// turned down. It is not the shortest there is: a smaller program that
// is reached only by taking out two things at once may pass. A search that was
// ended before (Options.Spent, an error, the context) says so: Result.Minimal is
// false, and the program is the shortest that passed so far.
//
// Every candidate is a program within the limits, with what stays written as it
// was. The same presses are never tested twice: outcomes are kept by the
// program's hash.
//
// # Chance
//
// A repeat that parts is proof, so no candidate is ever taken wrongly. That none
// parted is no proof: candidates that do part, but not always, are turned down
// now and then. Repeat plays up to m repeats against one reference and stops at
// the first that parts. When the runs of a program fall into groups that part
// from one another, and a run falls outside the largest group with chance r, all
// m+1 runs are alike with chance
//
//	sum of q^(m+1) over the groups' chances q <= max(q)^m = (1-r)^m
//
// whichever group the reference is of. With m = stats.RepeatsNeeded(r, c) that is
// at most 1-c. So r is not the rate of parting from one reference, which is
// near 1 when the reference is the odd run, but the share of runs outside the
// largest group; Estimate gives its limits for a program played before. It is
// the chance for each candidate that parts at least as often as r; one
// that parts more rarely is turned down more often, and over n candidates turned
// down up to n(1-c) of such may be wrong. Wrongly turned down candidates
// make the end longer than need be, never wrong.
//
// # Not for
//
// Finding out how often a program parts: that is told by repeats played
// afterwards, not by those that the search chose by.
package shrink
