package reports

import (
	"fmt"
	"math"
)

// The numbers of these samples are invented, as those of sample_test.go are;
// only their shapes are those of real ones.

func flatSurvival(repeats int, low float64) *Survival {
	return &Survival{
		Repeats: repeats, Confidence: 0.95,
		Steps:    []SurvivalStep{{Frame: 868, AtRisk: int64(repeats), Survival: 1, Low: low, High: 1}},
		Sentence: fmt.Sprintf("All %d repeats beside the first stayed in lockstep with it to their end, frame 868.", repeats),
	}
}

func fallingSurvival() *Survival {
	return &Survival{
		Repeats: 7, Parted: 3, Cut: 1, Confidence: 0.95,
		Steps: []SurvivalStep{
			{Frame: 0, AtRisk: 7, Survival: 1, SE: 0, Low: 0.590, High: 1},
			{Frame: 214, AtRisk: 7, Parted: 1, Survival: 0.857, SE: 0.132, Low: 0.334, High: 0.979},
			{Frame: 318, AtRisk: 6, Cut: 1, Survival: 0.857, SE: 0.132, Low: 0.334, High: 0.979},
			{Frame: 525, AtRisk: 5, Parted: 2, Survival: 0.514, SE: 0.204, Low: 0.118, High: 0.813},
			{Frame: 868, AtRisk: 3, Survival: 0.514, SE: 0.204, Low: 0.118, High: 0.813},
		},
		Sentence: "At the end, 51.4 % of the repeats are still in lockstep with the first; 3 of 7 parted, 1 was cut short at frame 318.",
	}
}

// soakSurvival is a curve of a long soak: many steps.
func soakSurvival(n int) *Survival {
	s := &Survival{Repeats: n, Parted: n / 8, Confidence: 0.95, Sentence: "One repeat in eight parts, at any frame."}
	share := 1.0
	for i := range n / 8 {
		risk := int64(n - i)
		share *= 1 - 1/float64(risk)
		se := math.Sqrt(share * (1 - share) / float64(n))
		s.Steps = append(s.Steps, SurvivalStep{Frame: int64(36000 * (i + 1) / (n/8 + 1)), AtRisk: risk, Parted: 1, Survival: share, SE: se, Low: share - 2*se, High: min(share+2*se, 1)})
	}
	return s
}

func sampleReadTiming(repeats []Repeat) (out []ReadTiming) {
	for i, r := range repeats {
		t := ReadTiming{Repeat: r.Name, Reads: r.Reads, PPM: r.PPM, JitterUS: r.JitterUS, PeakUS: 3.4 * r.JitterUS, LagFrames: r.LagFrames, ServiceMedianUS: 3.1, ServiceWorstUS: 5.4}
		for us := -16.0; us < 16; us++ {
			t.Bins = append(t.Bins, Bin{us, us + 1, int64(820 / r.JitterUS * 0.4 * math.Exp(-(us+0.5)*(us+0.5)/2/r.JitterUS/r.JitterUS))})
		}
		for k := range 9 {
			tau := math.Ldexp(655171.0/39375000, k)
			v := r.JitterUS * 1e-6 * math.Sqrt(3) / tau
			d := v * tau / math.Sqrt(3) / math.Sqrt(math.Ldexp(1, k))
			w := 1 + 0.02*math.Ldexp(1, k/2)
			t.Allan = append(t.Allan, StabilityPoint{tau, v, v / w, v * w, 800 >> k})
			t.TDEV = append(t.TDEV, StabilityPoint{tau, d, d / w, d * w, 800 >> k})
		}
		if i == 3 {
			t.ExtraClocks, t.DoubleReads, t.LateServes = 3, 1, 2
			t.Bins = append(t.Bins, Bin{40, 41, 1})
			t.Board = true
			t.Sentences = []string{
				"3 reads had 9 clock pulses instead of 8 (reads 12, 40, 77): a clock edge too many came down the wire; look at ringing on the clock line and the pull-up",
				"2 reads were served late (reads 201, 202): the first bit was out after the console's first clock edge",
			}
		}
		out = append(out, t)
	}
	return out
}

// sampleSoak is a soak that is not told yet.
func sampleSoak() Session {
	s := sampleHeld()
	s.Title = "Overnight"
	s.Soak = &Soak{
		Claim: "divergence below 1% at 95%", Verdict: "cannot tell", Repeats: 120, Clean: 118, Parted: 1, Left: 1, CleanNeeded: 412,
		Sentence: "Not told yet: 118 of 119 repeats that count stayed in lockstep with the first; hasty-61 parted at frame 525.",
		Policy:   "lean: video of the reference, of each family's first and of the first 20 troubled repeats; traces also of the last 50 clean ones",
	}
	s.Specs[0].Lockstep.Survival = soakSurvival(120)
	return s
}

// sampleBaseline is a check that found one spec worse, and cannot tell another.
func sampleBaseline() Session {
	s := samplePicture()
	s.Title, s.Specs[0].Note = "Firmware 1.5 against 1.4", ""
	parts := int64(214)
	long := fallingSurvival()
	long.Sentence = "3 of 7 repeats of the candidate parted from the baseline's first run."
	s.Baseline = &Baseline{
		Sentence: "Worse: hasty parts in 3 of 7 candidate runs and in none of 20 baseline runs.", Verdict: "worse",
		Differs: []string{"feeder firmware: 1.4 in the baseline, 1.5 in the candidate", "feeder serial number: 0007, 0009"},
		Specs: []BaselineSpec{
			{Name: "hasty", Verdict: "worse", Sentence: "3 of 7 runs part from the baseline's first run; none of 20 did before.", PartsAt: &parts, Survival: [2]*Survival{flatSurvival(20, 0.832), long}, Rows: []BaselineRow{
				{"Repeats that part", "0 of 20", "3 of 7", "0.012", "worse"},
				{"How long they stay in lockstep", "868 frames and more", "median 868 frames", "0.008", "worse"},
				{"Read jitter", "3.9 µs RMS", "4.1 µs RMS", "0.81", "no worse"},
				{"Service latency, worst", "5.2 µs", "5.4 µs", "0.44", "cannot tell: 6 more repeats needed"},
			}},
			{Name: "patient", Verdict: "cannot tell: 21 more repeats needed", Sentence: "All 7 candidate runs show the baseline's pictures, which is too few to tell.", Rows: []BaselineRow{
				{"Repeats that part", "0 of 20", "0 of 7", "1", "cannot tell: 21 more repeats needed"},
			}, Survival: [2]*Survival{flatSurvival(20, 0.832), flatSurvival(7, 0.59)}},
			{Name: "slow", Verdict: "no worse", Sentence: "The same pictures; the rate is within its margin.", Rows: []BaselineRow{{"Repeats that part", "0 of 40", "0 of 40", "1", "no worse"}}},
		},
	}
	return s
}
