package harness

import (
	"image"
	"regexp"

	"latchproof/harness/live"
	"latchproof/specs"
)

// LiveCard says how the pictures of a real bench's card come to the harness. The
// zero value has none: then nothing is seen, and the read log alone is recorded.
//
//	card: {device: /dev/video0, format: mjpeg, size: [1280, 720], rate: 60000/1001, ...}
//	card: {stream: /run/bench/card.fifo, format: mjpeg, ...}
//
// format is mjpeg, yuyv or nv12; size is that of the captured picture. A device
// needs both and is refused when it does not take them. A stream is a FIFO, or a
// file that grows, into which another program writes: Matroska with Motion JPEG
// or uncompressed pictures, which names format and size itself (those given here
// are a check), or bare pictures in yuyv or nv12, which need both.
//
//	ffmpeg ... -c copy -f matroska -cluster_time_limit 0 -flush_packets 1 FIFO
//
// keeps what a card delivers and hands every picture on when the next one comes.
// A stream has its own delay: calibrate the bench with it.
type LiveCard struct {
	Device string
	Stream string
	Format live.Format
	Size   image.Point
}

// any says whether there is a card.
func (c LiveCard) any() bool { return c.Device != "" || c.Stream != "" }

// liveCardFields are the keys of `card` that are about live capture.
func liveCardFields() []specs.Field[card] {
	path := specs.Text{Min: 1, Max: 4096, Says: "a path"}
	return []specs.Field[card]{
		specs.Key("device", path, "Video device to capture from.", func(c *card, x string, _ specs.Pos) { c.live.Device = x }),
		specs.Key("stream", path, "FIFO or growing file that another program writes the pictures to.", func(c *card, x string, _ specs.Pos) { c.live.Stream = x }),
		specs.Key("format", specs.Text{Min: 4, Max: 5, Pattern: regexp.MustCompile(`^(mjpeg|yuyv|nv12)$`), Says: "mjpeg, yuyv or nv12"},
			"Format of the captured pictures.", func(c *card, x string, _ specs.Pos) { c.live.Format = live.Format(x) }),
		specs.Key("size", specs.List[int64]{Of: specs.Int{Min: 2, Max: 1 << 14}, Min: 2, Max: 2, Says: "two numbers, [width, height]"},
			"Size of the captured picture, pixels.", func(c *card, x []int64, _ specs.Pos) { c.live.Size = image.Pt(int(x[0]), int(x[1])) }),
	}
}

// finishCard says what does not go together.
func finishCard(c *card, v *specs.Value, _ func(string) (*specs.Value, bool)) {
	l := c.live
	switch {
	case l.Device != "" && l.Stream != "":
		v.Fail("a card is either a `device` or a `stream`, not both")
	case l.Device != "" && (l.Format == "" || l.Size == image.Point{}):
		v.Fail("a `device` needs its `format` and its `size`")
	case l.Size.X%2 != 0 || l.Size.Y%2 != 0:
		v.Fail("`size`: both sides must be even")
	case !l.any() && (l.Format != "" || l.Size != image.Point{}):
		v.Fail("`format` and `size` need a `device` or a `stream`")
	}
}
