package feeder_test

import (
	"fmt"
	"io"
	"net"
	"sync"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/feeder"
)

// step is one frame that a peer expects, and what it then sends.
type step struct {
	want  feeder.Type
	check func(m feeder.Message)
	reply func(seq uint8) []byte
}

// peer is a scripted board: it fails the test on traffic that the script does
// not have, and on script that no traffic used up.
type peer struct {
	line io.ReadWriteCloser
	mu   sync.Mutex
	left []step
	odd  []string
	done chan struct{}
}

// scripted starts a peer and gives the client's end of the line. The peer's
// end of script is checked when the test ends.
func scripted(steps ...step) (*peer, io.ReadWriteCloser) {
	GinkgoHelper()
	mine, theirs := net.Pipe()
	p := &peer{line: mine, left: steps, done: make(chan struct{})}
	go p.run()
	DeferCleanup(func() {
		mine.Close()
		<-p.done
		Expect(p.odd).To(BeEmpty(), "traffic that the script does not have")
		Expect(p.left).To(BeEmpty(), "script that was not used up")
	})
	return p, theirs
}

func (p *peer) run() {
	defer GinkgoRecover()
	defer close(p.done)
	var d feeder.Decoder
	buf := make([]byte, 512)
	for {
		n, err := p.line.Read(buf)
		var out []byte
		d.Feed(buf[:n], func(pk feeder.Packet) { out = append(out, p.take(pk)...) })
		if len(out) > 0 {
			if _, err := p.line.Write(out); err != nil {
				return
			}
		}
		if err != nil {
			return
		}
	}
}

func (p *peer) take(pk feeder.Packet) []byte {
	p.mu.Lock()
	defer p.mu.Unlock()
	m, err := pk.Message()
	if err != nil || len(p.left) == 0 || p.left[0].want != pk.Type {
		p.odd = append(p.odd, fmt.Sprintf("%v seq %d (%v)", pk.Type, pk.Seq, err))
		return nil
	}
	s := p.left[0]
	p.left = p.left[1:]
	if s.check != nil {
		s.check(m)
	}
	if s.reply == nil {
		return nil
	}
	return s.reply(pk.Seq)
}

// frames makes a reply: the first message under the command's number, the
// others, which nobody asked for, under 0.
func frames(ms ...feeder.Message) func(uint8) []byte {
	return func(seq uint8) (out []byte) {
		for _, m := range ms {
			out = feeder.AppendFrame(out, seq, m)
			seq = 0
		}
		return out
	}
}

// also makes a reply of messages nobody asked for, before the answer.
func also(first feeder.Message, ms ...feeder.Message) func(uint8) []byte {
	return func(seq uint8) []byte {
		return append(feeder.AppendFrame(nil, 0, first), frames(ms...)(seq)...)
	}
}

var (
	someone = &feeder.IdentityMsg{Proto: feeder.Version, Ports: 2, Capacity: 4, Serial: "P-1"}
	greeted = step{want: feeder.TypeHello, reply: frames(someone)}
)

func ok(s feeder.BoardState, credit uint32) *feeder.Ack { return &feeder.Ack{State: s, Credit: credit} }
