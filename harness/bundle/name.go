package bundle

import (
	"fmt"
	"io/fs"
	"path"
	"strings"
)

// maxName is how long a name may be in ustar: 155 bytes of prefix, a slash and 100 bytes.
const maxName = 256

// CheckName says what is wrong with the name of a file of a bundle, which the
// package's text gives the rules of.
func CheckName(name string) error {
	if len(name) > maxName {
		return fmt.Errorf("name of %d bytes, at most %d", len(name), maxName)
	}
	if !fs.ValidPath(name) || name == "." {
		return fmt.Errorf("name %q is not a plain relative path", name)
	}
	for part := range strings.SplitSeq(name, "/") {
		if part[0] == ' ' || strings.HasSuffix(part, " ") || strings.HasSuffix(part, ".") {
			return fmt.Errorf("name %q: a part begins or ends with a space, or ends with a dot", name)
		}
	}
	for i := range len(name) {
		if c := name[i]; c < ' ' || c > '~' || strings.IndexByte(`\:*?"<>|`, c) >= 0 {
			return fmt.Errorf("name %q: byte %#02x is not allowed", name, c)
		}
	}
	if _, _, ok := divide(name); !ok {
		return fmt.Errorf("name %q cannot be divided into at most 155 and at most 100 bytes at a slash", name)
	}
	return nil
}

// divide gives the prefix and name fields of a header.
func divide(name string) (prefix, rest string, ok bool) {
	if len(name) <= nameSize {
		return "", name, true
	}
	at := strings.LastIndexByte(name[:min(len(name), prefixSize+1)], '/')
	if at <= 0 || len(name)-at-1 > nameSize {
		return "", "", false
	}
	return name[:at], name[at+1:], true
}

// names finds names that cannot stand beside one another on every file system.
type names struct {
	files   map[string]string // by the name in small letters
	folders map[string]string // likewise; a folder has one spelling
}

func newNames() *names { return &names{files: map[string]string{}, folders: map[string]string{}} }

// add takes a name that CheckName has passed.
func (n *names) add(name string) error {
	low := strings.ToLower(name)
	if other, ok := n.files[low]; ok {
		return fmt.Errorf("names %q and %q are the same but for letter case", other, name)
	}
	if other, ok := n.folders[low]; ok {
		return fmt.Errorf("name %q is that of a folder, %q", name, other)
	}
	n.files[low] = name
	for dir := path.Dir(name); dir != "."; dir = path.Dir(dir) {
		low := strings.ToLower(dir)
		if other, ok := n.files[low]; ok {
			return fmt.Errorf("name %q is that of a folder of %q", other, name)
		}
		if other, ok := n.folders[low]; ok {
			if other != dir {
				return fmt.Errorf("folders %q and %q are the same but for letter case", other, dir)
			}
			return nil // and so its own folders
		}
		n.folders[low] = dir
	}
	return nil
}
