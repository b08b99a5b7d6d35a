package readtiming

import (
	"slices"

	"latchproof/harness/clock"
	"latchproof/harness/feeder"
)

// Service is how fast the board served, over all latch pulses of which it told.
type Service struct {
	Records  int64   `json:"records"`
	MedianUS float64 `json:"median_us"`
	P95US    float64 `json:"p95_us"`
	P99US    float64 `json:"p99_us"`
	WorstUS  float64 `json:"worst_us"`
	// OrMore: the worst is as much as the protocol can tell, and may be more.
	OrMore bool `json:"worst_or_more"`
	// Late are the latch pulses that were over before the first bit was out.
	Late []LateServe `json:"late"`
	// Missing are the latch pulses of the log whose latency never arrived.
	Missing []Gap `json:"missing"`
}

// LateServe is a latch pulse that was served late.
type LateServe struct {
	Read      int64   `json:"read"`
	Latch     int64   `json:"latch"`
	LatencyUS float64 `json:"latency_us"`
}

// serve takes the service records.
func (s *Study) serve(in Input, events []clock.ReadEvent) {
	if len(in.Service) == 0 {
		return
	}
	told := map[int64]feeder.Service{}
	v := &Service{Records: int64(len(in.Service)), Late: []LateServe{}, Missing: []Gap{}}
	var us []float64
	for _, r := range in.Service {
		told[r.Index] = r
		us = append(us, float64(r.Latency)/1e3)
	}
	slices.Sort(us)
	v.MedianUS, v.P95US, v.P99US, v.WorstUS = rank(us, .5), rank(us, .95), rank(us, .99), us[len(us)-1]
	v.OrMore = v.WorstUS >= float64(feeder.MaxServiceLatency)/1e3
	for i, e := range events {
		read, late := int64(i), false
		for _, l := range in.Latches[e.First : e.First+e.Pulses] {
			r, ok := told[l.Index]
			if !ok {
				if n := len(v.Missing); n > 0 && v.Missing[n-1].To == l.Index-1 {
					v.Missing[n-1].To = l.Index
				} else {
					v.Missing = append(v.Missing, Gap{From: l.Index, To: l.Index, Read: read})
				}
			}
			if r.Late {
				late = true
				v.Late = append(v.Late, LateServe{Read: read, Latch: l.Index, LatencyUS: float64(r.Latency) / 1e3})
			}
		}
		if late {
			s.LateServes = append(s.LateServes, read)
		}
	}
	s.Service = v
}
