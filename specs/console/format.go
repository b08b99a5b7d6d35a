package console

import (
	"fmt"
	"strings"

	"go.yaml.in/yaml/v3"
)

// Format writes the profile as a profile file with every key. Parse gives the
// same profile back when it is valid.
func (p Profile) Format() []byte {
	var b strings.Builder
	text := func(key, value string) {
		if value == "" {
			return
		}
		// A scalar node cannot fail to encode; its output ends in a newline.
		out, _ := yaml.Marshal(&yaml.Node{Kind: yaml.ScalarNode, Style: yaml.DoubleQuotedStyle, Value: value})
		fmt.Fprintf(&b, "%s: %s", key, out)
	}
	fmt.Fprintf(&b, "version: 1\nconsole: %q\n", p.Name)
	text("about", p.About)
	fmt.Fprintf(&b, "raster: [%d, %d]\nrate: %s\n", p.Width, p.Height, p.Rate)
	text("derivation", p.Derivation)
	quoted := make([]string, len(p.Buttons))
	for i, name := range p.Buttons {
		quoted[i] = fmt.Sprintf("%q", name)
	}
	fmt.Fprintf(&b, "buttons: [%s]\n", strings.Join(quoted, ", "))
	fmt.Fprintf(&b, "ports: %d\nreads_per_frame: %d\nburst_gap: %s\nlatch: %s\n", p.Ports, p.ReadsPerFrame, p.BurstGap, p.LatchActive)
	return []byte(b.String())
}
