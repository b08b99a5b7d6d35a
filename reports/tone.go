package reports

import "strings"

// A tone says how a verdict is shown. Class picks the colour and Shape the
// symbol; Word says the same again.
type tone struct{ Class, Shape, Word string }

// toned gives the tone of a verdict of a spec, a checkpoint or a repeat. A word
// that it does not know is shown as it is and never as good.
func toned(verdict string) tone {
	switch verdict {
	case "held":
		return tone{"yes", "s-yes", "Held"}
	case "not held":
		return tone{"no", "s-no", "Not held"}
	case "cannot tell":
		return tone{"unknown", "s-unknown", "Cannot tell"}
	case "proven":
		return tone{"yes", "s-yes", "Proven"}
	case "refuted":
		return tone{"no", "s-no", "Refuted"}
	case "no worse":
		return tone{"yes", "s-yes", "No worse"}
	case "worse":
		return tone{"no", "s-no", "Worse"}
	case "pass":
		return tone{"yes", "s-yes", "pass"}
	case "fail":
		return tone{"no", "s-no", "fail"}
	case "unseen":
		return tone{"unknown", "s-unknown", "unseen"}
	case "":
		return tone{"unknown", "s-unknown", "no verdict"}
	}
	if strings.HasPrefix(verdict, cannotTell) {
		return toned("cannot tell")
	}
	return tone{"unknown", "s-unknown", named(verdict, shortName).Short}
}

// overall is the verdict of several specs: what surely does not hold outweighs
// what cannot be told, and nothing played cannot be told.
func overall(specs []Spec) string {
	out := "cannot tell"
	for i, s := range specs {
		switch s.Verdict {
		case "not held":
			return s.Verdict
		case "held":
			if i == 0 {
				out = "held"
			}
		default:
			out = "cannot tell"
		}
	}
	return out
}

// kindWords says in words what a kind of divergence is.
func kindWords(d Divergence) string {
	switch d.Kind {
	case "input":
		return "the console was given other buttons, or at other reads"
	case "picture":
		return "the same reads, another picture: the console’s own state"
	case "shift":
		lasts := ", for a while"
		if d.Stays {
			lasts = ", to the end"
		}
		switch {
		case d.Shift > 0:
			return "the same pictures, " + plural(d.Shift, "frame", "frames") + " later" + lasts
		case d.Shift < 0:
			return "the same pictures, " + plural(-d.Shift, "frame", "frames") + " earlier" + lasts
		}
		return "the same pictures at another time"
	case "flicker":
		return "one difference that vanished at once: suspect, not certain"
	case "end":
		return "one run stops before the other"
	}
	return ""
}

func kindShape(kind string) string {
	switch kind {
	case "input":
		return "s-input"
	case "picture":
		return "s-picture"
	case "end":
		return "s-end"
	}
	return "s-parts"
}
