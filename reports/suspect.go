package reports

import "fmt"

// maxSuspects is how many differences seen once are listed per spec.
const maxSuspects = 20

// suspectView is a difference seen once as the page shows it.
type suspectView struct {
	Frame string
	A, B  name
	Where string
}

func buildSuspects(all []Suspect) (rows []suspectView, left string) {
	for i, s := range all {
		if i == maxSuspects {
			return rows, count(len(all) - i)
		}
		row := suspectView{Frame: count(s.Frame), A: named(s.A, longName), B: named(s.B, longName)}
		if s.Region != nil {
			row.Where = place(*s.Region)
		}
		if s.Kind != "" {
			row.Where = fmt.Sprintf("%s, %s", clean(s.Kind), row.Where)
		}
		rows = append(rows, row)
	}
	return rows, ""
}
