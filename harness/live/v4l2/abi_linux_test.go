package v4l2

import (
	"bufio"
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"unsafe"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

// fact is something that the C header says too: an expression of C and what it
// is here.
type fact struct {
	c    string
	here uintptr
}

func facts() []fact {
	var (
		ca capability
		fo format
		sp streamParm
		rb requestBuffers
		bu buffer
		in input
		dv dvTimings
	)
	all := []fact{
		{"sizeof(struct v4l2_capability)", unsafe.Sizeof(ca)},
		{"sizeof(struct v4l2_format)", unsafe.Sizeof(fo)},
		{"sizeof(struct v4l2_pix_format)", unsafe.Sizeof(fo.Pix)},
		{"sizeof(struct v4l2_streamparm)", unsafe.Sizeof(sp)},
		{"sizeof(struct v4l2_requestbuffers)", unsafe.Sizeof(rb)},
		{"sizeof(struct v4l2_buffer)", unsafe.Sizeof(bu)},
		{"sizeof(struct v4l2_input)", unsafe.Sizeof(in)},
		{"sizeof(struct v4l2_dv_timings)", unsafe.Sizeof(dv)},
		{"VIDIOC_QUERYCAP", reqQueryCap}, {"VIDIOC_G_FMT", reqGetFormat}, {"VIDIOC_S_FMT", reqSetFormat},
		{"VIDIOC_REQBUFS", reqBuffers}, {"VIDIOC_QUERYBUF", reqQueryBuffer}, {"VIDIOC_QBUF", reqQueue},
		{"VIDIOC_DQBUF", reqDequeue}, {"VIDIOC_STREAMON", reqStreamOn}, {"VIDIOC_STREAMOFF", reqStreamOff},
		{"VIDIOC_G_PARM", reqGetParm}, {"VIDIOC_S_PARM", reqSetParm}, {"VIDIOC_ENUMINPUT", reqEnumInput},
		{"VIDIOC_G_INPUT", reqGetInput}, {"VIDIOC_QUERY_DV_TIMINGS", reqQueryDVTimings},
		{"V4L2_BUF_TYPE_VIDEO_CAPTURE", bufCapture}, {"V4L2_MEMORY_MMAP", memoryMmap},
		{"V4L2_CAP_VIDEO_CAPTURE", capCapture}, {"V4L2_CAP_STREAMING", capStreaming}, {"V4L2_CAP_DEVICE_CAPS", capDeviceCaps},
		{"V4L2_BUF_FLAG_ERROR", flagError}, {"V4L2_BUF_FLAG_TIMESTAMP_MASK", flagTimeMask},
		{"V4L2_BUF_FLAG_TIMESTAMP_MONOTONIC", flagTimeMonotonic},
		{"V4L2_FIELD_NONE", fieldNone}, {"V4L2_FIELD_INTERLACED", fieldInterlaced},
		{"V4L2_FIELD_INTERLACED_TB", fieldInterlacedTB}, {"V4L2_FIELD_INTERLACED_BT", fieldInterlacedBT},
		{"V4L2_QUANTIZATION_FULL_RANGE", quantFull},
		{"V4L2_IN_ST_NO_POWER", inputNoPower}, {"V4L2_IN_ST_NO_SIGNAL", inputNoSignal}, {"V4L2_IN_ST_NO_SYNC", inputNoSync},
		{"V4L2_PIX_FMT_MJPEG", uintptr(fourcc("MJPG"))}, {"V4L2_PIX_FMT_JPEG", uintptr(fourcc("JPEG"))},
		{"V4L2_PIX_FMT_YUYV", uintptr(fourcc("YUYV"))}, {"V4L2_PIX_FMT_NV12", uintptr(fourcc("NV12"))},
	}
	at := func(structure, field string, here uintptr) {
		all = append(all, fact{fmt.Sprintf("offsetof(struct v4l2_%s, %s)", structure, field), here})
	}
	at("capability", "card", unsafe.Offsetof(ca.Card))
	at("capability", "bus_info", unsafe.Offsetof(ca.BusInfo))
	at("capability", "capabilities", unsafe.Offsetof(ca.Capabilities))
	at("capability", "device_caps", unsafe.Offsetof(ca.Device))
	at("format", "fmt.pix.width", unsafe.Offsetof(fo.Pix))
	pix := unsafe.Offsetof(fo.Pix)
	at("format", "fmt.pix.pixelformat", pix+unsafe.Offsetof(fo.Pix.PixelFormat))
	at("format", "fmt.pix.field", pix+unsafe.Offsetof(fo.Pix.Field))
	at("format", "fmt.pix.bytesperline", pix+unsafe.Offsetof(fo.Pix.BytesPerLine))
	at("format", "fmt.pix.sizeimage", pix+unsafe.Offsetof(fo.Pix.SizeImage))
	at("format", "fmt.pix.quantization", pix+unsafe.Offsetof(fo.Pix.Quantization))
	at("streamparm", "parm.capture.timeperframe", unsafe.Offsetof(sp.TimePerFrame))
	at("streamparm", "parm.capture.readbuffers", unsafe.Offsetof(sp.ReadBuffers))
	at("requestbuffers", "memory", unsafe.Offsetof(rb.Memory))
	at("buffer", "bytesused", unsafe.Offsetof(bu.BytesUsed))
	at("buffer", "flags", unsafe.Offsetof(bu.Flags))
	at("buffer", "field", unsafe.Offsetof(bu.Field))
	at("buffer", "timestamp.tv_sec", unsafe.Offsetof(bu.Seconds))
	at("buffer", "timestamp.tv_usec", unsafe.Offsetof(bu.Micros))
	at("buffer", "sequence", unsafe.Offsetof(bu.Sequence))
	at("buffer", "memory", unsafe.Offsetof(bu.Memory))
	at("buffer", "m.offset", unsafe.Offsetof(bu.Offset))
	at("buffer", "length", unsafe.Offsetof(bu.Length))
	at("input", "name", unsafe.Offsetof(in.Name))
	at("input", "std", unsafe.Offsetof(in.Std))
	at("input", "status", unsafe.Offsetof(in.Status))
	at("dv_timings", "bt.width", unsafe.Offsetof(dv.Width))
	at("dv_timings", "bt.interlaced", unsafe.Offsetof(dv.Interlaced))
	at("dv_timings", "bt.pixelclock", unsafe.Offsetof(dv.PixelClock))
	at("dv_timings", "bt.hfrontporch", unsafe.Offsetof(dv.HFront))
	at("dv_timings", "bt.vbackporch", unsafe.Offsetof(dv.VBack))
	at("dv_timings", "bt.il_vbackporch", unsafe.Offsetof(dv.ILVBack))
	at("dv_timings", "bt.flags", unsafe.Offsetof(dv.Flags))
	return all
}

// The source outside is linux/videodev2.h of this machine, through its C
// compiler.
var _ = Describe("what the kernel is told", func() {
	It("agrees with the C header in sizes, offsets, numbers of requests and flags", func(ctx SpecContext) {
		cc, err := exec.LookPath("gcc")
		if err != nil {
			Skip("no gcc")
		}
		if _, err := os.Stat("/usr/include/linux/videodev2.h"); err != nil {
			Skip("no linux/videodev2.h")
		}
		dir := GinkgoT().TempDir()
		var src bytes.Buffer
		src.WriteString("#include <stdio.h>\n#include <stddef.h>\n#include <linux/videodev2.h>\nint main(void) {\n")
		all := facts()
		for _, f := range all {
			fmt.Fprintf(&src, "printf(\"%%lu\\n\", (unsigned long)(%s));\n", f.c)
		}
		src.WriteString("return 0;\n}\n")
		file, program := filepath.Join(dir, "abi.c"), filepath.Join(dir, "abi")
		Expect(os.WriteFile(file, src.Bytes(), 0o666)).To(Succeed())
		out, err := exec.CommandContext(ctx, cc, "-o", program, file).CombinedOutput()
		Expect(err).NotTo(HaveOccurred(), "%s", out)
		out, err = exec.CommandContext(ctx, program).Output()
		Expect(err).NotTo(HaveOccurred())
		lines := bufio.NewScanner(bytes.NewReader(out))
		for _, f := range all {
			Expect(lines.Scan()).To(BeTrue())
			want, err := strconv.ParseUint(strings.TrimSpace(lines.Text()), 10, 64)
			Expect(err).NotTo(HaveOccurred())
			Expect(uint64(f.here)).To(Equal(want), f.c)
		}
		Expect(len(all)).To(BeNumerically(">", 70))
	})
})
