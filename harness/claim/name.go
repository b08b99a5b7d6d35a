package claim

import (
	"fmt"
	"path"
	"regexp"
	"strings"

	"latchproof/specs"
)

// Limits of the names of files, bytes: such names fit the archive of a bundle
// and every file system.
const (
	MaxNamePart = 60
	MaxName     = 80
)

// portable is a part of a name that means the same file on every system: ASCII
// letters and digits, and `_`, `-`, `.` and single spaces between them. Systems
// disagree about the rest: which characters are allowed, which are the same, and
// what ends a name.
var portable = regexp.MustCompile(`^[A-Za-z0-9_]([ .-]?[A-Za-z0-9_])*$`)

// portablePath is the same of whole names, for the schema.
const portablePath = `^[A-Za-z0-9_]([ .-]?[A-Za-z0-9_])*(/[A-Za-z0-9_]([ .-]?[A-Za-z0-9_])*)*$`

// device matches names that one system takes for devices, with or without an
// ending (Microsoft, "Naming Files, Paths, and Namespaces").
var device = regexp.MustCompile(`^(?i:con|prn|aux|nul|conin\$|conout\$|com[0-9]|lpt[0-9]) *(\..*)?$`)

// badName says what is wrong with the name of a file in a folder, parts joined
// by "/", as a predicate; empty when nothing is.
func badName(name string) string {
	if len(name) > MaxName {
		return fmt.Sprintf("is %d bytes long; at most %d are allowed", len(name), MaxName)
	}
	for _, part := range strings.Split(name, "/") {
		if why := badPart(part); why != "" {
			return why
		}
	}
	return ""
}

func badPart(part string) string {
	switch {
	case len(part) > MaxNamePart:
		return fmt.Sprintf("has a part of %d bytes; at most %d are allowed", len(part), MaxNamePart)
	case device.MatchString(part):
		return "is taken for a device by some systems"
	case !portable.MatchString(part):
		return "holds more than ASCII letters, digits and `_`, with single `-`, `.` and spaces between them"
	}
	return ""
}

// filePath is the shape of a file's name with the limits of this package.
type filePath struct{ specs.Path }

// Schema describes the name but for the names of devices.
func (filePath) Schema() map[string]any {
	return map[string]any{"type": "string", "minLength": 1, "maxLength": MaxName, "pattern": portablePath}
}

// Read reads the name.
func (p filePath) Read(v *specs.Value) (string, bool) {
	name, ok := p.Path.Read(v)
	if !ok {
		return "", false
	}
	if why := badName(name); why != "" {
		v.Fail("%q %s", short(name), why)
		return "", false
	}
	return name, true
}

// shown is a path fit for a message: as it is when it is plain, else quoted.
func shown(file string) string {
	for _, r := range file {
		if r < ' ' || r > '~' {
			return fmt.Sprintf("%q", short(file))
		}
	}
	return file
}

// short cuts a text to a length fit for a message.
func short(s string) string {
	const most = 100
	if len(s) <= most {
		return s
	}
	return s[:most] + "..."
}

// beside is the name of a file in the folder of another one, both relative.
func beside(other, name string) string { return path.Join(path.Dir(other), name) }
