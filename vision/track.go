package vision

import (
	"errors"
	"fmt"
	"os"
	"syscall"
)

// track is a recording being written: an encoder, where one is needed, and the
// file. Its errors have no path yet.
type track struct {
	file    *os.File
	mux     *muxer
	options RecordOptions
	enc     *encoder // nil: OpenCV's JPEG
	sent    int64
	stamps  map[int64]int64 // of pictures in the encoder, ms
}

func createTrack(f *os.File, o RecordOptions, w, h int, rate float64) (*track, error) {
	t := &track{file: f, options: o, stamps: map[int64]int64{}}
	if err := t.begin(w, h, rate); err != nil {
		t.free()
		f.Close()
		return nil, err
	}
	return t, nil
}

// begin makes the encoder and writes what stands before the pictures.
func (t *track) begin(w, h int, rate float64) (err error) {
	o := t.options
	s := stream{codec: "V_MJPEG", woven: o.Woven, w: w, h: h, rate: rate}
	if o.Codec != MJPEG || o.Chroma != Chroma420 {
		if t.enc, err = newEncoder(o, w, h, rate); err != nil {
			return err
		}
	}
	switch o.Codec {
	case FFV1:
		s.codec, s.private = "V_FFV1", t.enc.private()
	case H264:
		s.codec = "V_MPEG4/ISO/AVC"
		if s.private, err = avcRecord(t.enc.private()); err != nil {
			return err
		}
	}
	t.mux, err = newMuxer(t.file, s)
	return plain(err)
}

// write appends a picture shown at a stamp in ms.
func (t *track) write(img *Image, stamp int64) error {
	if t.enc == nil {
		src, err := img.JPEG(t.options.Quality)
		if err != nil {
			return err
		}
		return t.append(src, stamp, true)
	}
	t.stamps[t.sent] = stamp
	if err := t.enc.send(img.Bytes(), t.sent); err != nil {
		return err
	}
	t.sent++
	return t.drain()
}

// drain writes what the encoder has ready.
func (t *track) drain() error {
	for {
		p, err := t.enc.receive()
		if err != nil || p == nil {
			return err
		}
		stamp, ok := t.stamps[p.picture]
		if !ok {
			return fmt.Errorf("the encoder gives picture %d, which it was not given", p.picture)
		}
		delete(t.stamps, p.picture)
		if err := t.append(p.data, stamp, p.key); err != nil {
			return err
		}
	}
}

// append writes a coded picture.
func (t *track) append(data []byte, stamp int64, key bool) error {
	if err := t.mux.write(data, stamp, key); err != nil {
		return fmt.Errorf("%w after %d pictures", plain(err), t.mux.pictures)
	}
	return nil
}

// close ends the recording; duration in ms.
func (t *track) close(duration float64) error {
	var err error
	if t.enc != nil {
		if err = t.enc.send(nil, 0); err == nil {
			err = t.drain()
		}
	}
	t.free()
	if e := t.mux.close(duration); err == nil {
		err = e
	}
	if e := t.file.Close(); err == nil {
		err = e
	}
	return plain(err)
}

func (t *track) free() {
	if t.enc != nil {
		t.enc.close()
		t.enc = nil
	}
}

// plain gives ErrDiskFull when that is what an error of a file says, also when
// it is the user's share of the disk; other errors lose their path.
func plain(err error) error {
	if errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT) {
		return ErrDiskFull
	}
	return cause(err)
}
