package live

import (
	"fmt"
	"time"

	"latchproof/vision"
)

// file is a recording in Matroska.
type file struct {
	to *vision.Recorder
}

// Create makes the file for what a source delivers: Motion JPEG is kept byte for
// byte, YUYV and NV12 sample by sample in FFV1. Errors are those of
// vision.CreateVideoWith.
func Create(path string, info Info) (File, error) {
	o := vision.RecordOptions{}
	switch info.Format {
	case MJPEG:
		o.Codec = vision.MJPEG
	case YUYV:
		o.Codec, o.Chroma, o.Fast = vision.FFV1, vision.Chroma422, true
	case NV12:
		o.Codec, o.Chroma, o.Fast = vision.FFV1, vision.Chroma420, true
	default:
		return nil, fmt.Errorf("%w: pictures in %q cannot be recorded", ErrNoCard, string(info.Format))
	}
	rate := info.Rate
	if rate < 1 || rate > 1000 {
		rate = 60 // the file must name one; the instants are kept apart
	}
	r, err := vision.CreateVideoWith(path, o, info.Size.X, info.Size.Y, rate)
	if err != nil {
		return nil, err
	}
	return &file{r}, nil
}

// Write implements File.
func (f *file) Write(b Buffer, at time.Duration) error {
	if b.Format == MJPEG {
		return f.to.WriteCodedAt(b.Data, at)
	}
	return f.to.WriteRawAt(b.Data, b.Format, at)
}

// Close implements File.
func (f *file) Close() error { return f.to.Close() }
