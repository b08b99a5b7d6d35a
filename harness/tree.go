package harness

import (
	"fmt"
	"io"
	"math"
	"time"

	"github.com/onsi/ginkgo/v2"
	"github.com/onsi/ginkgo/v2/formatter"
	"github.com/onsi/ginkgo/v2/reporters"
	"github.com/onsi/ginkgo/v2/types"
	"github.com/onsi/gomega"

	"latchproof/harness/matchers"
)

// TreeOptions say how the tree of tests is run.
type TreeOptions struct {
	LabelFilter string        // the test library's label language; empty runs all
	Timeout     time.Duration // of each repeat, unless its spec says otherwise
	JUnit       string        // path of the JUnit file; empty for none
	Log         io.Writer     // the library's own progress text; nil for none
}

// DefaultTimeout bounds a repeat whose spec and command line say nothing.
const DefaultTimeout = 30 * time.Minute

// CheckLabelFilter reports a label filter that does not parse.
func CheckLabelFilter(filter string) error {
	if _, err := types.ParseLabelFilter(filter); err != nil {
		return fmt.Errorf("label filter %q: not understood: %w", filter, err)
	}
	return nil
}

// RunTree builds one tree from the cases and runs it: a container for each
// spec, in it a container for each repeat with a node for the playing and one
// for each checkpoint and for the timing, and last a node that asks whether the repeats stayed in
// lockstep. Labels of a node are those of its spec, the kind of its checkpoint
// (`shows`, ...), `play`, `timing`, `repeat-N` or `lockstep`.
//
// A node plays what it needs: with a filter that leaves out the `play` nodes
// the first checkpoint that needs a repeat plays it.
//
// The library keeps its tree in global state, so RunTree can be called once in
// a process. An interrupt cancels the node that runs, which seals or marks its
// run; the nodes after it are skipped.
func RunTree(cases []*Case, o TreeOptions) error {
	return runTree(o, func() {
		for _, c := range cases {
			declare(c, o)
		}
	})
}

// runTree runs the tree of what is declared.
func runTree(o TreeOptions, declare func()) error {
	if err := CheckLabelFilter(o.LabelFilter); err != nil {
		return err
	}
	junit := declareJUnit(o.JUnit)
	// One container around all, ordered: otherwise the library shuffles containers
	// at the top and sorts what a loop declares by name, repeat 10 before repeat 2.
	// What fails holds up none of the others.
	ginkgo.Describe("", ginkgo.Ordered, ginkgo.ContinueOnFailure, declare)
	suite, report := ginkgo.GinkgoConfiguration()
	suite.LabelFilter = o.LabelFilter
	suite.RandomizeAllSpecs = false
	suite.Timeout = 365 * 24 * time.Hour // bounds are per spec
	suite.GracePeriod = 20 * time.Second
	report.NoColor = true
	report.Verbose = o.Log != nil
	log := o.Log
	if log == nil {
		log = io.Discard
	}
	was := formatter.ColorableStdOut
	formatter.ColorableStdOut = log
	defer func() { formatter.ColorableStdOut = was }()
	ginkgo.RunSpecs(quiet{}, "latchproof", suite, report)
	return *junit
}

// declareJUnit has the library write its JUnit report, without the times and
// source places of single steps. What goes wrong with it is known afterwards.
func declareJUnit(path string) *error {
	failed := new(error)
	if path == "" {
		return failed
	}
	all := types.SpecStatePending | types.SpecStateSkipped | types.SpecStatePassed | types.SpecStateFailureStates
	ginkgo.ReportAfterSuite("JUnit", func(r ginkgo.Report) {
		r.SuitePath = ""
		err := reporters.GenerateJUnitReportWithConfig(r, path, reporters.JunitReportConfig{
			OmitTimelinesForSpecState: all, OmitCapturedStdOutErr: true, OmitLeafNodeType: true,
		})
		if err != nil {
			*failed = fmt.Errorf("%s: %w", path, err)
		}
	})
	return failed
}

// quiet takes the place of *testing.T: what failed is known from the cases.
type quiet struct{}

func (quiet) Fail() {}

func declare(c *Case, o TreeOptions) {
	labels := make(ginkgo.Labels, 0, len(c.Spec.Labels))
	labels = append(labels, c.Spec.Labels...)
	timeout := o.Timeout
	if timeout == 0 {
		timeout = DefaultTimeout
	}
	if c.Spec.Timeout > 0 {
		timeout = c.Spec.Timeout
	}
	limit := ginkgo.SpecTimeout(timeout)

	ginkgo.Describe(c.Name(), labels, func() {
		for n := 1; n <= c.Repeats; n++ {
			repeat := ginkgo.Label(fmt.Sprintf("repeat-%d", n))
			ginkgo.Describe(fmt.Sprintf("repeat %d", n), repeat, func() {
				ginkgo.It("is played and sealed", ginkgo.Label("play"), limit, func(ctx ginkgo.SpecContext) {
					g := gomega.NewGomega(ginkgo.Fail)
					run, err := c.Run(ctx, n)
					g.Expect(err).NotTo(gomega.HaveOccurred())
					g.Expect(run).To(matchers.BeWhole())
				})
				for _, cp := range c.Spec.Checkpoints {
					ginkgo.It(cp.Name, ginkgo.Label(cp.Kind), limit, func(ctx ginkgo.SpecContext) {
						g := gomega.NewGomega(ginkgo.Fail)
						run, err := c.Run(ctx, n)
						g.Expect(err).NotTo(gomega.HaveOccurred())
						g.Expect(run).To(matchers.PassCheckpoint(cp.Name))
					})
				}
				if c.Spec.Timing != nil {
					ginkgo.It("has its timing", ginkgo.Label("timing"), limit, func(ctx ginkgo.SpecContext) {
						g := gomega.NewGomega(ginkgo.Fail)
						run, err := c.Run(ctx, n)
						g.Expect(err).NotTo(gomega.HaveOccurred())
						g.Expect(run).To(matchers.TakeFramesFrom(0, math.MaxInt64))
					})
				}
			})
		}
		// The time-out of this node covers every repeat that no earlier node
		// played, as with the filter `lockstep`.
		all := ginkgo.SpecTimeout(timeout * time.Duration(c.Repeats))
		ginkgo.It("stays in lockstep", ginkgo.Label("lockstep"), all, func(ctx ginkgo.SpecContext) {
			g := gomega.NewGomega(ginkgo.Fail)
			steps, err := c.Lockstep(ctx)
			g.Expect(err).NotTo(gomega.HaveOccurred())
			g.Expect(steps).To(matchers.StayInLockstep(c.Required()))
		})
	})
}
