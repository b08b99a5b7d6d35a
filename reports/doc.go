// Package reports writes what a session of runs found: one self-contained
// HTML page that opens from disk with no network, the same as JSON, a summary in
// Markdown, one for a terminal, and a card with the verdict.
//
// # The page
//
// The first screen of the page answers the question: were the repeats
// frame-exact, how sure is that, and if not, on which frame do they part and
// why. Below, in this order and for each spec: the first divergence with the
// pictures of both runs side by side, the place that differs, what was read and
// what to try; the later ones, folded; the families of repeats on one frame
// axis and as a tree; how long they stay in lockstep, as a curve with its limits; the
// checkpoints with what was seen beside what was sought; when the console read
// its controller, as histograms and stability plots; the repeats; the program.
// Then the bench, and the cautions. A session that was played until a claim was
// told, or that checked a candidate against a baseline, answers that first: with
// the claim and how far it is, or with the tests and both curves.
//
// Curves are drawn by package plot, without a colour of their own, so that they
// follow light and dark as all else does.
//
// Where a run flashes (WCAG 2.2, success criterion 2.3.1; package harness/flash
// finds it) the page says so at its top, lists the stretches of each spec, at most
// 100, and puts a caution beside each picture of such a stretch.
//
// A verdict is always a word, a shape and a colour. Colours hold the contrast
// of WCAG 2.2, success criteria 1.4.3 and 1.4.11, on paper and in the dark, and
// print in black on white. Pictures are shown with whole pixels of the raster,
// each 1 to 8 page pixels wide and high. Nothing on the page plays, moves or
// flashes, and it carries the caution about flashing pictures of WCAG 2.2,
// success criterion 2.3.1.
//
// # Stepping through a divergence
//
// Where a Divergence has a Window, a viewer takes the place of its still pictures:
// both runs side by side, one laid over the other with a divider, or their
// difference four times as bright; a frame back and forward; 1 to 8 page pixels
// for each of the raster; the colour of a pixel in both runs; and of each frame
// the reads of both runs and the program line in force. Arrow keys left and right
// step, Home and End go to the ends. It is worked by mouse, touch or keyboard
// alone. Pictures never change faster than five times a second (twice where
// reduced motion is asked for), whatever is held down or dragged: WCAG 2.2,
// success criterion 2.3.1, allows three flashes, which are six changes. A link
//
//	report.html#s1-d1:525:slide:3:100
//
// opens the first divergence of the first spec at frame 525, in the view slide
// (pair, slide, diff), three page pixels for each of the raster, the divider at
// 100. Without JavaScript, and on paper, the still pictures are shown.
//
// The pictures of a window are PNG: exact, or with colours rounded to multiples
// of 4, 8 or 16 where the page would grow too large, which the viewer says. The
// difference, and the outlines of blocks of 8 by 8 pixels, are worked out from
// them by the script, for the eye: a block is outlined when a channel differs in
// the mean by more than 1.5 times what any block does in the median frame of those
// before the runs part, and 2 levels at least.
//
// # What a page may hold
//
// Every text of a session is untrusted (specs, programs, file names come from
// strangers). It goes through html/template, stands in an element of its own
// reading direction, and has control characters and explicit formatting marks
// of the reading direction (Unicode Standard Annex #9) shown as [U+202E]. Names
// are cut after 100 characters, with up to 4,000 of them in the title
// attribute, and running text after 4,000. Only pictures that decode as PNG or
// JPEG, of at most 4096 by 4096 pixels, are embedded. The one script is the
// viewer's, allowed by its hash in a Content-Security-Policy that forbids all
// else; it is there only where there is something to step through. What it shows
// stands beside it as JSON, in which <, > and & are escaped, and is written as
// text, never as HTML.
//
// A page stays small enough to open with a hundred repeats. It embeds, for each
// checkpoint, the picture of the first pass and of at most 16 results that did
// not pass, and at most 6 templates; of each spec, the pictures of the first 12
// divergences; in all, at most 240 pictures of at most 3.2 MiB before base64,
// close-ups not counted, those of divergences first, then what did not pass; and
// of windows at most 4.4 MiB, of which the first divergence of a spec may take
// eight times as much as a later one. A hundred repeats of ten minutes stay below
// 15 MB. The
// frame axis has at most 60 rows and keeps one of each family as long as there
// are no more families than rows; frames without a picture that would touch on
// it are drawn as one stretch. A table of steps has at most 100 rows; the timing
// of the reads is drawn for the first repeat and for those with an anomaly, at
// most 6, each plot under 30 kB, and listed for at most 200. The page says what
// was left out.
//
// # The JSON
//
// WriteJSON writes Session, indented, under the keys of its field tags, without
// pictures. Lists are never null; those that may be left out when empty are
// left out. Frames and reads are counted from 0, places are raster pixels from
// the top left, rates are shares from 0 to 1, and other units are in the names
// of the keys or beside the fields. "format" is 1: within it keys are added and
// none changes its meaning. report.schema.json is its JSON Schema (draft
// 2020-12), made from the model by `go generate`; readers skip what it does not
// know.
//
// # The summaries
//
// WriteMarkdown is for a pull request: Markdown with tables, as pull requests show it, of at most 60,000
// bytes, in which no text of a session makes markup, a link, a mention or a
// reference. Word joiners (U+2060) keep such apart; copied text has them too.
//
// WriteText is for a terminal: wrapped to its width, in colour when asked. Control
// characters and direction marks of a session's texts are shown, not obeyed (see
// Plain), and texts that read from right to left are isolated.
//
// WriteCard is a PNG picture of 1200 by 630 pixels on paper colours, with the Go
// fonts: Latin, Greek and Cyrillic; other characters are drawn as a box with their
// code point. It has at most the two pictures of the first divergence.
//
// JUnit comes from the test library that runs the tree, in package harness.
// Package reports is not for judging: it shows what it is given, and works no
// verdict or interval out.
package reports
