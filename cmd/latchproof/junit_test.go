package main

import (
	"encoding/xml"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"github.com/rogpeppe/go-internal/testscript"
)

// junitShape is what the elements of a JUnit file may hold, and what they must,
// as the XML Schema junit-10.xsd of the xUnit plugin of the Jenkins project has it
// (from memory); there is no standard. Children are "name" for any number and
// "name!" for at least one.
var junitShape = map[string]struct{ children, must, may string }{
	"testsuites": {"testsuite!", "", "name time tests failures disabled errors"},
	"testsuite":  {"properties testcase system-out system-err", "name tests", "failures errors time disabled skipped timestamp hostname id package file log url version"},
	"properties": {"property!", "", ""},
	"property":   {"", "name", "value"},
	"testcase":   {"skipped error failure system-out system-err", "name", "classname assertions time status class file line group url"},
	"skipped":    {"", "", "type message"},
	"error":      {"", "", "type message"},
	"failure":    {"", "", "type message"},
	"system-out": {"", "", ""},
	"system-err": {"", "", ""},
}

// junit checks that a file has that shape, and that the counts are those of what
// it holds.
func junit(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: junit FILE")
	}
	ts.Check(checkJUnit(ts.ReadFile(args[0])))
}

func checkJUnit(text string) error {
	d := xml.NewDecoder(strings.NewReader(text))
	var path []string
	seen := map[string]int{}
	attrs := map[string]string{} // of testsuites
	children := map[int][]string{}
	for {
		tok, err := d.Token()
		if err == io.EOF {
			break
		}
		if err != nil {
			return err
		}
		switch t := tok.(type) {
		case xml.StartElement:
			name := t.Name.Local
			if err := checkElement(path, t); err != nil {
				return err
			}
			if name == "testsuites" {
				for _, a := range t.Attr {
					attrs[a.Name.Local] = a.Value
				}
			}
			children[len(path)] = append(children[len(path)], name)
			path = append(path, name)
			children[len(path)] = nil
			seen[name]++
		case xml.EndElement:
			for _, c := range strings.Fields(junitShape[t.Name.Local].children) {
				if must, ok := strings.CutSuffix(c, "!"); ok && !slices.Contains(children[len(path)], must) {
					return fmt.Errorf("<%s> without <%s>", t.Name.Local, must)
				}
			}
			path = path[:len(path)-1]
		}
	}
	for key, element := range map[string]string{"tests": "testcase", "failures": "failure", "errors": "error"} {
		if n, err := strconv.Atoi(attrs[key]); err != nil || n != seen[element] {
			return fmt.Errorf("testsuites says %s=%q and holds %d <%s>", key, attrs[key], seen[element], element)
		}
	}
	return nil
}

func checkElement(path []string, t xml.StartElement) error {
	name := t.Name.Local
	shape, ok := junitShape[name]
	if !ok || t.Name.Space != "" {
		return fmt.Errorf("element <%s>", name)
	}
	if len(path) == 0 {
		if name != "testsuites" {
			return fmt.Errorf("the root is <%s>", name)
		}
	} else if up := path[len(path)-1]; !slices.Contains(strings.Fields(strings.ReplaceAll(junitShape[up].children, "!", "")), name) {
		return fmt.Errorf("<%s> in <%s>", name, up)
	}
	must, have := strings.Fields(shape.must), map[string]bool{}
	for _, a := range t.Attr {
		have[a.Name.Local] = true
		if !slices.Contains(append(strings.Fields(shape.may), must...), a.Name.Local) {
			return fmt.Errorf("<%s %s>", name, a.Name.Local)
		}
		switch a.Name.Local {
		case "tests", "failures", "errors", "disabled":
			if _, err := strconv.ParseUint(a.Value, 10, 32); err != nil {
				return fmt.Errorf("<%s %s=%q>", name, a.Name.Local, a.Value)
			}
		case "time":
			if _, err := strconv.ParseFloat(a.Value, 64); err != nil {
				return fmt.Errorf("<%s time=%q>", name, a.Value)
			}
		}
	}
	for _, m := range must {
		if !have[m] {
			return fmt.Errorf("<%s> without %s", name, m)
		}
	}
	return nil
}
