// Package specs reads spec files (*.spec.yaml): a button program, a console
// profile, what the screen must show and when, and how often it must come out
// the same.
//
// # Form
//
// A spec is one YAML document in UTF-8, at most 1 MiB, nested at most 10 deep.
// Anchors, aliases, merge keys, tags and a second document are refused, and so
// is every key that is not listed here. Numbers are plain decimal digits. All
// problems of a file are reported at once, each as
//
//	file:line:col: key: problem
//
// where line and column count from 1, the column counts characters, and entries
// of a list count from 0 in the key. At most 100 problems are listed. When a
// file is not YAML at all there is one problem, in column 1 of the line that
// the YAML reader names, which can be the one where a broken list or mapping
// begins.
//
//	version: 1
//	spec: first-lamp
//	about: The lamplighter clears the cart and lights the first lamp.
//	program: first-lamp.prog
//	console: ntsc-8bit
//	start: reset
//	repeats: 5
//	timeout: 2m
//	labels: [street, slow]
//	anchor: {frame: 62, shows: {template: gate}}
//	checkpoints:
//	  - name: stands at the gate
//	    at: 62
//	    shows: {template: lamplighter-idle, near: [40, 176], within: 1, score: 0.95}
//	  - name: in the air
//	    at: jump+14
//	    shows: {template: lamplighter-jump}
//	  - name: the lamp is lit at last
//	    at: [380, 400]
//	    shows: {template: lamp-lit}
//	  - name: no glitch tiles
//	    at: [0, 400]
//	    every: true
//	    hides: {template: garbage-tile}
//	  - name: toes cross the corner
//	    at: jump+14
//	    measure: {from: foot, to: cart-corner}
//	    equals: [1, 0]
//	  - name: one lamp is lit
//	    at: 400
//	    reads: {glyphs: hud-digits, at: [200, 16], digits: 2}
//	    equals: 1
//	  - name: the street at dusk
//	    at: 400
//	    screen: {reference: street.png, ignore: [[200, 8, 48, 16]]}
//	  - name: he stands and looks
//	    at: [390, 400]
//	    unseen: 1
//	    still: true
//	  - name: fades out
//	    at: [jump+300, jump+340]
//	    black: true
//	points:
//	  foot: {template: lamplighter-jump, at: [7, 15]}
//	  cart-corner: {template: cart, near: [100, 168], within: 8}
//	timing: {from: {gone: start-banner}, to: {shows: tower-bell}}
//	lockstep: {required: 5}
//
// # Keys
//
//	version      required. 1, the version of this form.
//	spec         required. Name of the spec, shown in reports: 1 to 80 visible
//	             characters with single spaces between words.
//	about        what it is for, at most 2000 characters. Default: empty.
//	program      required. File of the button program (see package program).
//	console      required. A built-in console profile such as ntsc-8bit, or a
//	             profile file (see package console). Built-in names win.
//	start        reset (pulse the reset line) or power (cut and restore power).
//	             Default: reset.
//	repeats      how many times the program is played, 1 to 10000. Default: 1,
//	             which judges the checkpoints and says nothing about lockstep.
//	timeout      longest time one run may take, 1s to 24h, written with the units
//	             ms, s, m and h such as 90s or 1h30m. Default: none.
//	max_reads    the most reads the program may hold, 1 to 864000.
//	             Default: 864000.
//	tail         reads, 0 to 1728000: how many more the board serves with
//	             released buttons, and logs, after the program's end. Default:
//	             as many as the checkpoints need (Spec.CoverTail) and 60 more.
//	labels       up to 32 labels for choosing among specs, each 1 to 40 letters,
//	             digits, "_", "." and "-". Default: none.
//	anchor       a mapping of `frame`, a frame number, and one check: the check
//	             first holds in that frame, in every run. It ties the capture to
//	             the frame count. Default: none.
//	checkpoints  a list of 1 to 1000 checkpoints. Required unless repeats is 2
//	             or more, when lockstep alone can be judged.
//	points       named points of templates: a mapping of names (1 to 40 letters,
//	             digits, "_", "." and "-") to mappings; see package harness/checks.
//	             At most 100.
//	timing       a mapping of two events, `from` and `to`: how long it takes from
//	             one to the other, in frames. See below.
//	lockstep     a mapping with the required key `required`: how many of the
//	             repeats must stay in lockstep, 2 to repeats. Only with repeats
//	             of 2 or more. Default: all of them.
//
// A checkpoint is a mapping:
//
//	name   required. Unlike any other in the spec; form as of `spec`.
//	at     required. When to look: a moment, or a range [from, to] of two
//	       moments, both included.
//	every  only with a range, and not with still. true: it must hold in all frames
//	       of the range. false: one frame is enough. Default: false.
//	unseen only with every: true, or with still. How many frames of the range may lack a
//	       picture, 0 to 1728000: a card slower than the console cannot catch
//	       them all. With more of them the verdict is unseen. Default: 0.
//
// and exactly one check, whose key is a kind of checkpoint: shows, hides, reads,
// measure, screen, still or black (see package harness/checks), with the keys that
// the kind takes beside it, such as `equals`. This package does not know the
// kinds; they are handed to it.
//
// An event of a timing is a mapping with one key:
//
//	at     a moment
//	shows  a template's name, or the mapping of the checkpoint `shows`: the frame
//	       in which it appears
//	gone   the same: the first frame in which it is there no longer
//
// `to` is the first such frame at or after that of `from`.
//
// A moment is a frame number, 0 to 1728000, where frame 0 is the frame of the
// first read after reset; or a mark of the program with reads counted from it:
// jump, jump+14, jump-2, without spaces. A moment with a mark is the frame in
// which that read was made, so that it moves with the lag frames of a run. A
// range may mix both.
//
// # Files
//
// Files are named relative to the spec's folder, with "/" between folders. They
// must lie inside it: absolute paths, parts that begin with a dot, "..", and
// symbolic links that lead out are refused.
//
// # JSON Schema
//
// Schema gives the JSON Schema (draft 2020-12) that editors complete and check
// by, made from the same tables that Parse reads by. It is published as
// spec.schema.json in this folder.
//
// # What it is not for
//
// A spec has no variables, conditions, includes or loops, and the program in it
// is played open loop: nothing on the screen changes what is pressed. It says
// nothing about one particular bench (serial ports, calibration, crystal
// error). Whether a frame was seen, and what was on it, is decided elsewhere.
package specs
