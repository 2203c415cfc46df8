package main

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"image"
	"image/jpeg"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"backporch": main})
}

func TestScripts(t *testing.T) {
	testscript.RunT(inTurn{t}, testscript.Params{
		Dir:                 filepath.Join("testdata", "script"),
		RequireExplicitExec: true,
		Setup: func(env *testscript.Env) error {
			// Displays and jobs of the person who runs the tests are not those of the tests.
			env.Setenv("XDG_CONFIG_HOME", filepath.Join(env.WorkDir, "config"))
			env.Setenv("XDG_DATA_HOME", filepath.Join(env.WorkDir, "data"))
			return nil
		},
		Condition: func(cond string) (bool, error) {
			if cond == "root" { // may write anywhere
				return os.Geteuid() == 0, nil
			}
			return false, fmt.Errorf("no condition %q", cond)
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"status": status, "png": greyPNG, "jpeg": toJPEG, "cut": cut, "count": count, "spoil": spoil,
		},
	})
}

// inTurn runs scripts one after the other: the program runs inside the test, and the
// folder that it works in is the process's.
type inTurn struct{ *testing.T }

func (inTurn) Parallel()     {}
func (inTurn) Verbose() bool { return testing.Verbose() }
func (t inTurn) Run(name string, f func(testscript.T)) {
	t.T.Run(name, func(t *testing.T) { f(inTurn{t}) })
}

// runHere runs the program in the test's own process, for starting it anew with all the
// libraries it is linked with takes longer than most of what it does.
func runHere(ts *testscript.TestScript, args []string) int {
	before, err := os.Getwd()
	ts.Check(err)
	ts.Check(os.Chdir(ts.MkAbs(".")))
	defer func() { ts.Check(os.Chdir(before)) }()
	for _, name := range []string{"XDG_CONFIG_HOME", "XDG_DATA_HOME"} {
		old, had := os.LookupEnv(name)
		ts.Check(os.Setenv(name, ts.Getenv(name)))
		defer func() {
			if had {
				ts.Check(os.Setenv(name, old))
			} else {
				ts.Check(os.Unsetenv(name))
			}
		}()
	}
	return run(context.Background(), args, ts.Stdout(), ts.Stderr())
}

// status N PROGRAM ARGS...: the program ends with exit status N.
func status(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: status N program [args...]")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	got := 0
	if args[1] == "backporch" {
		got = runHere(ts, args[2:])
	} else if err := ts.Exec(args[1], args[2:]...); err != nil {
		var exit *exec.ExitError
		if !errors.As(err, &exit) {
			ts.Fatalf("%v", err)
		}
		got = exit.ExitCode()
	}
	if got != want {
		ts.Fatalf("exit status %d, want %d", got, want)
	}
}

// png FILE WIDTH HEIGHT: a grey picture of this size; of a size that can't be, a PNG
// that declares it and holds no picture (PNG, third edition, 5.3 and 11.2.1).
func greyPNG(ts *testscript.TestScript, _ bool, args []string) {
	width, err := strconv.ParseUint(args[1], 10, 32)
	ts.Check(err)
	height, err := strconv.ParseUint(args[2], 10, 32)
	ts.Check(err)
	var b bytes.Buffer
	if width*height > 0 && width < 5000 && height < 5000 {
		img := image.NewGray(image.Rect(0, 0, int(width), int(height)))
		for i := range img.Pix {
			img.Pix[i] = 128
		}
		ts.Check(png.Encode(&b, img))
	} else {
		b.WriteString("\x89PNG\r\n\x1a\n")
		chunk := func(name string, data []byte) {
			body := append([]byte(name), data...)
			b.Write(binary.BigEndian.AppendUint32(nil, uint32(len(data))))
			b.Write(body)
			b.Write(binary.BigEndian.AppendUint32(nil, crc32.ChecksumIEEE(body)))
		}
		header := binary.BigEndian.AppendUint32(nil, uint32(width))
		header = binary.BigEndian.AppendUint32(header, uint32(height))
		chunk("IHDR", append(header, 8, 2, 0, 0, 0))
		chunk("IEND", nil)
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), b.Bytes(), 0o666))
}

// jpeg FROM.png TO.jpg: the picture as another program would pass it on.
func toJPEG(ts *testscript.TestScript, _ bool, args []string) {
	img, err := png.Decode(strings.NewReader(ts.ReadFile(args[0])))
	ts.Check(err)
	var b bytes.Buffer
	ts.Check(jpeg.Encode(&b, img, &jpeg.Options{Quality: 95}))
	ts.Check(os.WriteFile(ts.MkAbs(args[1]), b.Bytes(), 0o666))
}

// cut FILE PART NEW: the first part of a file, such as 0.5, under a new name.
func cut(ts *testscript.TestScript, _ bool, args []string) {
	part, err := strconv.ParseFloat(args[1], 64)
	ts.Check(err)
	data := ts.ReadFile(args[0])
	ts.Check(os.WriteFile(ts.MkAbs(args[2]), []byte(data[:int(part*float64(len(data)))]), 0o666))
}

// count N GLOB: so many files match.
func count(ts *testscript.TestScript, _ bool, args []string) {
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	found, err := filepath.Glob(ts.MkAbs(args[1]))
	ts.Check(err)
	if len(found) != want {
		ts.Fatalf("%d files match %s, want %d: %v", len(found), args[1], want, found)
	}
}

// spoil GLOB: a bit in the middle of each file that matches is turned.
func spoil(ts *testscript.TestScript, _ bool, args []string) {
	found, err := filepath.Glob(ts.MkAbs(args[0]))
	ts.Check(err)
	for _, name := range found {
		data, err := os.ReadFile(name)
		ts.Check(err)
		data[len(data)/2] ^= 1
		ts.Check(os.Chmod(name, 0o666))
		ts.Check(os.WriteFile(name, data, 0o666))
	}
}
