package vision

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"math"

	"github.com/at-wat/ebml-go"
)

// clusterLength is how long a cluster is before the next one begins, ms.
const clusterLength = 1000

// maxAfter is the farthest that a picture may be from the stamp of its cluster,
// ms: two bytes say it.
const maxAfter = 30000

// maxPicture is what a size of four bytes can say, bytes.
const maxPicture = 1<<28 - 2 - 4

// target is what a muxer writes to: an *os.File.
type target interface {
	io.WriterAt
	Truncate(size int64) error
}

// muxer writes coded pictures as the one track of a Matroska file. Every
// picture goes to the file at once, so that a file whose writer was killed is
// whole up to the last one: until they are known, segment and cluster have the
// unknown size of RFC 8794 section 6.2, and Void stands where the seek head
// and the duration will be.
//
// A file holds nothing but its pictures, their size and their rate: the same
// pictures make the same bytes.
//
// Source: RFC 9559, sections named below.
type muxer struct {
	to   target
	rate float64
	last int64 // the latest stamp, ms
	at   int64 // length of the file, bytes
	buf  bytes.Buffer

	segment  int64 // where the data of the segment begins
	seekHead int64 // where the Void for it is
	info     int64
	duration int64 // where the Void for it is
	tracks   int64

	pictures     int64
	cluster      int64 // where the data of the cluster begins; 0: none yet
	clusterStamp int64 // ms
	cues         []cuePoint
}

// The elements, named as in the library's table of RFC 9559 section 5.1 (it
// says Timecode where the standard says Timestamp).
type (
	ebmlHeader struct {
		EBMLVersion, EBMLReadVersion, EBMLMaxIDLength, EBMLMaxSizeLength uint64
		EBMLDocType                                                      string
		EBMLDocTypeVersion, EBMLDocTypeReadVersion                       uint64
	}
	segmentInfo struct { // section 5.1.2
		TimecodeScale uint64 // ns
		MuxingApp     string
		WritingApp    string
		Void          []byte // as long as Duration
	}
	trackEntry struct { // section 5.1.4.1
		TrackNumber, TrackUID, TrackType, FlagLacing uint64
		DefaultDuration                              uint64 // ns
		Language, CodecID                            string
		CodecPrivate                                 []byte `ebml:"CodecPrivate,omitempty"`
		Video                                        videoTrack
	}
	videoTrack struct { // section 5.1.4.1.28
		FlagInterlaced          uint64 `ebml:"FlagInterlaced,omitempty"`
		FieldOrder              uint64 `ebml:"FieldOrder,omitempty"`
		PixelWidth, PixelHeight uint64
	}
	seek struct { // section 5.1.1.1
		SeekID       []byte
		SeekPosition uint64 `ebml:"SeekPosition,size=8"`
	}
	cuePoint struct { // section 5.1.5.1
		CueTime           uint64
		CueTrackPositions struct{ CueTrack, CueClusterPosition uint64 }
	}
)

// The identifiers that a seek head names, RFC 9559 section 5.1, and the size of
// a seek head with the three of them.
var (
	seekInfo   = []byte{0x15, 0x49, 0xa9, 0x66}
	seekTracks = []byte{0x16, 0x54, 0xae, 0x6b}
	seekCues   = []byte{0x1c, 0x53, 0xbb, 0x6b}
)

const (
	seekHeadSize = 4 + 1 + 3*(2+1+(2+1+4)+(2+1+8))
	durationSize = 2 + 1 + 8
)

// stream is what is written: the name of the codec (RFC 9559 section 27.14 and
// the Matroska codec registry), what its decoder needs first, and whether
// pictures are woven.
type stream struct {
	codec   string
	private []byte
	woven   Woven
	w, h    int
	rate    float64
}

// newMuxer writes all that stands before the pictures.
func newMuxer(to target, s stream) (*muxer, error) {
	m := &muxer{to: to, rate: s.rate}
	var track trackEntry
	track.TrackNumber, track.TrackUID, track.TrackType = 1, 1, 1 // video
	track.DefaultDuration = uint64(math.Round(1e9 / s.rate))
	track.Language, track.CodecID, track.CodecPrivate = "und", s.codec, s.private
	track.Video.PixelWidth, track.Video.PixelHeight = uint64(s.w), uint64(s.h)
	switch s.woven { // section 5.1.4.1.28.1: 1 is interlaced; .2: 1 is top, 6 is bottom field first
	case TopFirst:
		track.Video.FlagInterlaced, track.Video.FieldOrder = 1, 1
	case BottomFirst:
		track.Video.FlagInterlaced, track.Video.FieldOrder = 1, 6
	}

	err := m.add(&struct {
		EBML    ebmlHeader
		Segment struct{} `ebml:"Segment,size=unknown"`
	}{EBML: ebmlHeader{1, 1, 4, 8, "matroska", 4, 2}})
	m.segment = int64(m.buf.Len())
	if err == nil {
		m.seekHead = int64(m.buf.Len())
		err = m.add(&struct{ Void []byte }{make([]byte, seekHeadSize-2)})
	}
	if err == nil {
		m.info = int64(m.buf.Len())
		err = m.add(&struct{ Info segmentInfo }{segmentInfo{1e6, "latchproof", "latchproof", make([]byte, durationSize-2)}})
		m.duration = int64(m.buf.Len()) - durationSize
	}
	if err == nil {
		m.tracks = int64(m.buf.Len())
		err = m.add(&struct {
			Tracks struct{ TrackEntry trackEntry }
		}{struct{ TrackEntry trackEntry }{track}})
	}
	if err == nil {
		err = m.flush()
	}
	return m, err
}

// write appends a picture, shown at a stamp in ms. Clusters begin with key
// pictures, unless there is none for too long. When it fails the file ends after
// the picture before.
func (m *muxer) write(data []byte, stamp int64, key bool) error {
	if len(data) > maxPicture {
		return fmt.Errorf("a picture of %d bytes is too large", len(data))
	}
	after := stamp - m.clusterStamp
	fresh := m.cluster == 0 || after >= clusterLength && key || after > maxAfter || after < -maxAfter
	start, cluster, clusterStamp := m.at, m.cluster, m.clusterStamp
	if fresh { // section 5.1.3
		if err := m.endCluster(); err != nil {
			return err
		}
		if err := m.add(&struct {
			Cluster struct{ Timecode uint64 } `ebml:"Cluster,size=unknown"`
		}{struct{ Timecode uint64 }{uint64(stamp)}}); err != nil {
			return err
		}
		// The identifier takes four bytes and the unknown size eight.
		cluster, clusterStamp = start+12, stamp
	}
	m.block(int16(stamp-clusterStamp), data, key)
	if err := m.flush(); err != nil {
		return err
	}
	if fresh {
		m.cluster, m.clusterStamp = cluster, clusterStamp
	}
	if fresh && key {
		var cue cuePoint
		cue.CueTime = uint64(stamp)
		cue.CueTrackPositions.CueTrack = 1
		cue.CueTrackPositions.CueClusterPosition = uint64(start - m.segment)
		m.cues = append(m.cues, cue)
	}
	m.pictures++
	m.last = max(m.last, stamp)
	return nil
}

// block makes a simple block of one picture ready (section 10.2), by hand,
// because the library would copy the picture three times.
func (m *muxer) block(after int16, data []byte, key bool) {
	head := [9]byte{0: 0xa3, 5: 0x81} // simple block; track 1; no lacing
	if key {
		head[8] = 0x80
	}
	binary.BigEndian.PutUint32(head[1:], 1<<28|uint32(4+len(data)))
	binary.BigEndian.PutUint16(head[6:], uint16(after))
	m.buf.Write(head[:])
	m.buf.Write(data)
}

// close writes what is known only now: duration (ms), sizes, and the index. A
// file without it can be read, but not searched. After a failed write it still
// makes the best of what is there.
func (m *muxer) close(duration float64) error {
	err := m.endCluster()
	if m.pictures > 0 { // no Duration is 0, section 5.1.2.10
		if e := m.patch(m.duration, &struct{ Duration float64 }{duration}); err == nil {
			err = e
		}
		if e := m.index(); err == nil {
			err = e
		}
	}
	if e := m.setSize(m.segment); err == nil {
		err = e
	}
	return err
}

// index writes the cues (section 5.1.5) and then the seek head that names them
// (section 5.1.1).
func (m *muxer) index() error {
	cues := m.at
	if err := m.add(&struct{ Cues struct{ CuePoint []cuePoint } }{struct{ CuePoint []cuePoint }{m.cues}}); err != nil {
		return err
	}
	if err := m.flush(); err != nil {
		return err
	}
	return m.patch(m.seekHead, &struct{ SeekHead struct{ Seek []seek } }{struct{ Seek []seek }{[]seek{
		{seekInfo, uint64(m.info - m.segment)},
		{seekTracks, uint64(m.tracks - m.segment)},
		{seekCues, uint64(cues - m.segment)},
	}}})
}

// endCluster sets the size of the cluster that is being written.
func (m *muxer) endCluster() error {
	if m.cluster == 0 {
		return nil
	}
	return m.setSize(m.cluster)
}

// setSize sets the size of the element whose data begins at a place and ends
// with the file. It is the eight bytes before, RFC 8794 section 4.
func (m *muxer) setSize(data int64) error {
	var b [8]byte
	binary.BigEndian.PutUint64(b[:], 1<<56|uint64(m.at-data))
	_, err := m.to.WriteAt(b[:], data-8)
	return err
}

// patch puts elements over what was kept free for them.
func (m *muxer) patch(at int64, elements any) error {
	var b bytes.Buffer
	if err := ebml.Marshal(elements, &b); err != nil {
		return err
	}
	_, err := m.to.WriteAt(b.Bytes(), at)
	return err
}

// add makes elements ready to be written.
func (m *muxer) add(elements any) error {
	err := ebml.Marshal(elements, &m.buf)
	if err != nil {
		m.buf.Reset()
	}
	return err
}

// flush appends what is ready to the file, all or nothing.
func (m *muxer) flush() error {
	n, err := m.to.WriteAt(m.buf.Bytes(), m.at)
	m.buf.Reset()
	if err == nil {
		m.at += int64(n)
		return nil
	}
	m.to.Truncate(m.at) // as well as it goes: the first error is the one to report
	return err
}
