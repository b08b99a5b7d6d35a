// Package stats has the statistics that a verdict about repeats rests on:
// what a count of clean and unclean repeats says about the rate behind it, how
// many clean repeats a claim needs, how long repeats stay with the reference,
// whether two benches differ, and how steady a clock is.
//
// Rates and confidences are fractions in 0..1, never per cent. Counts are
// trials, here repeats of a spec on one bench; they are taken to be
// independent with one and the same rate, which a bench that warms up or a
// program that is played alternately on two consoles does not give.
//
//	ClopperPearson(k, n, c)  exact: holds the true rate in at least c of cases
//	Wilson(k, n, c)          score interval: holds it in c of cases on average
//	RepeatsNeeded(r, c)      smallest n with (1-r)^n <= 1-c
//	UpperLimit(n, c)         1-(1-c)^(1/n), after n repeats with no failure
//	Claim.Weigh(k, n)        proven or refuted, at any moment of looking
//	KaplanMeier(lives, c)    survival, with limits that need no event
//	Curve.Band(c, from, to)  limits for all times at once
//	LogRank(a, b)            do two groups of lives have one survival curve?
//	FisherExact, RateDifference   do two counts have one rate, and by how much not?
//	RankSum(a, b)            does one sample tend to be greater?
//	Holm(p)                  p values of many tests at once
//	AllanDeviation, TimeDeviation, Octaves   stability over averaging times
//	LeastSquares, TheilSen, TheilSenLimits, Median   straight lines
//
// A two-sided interval puts half of 1-c in either tail, also when no failure
// was seen: ClopperPearson(0, n, 0.95) ends at 1-0.025^(1/n), above
// UpperLimit(n, 0.95), which puts all of it in one tail. Say which one a
// sentence means; "less than 1 % at 95 %" is the one-sided kind.
//
// Sources stand at each function. The tests check against the NIST/SEMATECH
// e-Handbook of Statistical Methods, section 7.2.4.1, against tables made with
// other software (named in the tests), against the sums that define the values,
// and, where Rscript and its package survival are installed, against R itself
// with random data. What the intervals really hold is seen in seeded
// simulations.
//
// Every error wraps ErrRange. Nothing known is no error: no trials, no lives
// and empty samples give the widest interval and p values of 1.
//
// An interval of a curve at one time speaks for that time only; a sentence
// about the whole curve needs the band.
//
// The package is not for choosing a sample size after looking at the results;
// only Claim.Weigh may be asked again and again. It does not correct for many
// claims made at once, except where Holm is asked to.
package stats
