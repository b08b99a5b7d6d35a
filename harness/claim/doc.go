// Package claim reads what a stranger sends to be certified, and the policy of the
// house that certifies. It plays nothing and decides nothing.
//
// # Claim file
//
// NAME.claim.yaml: one YAML document by the rules of package specs (plain text, no
// anchors, aliases, merge keys or tags, no unknown keys, no key twice, plain
// decimal numbers; a byte order mark at its beginning is passed over), at most
// 64 KiB. All problems are reported at once, each as
//
//	file:line:col: key: problem
//
//	version: 1
//	claim: reaches the bell tower
//	by: Some Name
//	program: fast.prog
//	category: first-lamp
//	frames: 734
//
//	version   required. 1, the version of this form.
//	claim     required. What is claimed: one line of at most 200 columns.
//	by        required. The submitter's chosen name: one line of at most 80 columns.
//	program   required. File of the button program (see specs/program).
//	category  a category of the house. This or spec.
//	spec      the submitter's own spec file, where the house allows it.
//	frames    required. The claimed time from the spec's timing.from to its
//	          timing.to in frames of the console, 0 to 1728000.
//
// A line holds characters that can be seen, with single spaces between words: no
// controls, nothing that turns the direction of the text (Unicode TR 36, section
// 2.6), nothing without width, and at most three marks on one letter. Columns are
// counted as on a terminal (Unicode TR 11). Such a line can be printed and put
// into HTML (escaped), JSON and Markdown (escaped) as it is. Nothing is done
// against letters that look like others, and texts are not brought to a normal
// form: nothing is ever found by these lines.
//
// # House file
//
// house.yaml in the house's folder, by the same rules, at most 64 KiB.
//
//	version: 1
//	house: Linden Street
//	repeats: 5
//	lockstep: 5
//	benches: 1
//	ties: earlier
//	own_specs: false
//	categories:
//	  first-lamp: {spec: first-lamp.spec.yaml}
//	limits: {reads: 36000}
//
//	version     required. 1.
//	house       required. Its name: one line of at most 80 columns.
//	repeats     how many times a claim is played on each bench, 1 to 1000.
//	            Default: 5.
//	lockstep    how many of them, on each bench, must be in lockstep with the first
//	            run on the first bench, itself counted: 1 to repeats. Default: all.
//	benches     on how many benches at least, 1 to 16. Default: 1.
//	ties        earlier: of two equal times the earlier certificate keeps the place.
//	            There is no other rule yet.
//	own_specs   whether a claim may bring its own spec. Default: false.
//	categories  required. A mapping of 1 to 100 names (1 to 40 letters, digits, `_`,
//	            `.` and `-`, no two alike but for case) to mappings with the key
//	            spec: a spec file inside the house's folder.
//	limits      a mapping with the key reads: the most reads that a claim's program
//	            may hold, 1 to 864000. Default: 216000, an hour at 60 a second.
//
// The repeats and the lockstep of a spec are not asked for; the house's are. Every
// spec of a house loads with its own program and has a timing, which neither begins
// nor ends at a mark, because the submitter's program says where the marks are.
// Checkpoints may stand at marks; lint warns of them.
//
// # Submission
//
// A submission is a folder with one claim in it, or several: only what a claim
// names is part of it. Nothing in the folder is opened before all of it is found
// within these limits:
//
//	files and folders     200, three deep
//	bytes                 4 MiB a file, 16 MiB together
//	kinds                 regular files and folders; no symbolic link, pipe, socket
//	                      or device
//	names                 at most 60 bytes a part and 80 together: ASCII letters,
//	                      digits and `_`, with single `-`, `.` and spaces between
//	                      them; none that a system takes for a device (con, nul.txt,
//	                      com1); no two alike but for case. Names that begin with a
//	                      dot are passed over
//	claim file            64 KiB
//	program               1 MiB, lines of at most 1000 bytes
//	own spec              256 KiB, by the further limits of package specs
//
// Files are read once, through the folder (os.Root), and must still be what they
// were when the folder was looked at. What is judged, played and packed are these
// bytes. Reads are counted by arithmetic, never by expanding a program.
//
// The claim's program takes the place of that of the house's spec: it is read for
// the console of the spec, and must have the marks at which checkpoints stand.
//
// # Own specs
//
// An own spec names the program of the claim, has a timing as above, and a
// built-in console profile, because a profile says how fast frames come. It has at
// most 50 checkpoints, which are judged on at most 36,000 pictures together, and
// program and tail together keep within the house's limit of reads. Its category
// is own:NAME@HASH (OwnCategory), so that nobody holds the record of a spec by
// another one of the same name.
//
// # Cost
//
// Whatever is in the folder, Open takes at most 256 MiB from the heap in all, most
// of it freed at once, and time in proportion to the bytes and the reads. The
// largest shares are the YAML tree of a spec (250 bytes for each of its bytes) and
// the lines of a program (200 for each).
//
// # JSON Schema
//
// ClaimSchema and HouseSchema are published as claim.schema.json and
// house.schema.json in this folder.
package claim
