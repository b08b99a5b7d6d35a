package readtiming

// Summary is what two benches can be compared by, of one run.
type Summary struct {
	Reads       int64   `json:"reads"`
	PPM         float64 `json:"ppm"`
	JitterRMSUS float64 `json:"jitter_rms_us"`
	// Told: the board told its latencies; without it they are zero.
	Told            bool    `json:"service_told"`
	ServiceMedianUS float64 `json:"service_median_us"`
	ServiceWorstUS  float64 `json:"service_worst_us"`
	// Share is the share of reads with an anomaly of a kind: of lag frames, of
	// frames; of lost records, of the latch pulses that the log has or lacks; of
	// service gaps, of the latch pulses. Kinds that did not come up are not in it.
	Share map[Kind]float64 `json:"share"`
}

// sum makes the summary.
func (s *Study) sum() {
	m := Summary{Reads: s.Reads, PPM: s.PPM, JitterRMSUS: s.JitterRMSUS, Share: map[Kind]float64{}}
	if v := s.Service; v != nil {
		m.Told, m.ServiceMedianUS, m.ServiceWorstUS = true, v.MedianUS, v.WorstUS
	}
	for _, a := range s.Anomalies {
		of := s.Reads
		switch a.Kind {
		case LagFrame:
			of = s.Frames
		case LostRecords:
			of = s.pulses + a.Count
		case ServiceGap:
			of = s.pulses
		}
		m.Share[a.Kind] += float64(a.Count) / float64(max(of, 1))
	}
	s.Summary = m
}
