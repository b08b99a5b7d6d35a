package plot

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"regexp"
	"strconv"
	"strings"
)

// Caption names a drawing. ID begins the identifiers of its parts and must be its
// own on the page: small letters, digits and hyphens. Title and Desc are shown
// to those who do not see the drawing; they may be any text and are escaped.
type Caption struct{ ID, Title, Desc string }

var goodID = regexp.MustCompile(`^[a-z][a-z0-9-]*$`)

// rewrite turns what the library drew, on w by h units with its origin at the
// bottom left, into what the package promises. It is an error when the drawing
// holds anything that it does not know, so that nothing of the library's own
// look can slip through.
func rewrite(svg []byte, l Caption, w, h float64) (string, error) {
	if !goodID.MatchString(l.ID) {
		return "", fmt.Errorf("plot: %q cannot begin an identifier", l.ID)
	}
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="plot" viewBox="0 0 %g %g" role="img" aria-labelledby="%s-t %s-d"><title id="%s-t">`, w, h, l.ID, l.ID, l.ID)
	escape(&b, l.Title)
	fmt.Fprintf(&b, `</title><desc id="%s-d">`, l.ID)
	escape(&b, l.Desc)
	b.WriteString("</desc>\n")
	path := "" // class of the path that is open
	end := func() {
		if path != "" {
			b.WriteString("\"/>\n")
		}
		path = ""
	}
	dec := xml.NewDecoder(bytes.NewReader(svg))
	for {
		t, err := dec.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return "", fmt.Errorf("plot: reading the drawing: %w", err)
		}
		e, ok := t.(xml.StartElement)
		if !ok {
			continue
		}
		at := map[string]string{}
		for _, a := range e.Attr {
			at[a.Name.Local] = a.Value
		}
		switch e.Name.Local {
		case "svg":
		case "g":
			if want := fmt.Sprintf("scale(1, -1) translate(0, -%.5g)", h); at["transform"] != want {
				return "", fmt.Errorf("plot: a group is moved by %q", at["transform"])
			}
		case "path":
			r, _, err := styled(at["style"])
			if err != nil {
				return "", err
			}
			d, err := places(at["d"], h)
			if err != nil {
				return "", err
			}
			if class := classes[r]; class != path { // neighbours of one class are one path
				end()
				path = class
				fmt.Fprintf(&b, `<path class="%s" d="`, class)
			}
			b.WriteString(d)
		case "text":
			end()
			r, a, err := styled(at["style"])
			if err != nil {
				return "", err
			}
			x, errX := strconv.ParseFloat(at["x"], 64)
			y, errY := strconv.ParseFloat(at["y"], 64)
			if err := errors.Join(errX, errY); err != nil {
				return "", fmt.Errorf("plot: a text: %w", err)
			}
			var words string
			if err := dec.DecodeElement(&words, &e); err != nil {
				return "", fmt.Errorf("plot: a text: %w", err)
			}
			fmt.Fprintf(&b, `<text class="%s" x="%s" y="%s"%s>`, classes[r], tenth(x), tenth(h+y), [anchors]string{"", ` text-anchor="middle"`, ` text-anchor="end"`}[a])
			escape(&b, words)
			b.WriteString("</text>\n")
		default:
			return "", fmt.Errorf("plot: the drawing has an element %s", e.Name.Local)
		}
	}
	end()
	b.WriteString("</svg>")
	return b.String(), nil
}

var hexColour = regexp.MustCompile(`(?:fill|stroke):#([0-9A-F]{6})`)

// styled finds the role in the style that the library wrote.
func styled(css string) (role, anchor, error) {
	if m := hexColour.FindStringSubmatch(css); m != nil {
		if rgb, err := strconv.ParseUint(m[1], 16, 32); err == nil {
			if r, a, ok := meant(uint32(rgb)); ok {
				return r, a, nil
			}
		}
	}
	return 0, 0, fmt.Errorf("plot: the drawing has the style %q", css)
}

var commands = regexp.MustCompile(`[A-Za-z][^A-Za-z]*`)

// places turns the places of a path over, counts them from the top, and writes
// them short.
func places(d string, h float64) (string, error) {
	var b strings.Builder
	var lastX, lastY string
	// Numbers such as 1e-05 hold a letter; there is nothing so small to be seen.
	for _, c := range commands.FindAllString(tiny.ReplaceAllString(d, "0"), -1) {
		if c == "Z" {
			b.WriteString("Z")
			continue
		}
		xs, ys, ok := strings.Cut(c[1:], ",")
		x, errX := strconv.ParseFloat(xs, 64)
		y, errY := strconv.ParseFloat(ys, 64)
		if !ok || errX != nil || errY != nil || math.IsNaN(x+y) || math.IsInf(x+y, 0) || c[0] != 'M' && c[0] != 'L' {
			return "", fmt.Errorf("plot: a path of the drawing has %q", c)
		}
		sx, sy := tenth(x), tenth(h-y)
		switch {
		case c[0] == 'M':
			fmt.Fprintf(&b, "M%s %s", sx, sy)
		case sx == lastX && sy == lastY:
		case sy == lastY:
			b.WriteString("H" + sx)
		case sx == lastX:
			b.WriteString("V" + sy)
		default:
			fmt.Fprintf(&b, "L%s %s", sx, sy)
		}
		lastX, lastY = sx, sy
	}
	return b.String(), nil
}

var tiny = regexp.MustCompile(`-?[0-9.]+e-[0-9]+`)

func tenth(f float64) string {
	f = math.Round(f*10) / 10
	return strconv.FormatFloat(f+0, 'f', -1, 64) // + 0: no negative zero
}

// escape writes text of XML. Characters that XML cannot hold become U+FFFD.
func escape(b *strings.Builder, s string) {
	_ = xml.EscapeText(b, []byte(s)) // a Builder gives no error
}
