package job

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// bend changes one thing of job.json.
func bend(t *testing.T, dir string, change func(a *archive)) {
	t.Helper()
	path := filepath.Join(dir, archiveFile)
	raw, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	var a archive
	if err := json.Unmarshal(raw, &a); err != nil {
		t.Fatal(err)
	}
	change(&a)
	if raw, err = json.Marshal(a); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, raw, 0o666); err != nil {
		t.Fatal(err)
	}
}

// every still's file gets this name.
func named(name string) func(a *archive) {
	return func(a *archive) {
		for key := range a.Files {
			a.Files[key] = name
		}
	}
}

func TestImportRefuses(t *testing.T) {
	secret := filepath.Join(t.TempDir(), "secret.png")
	if err := os.WriteFile(secret, still(1), 0o666); err != nil {
		t.Fatal(err)
	}
	if err := os.MkdirAll(filepath.Join(t.TempDir(), "x"), 0o777); err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		spoil func(t *testing.T, dir string)
		say   string
	}{
		"a path upwards":   {func(t *testing.T, dir string) { bend(t, dir, named("../secret.png")) }, "no name of a file within"},
		"an absolute path": {func(t *testing.T, dir string) { bend(t, dir, named(secret)) }, "no name of a file within"},
		"another system's": {func(t *testing.T, dir string) { bend(t, dir, named(`C:\x.png`)) }, "no name of a file within"},
		"a folder":         {func(t *testing.T, dir string) { bend(t, dir, named("stills")) }, "stills: "},
		"no such file":     {func(t *testing.T, dir string) { bend(t, dir, named("stills/none.png")) }, "stills/none.png: "},
		"no list of files": {func(t *testing.T, dir string) { bend(t, dir, func(a *archive) { a.Files = nil }) }, "is not in the archive"},
		"a hash of letters": {func(t *testing.T, dir string) {
			bend(t, dir, func(a *archive) { a.Entries[1].Stills[0].SHA256 = "../../x" })
		}, "no SHA-256"},
		"too large a still": {func(t *testing.T, dir string) {
			bend(t, dir, func(a *archive) { a.Entries[1].Stills[0].Bytes = 1 << 40 })
		}, "more than"},
		"a shorter still":   {func(t *testing.T, dir string) { bend(t, dir, func(a *archive) { a.Entries[1].Stills[0].Bytes = 3 }) }, "more than 3 bytes"},
		"a strange kind":    {func(t *testing.T, dir string) { bend(t, dir, func(a *archive) { a.Entries[1].Kind = "x" }) }, "no kind of entry"},
		"a move of nothing": {func(t *testing.T, dir string) { bend(t, dir, func(a *archive) { a.Entries[1].Kind = KindPull }) }, "a move without"},
		"entries mixed up":  {func(t *testing.T, dir string) { bend(t, dir, func(a *archive) { a.Entries[1].ID = 1 }) }, "comes after"},
		"no entries":        {func(t *testing.T, dir string) { bend(t, dir, func(a *archive) { a.Entries = nil }) }, "no entry"},
		"a strange state":   {func(t *testing.T, dir string) { bend(t, dir, func(a *archive) { a.Job.State = "x" }) }, "no state"},
		"a strange role":    {func(t *testing.T, dir string) { bend(t, dir, func(a *archive) { a.Entries[1].Stills[0].Role = "x" }) }, "before, during or after"},
		"a condition":       {func(t *testing.T, dir string) { bend(t, dir, func(a *archive) { a.Parts[0].Condition = "x" }) }, "A/K4"},
		"no identity":       {func(t *testing.T, dir string) { bend(t, dir, func(a *archive) { a.Job.UID = "1; DROP" }) }, "no identity"},
		"a newer one":       {func(t *testing.T, dir string) { bend(t, dir, func(a *archive) { a.Version = 9 }) }, "newer version"},
		"another JSON":      {func(t *testing.T, dir string) { bend(t, dir, func(a *archive) { a.Format = "x" }) }, "no exported job"},
		"a part of nobody":  {func(t *testing.T, dir string) { bend(t, dir, func(a *archive) { a.Placements[0].Part = "x" }) }, "not in the archive"},
		"half a file":       {func(t *testing.T, dir string) { cut(t, filepath.Join(dir, archiveFile)) }, "unexpected end"},
		"a still that is cut": {func(t *testing.T, dir string) {
			list, _ := filepath.Glob(filepath.Join(dir, "stills", "*"))
			cut(t, list[0])
		}, "hash differs"},
	} {
		t.Run(name, func(t *testing.T) {
			ctx := context.Background()
			from := create(t)
			dir := exported(t, from, worked(t, from).ID)
			c.spoil(t, dir)
			for _, path := range []string{dir, zipped(t, dir)} {
				refused(t, ctx, path, c.say)
			}
		})
	}
}

// refused checks that nothing of an archive comes into a store.
func refused(t *testing.T, ctx context.Context, path, say string) {
	t.Helper()
	to := create(t)
	begin(t, to, Job{Machine: "m"})
	_, err := to.Import(ctx, path)
	if err == nil || !strings.Contains(err.Error(), say) || strings.Contains(err.Error(), "\n") {
		t.Errorf("%s: %v, want %q", filepath.Base(path), err, say)
	}
	if v := verified(t, to); v.Jobs != 1 || v.Entries != 1 || v.Stills != 0 || len(v.Strays) != 0 {
		t.Errorf("%s: something was left: %+v", filepath.Base(path), v)
	}
}

func cut(t *testing.T, path string) {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, data[:len(data)/2], 0o666); err != nil {
		t.Fatal(err)
	}
}

// Links in a folder, and what must not be opened at all.
func TestImportFollowsNoLinks(t *testing.T) {
	ctx := context.Background()
	from := create(t)
	good := exported(t, from, worked(t, from).ID)
	outside := filepath.Join(t.TempDir(), "outside.png")
	list, _ := filepath.Glob(filepath.Join(good, "stills", "*"))
	data, err := os.ReadFile(list[0])
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(outside, data, 0o666); err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(os.Remove(list[0]), os.Symlink(outside, list[0])); err != nil {
		t.Fatal(err)
	}
	refused(t, ctx, good, "this is no file")
	if err := errors.Join(os.Remove(list[0]), syscall.Mkfifo(list[0], 0o666)); err != nil {
		t.Fatal(err)
	}
	refused(t, ctx, good, "this is no file")
	// The folder of the stills is itself a link out of the archive.
	stills := filepath.Join(good, "stills")
	if err := errors.Join(os.Remove(list[0]), os.WriteFile(list[0], data, 0o666), os.Rename(stills, stills+"2")); err != nil {
		t.Fatal(err)
	}
	away := filepath.Join(t.TempDir(), "away")
	if err := errors.Join(os.Rename(stills+"2", away), os.Symlink(away, stills)); err != nil {
		t.Fatal(err)
	}
	refused(t, ctx, good, "stills/")
}

// Zips that are made to harm.
func TestImportHarmfulZips(t *testing.T) {
	ctx := context.Background()
	from := create(t)
	dir := exported(t, from, worked(t, from).ID)
	raw, err := os.ReadFile(filepath.Join(dir, archiveFile))
	if err != nil {
		t.Fatal(err)
	}
	zero := make([]byte, 1<<20)
	for name, c := range map[string]struct {
		say  string
		fill func(z *zip.Writer) error
	}{
		"a path upwards": {"no name of a file within", func(z *zip.Writer) error {
			_, err := z.Create("../../etc/x")
			return err
		}},
		"a link": {"links and devices", func(z *zip.Writer) error {
			h := &zip.FileHeader{Name: "job-1/link"}
			h.SetMode(fs.ModeSymlink | 0o777)
			_, err := z.CreateHeader(h)
			return err
		}},
		"two jobs": {"several jobs", func(z *zip.Writer) error {
			_, err := z.Create("job-2/job.json")
			return err
		}},
		"a name twice": {"twice", func(z *zip.Writer) error {
			_, err := z.Create("job-1/a")
			_, again := z.Create("job-1/a")
			return errors.Join(err, again)
		}},
	} {
		t.Run(name, func(t *testing.T) {
			refused(t, ctx, makeZip(t, func(z *zip.Writer) error {
				w, err := z.Create("job-1/job.json")
				if err == nil {
					_, err = w.Write(raw)
				}
				return errors.Join(err, c.fill(z))
			}), c.say)
		})
	}
	t.Run("a bomb of text", func(t *testing.T) {
		refused(t, ctx, makeZip(t, func(z *zip.Writer) error {
			w, err := z.Create("job.json")
			for range 100 {
				_, more := w.Write(zero)
				err = errors.Join(err, more)
			}
			return err
		}), "more than")
	})
	t.Run("a bomb for a still", func(t *testing.T) {
		refused(t, ctx, makeZip(t, func(z *zip.Writer) error {
			w, err := z.Create("job.json")
			if err == nil {
				_, err = w.Write(raw)
			}
			var a archive
			err = errors.Join(err, json.Unmarshal(raw, &a))
			for _, name := range a.Files {
				w, more := z.Create(name)
				for range 30 {
					_, again := w.Write(zero)
					err = errors.Join(err, more, again)
				}
			}
			return err
		}), "more than")
	})
	t.Run("no zip", func(t *testing.T) {
		path := filepath.Join(t.TempDir(), "x.zip")
		if err := os.WriteFile(path, []byte("PK\x03\x04 and no more"), 0o666); err != nil {
			t.Fatal(err)
		}
		refused(t, ctx, path, "neither a folder nor a zip")
		refused(t, ctx, filepath.Join(t.TempDir(), "none"), "no such file")
		refused(t, ctx, t.TempDir(), "no exported job")
	})
}

func makeZip(t *testing.T, fill func(*zip.Writer) error) string {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	if err := errors.Join(fill(z), z.Close()); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "job.zip")
	if err := os.WriteFile(path, b.Bytes(), 0o666); err != nil {
		t.Fatal(err)
	}
	return path
}

// Whatever stands in job.json: an error or a job, no panic, and a store that is whole.
func FuzzImport(f *testing.F) {
	from := create(f)
	dir := exported(f, from, worked(f, from).ID)
	raw, err := os.ReadFile(filepath.Join(dir, archiveFile))
	if err != nil {
		f.Fatal(err)
	}
	f.Add(raw)
	f.Add([]byte(`{"format":"backporch job","version":1,"entries":[{"entry":1,"kind":"fit"}]}`))
	f.Add([]byte(`{}`))
	to := create(f)
	f.Fuzz(func(t *testing.T, data []byte) {
		copied := t.TempDir()
		if err := errors.Join(os.CopyFS(copied, os.DirFS(dir)), os.WriteFile(filepath.Join(copied, archiveFile), data, 0o666)); err != nil {
			t.Fatal(err)
		}
		if _, err := to.Import(context.Background(), copied); err != nil {
			return
		}
		v, err := to.Verify(context.Background(), nil)
		if err != nil || len(v.Problems) > 0 {
			t.Errorf("%+v, %v", v, err)
		}
	})
}

// The checks alone, which the fuzzer can run often: what passes them names no path, and is fit for a
// terminal.
func FuzzArchiveCheck(f *testing.F) {
	from := create(f)
	raw, err := os.ReadFile(filepath.Join(exported(f, from, worked(f, from).ID), archiveFile))
	if err != nil {
		f.Fatal(err)
	}
	f.Add(raw)
	f.Add([]byte(`{"format":"backporch job","version":1,"job":{"machine":"\u001b[2J"},"entries":[{"entry":1,"kind":"fit"}]}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		var a archive
		if json.Unmarshal(data, &a) != nil || a.check() != nil {
			return
		}
		if strings.ContainsRune(a.Job.Machine+a.Job.Tag+a.Job.Complaint+a.Entries[0].Text, 0x1b) {
			t.Error("an escape sequence came through")
		}
		for _, e := range a.Entries {
			for _, k := range e.Stills {
				if strings.ContainsAny(k.SHA256, `/\.`) {
					t.Errorf("%q would be a path", k.SHA256)
				}
			}
		}
	})
}
