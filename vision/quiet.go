package vision

/*
#cgo !windows pkg-config: opencv4
#cgo CXXFLAGS: --std=c++11
void latchproof_quiet(void);
*/
import "C"

import "os"

// OpenCV's own messages; those of FFmpeg are in libav.go.
func init() {
	// OpenCV has read its level already, when it was loaded.
	if _, set := os.LookupEnv("OPENCV_LOG_LEVEL"); !set {
		C.latchproof_quiet()
	}
}
