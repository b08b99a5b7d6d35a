// Package record keeps runs on disk. A run is a folder; whatever moment the
// writer is stopped at, the folder holds either a sealed run or one that says
// where it stopped.
//
// # Files of a run
//
//	run.json      what was played, on what, when, and the hash of every file
//	spec.yaml     copy of the spec file, byte for byte
//	program.prog  copy of the button program, byte for byte
//	capture.mkv   the card's own recording, written by the card into the folder
//	reads.csv     one row per latch pulse, appended as they arrive
//	frames.csv    one row per captured picture
//	syncs.csv     time exchanges between board and host
//	service.csv   how fast the board was at each latch pulse; absent when it does
//	              not tell
//	verdicts.json what was judged
//	trace.lpt     the screens in short, format in harness/lockstep
//
// Other files may be added with WriteFile; all are hashed at sealing. With
// these a run can be judged again from the folder alone.
//
// # run.json
//
// UTF-8 JSON, one object:
//
//	format    2, the version of this layout; 1 is read too, which has no gaps in
//	          reads.csv, no notes and no underruns
//	state     "playing" (the writer is at work, or died), "sealed" or "partial"
//	self      SHA-256, lower-case hex, of run.json itself with these 64 digits
//	          replaced by zeros. It finds damage; it is not a signature
//	spec      {name, file, sha256}: the spec's name, its path as given, and the
//	          hash of spec.yaml
//	program   {file, sha256, hash, reads}: path as given, hash of program.prog,
//	          program hash (of the expanded button stream), length in reads
//	console   the whole console profile: name, about, width and height (pixels),
//	          rate {num, den} (hertz), derivation, buttons (shift order), ports,
//	          reads_per_frame, burst_gap_ns, latch_active
//	start     "reset" or "power"
//	repeat    number of the repeat, from 1
//	bench     what the caller said of the bench, kept as it is
//	board     {protocol, serial, board, firmware, capacity, ports}: what the
//	          feeder board said of itself
//	clock     what the caller found out about the frame clock, kept as it is
//	capture   what the caller says of a live capture (what was lost, and by whom),
//	          kept as it is; absent when there was none
//	versions  versions of the programs that took part, by name
//	started   RFC 3339 time
//	ended     RFC 3339 time; absent while playing
//	files     {name: {sha256, bytes}} of every other file; only when sealed
//	dropped   {name: {sha256, bytes, why}} of the files that were removed on
//	          purpose after the run had ended (Drop); absent when there are none
//	stopped   {where, why}, only when partial
//	damage    sentences about evidence that is incomplete (a lost log record, a
//	          capture that broke off); the run may be sealed all the same
//	underruns indexes of the latch pulses that the board served without
//	          program data
//	notes     sentences about what else happened, of which no evidence is missing
//
// It is never changed in place: a temporary file beside it is written, synced
// and renamed over it, then the folder is synced. Sealing is the last step,
// after every other file is synced and hashed.
//
// # CSV files
//
// RFC 4180 with a header row. Readers accept CRLF and LF line ends and quoted
// fields; writers end lines with LF and need no quotes. Numbers are decimal
// integers; p1 and p2 are written 0x%02x and read in either form.
//
//	reads.csv   index,time_us,clocks,p1,p2[,clocks2]
//	            index: latch pulses since reset, from 0, contiguous upwards;
//	            time_us: board clock, microseconds, never falling;
//	            clocks, clocks2: clock pulses counted on port 1 and port 2,
//	            0..255; p1, p2: the state served, bit i is button i, 0..0xffff.
//	            The column clocks2 exists only when some row needs it. Where log
//	            records were lost on the way there is one row of a gap in their
//	            place: index of the first one lost, the word lost, nothing else
//	            (60,lost,,,); the row after it says how many they were. Records
//	            lost at the very end leave no row; damage tells of them
//	frames.csv  index,time_us,frame,state
//	            index: picture in the capture, from 0, rising; time_us: host
//	            clock stamp, microseconds; frame: console frame or empty; state:
//	            fresh, repeat, damaged, unsure or outside
//	syncs.csv   sent_us,received_us,board_us
//	            host clock before and after the exchange and the board's clock
//	            in between, microseconds
//	service.csv index,latency_ns,late
//	            index: latch pulse as in reads.csv, rising; latency_ns: from the
//	            pulse's leading edge to the first bit on the line by the board's
//	            crystal, nanoseconds, in steps of 62.5 cut down, 2047937 for that
//	            and more; late: 1 when the pulse had ended before, else 0. A pulse
//	            whose latency was lost on the way, or was never told, has no row
//
// Time stamps finer than a microsecond are cut down to one when written: a
// caller who wants to judge again with the same result must round before it
// judges the first time.
//
// # What survives what
//
// While a run is written the file .room keeps 32 KiB of the disk, which are given
// back for the last run.json: a run that fills the disk can still say so.
//
// A file is dropped by naming it in run.json first and removing it then, so a run
// says at any moment what it has: a drop that was killed leaves a file that is
// named as dropped, which counts as dropped, and is finished by the next Drop.
//
// Rows of reads.csv reach the operating system at the latest after 64 rows or
// half a second, so a killed process loses no more than that; a power failure
// may lose everything since the last sync by the system. A row cut off in the
// middle is left out when a partial run is read.
//
// # Not for
//
// This package neither judges nor compares, and it cannot tell who wrote a
// run. An existing folder that is not empty is never written into.
package record
