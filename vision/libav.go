package vision

/*
#cgo pkg-config: libavformat libavcodec libswscale libavutil
#cgo CFLAGS: -O3 -std=gnu11 -Wall -Wno-deprecated-declarations
#include <stdlib.h>
#include "libav.h"
*/
import "C"

import (
	"errors"
	"os"
	"path/filepath"
	"unsafe"
)

func init() {
	verbose := C.int(0)
	if os.Getenv("LATCHPROOF_DECODER_MESSAGES") != "" {
		verbose = 1
	}
	C.lp_quiet(verbose)
}

// errLibrary is a failure in FFmpeg, in its words.
type errLibrary C.int

func (e errLibrary) Error() string {
	var buf [C.AV_ERROR_MAX_STRING_SIZE]C.char
	C.av_strerror(C.int(e), &buf[0], C.size_t(len(buf)))
	return C.GoString(&buf[0])
}

func (e errLibrary) is(r C.int) bool { return C.int(e) == r }

// demuxers are FFmpeg's names for the containers of sniff.go.
var demuxers = map[string]string{
	"Matroska": "matroska", "MP4": "mov", "AVI": "avi", "Ogg": "ogg", "FLV": "flv", "ASF": "asf",
	"MXF": "mxf", "NUT": "nut", "YUV4MPEG": "yuv4mpegpipe",
	"MPEG program stream": "mpeg", "MPEG transport stream": "mpegts",
}

// openInput opens a file of a kind that container named.
func openInput(path, kind string) (*C.lp_input, error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil, err
	}
	if demuxers[kind] == "" {
		return nil, errors.New("unknown kind of file")
	}
	// With the protocol in front, an absolute path cannot be taken for another.
	url, format := C.CString("file:"+abs), C.CString(demuxers[kind])
	defer C.free(unsafe.Pointer(url))
	defer C.free(unsafe.Pointer(format))
	var in *C.lp_input
	if r := C.lp_input_open(&in, url, format); r < 0 {
		return nil, errLibrary(r)
	}
	return in, nil
}
