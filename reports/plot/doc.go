// Package plot draws the curves of a report as SVG: how long repeats stay in
// lockstep, how far apart the reads are, how steady their clock is, and how a
// value went over many sessions. Plain numbers go in; the drawing is done by gonum.org/v1/plot.
//
// # What comes out
//
// One <svg> element to stand inside an HTML page, of less than 30 kB, with a
// <title> and a <desc> that name it to those who do not see it. The elements in
// it are svg, title, desc, path and text and nothing else: no script, no style,
// no link, no font and no colour. Places are in units of the view box, from its
// top left, to a tenth; paths have only the commands M, L, H, V and Z, in
// absolute places.
//
// What a thing looks like is the page's matter, so that it can follow light and
// dark; the style sheet must have a rule for each of these classes:
//
//	plot       the drawing as a whole
//	p-num      numbers beside the axes (text)
//	p-name     what the axes are (text)
//	p-axis     axes and their ticks (line)
//	p-grid     grid (line)
//	p-zero     mark of a whole frame among the spacings (line)
//	p-bar      bars of the histogram (filled)
//	p-line-a   first curve (line)        p-line-b   second curve (line)
//	p-band-a   its confidence band       p-band-b   (filled)
//	p-edge-a   limits of the band        p-edge-b   (line)
//	p-cut-a    repeats that were cut     p-cut-b    (line)
//	p-dot-a    points of the curve       p-dot-b    (filled)
//
// and where trends are shown, for N from 1 to 4:
//
//	p-line-N   line of a series (line)
//	p-reach-N  what its points reach over (line); also p-reach-0
//	p-mark-N   their marks (filled); p-mark-0 are crosses (line)
//
// Text is laid out for letters of up to 17 units, so that a page may enlarge
// them on a narrow window. It is drawn in the page's own font: lines of text are
// tied to their middle or end and not measured.
//
// # What it is not for
//
// It works nothing out: no limit, no deviation, no bin. What would be too fine
// to be seen is thinned: a survival curve with more than 160 steps keeps the
// last of each of 160 equal stretches, and neighbouring bins of a histogram are
// put together until there are at most 120.
package plot
