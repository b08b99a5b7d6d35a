// Package console holds console profiles: what the harness has to know about
// the machine under test before it can play a program on it and judge the
// picture.
//
// Two profiles are built in, ntsc-8bit and pal-8bit. Others come from files.
//
// # Profile files
//
// A profile file is one YAML document, a mapping with these keys. Unknown
// keys, wrong types, keys given twice, aliases and a second document are
// errors. All problems of a file are reported at once, each as
//
//	file:line:col: key: problem
//
// where line and column count from 1 and the column counts characters. When the
// file is not YAML at all there is one problem, in column 1 of the line that the
// YAML reader names, which can be one line early.
//
//	version          required. 1, the version of this form.
//	console          required. The profile's name: lower-case letters, digits,
//	                 ".", "_" and "-", starting with a letter or digit, at most
//	                 64 characters. The name of a built-in profile is refused
//	                 unless the file says exactly what the built-in one says.
//	about            text for people. Default: empty.
//	raster           required. [width, height] of the console's own picture in
//	                 pixels, each 8 to 4096.
//	rate             required. The exact frame rate in hertz, a whole number or
//	                 a fraction of two whole numbers such as 39375000/655171.
//	                 1 to 1000 Hz; each number at most 10^12. Decimals are
//	                 refused: a rounded rate drifts. The fraction is brought to
//	                 lowest terms.
//	derivation       how the rate follows from the crystal, for people.
//	                 Default: empty.
//	buttons          required. 1 to 16 button names in shift order: the first
//	                 is the first bit shifted out of the controller and bit 0 of
//	                 a state. A name is a lower-case letter followed by at most
//	                 15 lower-case letters, digits, "_" or "-"; "for" is taken
//	                 by the notation of button programs.
//	ports            controller ports, 1 or 2. Default: 2.
//	reads_per_frame  how many times a game is expected to read its controller in
//	                 one frame, 1 to 16. Default: 1.
//	burst_gap        a duration such as 2ms, in whole microseconds. Latch pulses
//	                 closer together than this are one read (many games read
//	                 twice to be sure). Shorter than one frame period divided
//	                 by reads_per_frame; 0s makes every pulse a read.
//	                 Default: 2ms.
//	latch            which level of the latch line loads the shift register,
//	                 high or low. Default: high.
//
// # What it is not for
//
// A profile says nothing about one particular machine: crystal error, latency
// and calibration belong to the bench. It does not describe what the buttons
// do in any game.
package console
