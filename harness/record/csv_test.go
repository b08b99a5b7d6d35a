package record_test

import (
	"bytes"
	"reflect"
	"testing"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/feeder"
	"latchproof/harness/record"
)

var _ = Describe("CSV files", func() {
	// RFC 4180, section 2: 1 and 2 line ends, 3 header, 5 to 7 quoted fields.
	It("are read as RFC 4180 says", func() {
		want := []feeder.Latch{{Index: 0, Micros: 12, Clocks: 8, P1: 1}, {Index: 1, Micros: 16651, Clocks: 9, P1: 255, P2: 16}}
		for _, src := range []string{
			"index,time_us,clocks,p1,p2\n0,12,8,0x01,0x00\n1,16651,9,0xff,0x10\n",
			"index,time_us,clocks,p1,p2\r\n0,12,8,1,0\r\n1,16651,9,255,16",
			"\"index\",time_us,clocks,p1,p2\n\"0\",12,8,0x01,\"0x00\"\n1,16651,9,0xFF,16\n",
		} {
			Expect(record.ParseReads("reads.csv", []byte(src))).To(Equal(want), src)
		}
		two, err := record.ParseReads("reads.csv", []byte("index,time_us,clocks,p1,p2,clocks2\n0,12,8,0,0,16\n"))
		Expect(err).NotTo(HaveOccurred())
		Expect(two[0].Clocks2).To(BeEquivalentTo(16))
	})

	DescribeTable("say every problem with its place",
		func(src, want string) {
			_, err := record.ParseReads("reads.csv", []byte(src))
			Expect(err).To(MatchError(want))
		},
		Entry("empty", "", `reads.csv:1:1: no header: want "index,time_us,clocks,p1,p2"`),
		Entry("header", "index,time\n", `reads.csv:1:1: header "index,time": want "index,time_us,clocks,p1,p2"`),
		Entry("numbers", "index,time_us,clocks,p1,p2\nx,12,256,1,70000\n1,-1,8,+1,0x\n",
			`reads.csv:2:1: "x" is not a whole number`+"\n"+
				`reads.csv:2:6: 256 is out of range 0..255`+"\n"+
				`reads.csv:2:12: 70000 is out of range 0..65535`+"\n"+
				`reads.csv:3:3: -1 is out of range 0..9223372036854775807`+"\n"+
				`reads.csv:3:8: "+1" is not a whole number`+"\n"+
				`reads.csv:3:11: "0x" is not a whole number`),
		Entry("order", "index,time_us,clocks,p1,p2\n0,12,8,1,0\n2,13,8,1,0\n",
			`reads.csv:3:1: index 2 follows 0: a row is missing or out of order`),
		Entry("time", "index,time_us,clocks,p1,p2\n0,12,8,1,0\n1,11,8,1,0\n",
			`reads.csv:3:3: time 11 us is before that of the row above`),
		Entry("gaps", "index,time_us,clocks,p1,p2\n0,lost,,,\n4,12,8,1,0\n6,lost,,,\n5,lost,8,,\n6,lost,,,\n5,13,8,1,0\n",
			`reads.csv:2:1: a gap needs a latch before it`+"\n"+
				`reads.csv:4:1: gap from 6 on follows 4: a row is missing or out of order`+"\n"+
				`reads.csv:5:1: a gap follows a gap`+"\n"+
				`reads.csv:5:8: the row of a gap has "8" here: want nothing`+"\n"+
				`reads.csv:6:1: a gap follows a gap`+"\n"+
				`reads.csv:7:1: index 5 follows a gap from 6 on`),
		Entry("a gap at the end", "index,time_us,clocks,p1,p2\n4,12,8,1,0\n5,lost,,,\n", `reads.csv:3:1: a gap needs a latch after it`),
		Entry("cut off", "index,time_us,clocks,p1,p2\n0,12,8,1,0\n1,1",
			`reads.csv:3:1: 2 fields: want 5`),
		Entry("quote", "index,time_us,clocks,p1,p2\n0,\"12,8,1,0\n",
			`reads.csv:2:13: extraneous or missing " in quoted-field`),
	)

	It("says what is wrong in frames.csv and syncs.csv", func() {
		_, err := record.ParseFrames("frames.csv", []byte("index,time_us,frame,state\n0,1,,outside\n0,2,-1,new\n1,9223372036854775,0,fresh\n1,5,0,fresh\n"))
		Expect(err).To(MatchError(`frames.csv:3:5: -1 is out of range 0..9223372036854775807` + "\n" +
			`frames.csv:3:8: state "new" is not fresh, repeat, damaged, unsure or outside` + "\n" +
			`frames.csv:5:1: index 1 follows 1: out of order`))
		_, err = record.ParseSyncs("syncs.csv", []byte("sent_us,received_us,board_us\n5,4,9\n"))
		Expect(err).To(MatchError(`syncs.csv:2:3: received before it was sent`))
	})
})

func FuzzReads(f *testing.F) {
	f.Add([]byte("index,time_us,clocks,p1,p2\n0,12,8,0x01,0x00\n1,16651,9,0xff,0x10\n"))
	f.Add([]byte("index,time_us,clocks,p1,p2,clocks2\r\n7,12,8,1,0,9\r\n"))
	f.Add([]byte("index,time_us,clocks,p1,p2\n0,12,8,1,0\n1,lost,,,\n9,12,8,1,0\n"))
	f.Add([]byte("index,time_us,clocks,p1,p2\n\"0"))
	f.Fuzz(func(t *testing.T, src []byte) {
		got, err := record.ParseReads("f", src)
		if err != nil {
			return
		}
		again, err := record.ParseReads("f", record.FormatReads(got))
		if err != nil || !reflect.DeepEqual(got, again) {
			t.Fatalf("%v is read again as %v, %v", got, again, err)
		}
	})
}

func FuzzFrames(f *testing.F) {
	f.Add([]byte("index,time_us,frame,state\n0,1,,outside\n1,16651,0,fresh\n"))
	f.Fuzz(func(t *testing.T, src []byte) {
		got, err := record.ParseFrames("f", src)
		if err != nil {
			return
		}
		again, err := record.ParseFrames("f", record.FormatFrames(got))
		if err != nil || !reflect.DeepEqual(got, again) {
			t.Fatalf("%v is read again as %v, %v", got, again, err)
		}
	})
}

func FuzzSyncs(f *testing.F) {
	f.Add([]byte("sent_us,received_us,board_us\n-5,4,9\n"))
	f.Fuzz(func(t *testing.T, src []byte) {
		got, err := record.ParseSyncs("f", src)
		if err != nil {
			return
		}
		again, err := record.ParseSyncs("f", record.FormatSyncs(got))
		if err != nil || !reflect.DeepEqual(got, again) {
			t.Fatalf("%v is read again as %v, %v", got, again, err)
		}
	})
}

func FuzzMeta(f *testing.F) {
	m := meta()
	m.Format, m.State = record.FormatVersion, record.Sealed
	m.Started = time.Unix(1, 5).UTC()
	m.Files = map[string]record.Sum{"reads.csv": {SHA256: "00", Bytes: 3}}
	src, err := record.FormatMeta(m)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(src)
	f.Add([]byte("{}"))
	f.Fuzz(func(t *testing.T, src []byte) {
		got, err := record.ParseMeta("run.json", src)
		if err != nil {
			return
		}
		out, err := record.FormatMeta(got)
		if err != nil {
			t.Fatal(err)
		}
		again, err := record.ParseMeta("run.json", out)
		if err != nil {
			t.Fatal(err)
		}
		twice, _ := record.FormatMeta(again)
		if !bytes.Equal(out, twice) {
			t.Fatalf("%s\nis read again as\n%s", out, twice)
		}
	})
}
