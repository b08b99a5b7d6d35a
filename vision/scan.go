package vision

// #include "libav.h"
import "C"

import (
	"fmt"
	"math"
	"slices"
	"time"
	"unsafe"
)

// Scan is what the packets of a video say about its pictures.
type Scan struct {
	// Stamps are the presentation times in the order of showing, one for each
	// picture, counted from the first: Stamps[0] is 0. They are exact to the
	// container's time base (1 ms in most Matroska files) and rounded to 1 ns.
	Stamps []time.Duration
	// Keys are the indexes of the pictures that decoding can start from,
	// ascending.
	Keys []int
	Info Info
}

// ScanVideo reads the packets of a video file without decoding them. It gives
// the errors of OpenVideo, except that nothing is known about whether the
// pictures can be decoded.
func ScanVideo(path string) (Scan, error) {
	in, kind, err := openFile(path)
	if err != nil {
		return Scan{}, err
	}
	defer C.lp_input_close(&in)
	x, err := scan(in, path, kind)
	if err != nil {
		return Scan{}, err
	}
	return x.Scan, nil
}

// index is a Scan with the place of every picture in the file. A packet has a
// number in the order of the file, and its picture another in the order of
// showing.
type index struct {
	Scan
	packets []C.lp_packet
	shown   []int32 // packet to picture; -1: never shown
	packet  []int32 // picture to packet
	key     []int32 // packet to the last key packet at or before it; -1: none
	delay   int     // how many pictures are before a picture in the file and after it when shown, at most
	hidden  int     // packets that are never shown
}

func scan(in *C.lp_input, path, kind string) (*index, error) {
	var raw *C.lp_packet
	var n C.int64_t
	if r := C.lp_scan(in, &raw, &n); r < 0 {
		return nil, fmt.Errorf("%s: %w: %w", path, ErrNoVideo, errLibrary(r))
	}
	x := &index{packets: slices.Clone(unsafe.Slice(raw, n))}
	C.av_free(unsafe.Pointer(raw))
	x.order()
	x.stamp(in.track.time_base)
	x.Info = infoOf(in, kind)
	if len(x.packet) == 0 {
		if wholeButEmpty(path, kind) {
			return nil, fmt.Errorf("%s: %w: the Matroska file is whole but holds none", path, ErrEmpty)
		}
		return nil, fmt.Errorf("%s: %w: the %s file holds none", path, ErrEmpty, kind)
	}
	return x, nil
}

// order numbers the pictures by their presentation times; equal ones stay in
// the order of the file.
func (x *index) order() {
	x.shown, x.key = make([]int32, len(x.packets)), make([]int32, len(x.packets))
	last := int32(-1)
	for k, p := range x.packets {
		if p.flags&C.LP_KEY != 0 {
			last = int32(k)
		}
		x.key[k], x.shown[k] = last, -1
		if p.flags&C.LP_DISCARD == 0 {
			x.packet = append(x.packet, int32(k))
		}
	}
	x.hidden = len(x.packets) - len(x.packet)
	slices.SortStableFunc(x.packet, func(a, b int32) int {
		switch pa, pb := x.packets[a].pts, x.packets[b].pts; {
		case pa < pb:
			return -1
		case pa > pb:
			return 1
		}
		return 0
	})
	for i, k := range x.packet {
		x.shown[k] = int32(i)
		if x.packets[k].flags&C.LP_KEY != 0 {
			x.Keys = append(x.Keys, i)
		}
	}
	// A picture waits until all those shown before it have come. The one that
	// waits for the picture of packet k is the last shown of those before it.
	most := int32(-1)
	seen := 0
	for _, i := range x.shown {
		if i < 0 {
			continue
		}
		if i < most {
			x.delay = max(x.delay, seen-int(i))
		}
		most = max(most, i)
		seen++
	}
}

func (x *index) stamp(base C.AVRational) {
	x.Stamps = make([]time.Duration, len(x.packet))
	for i, k := range x.packet {
		x.Stamps[i] = time.Duration(C.lp_nanoseconds(x.packets[k].pts, x.packets[x.packet[0]].pts, base))
	}
}

func infoOf(in *C.lp_input, kind string) Info {
	par := in.track.codecpar
	rate := C.av_guess_frame_rate(in.fmt, in.track, nil)
	info := Info{Width: int(par.width), Height: int(par.height), Container: kind}
	if rate.num > 0 && rate.den > 0 {
		info.FPS = sane(float64(rate.num) / float64(rate.den))
	}
	if info.Frames = int64(in.track.nb_frames); info.Frames <= 0 {
		info.Frames = int64(math.Round(info.FPS * duration(in)))
	}
	return info
}

// duration is what the container promises, seconds; 0 when it does not say.
func duration(in *C.lp_input) float64 {
	t := in.track
	if t.duration != C.AV_NOPTS_VALUE && in.fmt.duration_estimation_method != C.AVFMT_DURATION_FROM_BITRATE && t.time_base.den > 0 {
		return sane(float64(t.duration) * float64(t.time_base.num) / float64(t.time_base.den))
	}
	if in.fmt.duration != C.AV_NOPTS_VALUE && in.fmt.duration_estimation_method != C.AVFMT_DURATION_FROM_BITRATE {
		return sane(float64(in.fmt.duration) / C.AV_TIME_BASE)
	}
	return 0
}
