package index

import (
	"fmt"
	"html/template"
	"net/url"
	"path"
	"slices"
	"strings"

	"latchproof/reports"
	"latchproof/reports/plot"
)

// Bounds of what the page shows.
const (
	maxConfigs   = 40 // rows
	maxWorse     = 30
	maxFilters   = 16 // of configurations, and of specs
	maxCellSpecs = 6  // specs in a row of the table of sessions
	maxCellNames = 8  // names of specs in a row of configurations
	nameLong     = 40 // characters
)

// view is what the page template is given. Texts in it are still untrusted.
type view struct {
	Style    template.CSS
	X        Index
	Folder   string
	Made     string
	Tone     tone
	Worse    []worseView
	WorseOn  int // not listed
	Fell     []fallView
	FellOn   int // not listed
	Configs  []configView
	ConfigOn int
	Legend   []legendView
	Specs    []trendView
	SpecsOn  int
	Timing   []trendView
	Filters  []filterGroup
	Rows     []template.HTML
	RowsOn   int
	Months   []monthView
	Unread   []Unread
	Undated  int
	specs    map[string]int // numbers of the specs that have a filter
}

// A tone is how a verdict is shown: a class for its colour, the name of a shape,
// and a word.
type tone struct{ Class, Shape, Word string }

var tones = map[string]tone{
	held:    {"yes", "s-yes", "held"},
	notHeld: {"no", "s-no", "not held"},
	untold:  {"unknown", "s-unknown", "cannot tell"},
}

type worseView struct {
	Bench, Spec string
	Since, Held sessionLink
	Changed     string
}

type fallView struct {
	Bench, Spec, Now, Then, P string
	Since                     sessionLink
	Changed                   string
}

// A sessionLink is a session by its date; Href is empty when it has no page.
type sessionLink struct{ Date, Href string }

type configView struct {
	C       Configuration
	Style   int
	Bench   string
	Last    sessionLink
	Tone    tone
	Held    string
	NotHeld string
	Untold  string
}

type legendView struct {
	Style int
	Name  string
}

type filterGroup struct {
	Name    string
	Filters []filter
	Left    int
}

// A filter is a place on the page that leaves only the rows of a class.
type filter struct{ ID, Class, Name string }

type monthView struct{ ID, Name string }

// links turns sessions into links from the page.
type links struct{ to string }

// href is the address of a session's page; each part of the path is escaped, and
// it begins with a dot, so that no folder name can be taken for a scheme.
func (l links) href(s Session) string {
	if !s.Page {
		return ""
	}
	p := path.Join(l.to, path.Dir(s.Path), pageFile)
	parts := strings.Split(p, "/")
	for i, one := range parts {
		parts[i] = url.PathEscape(one)
	}
	return "./" + strings.Join(parts, "/")
}

func (l links) link(s Session) sessionLink { return sessionLink{date(s), l.href(s)} }

func date(s Session) string {
	if !s.Dated {
		return "no date"
	}
	return s.Made.Format("2006-01-02 15:04")
}

// styleOf is the look of a configuration: the newest four have one of their own.
func styleOf(c int) int {
	if c < plot.Styles-1 {
		return c + 1
	}
	return 0
}

func build(x Index, to string) (*view, error) {
	l := links{to}
	v := &view{X: x, Folder: reports.Cut(x.Folder, 200), Made: x.Made.UTC().Format("2 January 2006, 15:04 UTC"), Tone: tones[x.Verdict()]}
	switch {
	case v.Tone.Class == "yes":
		v.Tone.Word = "Holds now"
	case v.Tone.Class == "no" && len(x.Worse)+len(x.Fell) > 0:
		v.Tone.Word = "Got worse"
	case v.Tone.Class == "no":
		v.Tone.Word = "Does not hold"
	default:
		v.Tone.Word = "Cannot tell"
	}
	for i, c := range x.Worse {
		if i == maxWorse {
			v.WorseOn = len(x.Worse) - maxWorse
			break
		}
		s := x.Sessions[c.Since]
		v.Worse = append(v.Worse, worseView{
			Bench: benchName(c.Bench, s.Simulated), Spec: specName(c.Spec), Since: l.link(s), Held: l.link(x.Sessions[c.Held]), Changed: strings.Join(c.Changed, ", "),
		})
	}
	for i, f := range x.Fell {
		if i == maxWorse {
			v.FellOn = len(x.Fell) - maxWorse
			break
		}
		s := x.Sessions[f.Since]
		v.Fell = append(v.Fell, fallView{
			Bench: benchName(f.Bench, s.Simulated), Spec: specName(f.Spec), Since: l.link(s), Changed: strings.Join(f.Changed, ", "), P: pValue(f.P),
			Now: fmt.Sprintf("%d of %d", f.Held, f.Of), Then: fmt.Sprintf("%d of %d", f.HeldThen, f.OfThen),
		})
	}
	many := manyBenches(x)
	for i, c := range x.Configurations {
		if i == maxConfigs {
			v.ConfigOn = len(x.Configurations) - maxConfigs
			break
		}
		v.Configs = append(v.Configs, configView{
			C: c, Style: styleOf(i), Bench: benchName(c.Bench, c.Simulated), Last: l.link(x.Sessions[c.Last]), Tone: tones[c.Verdict],
			Held: list(c.Held), NotHeld: list(c.NotHeld), Untold: list(c.Untold),
		})
		if styleOf(i) > 0 {
			v.Legend = append(v.Legend, legendView{styleOf(i), c.name(many)})
		}
	}
	if n := len(x.Configurations) - plot.Styles + 1; n > 0 {
		v.Legend = append(v.Legend, legendView{0, reports.Plural(n, "older configuration", "older configurations")})
	}
	for _, s := range x.Sessions {
		if !s.Dated {
			v.Undated++
		}
	}
	var err error
	if v.Specs, v.SpecsOn, err = specTrends(x); err != nil {
		return nil, err
	}
	if v.Timing, err = timingTrends(x); err != nil {
		return nil, err
	}
	v.filters(x, many)
	v.Style = template.CSS(reports.Colours() + styleText + v.filterRules())
	v.Unread = x.Unread
	return v, nil
}

// pValue writes a chance, and a small one as below a bound.
func pValue(p float64) string {
	if p < 0.0001 {
		return "P < 0.0001"
	}
	return "P = " + reports.Decimal(p, 4)
}

func manyBenches(x Index) bool { return len(x.current()) > 1 }

func specName(s string) string {
	if s = reports.Cut(s, nameLong); s == "" {
		return "spec without a name"
	}
	return s
}

// list names a few specs.
func list(names []string) string {
	var out []string
	for i, n := range names {
		if i == maxCellNames {
			return strings.Join(out, ", ") + " and " + reports.Count(len(names)-i) + " more"
		}
		out = append(out, specName(n))
	}
	return strings.Join(out, ", ")
}

// filters offers rows by verdict, configuration and spec.
func (v *view) filters(x Index, many bool) {
	v.Filters = []filterGroup{{Name: "Verdict", Filters: []filter{{"f-no", "n", "not held"}, {"f-unknown", "u", "cannot tell"}, {"f-yes", "y", "held"}}}}
	g := filterGroup{Name: "Bench and board"}
	for i, c := range x.Configurations {
		if i == maxFilters {
			g.Left = len(x.Configurations) - maxFilters
			break
		}
		g.Filters = append(g.Filters, filter{fmt.Sprintf("f-c%d", i), fmt.Sprintf("c%d", i), c.name(many)})
	}
	v.Filters = append(v.Filters, g)
	specs := map[string]int{}
	g = filterGroup{Name: "Spec"}
	for _, name := range specNames(x) {
		if len(specs) == maxFilters {
			g.Left++
			continue
		}
		i := len(specs)
		specs[name] = i
		g.Filters = append(g.Filters, filter{fmt.Sprintf("f-s%d", i), fmt.Sprintf("s%d", i), specName(name)})
	}
	v.Filters, v.specs = append(v.Filters, g), specs
}

// filterRules hide the rows that do not belong to the place on the page that is
// the target of the address. All names in them are made here.
func (v *view) filterRules() string {
	var b strings.Builder
	for _, g := range v.Filters {
		for _, f := range g.Filters {
			fmt.Fprintf(&b, "#%s:target~.scroll tbody tr:not(.%s){display:none}\n", f.ID, f.Class)
		}
	}
	return b.String()
}

// specNames are the specs of all sessions, those last played first.
func specNames(x Index) (out []string) {
	seen := map[string]bool{}
	for _, s := range x.Sessions {
		for _, sp := range s.Specs {
			if !seen[sp.Name] {
				seen[sp.Name] = true
				out = append(out, sp.Name)
			}
		}
	}
	return out
}

// rowView is a session in the table.
type rowView struct {
	Class, ID string
	Date      string
	Bench     string
	Board     string
	Tone      tone
	Asked     string
	Specs     []cellSpec
	Left      int
	Parts     string
	Href      string
}

type cellSpec struct{ Class, Name, Words string }

var letters = map[string]string{held: "y", notHeld: "n", untold: "u"}

// maxPage is what the page may take, in bytes, but for the links to months.
const maxPage = 2_950_000

// rows fills the table of sessions, as far as there is room.
func (v *view) rows(x Index, l links, room int) error {
	month := ""
	for i, s := range x.Sessions {
		r := rowView{Date: date(s), Bench: benchName(s.Bench, s.Simulated), Tone: tones[s.Verdict], Asked: s.Asked, Href: l.href(s)}
		r.Board = Configuration{Firmware: s.Firmware, Revision: s.Revision}.name(false)
		classes := []string{letters[s.Verdict], fmt.Sprintf("c%d", s.Configuration)}
		var first *Divergence
		for j, sp := range s.Specs {
			if n, ok := v.specs[sp.Name]; ok {
				if class := fmt.Sprintf("s%d", n); !slices.Contains(classes, class) {
					classes = append(classes, class)
				}
			}
			if sp.First != nil && (first == nil || sp.First.Frame < first.Frame) {
				first = sp.First
			}
			if j >= maxCellSpecs {
				r.Left++
				continue
			}
			words := tones[sp.Verdict].Word
			if sp.Repeats > 0 {
				words += fmt.Sprintf(", %d of %d", sp.InStep, sp.Repeats)
			}
			r.Specs = append(r.Specs, cellSpec{letters[sp.Verdict], specName(sp.Name), words})
		}
		r.Left += s.SpecsLeft
		if first != nil {
			r.Parts = "frame " + reports.Count(first.Frame)
			if first.Kind != "" {
				r.Parts += ", " + reports.Cut(first.Kind, 20)
			}
			if first.Part != "" && first.Part != "unknown" {
				r.Parts += " (" + reports.Cut(first.Part, 20) + ")"
			}
		}
		m := "no date"
		if s.Dated {
			m = s.Made.Format("January 2006")
		}
		if m != month {
			month, r.ID = m, fmt.Sprintf("m%d", len(v.Months))
			v.Months = append(v.Months, monthView{r.ID, m})
		}
		r.Class = strings.Join(classes, " ")
		var b strings.Builder
		if err := page.ExecuteTemplate(&b, "row", r); err != nil {
			return err
		}
		if room -= b.Len(); room < 0 {
			v.RowsOn = len(x.Sessions) - i
			if r.ID != "" {
				v.Months = v.Months[:len(v.Months)-1]
			}
			return nil
		}
		v.Rows = append(v.Rows, template.HTML(b.String())) // made by the template just now
	}
	return nil
}
