package live

import (
	"context"
	"errors"
	"image"
	"time"

	"latchproof/vision"
)

// Format is how the bytes of a picture are to be understood.
type Format = vision.RawFormat

// The formats that a card may deliver. BGR is for the simulated card alone.
const (
	MJPEG = vision.RawMJPEG
	YUYV  = vision.RawYUYV
	NV12  = vision.RawNV12
	BGR   = vision.RawBGR
)

// Flags say what a card itself says of a picture.
type Flags uint32

const (
	// Damaged: the driver calls the contents damaged.
	Damaged Flags = 1 << iota
	// HasSeq: Seq is the card's own count.
	HasSeq
	// HasMedia: Media is a time.
	HasMedia
	// Late: Stamp is only when the picture arrived, because the source has no
	// better time.
	Late
)

// Buffer is one picture as a card delivered it.
type Buffer struct {
	// Data are the picture's bytes; for formats that are not coded, rows and
	// planes without gaps. They may be empty: the card had a picture and lost
	// its contents.
	Data   []byte
	Format Format
	Size   image.Point // of the picture; Motion JPEG says it too
	// Seq counts the card's pictures, also those that never came; it does not
	// wrap. Only with HasSeq.
	Seq uint64
	// Stamp is the picture's instant on the host's clock.
	Stamp time.Duration
	// Media is the time that the stream itself gives the picture, from a zero of
	// its own. Only with HasMedia.
	Media time.Duration
	Flags Flags

	lease *lease
}

// Info is what a source delivers.
type Info struct {
	// Name says what it is, for people.
	Name   string
	Format Format
	Size   image.Point
	Rate   float64 // nominal, hertz; 0 when unknown
	// Notes are oddities that a reader of the run should know of.
	Notes []string
}

// Source delivers the pictures of a card in order. It is used from one
// goroutine.
type Source interface {
	// Info says what is delivered.
	Info() Info
	// Next waits for the next picture. Release it when done. Errors: ErrNoSignal
	// and ErrFault, after which Next may be called again; any other ends the
	// stream: ErrGone, or that of the context.
	Next(ctx context.Context) (Buffer, error)
	// Close frees the card.
	Close() error
}

// Errors of sources. Test with errors.Is.
var (
	// ErrNoCard says that a card cannot be opened, or does not give what was
	// asked for.
	ErrNoCard = errors.New("no card")
	// ErrNoSignal says that no picture came for a while: nothing arrives at the
	// card's input, or the program that feeds the stream is stuck.
	ErrNoSignal = errors.New("no signal")
	// ErrFault says that the card failed to deliver a picture.
	ErrFault = errors.New("the card reports an error")
	// ErrGone says that the card was taken away or its stream ended.
	ErrGone = errors.New("the card is gone")
)
