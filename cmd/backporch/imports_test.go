package main

import (
	"go/parser"
	"go/token"
	"io/fs"
	"path"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// rooms in the order in which data goes; a package imports from its own room and
// from the rooms before it.
var rooms = []string{"video", "analyse", "patterns", "cmd"}

func room(pkg string) int {
	first, _, _ := strings.Cut(pkg, "/")
	for i, name := range rooms {
		if name == first {
			return i
		}
	}
	return -1
}

// An importLine is one import of one file of ours.
type importLine struct {
	file string // slash-separated, from the module's root
	pkg  string // its folder
	path string
	test bool
}

// breach says which rule an import breaks, "" when none.
func breach(l importLine) string {
	const module = "backporch/"
	if l.path == "gocv.io/x/gocv" && l.pkg != "video/capture" {
		return "only video/capture imports gocv"
	}
	if !strings.HasPrefix(l.path, module) {
		return ""
	}
	to := strings.TrimPrefix(l.path, module)
	if room(l.pkg) < 0 || room(to) < 0 {
		return "a package outside the rooms " + strings.Join(rooms, ", ")
	}
	if room(to) > room(l.pkg) {
		return "imports run video, analyse, patterns, cmd, never back"
	}
	if l.test {
		return "" // tests may look at what the simulator drew
	}
	isRoot := !strings.Contains(l.pkg, "/")
	if isRoot && strings.HasPrefix(to, l.pkg+"/") {
		return "a room's root package holds nouns and imports none of its own subpackages"
	}
	if to == "video/simulator" || strings.HasPrefix(to, "video/simulator/") {
		below := func(folder string) bool { return l.pkg == folder || strings.HasPrefix(l.pkg, folder+"/") }
		if below("analyse") || below("patterns") || below("video/source") {
			return "the simulator is never imported where captures are read or judged"
		}
	}
	if to == "video/videotest" || strings.HasPrefix(to, "video/videotest/") {
		return "video/videotest is for tests"
	}
	return ""
}

func TestImportsRunOneWay(t *testing.T) {
	root := filepath.Join("..", "..")
	seen := 0
	err := filepath.WalkDir(root, func(name string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() {
			if base := d.Name(); name != root && (strings.HasPrefix(base, ".") || base == "testdata" || base == "bin") {
				return filepath.SkipDir
			}
			return nil
		}
		if !strings.HasSuffix(name, ".go") {
			return nil
		}
		file, err := parser.ParseFile(token.NewFileSet(), name, nil, parser.ImportsOnly)
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(root, name)
		if err != nil {
			return err
		}
		rel = filepath.ToSlash(rel)
		for _, spec := range file.Imports {
			to, err := strconv.Unquote(spec.Path.Value)
			if err != nil {
				return err
			}
			seen++
			l := importLine{file: rel, pkg: path.Dir(rel), path: to, test: strings.HasSuffix(rel, "_test.go")}
			if why := breach(l); why != "" {
				t.Errorf("%s imports %s: %s", l.file, l.path, why)
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if seen < 10 {
		t.Fatalf("only %d imports seen: the walk went wrong", seen)
	}
}

func TestBreach(t *testing.T) {
	for _, c := range []struct {
		pkg, path string
		test, bad bool
	}{
		{"video/capture", "gocv.io/x/gocv", false, false},
		{"video/source", "gocv.io/x/gocv", false, true},
		{"cmd/backporch", "gocv.io/x/gocv", true, true},
		{"analyse/grid", "backporch/video/display", false, false},
		{"video/display", "backporch/analyse", false, true},
		{"patterns", "backporch/cmd/backporch/internal/job", false, true},
		{"video", "backporch/video/display", false, true},
		{"patterns", "backporch/patterns/swap", false, true},
		{"patterns", "backporch/analyse/grid", false, false},
		{"analyse/grid", "backporch/video/simulator", false, true},
		{"analyse/grid", "backporch/video/simulator", true, false},
		{"patterns", "backporch/video/simulator", false, true},
		{"video/source", "backporch/video/simulator", false, true},
		{"cmd/backporch", "backporch/video/simulator", false, false},
		{"cmd/backporch", "backporch/video/videotest", false, true},
		{"cmd/backporch", "fmt", false, false},
		{"elsewhere", "backporch/video", false, true},
	} {
		if got := breach(importLine{pkg: c.pkg, path: c.path, test: c.test}); (got != "") != c.bad {
			t.Errorf("%s imports %s (test %v): %q", c.pkg, c.path, c.test, got)
		}
	}
}
