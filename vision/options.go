package vision

import "fmt"

// Codec is how a Recorder compresses pictures.
type Codec string

// The codecs. MJPEG and FFV1 keep every picture on its own, so a cut file loses
// only its end.
const (
	// MJPEG is small and fast, with some loss.
	MJPEG Codec = "MJPG"
	// FFV1 is exact (RFC 9043, version 3 with check sums) and slow.
	FFV1 Codec = "FFV1"
	// H264 is what most capture programs write: smallest, with loss, and
	// pictures predicted from one another (by libx264).
	H264 Codec = "H264"
)

// Chroma is how many samples of colour there are.
type Chroma string

// Chroma sampling: half the columns and rows, half the columns, or all.
const (
	Chroma420 Chroma = "420"
	Chroma422 Chroma = "422"
	Chroma444 Chroma = "444"
)

// Woven says whether pictures hold two fields, and which is the first in time.
type Woven int

// The top field is rows 0, 2, 4...
const (
	NotWoven Woven = iota
	TopFirst
	BottomFirst
)

// RecordOptions are the choices of a recording. What is left zero has a
// default.
type RecordOptions struct {
	Codec Codec // no default
	// Quality is that of Image.JPEG for MJPEG, 1..100 (default JPEGQuality; in
	// 4:2:2 and 4:4:4 means of blocks are kept to a level whatever it is), and the
	// constant rate factor for H264, 1 (best) to 51 (default 23).
	Quality int
	// Chroma is 4:2:0 for MJPEG and H264 by default. FFV1 keeps B, G, R exactly
	// by default; with a Chroma it keeps limited range BT.601 Y, Cb, Cr, as H264
	// does. MJPEG is full range. Samples are sited as decoders expect when
	// nothing is said: between the pixels in MJPEG, on the left one in others.
	Chroma Chroma
	// Woven marks the stream as interlaced: in the file, and in the stream of
	// H264 and FFV1, where 4:2:0 colour is then made within each field.
	Woven Woven
	// Group is how many pictures lie from one key picture to the next in H264,
	// at most (default 250, x264's own); the others have key pictures only.
	Group int
	// Preset is x264's name for its effort (default "veryfast").
	Preset string
	// Fast makes FFV1 several times as fast, with two threads, and its files
	// larger: for recording while the pictures come.
	Fast bool
}

// complete fills in the defaults and refuses what is no choice.
func (o *RecordOptions) complete() error {
	worst, usual := 100, JPEGQuality
	switch o.Codec {
	case MJPEG:
	case H264:
		worst, usual = 51, 23
		if o.Group == 0 {
			o.Group = 250
		}
		if o.Preset == "" {
			o.Preset = "veryfast"
		}
	case FFV1:
		worst, usual = 0, 0
	default:
		return fmt.Errorf("unknown codec %q", string(o.Codec))
	}
	if o.Quality < 0 || o.Quality > worst {
		return fmt.Errorf("quality %d of codec %q", o.Quality, string(o.Codec))
	}
	if o.Quality == 0 {
		o.Quality = usual
	}
	if o.Group < 0 {
		return fmt.Errorf("group of %d pictures", o.Group)
	}
	if o.Woven < NotWoven || o.Woven > BottomFirst {
		return fmt.Errorf("unknown order of fields %d", o.Woven)
	}
	switch o.Chroma {
	case Chroma420, Chroma422, Chroma444:
	case "":
		if o.Codec != FFV1 {
			o.Chroma = Chroma420
		}
	default:
		return fmt.Errorf("unknown chroma %q", string(o.Chroma))
	}
	return nil
}
