package recordbook_test

import (
	"bufio"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/recordbook"
)

const (
	appenderVariable = "RECORDBOOK_APPENDER" // the book to which a process of the test appends
	killsVariable    = "RECORDBOOK_KILLS"    // how often it is killed; few when not set
)

// appender appends without an end, and tells of each entry.
func appender(dir string) int {
	b, err := recordbook.OpenToAppend(dir, houseKey)
	if err != nil {
		fmt.Println("error", err)
		return 1
	}
	for _, n := range b.Notes() {
		fmt.Println("note", n)
	}
	for {
		i, err := b.Append(nth(int(b.Len())))
		if err != nil {
			fmt.Println("error", err)
			return 1
		}
		fmt.Println("appended", i)
	}
}

var _ = Describe("a book whose writer is killed", func() {
	It("loses nothing that was told as appended, and is never rewritten", func() {
		kills := 8
		if s := os.Getenv(killsVariable); s != "" {
			var err error
			kills, err = strconv.Atoi(s)
			Expect(err).NotTo(HaveOccurred())
		}
		dir := newBook(0)
		kept := [][]byte{open(dir).Head().Note}
		told, finished, removed, left := int64(0), 0, 0, 0
		for range kills {
			cmd := exec.Command(os.Args[0])
			cmd.Env = append(os.Environ(), appenderVariable+"="+dir)
			out, err := cmd.StdoutPipe()
			Expect(err).NotTo(HaveOccurred())
			Expect(cmd.Start()).To(Succeed())
			lines := make(chan []string)
			go func() {
				var list []string
				first := true
				for s := bufio.NewScanner(out); s.Scan(); list = append(list, s.Text()) {
					if first { // it is appending now
						first = false
						time.AfterFunc(time.Duration(rand.Int64N(int64(30*time.Millisecond))), func() { cmd.Process.Kill() })
					}
				}
				lines <- list
			}()
			list := <-lines
			Expect(cmd.Wait()).NotTo(Succeed())
			for _, line := range list {
				what, rest, _ := strings.Cut(line, " ")
				switch what {
				case "appended":
					i, err := strconv.ParseInt(rest, 10, 64)
					Expect(err).NotTo(HaveOccurred())
					told = i + 1
				case "note":
					if strings.HasPrefix(rest, "finished") {
						finished++
					} else {
						Expect(rest).To(HavePrefix("removed"))
						removed++
					}
				default:
					Fail(line)
				}
			}
			b := open(dir)
			Expect(b.Len()).To(Or(Equal(told), Equal(told+1)), "told %d", told)
			if len(b.Notes()) > 0 {
				left++
			}
			for i := range b.Len() {
				Expect(b.Envelope(i)).To(Equal(nth(int(i))))
			}
			for _, old := range kept {
				p, err := b.ProveGrowth(old)
				Expect(err).NotTo(HaveOccurred())
				_, err = recordbook.Verify(p.Format(), housePub)
				Expect(err).NotTo(HaveOccurred())
			}
			kept = append(kept, b.Head().Note)
		}
		b := toAppend(dir)
		Expect(b.Check()).To(Succeed())
		fmt.Fprintf(GinkgoWriter, "%d kills, %d entries; an append was seen interrupted %d times, finished %d, temporary files removed %d\n", kills, b.Len(), left, finished, removed)
	})
})
