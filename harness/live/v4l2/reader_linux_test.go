package v4l2

import (
	"context"
	"image"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"golang.org/x/sys/unix"

	"latchproof/harness/live"
)

var size = image.Pt(4, 2)

// made is a sound device of 4x2 pixels in YUYV with rows of 12 bytes.
func made() *fake {
	return &fake{
		caps: capCapture | capStreaming, count: 4, length: 64, clock: 100 * time.Second,
		pix:     pixFormat{Width: 4, Height: 2, PixelFormat: fourcc("YUYV"), Field: fieldNone, BytesPerLine: 12, SizeImage: 24},
		rate:    fraction{1001, 60000},
		timings: unix.ENOTTY,
	}
}

func options() Options {
	return Options{
		Path: "/dev/made-up", Format: live.YUYV, Size: size, Rate: 60000. / 1001,
		Now: func() time.Duration { return 5 * time.Second }, Silence: time.Millisecond,
	}
}

// shot is a buffer that arrived, numbered and stamped.
func shot(index, sequence uint32, at time.Duration, flags uint32, data string) step {
	return step{data: []byte(data), b: buffer{
		Index: index, BytesUsed: uint32(len(data)), Sequence: sequence, Flags: flagTimeMonotonic | flags,
		Seconds: int64(at / time.Second), Micros: int64(at % time.Second / time.Microsecond),
	}}
}

const whole = "abcdefgh....ijklmnop...."

func begin(f *fake, o Options) *reader {
	GinkgoHelper()
	r, err := start(f, o)
	Expect(err).NotTo(HaveOccurred())
	DeferCleanup(func() {
		Expect(r.Close()).To(Succeed())
		Expect(f.closed).To(BeTrue())
		Expect(f.on).To(BeFalse())
		Expect(f.unmapped).To(Equal(len(f.buffers)))
	})
	return r
}

var _ = Describe("opening a device", func() {
	It("asks for format and size and starts with all buffers queued", func() {
		f := made()
		r := begin(f, options())
		Expect(f.asked.Type).To(BeEquivalentTo(bufCapture))
		Expect(f.asked.Pix.PixelFormat).To(Equal(fourcc("YUYV")))
		Expect([]uint32{f.asked.Pix.Width, f.asked.Pix.Height}).To(Equal([]uint32{4, 2}))
		Expect(f.on).To(BeTrue())
		Expect(f.queued).To(HaveLen(4))
		Expect(r.Info().Rate).To(BeNumerically("~", 59.94, 0.001))
		Expect(r.Info().Name).To(Equal("/dev/made-up (made-up card)"))
		Expect(r.Info().Notes).To(BeEmpty())
	})

	DescribeTable("refuses what is not what was asked for",
		func(change func(*fake, *Options), says string) {
			f, o := made(), options()
			change(f, &o)
			_, err := start(f, o)
			Expect(err).To(MatchError(ContainSubstring(says)))
			Expect(f.closed).To(BeTrue())
			Expect(f.unmapped).To(Equal(len(f.buffers)))
		},
		Entry("another format without a word", func(f *fake, _ *Options) { f.pix.PixelFormat = fourcc("MJPG") }, "yuyv was asked for and the driver gives MJPG"),
		Entry("another size without a word", func(f *fake, _ *Options) { f.pix.Width = 8 }, "4x2 was asked for and the driver gives 8x2"),
		Entry("another rate without a word", func(f *fake, _ *Options) { f.rate = fraction{1, 30} }, "59.940 pictures a second were asked for and the driver gives 30.000"),
		Entry("single fields", func(f *fake, _ *Options) { f.pix.Field = fieldTop }, "fields of kind 2"),
		Entry("rows too short", func(f *fake, _ *Options) { f.pix.BytesPerLine = 7 }, "rows of 7 bytes, and 8 are needed"),
		Entry("buffers too small", func(f *fake, _ *Options) { f.length = 19 }, "have 19 bytes, and a picture has 20"),
		Entry("too few buffers", func(f *fake, _ *Options) { f.count = 1 }, "only 1 buffers"),
		Entry("no capture", func(f *fake, _ *Options) { f.caps = capStreaming }, "does not capture video"),
		Entry("no streaming", func(f *fake, _ *Options) { f.caps = capCapture }, "does not capture video"),
		Entry("a format that nobody knows", func(_ *fake, o *Options) { o.Format = "bgr" }, `"bgr" cannot be captured`),
	)

	It("takes the signal's rate when the driver sets none, and says that fields are woven", func() {
		f, o := made(), options()
		f.rate, f.timings = fraction{}, nil // zeros: a signal of no size
		f.pix.Field = fieldInterlacedBT
		o.Rate = 0
		r := begin(f, o)
		Expect(r.Info().Rate).To(BeZero())
		Expect(r.Info().Notes).To(ContainElement(ContainSubstring("weaves two fields")))
	})

	It("says that a path is no device", func() {
		_, err := Open(Options{Path: "/no/such/video", Format: live.YUYV, Size: size})
		Expect(err).To(MatchError(live.ErrNoCard))
		Expect(err).To(MatchError(ContainSubstring("no such file")))
		_, err = Open(Options{Path: "reader_linux_test.go", Format: live.YUYV, Size: size})
		Expect(err).To(MatchError(ContainSubstring("not a device")))
		_, err = Open(Options{Path: "/dev/null", Format: live.YUYV, Size: size})
		Expect(err).To(MatchError(ContainSubstring("no video device")))
	})
})

var _ = Describe("pictures of a device", func() {
	next := func(r *reader) live.Buffer {
		GinkgoHelper()
		b, err := r.Next(context.Background())
		Expect(err).NotTo(HaveOccurred())
		return b
	}

	It("have their rows without gaps, their number, and their instant on the host's clock", func() {
		f := made()
		f.steps = []step{shot(0, 7, 101*time.Second+250*time.Microsecond, 0, whole), shot(1, 8, 102*time.Second, 0, whole)}
		r := begin(f, options())
		b := next(r)
		Expect(string(b.Data)).To(Equal("abcdefghijklmnop"))
		Expect(b.Format).To(Equal(live.YUYV))
		// The driver's clock is at 100 s when the host's is at 5 s.
		Expect(b.Stamp).To(Equal(6*time.Second + 250*time.Microsecond))
		Expect(b.Flags).To(Equal(live.HasSeq))
		Expect(b.Seq).To(BeEquivalentTo(7))
		Expect(next(r).Seq).To(BeEquivalentTo(8))
		Expect(f.queued).To(HaveLen(4), "every buffer goes back at once")
	})

	It("that were lost leave a gap in the numbers, also where these wrap", func() {
		f := made()
		for i, n := range []uint32{0xfffffffe, 0xffffffff, 0, 3} {
			f.steps = append(f.steps, shot(uint32(i), n, time.Duration(101+i)*time.Second, 0, whole))
		}
		r := begin(f, options())
		var got []uint64
		for range 4 {
			b := next(r)
			Expect(b.Flags & live.HasSeq).NotTo(BeZero())
			got = append(got, b.Seq)
		}
		Expect(got).To(Equal([]uint64{0xfffffffe, 0xffffffff, 0x100000000, 0x100000003}))
	})

	It("have no number when the driver's count stands still or goes back", func() {
		f := made()
		for i, n := range []uint32{5, 5, 2, 3} {
			f.steps = append(f.steps, shot(uint32(i), n, time.Duration(101+i)*time.Second, 0, whole))
		}
		r := begin(f, options())
		var has []bool
		for range 4 {
			has = append(has, next(r).Flags&live.HasSeq != 0)
		}
		Expect(has).To(Equal([]bool{true, false, false, true}))
	})

	It("are damaged when the driver says so or a part is missing, and empty when it has nothing", func() {
		f := made()
		f.steps = []step{
			shot(0, 0, 101*time.Second, flagError, whole), shot(1, 1, 102*time.Second, 0, whole[:14]),
			shot(2, 2, 103*time.Second, flagError, ""), shot(3, 3, 104*time.Second, 0, whole),
		}
		r := begin(f, options())
		Expect(next(r).Flags & live.Damaged).NotTo(BeZero())
		short := next(r)
		Expect(short.Flags & live.Damaged).NotTo(BeZero())
		Expect(string(short.Data)).To(Equal("abcdefghij\x00\x00\x00\x00\x00\x00"))
		empty := next(r)
		Expect(empty.Data).To(BeEmpty())
		Expect(empty.Flags & live.Damaged).NotTo(BeZero())
		Expect(next(r).Flags & live.Damaged).To(BeZero())
	})

	It("are stamped on arrival when the driver has another clock", func() {
		f := made()
		s := shot(0, 0, 101*time.Second, 0, whole)
		s.b.Flags = 0
		f.steps = []step{s}
		b := next(begin(f, options()))
		Expect(b.Stamp).To(Equal(5 * time.Second))
		Expect(b.Flags & live.Late).NotTo(BeZero())
	})

	It("of Motion JPEG are the bytes as they are, as many as the driver says", func() {
		f, o := made(), options()
		o.Format = live.MJPEG
		f.pix.PixelFormat, f.pix.BytesPerLine = fourcc("MJPG"), 0
		f.steps = []step{shot(0, 0, 101*time.Second, 0, "\xff\xd8 a picture \xff\xd9")}
		Expect(string(next(begin(f, o)).Data)).To(Equal("\xff\xd8 a picture \xff\xd9"))
	})

	It("come after EAGAIN and EINTR, and after an error of the card", func() {
		f := made()
		f.steps = []step{{err: unix.EAGAIN}, {err: unix.EINTR}, {err: unix.EIO}, shot(0, 4, 101*time.Second, 0, whole)}
		r := begin(f, options())
		_, err := r.Next(context.Background())
		Expect(err).To(MatchError(live.ErrFault))
		Expect(next(r).Seq).To(BeEquivalentTo(4))
	})

	It("end when the device is taken away", func() {
		f := made()
		f.steps = []step{shot(0, 0, 101*time.Second, 0, whole)}
		r := begin(f, options())
		next(r)
		_, err := r.Next(context.Background())
		Expect(err).To(MatchError(live.ErrGone))
		Expect(err).To(MatchError(ContainSubstring("disconnected")))
	})

	It("that came whole are delivered before the device's end is told", func() {
		f := made()
		f.steps = []step{shot(0, 0, 101*time.Second, 0, whole)}
		r := begin(f, options())
		f.queueErr = unix.ENODEV
		next(r)
		_, err := r.Next(context.Background())
		Expect(err).To(MatchError(live.ErrGone))
		f.queueErr = nil
	})

	DescribeTable("are missed with the reason that the card gives",
		func(timings error, status uint32, says string) {
			f := made()
			f.timings, f.status = timings, status
			f.steps = []step{{quiet: true}, {quiet: true}, shot(0, 9, 101*time.Second, 0, whole)}
			r := begin(f, options())
			_, err := r.Next(context.Background())
			Expect(err).To(MatchError(live.ErrNoSignal))
			Expect(err).To(MatchError(ContainSubstring(says)))
			for err != nil {
				var b live.Buffer
				if b, err = r.Next(context.Background()); err == nil {
					Expect(b.Seq).To(BeEquivalentTo(9), "it goes on when the signal is back")
				}
			}
		},
		Entry("nothing connected", unix.ENOLINK, uint32(0), "nothing is connected"),
		Entry("not locked", unix.ENOLCK, uint32(0), "not stable"),
		Entry("out of range", unix.ERANGE, uint32(0), "cannot capture"),
		Entry("an analogue input without a signal", unix.ENOTTY, uint32(inputNoSignal), "no signal at its input"),
		Entry("an input without power", unix.ENOTTY, uint32(inputNoPower), "is off"),
		Entry("an input without sync", unix.ENOTTY, uint32(inputNoSync), "no sync"),
		Entry("nothing known", unix.ENOTTY, uint32(0), "does not say why"),
	)

	It("end with the context", func() {
		ctx, cancel := context.WithCancel(context.Background())
		cancel()
		_, err := begin(made(), options()).Next(ctx)
		Expect(err).To(MatchError(context.Canceled))
	})

	It("have no gap in NV12 either", func() {
		f, o := made(), options()
		o.Format = live.NV12
		f.pix.PixelFormat, f.pix.BytesPerLine = fourcc("NV12"), 6
		f.steps = []step{shot(0, 0, 101*time.Second, 0, "abcd..efgh..UVUV..")}
		Expect(string(next(begin(f, o)).Data)).To(Equal("abcdefghUVUV"))
	})
})
