// Package reports writes what a session of runs found: one self-contained
// HTML page that opens from disk with no network, and the same as JSON.
//
// The first screen of the page answers the question: were the repeats
// frame-exact, how sure is that, and if not, on which frame do they part and
// why. Nothing on the page plays or flashes by itself, and it carries the
// caution about flashing pictures of WCAG 2.2, success criterion 2.3.1.
//
// Every text of a session is untrusted (specs, programs, file names come from
// strangers) and goes through html/template.
//
// JUnit comes from the test library that runs the tree, in package harness.
// Package reports is not for judging: it shows what it is given.
package reports
