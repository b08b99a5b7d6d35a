package reports

import (
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"html/template"
)

// scriptText is the page's one script: the viewer of windows. It needs no
// library, asks for nothing from outside and does nothing until somebody acts.
//
//go:embed script.js
var scriptText string

// policy allows that script alone, by its hash (Content Security Policy Level 3,
// section 2.3.1).
var policy = func() template.HTMLAttr {
	sum := sha256.Sum256([]byte(scriptText))
	return template.HTMLAttr(`content="default-src 'none'; img-src data:; style-src 'unsafe-inline'; script-src 'sha256-` +
		base64.StdEncoding.EncodeToString(sum[:]) + `'; base-uri 'none'; form-action 'none'"`)
}()
