package v4l2

import "unsafe"

// The structures of linux/videodev2.h that are used, and the numbers of the
// requests, as on architectures with pointers of 64 bits (32 bits are refused).
// abi_test.go holds sizes, offsets and numbers against the C header by way of the
// C compiler, where both are there.

type capability struct {
	Driver, Card         [16]byte
	card2                [16]byte // the card's name has 32
	BusInfo              [32]byte
	Version              uint32
	Capabilities, Device uint32
	_                    [3]uint32
}

type pixFormat struct {
	Width, Height, PixelFormat, Field, BytesPerLine, SizeImage uint32
	ColorSpace, Priv, Flags, YCbCr, Quantization, Transfer     uint32
}

type format struct {
	Type uint32
	_    uint32
	Pix  pixFormat
	_    [152]byte
}

type fraction struct{ Num, Den uint32 }

type streamParm struct {
	Type, Capability, Mode uint32
	TimePerFrame           fraction
	Extended, ReadBuffers  uint32
	_                      [176]byte
}

type requestBuffers struct {
	Count, Type, Memory, Capabilities uint32
	Flags                             uint8
	_                                 [3]uint8
}

type buffer struct {
	Index, Type, BytesUsed, Flags, Field uint32
	_                                    uint32
	Seconds, Micros                      int64
	TimeCode                             [16]byte
	Sequence, Memory                     uint32
	Offset                               uint32 // of a union as wide as a pointer
	_                                    uint32
	Length                               uint32
	_, _                                 uint32
	_                                    uint32
}

type input struct {
	Index               uint32
	Name                [32]byte
	Type, AudioSet, Tun uint32
	Std                 [2]uint32
	Status, Caps        uint32
	_                   [4]uint32
}

// dvTimings is packed in C: the pixel clock has no alignment of its own.
type dvTimings struct {
	Type                                  uint32
	Width, Height, Interlaced, Polarities uint32
	PixelClock                            [2]uint32 // hertz, low half first on little endian
	HFront, HSync, HBack                  uint32
	VFront, VSync, VBack                  uint32
	ILVFront, ILVSync, ILVBack            uint32
	Standards, Flags                      uint32
	_                                     [60]byte
}

// The kernel's numbering of requests (asm-generic/ioctl.h).
func ior(n, size uintptr) uintptr  { return 2<<30 | size<<16 | 'V'<<8 | n }
func iow(n, size uintptr) uintptr  { return 1<<30 | size<<16 | 'V'<<8 | n }
func iowr(n, size uintptr) uintptr { return 3<<30 | size<<16 | 'V'<<8 | n }

var (
	reqQueryCap       = ior(0, unsafe.Sizeof(capability{}))
	reqGetFormat      = iowr(4, unsafe.Sizeof(format{}))
	reqSetFormat      = iowr(5, unsafe.Sizeof(format{}))
	reqBuffers        = iowr(8, unsafe.Sizeof(requestBuffers{}))
	reqQueryBuffer    = iowr(9, unsafe.Sizeof(buffer{}))
	reqQueue          = iowr(15, unsafe.Sizeof(buffer{}))
	reqDequeue        = iowr(17, unsafe.Sizeof(buffer{}))
	reqStreamOn       = iow(18, 4)
	reqStreamOff      = iow(19, 4)
	reqGetParm        = iowr(21, unsafe.Sizeof(streamParm{}))
	reqSetParm        = iowr(22, unsafe.Sizeof(streamParm{}))
	reqEnumInput      = iowr(26, unsafe.Sizeof(input{}))
	reqGetInput       = ior(38, 4)
	reqQueryDVTimings = ior(99, unsafe.Sizeof(dvTimings{}))
)

const (
	bufCapture    = 1 // V4L2_BUF_TYPE_VIDEO_CAPTURE
	memoryMmap    = 1
	capCapture    = 0x1
	capStreaming  = 0x04000000
	capDeviceCaps = 0x80000000

	flagError         = 0x40
	flagTimeMask      = 0xe000
	flagTimeMonotonic = 0x2000
	flagSourceMask    = 0x70000
	flagSourceSOE     = 0x10000

	fieldNone         = 1
	fieldTop          = 2
	fieldBottom       = 3
	fieldInterlaced   = 4
	fieldInterlacedTB = 8
	fieldInterlacedBT = 9

	quantFull = 1

	inputNoPower  = 0x1
	inputNoSignal = 0x2
	inputNoSync   = 0x10000
)

// fourcc is the number of a pixel format from its name, v4l2_fourcc of the header:
// the first letter in the lowest byte.
func fourcc(s string) uint32 {
	return uint32(s[0]) | uint32(s[1])<<8 | uint32(s[2])<<16 | uint32(s[3])<<24
}

func nameOf(code uint32) string {
	b := []byte{byte(code), byte(code >> 8), byte(code >> 16), byte(code >> 24 & 0x7f)}
	for i, c := range b {
		if c < ' ' || c > '~' {
			b[i] = '?'
		}
	}
	return string(b)
}
