package vision

/*
#cgo !windows pkg-config: opencv4
#cgo CXXFLAGS: --std=c++11
void latchproof_quiet(void);
*/
import "C"

import "os"

// The decoder reads its settings from the environment when it is first used.
// Settings that the user made are kept.
func init() {
	for name, value := range map[string]string{
		// AV_LOG_QUIET of FFmpeg's libavutil/log.h.
		"OPENCV_FFMPEG_LOGLEVEL": "-8",
		// No other reader or writer may take over when FFmpeg refuses a file.
		"OPENCV_VIDEOIO_PRIORITY_LIST": "FFMPEG",
	} {
		if _, set := os.LookupEnv(name); !set {
			os.Setenv(name, value)
		}
	}
	// OpenCV has read its own level already, when it was loaded.
	if _, set := os.LookupEnv("OPENCV_LOG_LEVEL"); !set {
		C.latchproof_quiet()
	}
}
