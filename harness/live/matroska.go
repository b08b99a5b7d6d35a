package live

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"io"
	"math"
	"time"
)

// The elements that matter, RFC 9559 section 5.1 and RFC 8794 section 11.
const (
	idEBML         = 0x1a45dfa3
	idSegment      = 0x18538067
	idInfo         = 0x1549a966
	idScale        = 0x2ad7b1
	idTracks       = 0x1654ae6b
	idTrack        = 0xae
	idTrackNumber  = 0xd7
	idTrackType    = 0x83
	idCodec        = 0x86
	idPeriod       = 0x23e383
	idVideo        = 0xe0
	idWidth        = 0xb0
	idHeight       = 0xba
	idColourSpace  = 0x2eb524
	idCodecPrivate = 0x63a2
	idCluster      = 0x1f43b675
	idTimestamp    = 0xe7
	idSimpleBlock  = 0xa3
	idBlockGroup   = 0xa0
	idBlock        = 0xa1
)

// maxBlock bounds a picture, bytes: 8192x4096 in two bytes a pixel.
const maxBlock = 1 << 26

// maxValue bounds what is read of any other element.
const maxValue = 1 << 16

// matroska reads the blocks of the first video track of a stream as they come.
// It never looks back, so the stream may be a pipe.
type matroska struct {
	r     *bufio.Reader
	pool  *Pool
	scale uint64 // ns
	track struct {
		number, kind, period, w, h uint64
		codec, fourcc              string
	}
	video   bool   // the track is whole and is a video
	cluster uint64 // time of the cluster
	pending int64  // size of the block that open met; -1: none
}

// header reads an element's identifier and size; size is -1 when unknown.
func (m *matroska) header() (id uint32, size int64, err error) {
	x, _, err := m.vint(4, true)
	if err != nil {
		return 0, 0, err
	}
	s, n, err := m.vint(8, false)
	if err != nil {
		return 0, 0, within(err)
	}
	if s == 1<<(7*n)-1 {
		return uint32(x), -1, nil
	}
	if s > math.MaxInt64/2 {
		return 0, 0, errNotMatroska
	}
	return uint32(x), int64(s), nil
}

var errNotMatroska = errors.New("it is not sound Matroska")

// vint reads a variable size integer, RFC 8794 section 4, with its marker or
// without.
func (m *matroska) vint(most int, marker bool) (v uint64, n int, err error) {
	c, err := m.r.ReadByte()
	if err != nil {
		return 0, 0, err
	}
	for n = 1; n <= most && c&(1<<(8-n)) == 0; n++ {
	}
	if n > most {
		return 0, 0, errNotMatroska
	}
	v = uint64(c)
	if !marker {
		v &= 1<<(8-n) - 1
	}
	for range n - 1 {
		if c, err = m.r.ReadByte(); err != nil {
			return 0, 0, within(err)
		}
		v = v<<8 | uint64(c)
	}
	return v, n, nil
}

// within is an end of the stream where none may be.
func within(err error) error {
	if errors.Is(err, io.EOF) {
		return io.ErrUnexpectedEOF
	}
	return err
}

// open reads up to the first block.
func (m *matroska) open() error {
	m.scale, m.pending = 1e6, -1
	size, err := m.walk()
	if err != nil {
		return err
	}
	if !m.video {
		return errors.New("it holds no video")
	}
	m.pending = size
	return nil
}

// walk goes on to the next block and gives its size. What holds blocks, or says
// something of the track, is entered by going on behind its head.
func (m *matroska) walk() (int64, error) {
	for {
		id, size, err := m.header()
		if err != nil {
			return 0, err
		}
		switch id {
		case idSegment, idInfo, idTracks, idVideo, idBlockGroup:
			continue
		case idTrack:
			m.endTrack()
			continue
		case idCluster:
			m.endTrack()
			continue
		case idSimpleBlock, idBlock:
			m.endTrack()
			if size < 4 || size > maxBlock {
				return 0, fmt.Errorf("%w: a block of %d bytes", errNotMatroska, size)
			}
			return size, nil
		}
		if size < 0 {
			return 0, errNotMatroska
		}
		if size > maxValue || !m.wanted(id) {
			if _, err := io.CopyN(io.Discard, m.r, size); err != nil {
				return 0, within(err)
			}
			continue
		}
		value := make([]byte, size)
		if _, err := io.ReadFull(m.r, value); err != nil {
			return 0, within(err)
		}
		m.set(id, value)
	}
}

func (m *matroska) wanted(id uint32) bool {
	switch id {
	case idScale, idTrackNumber, idTrackType, idCodec, idPeriod, idWidth, idHeight, idColourSpace, idCodecPrivate, idTimestamp:
		return true
	}
	return false
}

func (m *matroska) set(id uint32, value []byte) {
	var n uint64
	for _, c := range value {
		n = n<<8 | uint64(c)
	}
	switch id {
	case idScale:
		m.scale = n
	case idTimestamp:
		m.cluster = n
	}
	if m.video { // of a later track
		return
	}
	t := &m.track
	switch id {
	case idTrackNumber:
		t.number = n
	case idTrackType:
		t.kind = n
	case idCodec:
		t.codec = string(value)
	case idPeriod:
		t.period = n
	case idWidth:
		t.w = n
	case idHeight:
		t.h = n
	case idColourSpace:
		t.fourcc = string(value)
	case idCodecPrivate: // of V_MS/VFW/FOURCC: a BITMAPINFOHEADER, the name at 16
		if len(value) >= 20 {
			t.fourcc = string(value[16:20])
		}
	}
}

// endTrack keeps the track that was read when it is a video, and forgets it when
// not.
func (m *matroska) endTrack() {
	if m.video {
		return
	}
	if m.track.kind == 1 {
		m.video = true
		return
	}
	m.track.number, m.track.kind, m.track.codec, m.track.fourcc, m.track.period = 0, 0, "", "", 0
}

// formatOf is what the codec's name means; empty for one that is not kept as it
// is.
func (m *matroska) formatOf() Format {
	name := m.track.codec
	if name == "V_MJPEG" {
		return MJPEG
	}
	if name == "V_UNCOMPRESSED" || name == "V_MS/VFW/FOURCC" {
		switch m.track.fourcc {
		case "YUY2", "YUYV":
			return YUYV
		case "NV12":
			return NV12
		case "MJPG":
			return MJPEG
		}
		name += " " + m.track.fourcc
	}
	m.track.codec = name
	return ""
}

// agree completes what is known of the stream, and refuses one that is not what
// was asked for.
func (m *matroska) agree(info *Info) error {
	format := m.formatOf()
	size := image.Pt(int(min(m.track.w, 1<<20)), int(min(m.track.h, 1<<20)))
	switch {
	case format == "":
		return fmt.Errorf("its pictures are coded in %q; want mjpeg, yuyv or nv12", m.track.codec)
	case info.Format != "" && info.Format != format:
		return fmt.Errorf("its pictures are in %s, and %s was asked for", string(format), string(info.Format))
	case size.X < 1 || size.Y < 1:
		return errors.New("it does not say how large its pictures are")
	case info.Size != image.Point{} && info.Size != size:
		return fmt.Errorf("its pictures are of %dx%d, and %dx%d were asked for", size.X, size.Y, info.Size.X, info.Size.Y)
	}
	info.Format, info.Size = format, size
	if info.Rate == 0 && m.track.period > 0 {
		info.Rate = 1e9 / float64(m.track.period)
	}
	return nil
}

// next reads the next picture of the track.
func (m *matroska) next() (Buffer, error) {
	for {
		size := m.pending
		m.pending = -1
		if size < 0 {
			var err error
			if size, err = m.walk(); err != nil {
				return Buffer{}, err
			}
		}
		b, ours, err := m.block(size)
		if err != nil || ours {
			return b, err
		}
	}
}

// block reads a block, RFC 9559 section 10: track, time after that of the
// cluster, flags, and here one picture.
func (m *matroska) block(size int64) (b Buffer, ours bool, err error) {
	number, n, err := m.vint(8, false)
	if err != nil {
		return Buffer{}, false, within(err)
	}
	var head [3]byte
	if _, err := io.ReadFull(m.r, head[:]); err != nil {
		return Buffer{}, false, within(err)
	}
	size -= int64(n) + 3
	switch {
	case size < 0:
		return Buffer{}, false, errNotMatroska
	case number != m.track.number:
		_, err := io.CopyN(io.Discard, m.r, size)
		return Buffer{}, false, within(err)
	case head[2]&0x06 != 0:
		return Buffer{}, false, errors.New("its pictures are laced, several in a block")
	}
	b = m.pool.Get(int(size))
	if _, err := io.ReadFull(m.r, b.Data); err != nil {
		b.Release()
		return Buffer{}, false, within(err)
	}
	after := int64(int16(binary.BigEndian.Uint16(head[:])))
	b.Media = time.Duration((int64(m.cluster) + after) * int64(m.scale))
	b.Flags = HasMedia
	return b, true, nil
}
