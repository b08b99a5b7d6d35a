package vision

import "errors"

// Errors of video files. They are wrapped with the path and the circumstances;
// test with errors.Is.
var (
	// ErrNoVideo says that a file is missing, cannot be read, or is no video.
	ErrNoVideo = errors.New("no video")
	// ErrEmpty says that a file is empty or a video has no picture.
	ErrEmpty = errors.New("no pictures")
	// ErrTruncated says that a video ended clearly before its container
	// promised; every picture up to there was delivered.
	ErrTruncated = errors.New("cut short")
	// ErrNotWritten says that a recording could not be made or is not whole.
	ErrNotWritten = errors.New("recording failed")
	// ErrDiskFull says that a recording is not whole because the disk is full.
	// It comes together with ErrNotWritten.
	ErrDiskFull = errors.New("disk full")
	// ErrStamp says that a picture of a recording is not later than the one
	// before.
	ErrStamp = errors.New("wrong time of a picture")
)

// Errors of pictures and places.
var (
	// ErrNoPicture says that an Image holds no picture.
	ErrNoPicture = errors.New("empty picture")
	// ErrNotJPEG says that bytes are no JPEG picture, or that a recording takes
	// none.
	ErrNotJPEG = errors.New("not JPEG")
	// ErrSize says that a picture does not have the size that is needed.
	ErrSize = errors.New("wrong picture size")
	// ErrOutside says that a rectangle or a place is not inside the picture.
	ErrOutside = errors.New("outside the picture")
)

// Errors of templates.
var (
	// ErrFlat says that all used pixels of a template have the same luma.
	ErrFlat = errors.New("flat template: all its pixels have the same luma")
	// ErrTooSmall says that a template has a side under 2 pixels or fewer than
	// 4 used pixels.
	ErrTooSmall = errors.New("template too small: each side needs 2 pixels, and 4 pixels must be used")
	// ErrTooLarge says that a template is wider or higher than the screen.
	ErrTooLarge = errors.New("template larger than the screen")
)
