package feeder_test

import (
	"io/fs"

	"github.com/creack/pty"
	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/feeder"
)

var _ = Describe("an open port", func() {
	It("ends a waiting read when closed", func() {
		m, s, err := pty.Open()
		Expect(err).NotTo(HaveOccurred())
		defer m.Close()
		defer s.Close()
		l, err := feeder.Dial(s.Name())
		Expect(err).NotTo(HaveOccurred())
		ended := make(chan error, 1)
		go func() {
			_, err := l.Read(make([]byte, 1))
			ended <- err
		}()
		Expect(l.Close()).To(Succeed())
		Eventually(ended).Should(Receive(MatchError(fs.ErrClosed)))
		_, err = l.Write([]byte{1})
		Expect(err).To(MatchError(fs.ErrClosed))
		Expect(l.Close()).To(Succeed())
	})

	It("closes while a write is stuck because nobody takes the bytes", func() {
		m, s, err := pty.Open()
		Expect(err).NotTo(HaveOccurred())
		defer s.Close()
		l, err := feeder.Dial(s.Name())
		Expect(err).NotTo(HaveOccurred())
		ended := make(chan struct{})
		go func() {
			defer close(ended)
			_, _ = l.Write(make([]byte, 1<<20))
		}()
		Consistently(ended, "100ms").ShouldNot(BeClosed())
		Expect(l.Close()).To(Succeed())
		m.Close()
		Eventually(ended, "5s").Should(BeClosed())
	})
})
