package reports

// Flash is where the runs of a spec flash so that people with photosensitive
// epilepsy must be warned, by WCAG 2.2, success criterion 2.3.1; package
// harness/flash says how it is told. Of every family one repeat is looked at.
type Flash struct {
	Runs []FlashRun `json:"runs"`
}

// FlashRun is what was found in one repeat.
type FlashRun struct {
	Repeat string  `json:"repeat"`
	RateHz float64 `json:"frame_rate_hz"`
	From   int64   `json:"from"`   // first frame looked at; what is before is in its family's parent
	Frames int64   `json:"frames"` // looked at
	Unseen int64   `json:"unseen"` // of them, without a picture: a flash there is not found
	Gap    int64   `json:"longest_unseen"`
	// Why says why nothing was looked at; then the numbers are 0.
	Why       string         `json:"why,omitempty"`
	Stretches []FlashStretch `json:"stretches"`
}

// FlashStretch is a part of a run that flashes.
type FlashStretch struct {
	Kind        string  `json:"kind"` // general or red
	From        int64   `json:"from"`
	To          int64   `json:"to"`
	FromSeconds float64 `json:"from_s"` // since frame 0
	ToSeconds   float64 `json:"to_s"`
	Flashes     int     `json:"flashes_in_worst_second"`
	// Area is the share of a field of about a third by a third of the raster, the
	// worst one, that flashes: above 0.25.
	Area   float64 `json:"area"`
	Place  [4]int  `json:"place"` // x, y, w, h on the raster
	Unseen int64   `json:"unseen"`
}

// Flashes says whether any repeat has a flashing stretch.
func (f *Flash) Flashes() bool {
	if f == nil {
		return false
	}
	for _, r := range f.Runs {
		if len(r.Stretches) > 0 {
			return true
		}
	}
	return false
}

// At says whether a frame lies in a flashing stretch of any of the repeats: what
// shows it must not play, and carries a caution.
func (f *Flash) At(frame int64) bool {
	if f == nil {
		return false
	}
	for _, r := range f.Runs {
		for _, s := range r.Stretches {
			if s.From <= frame && frame <= s.To {
				return true
			}
		}
	}
	return false
}
