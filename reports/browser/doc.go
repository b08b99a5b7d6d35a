// Package browser opens the pages of package reports in a real browser. It holds
// tests alone, and nothing imports it.
//
// The browser is Debian's headless Chromium, driven through its debugging
// protocol. Every page is written by reports.WriteHTML and opened from disk; a
// page that asks for anything but itself, writes an error to the console or
// throws fails the test that opened it, whatever else that test is about.
//
// The success criteria named beside the tests are those of the Web Content
// Accessibility Guidelines (WCAG) 2.2, W3C Recommendation of 12 December 2024.
//
// # The accessibility checker
//
// testdata/axe holds axe.min.js and the licences of axe-core 4.14.1 (MPL-2.0; its
// source form is github.com/dequelabs/axe-core, tag v4.14.1) as the registry of
// npm has them. It is kept here and not installed before each run because a
// machine with Debian and Go then needs neither Node.js, whose package manager
// is some hundreds of Debian packages, nor a network. To take a newer one: npm
// pack axe-core@4, copy the three files, and write the new hash into axe_test.go,
// which refuses any other file.
//
// # Looking
//
// With SHOTS=dir in the environment, pictures of the pages are written to that
// folder, for looking at:
//
//	SHOTS=/tmp/shots go test ./reports/browser -ginkgo.focus 'shots'
//
// Package browser is not for what can be told from the page's text alone: that is
// tested in package reports, and faster.
package browser
