package program_test

import (
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/specs/console"
	"latchproof/specs/program"
)

func TestProgram(t *testing.T) {
	RegisterFailHandler(Fail)
	RunSpecs(t, "button programs")
}

var ntsc, _ = console.Builtin("ntsc-8bit")

// Bits of the 8-bit console's shift order.
const (
	bitA     = 1 << 0
	bitB     = 1 << 1
	bitStart = 1 << 3
	bitRight = 1 << 7
)

// street uses every statement of the notation once.
const street = `program 1
rest 60
hold right for 20
hold right+b for 45
mark jump                # a name for this read
hold right+b+a for 5
repeat 3
  tap start              # hold for 1
  rest 10
end
hold right + p2:a for 8  # second port
`

func parse(src string) *program.Program {
	GinkgoHelper()
	p, err := program.Parse("x.prog", []byte(src), ntsc, program.Limits{})
	Expect(err).NotTo(HaveOccurred())
	return p
}

func load(csv string) *program.Program {
	GinkgoHelper()
	p, err := program.ImportCSV("x.csv", []byte(csv), ntsc, program.Limits{})
	Expect(err).NotTo(HaveOccurred())
	return p
}
