package main

import (
	"bytes"
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/spf13/cobra"

	"backporch/video/display"
)

// commands lists a command and all below it that a user sees.
func commands(c *cobra.Command) []*cobra.Command {
	all := []*cobra.Command{c}
	for _, sub := range c.Commands() {
		if sub.IsAvailableCommand() && sub.Name() != "completion" {
			all = append(all, commands(sub)...)
		}
	}
	return all
}

// Every command's help has examples and, below the root, its exit statuses.
func TestHelpIsWhole(t *testing.T) {
	for _, c := range commands(newRoot(&invocation{out: io.Discard, err: io.Discard})) {
		if c.Example == "" || c.Short == "" {
			t.Errorf("%s: no example or no short help", c.CommandPath())
		}
		if c.HasParent() && !strings.Contains(c.Long, "Exit status:") {
			t.Errorf("%s: the help says no exit statuses", c.CommandPath())
		}
		for _, line := range strings.Split(c.Long, "\n") {
			if len(line) > 90 {
				t.Errorf("%s: the help has a line of %d columns: %q", c.CommandPath(), len(line), line)
			}
		}
	}
}

// The examples of help do what they say, on files of the names they use.
func TestHelpExamples(t *testing.T) {
	if testing.Short() {
		t.Skip("runs every example of help, the demo's too")
	}
	shared := t.TempDir()
	prepare := func(args ...string) {
		t.Helper()
		var errs bytes.Buffer
		if status := run(context.Background(), args, io.Discard, &errs); status != statusClean {
			t.Fatalf("backporch %s: status %d: %s", strings.Join(args, " "), status, errs.String())
		}
	}
	stuck, good := filepath.Join(shared, "stuck"), filepath.Join(shared, "good")
	prepare("simulate", "--screen", "listing", "--seed", "11", "--fault", "data-bit-stuck:bit=3,level=1", "--fields", "20", "--out", filepath.Join(shared, "capture.avi"))
	prepare("simulate", "--screen", "listing", "--seed", "11", "--fault", "data-bit-stuck:bit=3,level=1", "--fields", "2", "--out", stuck)
	prepare("simulate", "--screen", "listing", "--seed", "11", "--fields", "2", "--out", good)
	prepare("simulate", "--display", "text-40x25-50", "--screen", "text", "--seed", "5", "--border", "3", "--fields", "10", "--out", filepath.Join(shared, "text.avi"))
	var written, errs bytes.Buffer
	if status := run(context.Background(), []string{"read", filepath.Join(shared, "text.avi"), "--display", "text-40x25-50"}, &written, &errs); status != statusClean {
		t.Fatalf("reading: status %d: %s", status, errs.String())
	}
	font := make([]byte, 0, 256*8)
	for _, g := range display.ShippedFont().Glyphs {
		font = append(font, g[:]...)
	}
	if err := errors.Join(
		os.WriteFile(filepath.Join(shared, "screen.txt"), written.Bytes(), 0o666),
		os.WriteFile(filepath.Join(shared, "inks.txt"), bytes.Repeat([]byte("........................................\n"), 25), 0o666),
		os.WriteFile(filepath.Join(shared, "machine.font"), font, 0o666),
		os.Rename(filepath.Join(stuck, "frame00000.png"), filepath.Join(shared, "faulty.png")),
		os.Rename(filepath.Join(good, "frame00000.png"), filepath.Join(shared, "good.png")),
		os.WriteFile(filepath.Join(shared, "board.toml"), demoBoard, 0o666),
		os.WriteFile(filepath.Join(shared, "tests.toml"), []byte("[[test]]\nverdict = \"bad\"\nfitted = { K4 = \"m1\" }\n"), 0o666),
	); err != nil {
		t.Fatal(err)
	}

	waveformFiles(t, shared)
	jobFiles(t, shared, prepare)

	seen := map[string]bool{}
	for _, c := range commands(newRoot(&invocation{out: io.Discard, err: io.Discard})) {
		for _, line := range strings.Split(c.Example, "\n") {
			line = strings.TrimSpace(line)
			if seen[line] || line == "" || line == "backporch demo" {
				continue // the demo has a script of its own
			}
			seen[line] = true
			t.Run(line, func(t *testing.T) {
				words := shellWords(line)
				dir := t.TempDir()
				ownStore(t, shared, dir)
				for _, name := range []string{"capture.avi", "faulty.png", "good.png", "board.toml", "output.wav", "output.csv", "output.raw", "text.avi", "screen.txt", "inks.txt", "machine.font", "job-1.zip", "tests.toml"} {
					if strings.Contains(line, "--out "+name) {
						continue
					}
					if err := os.Symlink(filepath.Join(shared, name), filepath.Join(dir, name)); err != nil {
						t.Fatal(err)
					}
				}
				t.Chdir(dir)
				var out, errs bytes.Buffer
				if words[0] != "backporch" {
					t.Fatalf("an example of another program")
				}
				status := run(context.Background(), words[1:], &out, &errs)
				if strings.Contains(line, "/dev/") && status == statusFailed {
					if !strings.HasPrefix(errs.String(), "backporch: ") || strings.Count(errs.String(), "\n") > 2 {
						t.Errorf("without the device: %q", errs.String())
					}
					return // the test machine has no such device
				}
				if said := unexpected(errs.String()); status == statusFailed || out.Len() == 0 || said != "" {
					t.Errorf("status %d, %d bytes of result, standard error %q", status, out.Len(), said)
				}
			})
		}
	}
}
