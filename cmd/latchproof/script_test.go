package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"latchproof/fixtures/demo"
	"latchproof/fixtures/sim"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"latchproof": main})
}

// TestScripts runs the command line as a user would. Besides the library's own
// commands the scripts have:
//
//	exits N COMMAND...   runs a command that must end with exit status N
//	demofiles DIR        writes the demo's programs, specs and templates
//	field FILE KEY WANT  checks a value of a JSON file; KEY is a path such as
//	                     families.0.from
//	junit FILE           checks that a file has the shape of JUnit files
//	schema FILE          checks a report.json against the published schema
//	poke FILE OFFSET     changes one byte of a file; a negative offset counts
//	                     from the end
//	subst FILE OLD NEW   replaces a text that the file holds once
//	cut FILE BYTES       keeps only the first bytes of a file
//	certified BOOK KEY CATEGORY BY FRAMES...
//	                     enters a certificate for each number of frames into a
//	                     record book, which is made when it is not there
//	workbench DIR        opens a bench in real time for one run, with its bench
//	                     file DIR/bench.yaml, until the script ends;
//	                     DIR/nocard.yaml has a card that is not there
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir:                 "testdata",
		RequireExplicitExec: true,
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"exits": exits, "demofiles": demoFiles, "field": field, "poke": poke, "cut": cut, "subst": subst, "workbench": workbench, "certified": certified, "junit": junit, "schema": schema,
		},
	})
}

func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exits N COMMAND...")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	err = ts.Exec(args[1], args[2:]...)
	got := 0
	var ee *exec.ExitError
	switch {
	case errors.As(err, &ee):
		got = ee.ExitCode()
	case err != nil:
		ts.Fatalf("%v", err)
	}
	if got != want {
		ts.Fatalf("exit status %d, want %d", got, want)
	}
}

func demoFiles(ts *testscript.TestScript, _ bool, args []string) {
	ts.Check(demo.Write(ts.MkAbs(args[0])))
}

func field(ts *testscript.TestScript, neg bool, args []string) {
	if len(args) != 3 {
		ts.Fatalf("usage: field FILE KEY WANT")
	}
	d := json.NewDecoder(bytes.NewReader([]byte(ts.ReadFile(args[0]))))
	d.UseNumber()
	var v any
	ts.Check(d.Decode(&v))
	for _, key := range splitKey(args[1]) {
		switch x := v.(type) {
		case map[string]any:
			y, ok := x[key]
			if !ok {
				ts.Fatalf("no key %q in %s", key, args[0])
			}
			v = y
		case []any:
			i, err := strconv.Atoi(key)
			if err != nil || i < 0 || i >= len(x) {
				ts.Fatalf("no entry %q in %s", key, args[0])
			}
			v = x[i]
		default:
			ts.Fatalf("%q: %v has no keys", key, v)
		}
	}
	got, err := json.Marshal(v)
	ts.Check(err)
	text := string(got)
	if s, ok := v.(string); ok {
		text = s
	}
	if (text == args[2]) == neg {
		ts.Fatalf("%s: %s is %s, want %s", args[0], args[1], text, args[2])
	}
}

func splitKey(key string) []string {
	var parts []string
	for _, p := range bytes.Split([]byte(key), []byte(".")) {
		parts = append(parts, string(p))
	}
	return parts
}

func poke(ts *testscript.TestScript, _ bool, args []string) {
	path := ts.MkAbs(args[0])
	at, err := strconv.Atoi(args[1])
	ts.Check(err)
	b, err := os.ReadFile(path)
	ts.Check(err)
	if at < 0 {
		at += len(b)
	}
	b[at] ^= 1
	ts.Check(os.WriteFile(path, b, 0o666))
}

func cut(ts *testscript.TestScript, _ bool, args []string) {
	n, err := strconv.ParseInt(args[1], 10, 64)
	ts.Check(err)
	ts.Check(os.Truncate(filepath.Clean(ts.MkAbs(args[0])), n))
}

func workbench(ts *testscript.TestScript, _ bool, args []string) {
	dir := ts.MkAbs(args[0])
	ts.Check(os.MkdirAll(dir, 0o777))
	cfg := sim.Default()
	cfg.Card.Width, cfg.Card.Height, cfg.Card.Active = 320, 240, image.Rect(16, 0, 304, 240)
	w, err := sim.OpenWorkbench(cfg, dir)
	ts.Check(err)
	ts.Defer(func() { ts.Check(w.Close()) })
	ts.Check(os.WriteFile(filepath.Join(dir, "bench.yaml"), []byte(w.BenchFile()), 0o666))
	nocard := fmt.Sprintf("bench: nocard\nfeeder: {port: %s}\ncard: {device: /no/such/video, format: mjpeg, size: [640, 480]}\n", w.Port)
	ts.Check(os.WriteFile(filepath.Join(dir, "nocard.yaml"), []byte(nocard), 0o666))
}

func subst(ts *testscript.TestScript, _ bool, args []string) {
	if len(args) != 3 || strings.Count(ts.ReadFile(args[0]), args[1]) != 1 {
		ts.Fatalf("usage: subst FILE OLD NEW, with OLD once in the file")
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(strings.ReplaceAll(ts.ReadFile(args[0]), args[1], args[2])), 0o666))
}
