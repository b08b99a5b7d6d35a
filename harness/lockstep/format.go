package lockstep

import (
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"sync"

	"github.com/klauspost/compress/zstd"
)

// FormatVersion is the version of the trace file; doc.go has the layout.
const FormatVersion = 1

const (
	magic       = "LPTRACE\n"
	headSize    = 8 + 2 + 2 + 2 + 2 + 4
	chunkSize   = 4 + 8 + 4 + 4 + 4 // with its checksum
	endSize     = 4 + 8 + 4
	chunkMagic  = uint32(0x4b4e4843) // "CHNK" in a little-endian file
	endMagic    = uint32(0x444e454c) // "LEND"
	chunkFrames = 64
)

// castagnoli is CRC-32C, listed as CRC-32/ISCSI in the catalogue of
// parametrised CRC algorithms (check value e3069283); RFC 3720, 12.1.
var castagnoli = crc32.MakeTable(crc32.Castagnoli)

// TraceError is a problem in a trace file at a byte offset.
type TraceError struct {
	File    string
	Offset  int64
	Problem string
}

// Error is `file: byte N: problem`.
func (e *TraceError) Error() string {
	return fmt.Sprintf("%s: byte %d: %s", e.File, e.Offset, e.Problem)
}

// Is reports whether target is ErrTrace.
func (e *TraceError) Is(target error) bool { return target == ErrTrace }

// One encoder and one decoder serve the whole package; their all-at-once calls
// are safe from several goroutines and hold no data between calls.
var (
	encoder = sync.OnceValue(func() *zstd.Encoder {
		e, err := zstd.NewWriter(nil, zstd.WithEncoderLevel(zstd.SpeedFastest), zstd.WithEncoderConcurrency(1),
			zstd.WithAllLitEntropyCompression(true), zstd.WithEncoderCRC(false))
		if err != nil {
			panic(err) // the options are constant
		}
		return e
	})
	decoder = sync.OnceValue(func() *zstd.Decoder {
		d, err := zstd.NewReader(nil, zstd.WithDecoderConcurrency(0), zstd.WithDecoderMaxMemory(uint64(maxRaw)))
		if err != nil {
			panic(err)
		}
		return d
	})
)

// maxRaw is the largest chunk before packing.
var maxRaw = int64(chunkFrames) * int64(1+2*Layout{maxSide, maxSide}.Len())

// chunk is up to chunkFrames frames while they are gathered or read out.
type chunk struct {
	first    int64
	sights   []Sight
	features []Features // one per frame; empty when unseen
}

// pack writes the chunk's body: the sights, one byte each, then for every frame
// with a picture its features less those of the picture before in this chunk
// (0 for the first), zig-zag coded, the low bytes of all before the high bytes.
func (c *chunk) pack(l Layout, dst []byte) []byte {
	n := l.Len()
	for _, s := range c.sights {
		dst = append(dst, byte(s))
	}
	pictures := 0
	for _, s := range c.sights {
		if s != Unseen {
			pictures++
		}
	}
	body := len(dst)
	dst = append(dst, make([]byte, 2*n*pictures)...)
	low, high := dst[body:body+n*pictures], dst[body+n*pictures:]
	var before Features
	k := 0
	for i, s := range c.sights {
		if s == Unseen {
			continue
		}
		for j, v := range c.features[i] {
			d := int16(v)
			if before != nil {
				d -= int16(before[j])
			}
			z := uint16(d<<1) ^ uint16(d>>15)
			low[k], high[k] = byte(z), byte(z>>8)
			k++
		}
		before = c.features[i]
	}
	return dst
}

// unpack is the way back. The body must have exactly the right length.
func (c *chunk) unpack(l Layout, frames int, body []byte) error {
	n := l.Len()
	if len(body) < frames {
		return fmt.Errorf("chunk is %d bytes long, too short for its frames", len(body))
	}
	c.sights = c.sights[:0]
	pictures := 0
	for _, b := range body[:frames] {
		if Sight(b) > Seen {
			return fmt.Errorf("sight %d is unknown", b)
		}
		if Sight(b) != Unseen {
			pictures++
		}
		c.sights = append(c.sights, Sight(b))
	}
	body = body[frames:]
	if len(body) != 2*n*pictures {
		return fmt.Errorf("chunk is %d bytes long, want %d", len(body), 2*n*pictures)
	}
	low, high := body[:n*pictures], body[n*pictures:]
	for len(c.features) < frames {
		c.features = append(c.features, nil)
	}
	var before Features
	k := 0
	for i, s := range c.sights {
		if s == Unseen {
			c.features[i] = c.features[i][:0]
			continue
		}
		if cap(c.features[i]) < n {
			c.features[i] = make(Features, n)
		}
		f := c.features[i][:n]
		if before == nil {
			before = make(Features, n)
		}
		l, h := low[k:][:n], high[k:][:n]
		k += n
		bad := uint16(0) // its top bit, when one is out of range
		for j, b := range before[:n] {
			z := uint16(l[j]) | uint16(h[j])<<8
			v := b + (z>>1 ^ -(z & 1))
			f[j] = v
			bad |= v | (maxFeature - v)
		}
		if bad>>15 != 0 {
			return fmt.Errorf("a feature is out of range 0..%d", maxFeature)
		}
		c.features[i], before = f, f
	}
	return nil
}

// maxFeature is the greatest feature: 255 levels.
const maxFeature = 255 * 4

func checksum(parts ...[]byte) uint32 {
	var sum uint32
	for _, p := range parts {
		sum = crc32.Update(sum, castagnoli, p)
	}
	return sum
}

func appendHead(dst []byte, l Layout) []byte {
	at := len(dst)
	dst = append(dst, magic...)
	for _, v := range []int{FormatVersion, FeatureVersion, l.W, l.H} {
		dst = binary.LittleEndian.AppendUint16(dst, uint16(v))
	}
	return binary.LittleEndian.AppendUint32(dst, checksum(dst[at:]))
}

func appendChunkHead(dst []byte, first int64, frames int, packed []byte) []byte {
	at := len(dst)
	dst = binary.LittleEndian.AppendUint32(dst, chunkMagic)
	dst = binary.LittleEndian.AppendUint64(dst, uint64(first))
	dst = binary.LittleEndian.AppendUint32(dst, uint32(frames))
	dst = binary.LittleEndian.AppendUint32(dst, uint32(len(packed)))
	return binary.LittleEndian.AppendUint32(dst, checksum(dst[at:], packed))
}

func appendEnd(dst []byte, frames int64) []byte {
	at := len(dst)
	dst = binary.LittleEndian.AppendUint32(dst, endMagic)
	dst = binary.LittleEndian.AppendUint64(dst, uint64(frames))
	return binary.LittleEndian.AppendUint32(dst, checksum(dst[at:]))
}
