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
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"backporch/analyse/rate"
)

// worked is a job with an entry of every kind.
func worked(t testing.TB, s *Store) Job {
	t.Helper()
	ctx := context.Background()
	j := begin(t, s, Job{Machine: "Quillmark 16", Tag: "A", Issue: "3B", Complaint: "Stripes."}, "K4", "K5")
	snr := 44.1
	check := func(_ any, err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	check(s.Attach(ctx, j.ID, Capture{
		Command: "check", Source: "a.avi", Device: "usb", Verdict: verdict("ram-bit"), Meaning: "A line is stuck.", Report: json.RawMessage(`{"schema":1}`),
		Stills:   []NewStill{{Data: still(1), Path: "a.png"}, {Data: still(2), Path: "m.png", Marked: true}},
		Measures: []Measure{{Name: "snr", Value: &snr, Unit: "dB"}}, Screen: []string{"  READY"}, Warnings: []string{"another screen"},
	}))
	check(s.Note(ctx, j.ID, "rails present"))
	check(s.AttachFiles(ctx, j.ID, "", []NewStill{{Data: []byte("samples"), Path: "wave.wav"}, {Data: still(1), Path: "again.png", Role: After}}))
	check(s.Pull(ctx, j.ID, "K4", ""))
	check(nil, s.AddPart(ctx, Part{Name: "spare", Condition: Good}))
	check(s.Fit(ctx, j.ID, "K4", "spare", "", false))
	check(s.Mark(ctx, "A/K4", Bad, "it followed", j.ID))
	marks := []Stimulus{{Mark: "cooled K5", Before: rate.Watch{Bad: 9, Seconds: 60}, After: rate.Watch{Bad: 1, Seconds: 30}}}
	check(s.Attach(ctx, j.ID, Capture{Command: "soak", Soak: &Soak{Seconds: 60}, Stimuli: marks, Comparison: &Comparison{Word: "fixed"}, Verdict: verdict("clean")}))
	check(nil, s.SetFingerprint(ctx, j.ID, "usb", json.RawMessage(`{"ppm":12}`)))
	check(s.SetState(ctx, j.ID, StateClosed, "chip changed"))
	j, err := s.Job(ctx, j.ID)
	check(nil, err)
	return j
}

// exported writes a job's archive into a folder.
func exported(t testing.TB, s *Store, id int64) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "job")
	err := s.Export(context.Background(), id, func(name string, data []byte) error {
		path := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
			return err
		}
		return os.WriteFile(path, data, 0o666)
	})
	if err != nil {
		t.Fatal(err)
	}
	return dir
}

// zipped is a folder as a zip, with a folder of its own in it.
func zipped(t testing.TB, dir string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "job.zip")
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	if err := filepath.WalkDir(dir, func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		rel, err := filepath.Rel(dir, name)
		if err != nil {
			return err
		}
		data, err := os.ReadFile(name)
		if err != nil {
			return err
		}
		w, err := z.Create("job-1/" + filepath.ToSlash(rel))
		if err == nil {
			_, err = w.Write(data)
		}
		return err
	}); err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(z.Close(), os.WriteFile(path, b.Bytes(), 0o666)); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestExportAndImport(t *testing.T) {
	ctx := context.Background()
	from := create(t)
	begin(t, from, Job{Machine: "other"})
	j := worked(t, from)
	dir := exported(t, from, j.ID)
	for _, path := range []string{dir, zipped(t, dir)} {
		to := create(t)
		for range 3 {
			begin(t, to, Job{Machine: "other", Tag: "here"})
		}
		got, err := to.Import(ctx, path)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(j, got, cmpopts.IgnoreFields(Job{}, "ID", "Changed")); diff != "" {
			t.Errorf("the job differs: -out +in\n%s", diff)
		}
		before, err := from.Timeline(ctx, j.ID)
		if err != nil {
			t.Fatal(err)
		}
		after, err := to.Timeline(ctx, got.ID)
		if err != nil {
			t.Fatal(err)
		}
		if after[len(after)-1].Kind != KindImported {
			t.Error("the import is not on the time line")
		}
		if diff := cmp.Diff(before, after[:len(after)-1], cmpopts.IgnoreFields(Entry{}, "ID", "Job"), cmpopts.IgnoreFields(Still{}, "Entry"),
			cmpopts.IgnoreUnexported(Entry{})); diff != "" {
			t.Errorf("the time line differs: -out +in\n%s", diff)
		}
		for _, e := range after {
			for _, k := range e.Stills {
				if _, err := to.Read(k); err != nil {
					t.Error(err)
				}
			}
		}
		was, err := from.Configurations(ctx, j.ID)
		if err != nil {
			t.Fatal(err)
		}
		is, err := to.Configurations(ctx, got.ID)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(was, is, cmpopts.IgnoreFields(Configuration{}, "Entry", "Job")); diff != "" {
			t.Errorf("the configurations differ: -out +in\n%s", diff)
		}
		if f, err := to.Fingerprint(ctx, got.ID, "usb"); err != nil || f == nil || string(f.Body) != `{"ppm":12}` {
			t.Errorf("fingerprint %+v, %v", f, err)
		}
		if hits, _, err := to.Search(ctx, "quill rails", 5); err != nil || len(hits) != 1 {
			t.Errorf("it is not found: %v, %v", hits, err)
		}
		verified(t, to)
		var known *Known
		if _, err := to.Import(ctx, path); !errors.As(err, &known) || known.Job != got.ID {
			t.Errorf("imported twice: %v", err)
		}
		// The machine's own tag is taken here by another one: both stay apart.
		taken := create(t)
		begin(t, taken, Job{Machine: "Tessel 40", Tag: "A"}, "K4")
		if j, err := taken.Import(ctx, path); err != nil || j.Board != "A (2)" {
			t.Errorf("beside another machine of its tag: %+v, %v", j, err)
		}
		verified(t, taken)
	}
	// What is exported can be read without the program.
	files, err := filepath.Glob(filepath.Join(dir, "stills", "*"))
	if err != nil || len(files) != 3 || !strings.Contains(strings.Join(files, " "), "before-marked") {
		t.Errorf("stills %v, %v", files, err)
	}
}
