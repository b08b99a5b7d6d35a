// Package live captures what a card delivers while a run goes on: it records
// every picture and lets the checkpoints be judged early.
//
// # The way of a picture
//
//	Source ──> reader ──> queue ──> recorder ──> capture.mkv
//	  (v4l2,     │                  (every picture)
//	   Stream)   └──────> queue ──> viewer ──> Early
//	                                (the newest; what finds no room is skipped)
//
// Each arrow is a goroutine of its own, and whoever puts a picture into a queue
// never waits. So a viewer that is slow loses pictures to look at, and nothing
// else; a disk that is slow loses pictures of the recording only after
// RecordQueue of them wait.
//
// # What is recorded
//
// Motion JPEG is written byte for byte, also what the card calls damaged and what
// is no JPEG picture: the reader of the file finds out. YUYV is written to FFV1 in
// 4:2:2 and NV12 in 4:2:0, every sample as it came. The times in the file are
// those of the pictures to 1 ms, at least 1 ms apart; the exact instants are in
// frames.csv.
//
// # What is lost, and by whom
//
// An Account, kept in run.json as `capture`, counts apart: pictures that the card
// lost (gaps in its own count; where it has none, gaps in the stream's or the
// driver's times against the nominal rate; pictures without contents), pictures
// that this program lost, pictures that the card calls damaged (they are in the
// file, and `damaged` in frames.csv), errors of the card, seconds without a
// signal, and pictures that were skipped by the early judging. `gaps` says where
// in the file pictures are missing. Times of arrival tell of no loss: a bare
// stream can lose pictures unnoticed by this package.
//
// A card that is gone, a stream that ends, 30 errors of a card in a row, and a
// file that cannot be written end the run: it stays partial and says why.
//
// # Instants
//
// They are on the host's clock, nanoseconds. A device's are the driver's. A
// stream in Matroska has times of its own, from a zero of its own; they are laid
// on the host's clock so that no picture arrives before its time and one arrives
// just on it. A bare stream has the times of arrival. A delay that is always there
// belongs to the calibrated latency of the bench, so calibrate over the same
// stream.
//
// # Judging early
//
// Early counts frames from the reads so far: by the board's clock, tied to the
// host's by the exchanges before the run. In the run the clocks cannot be
// compared; how they drift apart is taken from an earlier run with the same board,
// or from the least delay with which log records arrive (drift.go), and until then
// the board may be 100 parts per million off. Pictures wait, up to 64 of them,
// until the reads of their frames have come. A picture that may be of two frames
// counts for `every` alone. A checkpoint is told as soon as nothing can change it,
// or when a picture beyond its range has come. Each picture is decoded once for
// all of it. What early judging says has no part in the run's record: the sealed
// run is judged anew, by package judge.
//
// # Cost
//
// 720p60 takes, in user and system time of a core of a present-day server for
// each second: Motion JPEG recorded 0.02, recorded and judged 0.26; YUYV in FFV1
// 1.7, nearly all of it the encoder, so two cores with nothing else to do, and on
// a busier machine pictures are lost and counted. Take Motion JPEG where the card
// has it. BenchmarkLive
// measures it on the machine at hand.
//
// # Not tried
//
// No capture card was at hand. What was tried: streams fed by FFmpeg in real time
// (Motion JPEG, YUYV, NV12), a simulated card that writes a FIFO beside a board on
// a pseudo-terminal, sources made up by the tests. How real drivers stamp, count
// and fail is as their documentation says (package v4l2).
//
// # Not for
//
// Sound; streams in a codec that predicts pictures (H.264); addresses on a
// network; two cards at once.
package live
