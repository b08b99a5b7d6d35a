package vision

// #include "libav.h"
import "C"

import (
	"errors"
	"fmt"
	"image"
	"io"
	"math"
	"os"
	"time"
)

// Info is what a container says about its video.
type Info struct {
	// Width and Height of a picture, pixels.
	Width, Height int
	// FPS is the nominal picture rate, hertz; 0 when unknown.
	FPS float64
	// Frames is the number of pictures that the container promises, from its
	// index or from duration times rate; 0 when it does not say. It may be
	// wrong: Scan.Stamps says how many there are.
	Frames int64
	// Container is the kind of file, for example "Matroska".
	Container string
}

// Video reads the pictures of a file in order. It holds memory of the native
// library: call Close. It is not safe for use by several goroutines at once.
type Video struct {
	path  string
	kind  string
	index *index
	in    *C.lp_input
	dec   *C.lp_decoder

	next    int                 // the picture to be delivered next
	waiting map[int]*C.AVFrame  // decoded before their turn
	drained bool                // the decoder has given everything
	places  map[C.int64_t]int32 // where packets are in the file; made by the first Seek
	last    Picture             // for Next
	stamp   time.Duration
	count   int64
	end     error
}

// OpenVideo opens a video file, reads all its packets once (ScanVideo) and
// decodes until the first picture. It gives ErrNoVideo (also with
// fs.ErrNotExist or fs.ErrPermission) or ErrEmpty.
func OpenVideo(path string) (*Video, error) {
	in, kind, err := openFile(path)
	if err != nil {
		return nil, err
	}
	x, err := scan(in, path, kind)
	C.lp_input_close(&in)
	if err != nil {
		return nil, err
	}
	v := &Video{path: path, kind: kind, index: x, waiting: map[int]*C.AVFrame{}}
	if v.in, err = openInput(path, kind); err != nil {
		return nil, cannotOpen(path, kind)
	}
	if r := C.lp_decoder_open(&v.dec, v.in, C.int64_t(len(x.packets)), C.int(x.delay), 0); r < 0 {
		v.Close()
		return nil, fmt.Errorf("%s: %w: the %s file cannot be decoded: %w", path, ErrNoVideo, kind, errLibrary(r))
	}
	for len(v.waiting) == 0 && !v.drained {
		v.step()
	}
	if len(v.waiting) == 0 {
		v.Close()
		return nil, fmt.Errorf("%s: %w: the %s file has no picture that can be decoded", path, ErrEmpty, kind)
	}
	if x.Info.Width < 1 || x.Info.Height < 1 { // neither container nor header says
		for _, f := range v.waiting {
			x.Info.Width, x.Info.Height = int(f.width), int(f.height)
		}
	}
	return v, nil
}

// openFile opens a file whose first bytes are those of a video.
func openFile(path string) (in *C.lp_input, kind string, err error) {
	head, err := readHead(path)
	if err != nil {
		return nil, "", fmt.Errorf("%s: %w: %w", path, ErrNoVideo, err)
	}
	if len(head) == 0 {
		return nil, "", fmt.Errorf("%s: %w: the file is empty", path, ErrEmpty)
	}
	if kind = container(head); kind == "" {
		return nil, "", fmt.Errorf("%s: %w: %s", path, ErrNoVideo, looksLike(head))
	}
	if in, err = openInput(path, kind); err != nil {
		if wholeButEmpty(path, kind) {
			return nil, "", fmt.Errorf("%s: %w: the Matroska file is whole but holds none", path, ErrEmpty)
		}
		return nil, "", cannotOpen(path, kind)
	}
	return in, kind, nil
}

func cannotOpen(path, kind string) error {
	return fmt.Errorf("%s: %w: the %s file cannot be opened; it is damaged, cut short or holds no video", path, ErrNoVideo, kind)
}

func wholeButEmpty(path, kind string) bool {
	n, err := countBlocks(path)
	return kind == "Matroska" && n == 0 && err == nil
}

// readHead gives the first bytes of a regular file.
func readHead(path string) ([]byte, error) {
	st, err := os.Stat(path)
	if err != nil {
		return nil, cause(err)
	}
	if st.IsDir() {
		return nil, errors.New("it is a folder")
	}
	if !st.Mode().IsRegular() {
		return nil, errors.New("it is not a regular file")
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, cause(err)
	}
	defer f.Close()
	head := make([]byte, 1024)
	n, err := io.ReadFull(f, head)
	if err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
		return nil, cause(err)
	}
	return head[:n], nil
}

// cause drops the operation and the path from an error of package os.
func cause(err error) error {
	var pe *os.PathError
	if errors.As(err, &pe) {
		return pe.Err
	}
	return err
}

// sane turns the decoder's "unknown" values (negative, huge, not a number)
// into 0.
func sane(x float64) float64 {
	if math.IsNaN(x) || x <= 0 || x > 1e12 {
		return 0
	}
	return x
}

// Info is what the container says.
func (v *Video) Info() Info { return v.index.Info }

// Scan is what the packets say; see ScanVideo. It must not be changed.
func (v *Video) Scan() Scan { return v.index.Scan }

// Count is the number of pictures delivered so far.
func (v *Video) Count() int64 { return v.count }

// Stamp is the presentation time of the last picture that was delivered, as in
// Scan.Stamps. It is 0 before the first.
func (v *Video) Stamp() time.Duration { return v.stamp }

// Read gives the next picture in the order of showing, freeing what was in p:
// one picture for each of Scan.Stamps, whatever the decoder makes of it. One
// that cannot be decoded at all comes without pixels, Damaged.
//
// At the end it gives io.EOF, or an error that wraps ErrTruncated when the file
// ended clearly early: the container promised more pictures than came, and the
// last stamp lies more than 3 pictures and more than 0.25 s before the promised
// duration. (The tolerance is there because a container may count a longer
// sound track.) After the end it gives the same error again, and p is left
// alone.
func (v *Video) Read(p *Picture) error {
	if v.end != nil {
		return v.end
	}
	if v.next >= len(v.index.packet) {
		v.end = v.atEnd()
		return v.end
	}
	frame := v.decode(v.next)
	k := int(v.index.packet[v.next])
	if frame == nil {
		C.lp_decoder_mark(v.dec, C.int64_t(k), C.int64_t(k+1), 1)
	}
	p.Close()
	*p = Picture{
		frame: frame, index: v.next, stamp: v.index.Stamps[v.next], damaged: v.damaged(k),
		size: image.Pt(v.index.Info.Width, v.index.Info.Height), order: v.in.track.codecpar.field_order,
	}
	if frame != nil {
		p.size = image.Pt(int(frame.width), int(frame.height))
	}
	v.stamp = p.stamp
	v.next++
	v.count++
	return nil
}

// Next puts the next picture into img. It is Read and Picture.Image, except
// that a picture that cannot be decoded at all, or not in the size of the
// video, is a repeat of the one before, or black when there is none.
func (v *Video) Next(img *Image) error {
	var p Picture
	if err := v.Read(&p); err != nil {
		return err
	}
	if p.frame != nil && v.fits(p.frame) {
		v.last.Close()
		v.last = p
	} else {
		p.Close()
	}
	if v.last.Empty() {
		w, h := v.index.Info.Width, v.index.Info.Height
		return img.SetBGR(w, h, make([]byte, 3*w*h))
	}
	return v.last.Image(img)
}

// atEnd is the error for the end of the file.
func (v *Video) atEnd() error {
	info, n := v.index.Info, int64(len(v.index.packet))
	missing := info.Frames - n - int64(v.index.hidden)
	if info.Frames == 0 || info.FPS == 0 || missing <= 0 {
		return io.EOF
	}
	picture := 1 / info.FPS
	short := float64(info.Frames)*picture - (v.index.Stamps[n-1].Seconds() + picture)
	if short <= max(3*picture, 0.25) {
		return io.EOF
	}
	return fmt.Errorf("%s: %w: %d pictures came, about %d were promised, %.2f s are missing",
		v.path, ErrTruncated, n, info.Frames, short)
}

// Close closes the file. It may be called more than once. Pictures that were
// read stay valid.
func (v *Video) Close() error {
	if v.end == nil {
		v.end = errors.New("video is closed")
	}
	v.drop()
	v.last.Close()
	C.lp_decoder_close(&v.dec)
	C.lp_input_close(&v.in)
	return nil
}
