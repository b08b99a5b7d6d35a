package stats

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os/exec"
	"strconv"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

// rScript is one script for everything that is asked of R: each question is
// some lines of R that print numbers with put, and a check of these numbers.
type rScript struct {
	text  strings.Builder
	tests []func(r []float64)
}

func (s *rScript) ask(test func(r []float64), format string, args ...any) {
	fmt.Fprintf(&s.text, format+"\ncat('\\n')\n", args...)
	s.tests = append(s.tests, test)
}

const rStart = `
if (!requireNamespace("survival", quietly = TRUE)) quit(status = 3)
library(survival)
put <- function(...) cat(sprintf("%.17g", c(...)), "")
`

// check runs the script; it skips where R, or its package, is missing.
func (s *rScript) check() {
	path, err := exec.LookPath("Rscript")
	if err != nil {
		Skip("skipped: R is not installed")
	}
	cmd := exec.Command(path, "--vanilla", "-")
	cmd.Stdin = strings.NewReader(rStart + s.text.String())
	var complaints bytes.Buffer
	cmd.Stderr = &complaints
	out, err := cmd.Output()
	if exit := (*exec.ExitError)(nil); errors.As(err, &exit) && exit.ExitCode() == 3 {
		Skip("skipped: R is not installed (its package survival)")
	}
	Expect(err).NotTo(HaveOccurred(), complaints.String())
	answers := strings.Split(strings.TrimSuffix(string(out), "\n"), "\n")
	Expect(answers).To(HaveLen(len(s.tests)))
	for i, a := range answers {
		var r []float64
		for _, f := range strings.Fields(a) {
			v, err := strconv.ParseFloat(strings.Replace(f, "NA", "NaN", 1), 64)
			Expect(err).NotTo(HaveOccurred())
			r = append(r, v)
		}
		s.tests[i](r)
	}
}

// rVector writes numbers as R does.
func rVector[T int64 | float64](v []T) string {
	parts := make([]string, len(v))
	for i, x := range v {
		parts[i] = fmt.Sprint(x)
	}
	return "c(" + strings.Join(parts, ",") + ")"
}

func rSurv(lives []Lifetime) string {
	var times []float64
	var events []int64
	for _, l := range lives {
		times = append(times, l.Time)
		events = append(events, map[bool]int64{true: 1}[l.Event])
	}
	return "Surv(" + rVector(times) + "," + rVector(events) + ")"
}

// drawLives draws n lives in whole numbers, so that many are tied: the true
// survival at a whole t is exp(-rate t). They are censored evenly over 1..last.
func drawLives(rng *rand.Rand, n int, rate float64, last int) []Lifetime {
	out := make([]Lifetime, n)
	for i := range out {
		end, cut := math.Ceil(rng.ExpFloat64()/rate), float64(1+rng.IntN(last))
		out[i] = Lifetime{min(end, cut), end <= cut}
	}
	return out
}

// R is asked anew, with random data that no table has. Each answer is the
// double as R holds it, and only rounding may part us.
var _ = Describe("beside R", func() {
	near := func(got, want float64, what ...any) {
		GinkgoHelper()
		Expect(got).To(BeNumerically("~", want, 1e-10*math.Abs(want)+1e-14), fmt.Sprint(what...))
	}

	It("gives the same numbers for random data", func() {
		rng := rand.New(rand.NewPCG(9, 1))
		var s rScript
		compared := map[string]int{}

		for i := range 12 {
			l := drawLives(rng, 1+rng.IntN(120), 0.02+0.1*rng.Float64(), 5+rng.IntN(60))
			confidence := 0.8 + 0.19*rng.Float64()
			s.ask(func(r []float64) {
				c, err := KaplanMeier(l, confidence)
				Expect(err).NotTo(HaveOccurred())
				times := len(r) / 7
				for j := range times {
					row := func(k int) float64 { return r[k*times+j] }
					got := c.At(row(0))
					near(float64(got.AtRisk), row(1), "at risk", i, row(0))
					near(float64(got.Events), row(2), "events", i, row(0))
					near(got.Survival, row(3), "survival", i, row(0))
					if got.Survival > 0 && got.Survival < 1 {
						near(got.SE, row(4)*row(3), "standard error", i, row(0))
						near(got.LogLog.Low, row(5), "lower limit", i, row(0))
						near(got.LogLog.High, row(6), "upper limit", i, row(0))
						compared["limits"]++
					}
				}
				var distinct []float64
				for _, m := range moments(l) {
					distinct = append(distinct, m.time)
				}
				Expect(r[:times]).To(Equal(distinct))
			}, `f <- survfit(%s ~ 1, conf.type = "log-log", conf.int = %v)
put(f$time, f$n.risk, f$n.event, f$surv, f$std.err, f$lower, f$upper)`, rSurv(l), confidence)
		}

		for i := range 12 {
			a := drawLives(rng, 5+rng.IntN(60), 0.05, 40)
			b := drawLives(rng, 5+rng.IntN(60), 0.05+0.02*float64(i), 30)
			group := make([]int64, len(a)+len(b))
			for j := range b {
				group[len(a)+j] = 1
			}
			s.ask(func(r []float64) {
				got, err := LogRank(a, b)
				Expect(err).NotTo(HaveOccurred())
				for j, v := range []float64{got.Observed[0], got.Observed[1], got.Expected[0], got.Expected[1], got.Variance, got.ChiSquare, got.P} {
					near(v, r[j], "log-rank", i, j)
				}
				compared["log-rank"]++
			}, `d <- survdiff(%s ~ %s)
put(d$obs, d$exp, d$var[1, 1], d$chisq, pchisq(d$chisq, 1, lower.tail = FALSE))`, rSurv(append(append([]Lifetime{}, a...), b...)), rVector(group))
		}

		for i := range 25 {
			n1, n0 := int64(1+rng.IntN(400)), int64(1+rng.IntN(400))
			k1, k0 := int64(float64(n1+1)*rng.Float64()*rng.Float64()), int64(float64(n0+1)*rng.Float64()*rng.Float64())
			s.ask(func(r []float64) {
				got, err := FisherExact(k1, n1, k0, n0)
				Expect(err).NotTo(HaveOccurred())
				for j, v := range []float64{got.Less, got.Greater, got.TwoSided} {
					// R adds exponentials of logarithms of factorials.
					Expect(v).To(BeNumerically("~", r[j], 1e-9*r[j]+1e-14), "Fisher %d %d", i, j)
				}
				compared["Fisher"]++
			}, `m <- matrix(%s, 2)
for (side in c("less", "greater", "two.sided")) put(fisher.test(m, alternative = side)$p.value)`, rVector([]int64{k1, n1 - k1, k0, n0 - k0}))
		}

		for i := range 12 {
			var a, b []float64
			for range 1 + rng.IntN(40) {
				a = append(a, rng.NormFloat64()+0.1*float64(i))
			}
			for range 1 + rng.IntN(40) {
				b = append(b, rng.NormFloat64())
			}
			s.ask(func(r []float64) {
				got, err := RankSum(a, b)
				Expect(err).NotTo(HaveOccurred())
				Expect(got.Exact).To(BeTrue())
				for j, v := range []float64{got.U, got.Less, got.Greater, got.TwoSided} {
					near(v, r[j], "rank sum", i, j)
				}
				compared["rank sum"]++
			}, `a <- %s; b <- %s
put(wilcox.test(a, b, exact = TRUE)$statistic)
for (side in c("less", "greater", "two.sided")) put(wilcox.test(a, b, exact = TRUE, alternative = side)$p.value)`, rVector(a), rVector(b))
		}

		s.check()
		// Nothing was passed over.
		Expect(compared["limits"]).To(BeNumerically(">", 150))
		delete(compared, "limits")
		Expect(compared).To(Equal(map[string]int{"log-rank": 12, "Fisher": 25, "rank sum": 12}))
	})
})
