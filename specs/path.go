package specs

import (
	"path"
	"regexp"
	"strings"
)

// Path is the name of a file inside the spec's folder: parts joined by `/`,
// none of which begins with a dot. Absolute paths and paths that lead out of
// the folder are refused here by their text, and again by the operating system
// when the file is opened (see Folder).
type Path struct {
	Says string // what is wanted, for messages
	Of   string // whose folder it is, for messages. Empty: the spec's
}

const maxPath = 200

var plainPath = func() *regexp.Regexp {
	const part = `[^\p{C}\p{Z}/\\:.]( ?[^\p{C}\p{Z}/\\:])*`
	return regexp.MustCompile(`^` + part + `(/` + part + `)*$`)
}()

func (p Path) text() Text {
	return Text{Min: 1, Max: maxPath, Pattern: plainPath, Says: p.Says}
}

// Schema describes the name.
func (p Path) Schema() map[string]any { return p.text().Schema() }

// Read reads the name.
func (p Path) Read(v *Value) (string, bool) {
	if n, ok := v.scalar(); ok && n.Tag == "!!str" && len(n.Value) <= maxPath {
		of := p.Of
		if of == "" {
			of = "the spec's"
		}
		name := strings.ReplaceAll(n.Value, `\`, "/")
		switch {
		case path.IsAbs(name) || len(name) > 1 && name[1] == ':':
			v.Fail("%s is an absolute path; name a file inside %s folder", show(n.Value), of)
			return "", false
		case name == ".." || strings.HasPrefix(name, "../") || strings.HasSuffix(name, "/..") || strings.Contains(name, "/../"):
			v.Fail("%s can leave %s folder; name a file inside it without `..`", show(n.Value), of)
			return "", false
		}
	}
	return p.text().Read(v)
}
