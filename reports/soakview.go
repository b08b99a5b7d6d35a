package reports

// soakView is a soak on the first screen.
type soakView struct {
	S    Soak
	Tone tone
	Far  string  // how far it is, in words
	X    float64 // the same as a part of 100; below 0 when that cannot be said
}

func buildSoak(s *Soak) *soakView {
	if s == nil {
		return nil
	}
	v := &soakView{S: *s, Tone: toned(s.Verdict), X: -1}
	if v.Tone.Class == "unknown" {
		switch {
		case s.CleanNeeded < 0:
			v.Far = "More than a million further clean repeats would be needed to prove it."
		case s.CleanNeeded > 0:
			v.Far = plural(s.CleanNeeded, "further clean repeat would", "further clean repeats would") + " prove it."
			v.X = round(100 * float64(max(s.Clean, 0)) / float64(max(s.Clean, 0)+s.CleanNeeded))
		}
	}
	return v
}
