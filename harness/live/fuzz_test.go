package live

import (
	"bufio"
	"bytes"
	"testing"
)

// FuzzMatroska reads streams of any bytes: an error or pictures, never a crash, and
// never more bytes of pictures than came in.
func FuzzMatroska(f *testing.F) {
	head := []byte("\x1aE\xdf\xa3\x80\x18S\x80g\xff\x16T\xaek\x94\xae\x92\xd7\x81\x01\x83\x81\x01\x86\x87V_MJPEG\xe0\x00")
	f.Add(head)
	f.Add([]byte("\x1aE\xdf\xa3\x80\x18S\x80g\x01\xff\xff\xff\xff\xff\xff\xff\x16T\xaek\x9b\xae\x99\xd7\x81\x01\x83\x81\x01\x86\x87V_MJPEG\xe0\x86\xb0\x81\x04\xba\x81\x04" +
		"\x1fC\xb6u\x01\xff\xff\xff\xff\xff\xff\xff\xe7\x81\x05\xa3\x86\x81\x00\x01\x80\xff\xd8\xa0\x88\xa1\x86\x81\x00\x02\x00\xff\xd9"))
	f.Fuzz(func(t *testing.T, src []byte) {
		var pool Pool
		m := &matroska{r: bufio.NewReader(bytes.NewReader(src)), pool: &pool}
		if m.open() != nil {
			return
		}
		var info Info
		if m.agree(&info) != nil {
			return
		}
		total := 0
		for {
			b, err := m.next()
			if err != nil {
				return
			}
			if total += len(b.Data); total > len(src) {
				t.Fatalf("%d bytes of pictures from %d", total, len(src))
			}
			b.Release()
		}
	})
}
