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
		told, begun := int64(0), 0 // entries told as appended; 1 when one has its name and no head
		var before, finished, removed, left, early int64
		for i := range kills {
			// Every other one is killed while it starts and opens the book.
			r := kill(dir, i%2 == 0)
			finished, removed = finished+r.finished, removed+r.removed
			if r.told < 0 {
				early++
			}
			told = max(told, r.told)
			b := open(dir)
			// One can be finished and one appended of which the process could not tell any more.
			Expect(b.Len()).To(BeNumerically(">=", max(told, before)))
			Expect(b.Len()).To(BeNumerically("<=", max(told, before+int64(begun))+1))
			before, begun = b.Len(), 0
			if len(b.Notes()) > 0 {
				left++
			}
			if strings.Contains(strings.Join(b.Notes(), ""), "has no tree head yet") {
				begun = 1
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
		fmt.Fprintf(GinkgoWriter, "%d kills, %d before any entry was told; %d entries; an append was seen interrupted %d times, finished %d, temporary files removed %d\n",
			kills, early, b.Len(), left, finished, removed)
	})
})

// killed is what a process told before it was killed.
type killed struct {
	told              int64 // entries; -1 for none
	finished, removed int64
}

// kill starts a process that appends, and kills it at a random moment.
func kill(dir string, early bool) killed {
	GinkgoHelper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), appenderVariable+"="+dir)
	out, err := cmd.StdoutPipe()
	Expect(err).NotTo(HaveOccurred())
	Expect(cmd.Start()).To(Succeed())
	later := func(most time.Duration) {
		time.AfterFunc(time.Duration(rand.Int64N(int64(most))), func() { cmd.Process.Kill() })
	}
	if early {
		later(200 * time.Millisecond)
	}
	r := killed{told: -1}
	for s := bufio.NewScanner(out); s.Scan(); {
		what, rest, _ := strings.Cut(s.Text(), " ")
		switch {
		case what == "appended":
			i, err := strconv.ParseInt(rest, 10, 64)
			Expect(err).NotTo(HaveOccurred())
			if r.told < 0 && !early {
				later(50 * time.Millisecond)
			}
			r.told = i + 1
		case what == "note" && strings.HasPrefix(rest, "finished"):
			r.finished++
		case what == "note" && strings.HasPrefix(rest, "removed"):
			r.removed++
		default:
			Fail(s.Text())
		}
	}
	Expect(cmd.Wait()).NotTo(Succeed())
	return r
}
