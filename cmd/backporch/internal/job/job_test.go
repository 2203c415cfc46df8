package job

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"image"
	"image/color"
	"image/png"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

func create(t testing.TB) *Store {
	t.Helper()
	s, err := Create(filepath.Join(t.TempDir(), "jobs"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

func begin(t testing.TB, s *Store, j Job, positions ...string) Job {
	t.Helper()
	j, err := s.New(context.Background(), j, positions)
	if err != nil {
		t.Fatal(err)
	}
	return j
}

// still is a small picture; another n is another picture.
func still(n int) []byte {
	img := image.NewGray(image.Rect(0, 0, 8, 8))
	for i := range img.Pix {
		img.SetGray(i%8, i/8, color.Gray{Y: uint8(n >> (i % 24))})
	}
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		panic(err)
	}
	return b.Bytes()
}

func verdict(class string) *Verdict {
	p := 0.97
	return &Verdict{Class: class, Confidence: &p, Summary: "Said of " + class + "."}
}

func TestAttachReadsBack(t *testing.T) {
	ctx := context.Background()
	s := create(t)
	j := begin(t, s, Job{Machine: "Quillmark 16", Tag: "QM-0412", Issue: "3B", Complaint: "Stripes since\nthe move."})
	if j.ID != 1 || j.Board != "QM-0412" || j.State != StateOpen || j.Complaint != "Stripes since\nthe move." {
		t.Fatalf("opened as %+v", j)
	}
	snr := 44.1
	first, second := still(1), still(2)
	at := time.Date(2026, 3, 4, 5, 6, 7, 8000, time.UTC)
	e, err := s.Attach(ctx, j.ID, Capture{
		At: at, Command: "check", Source: "a.avi", Device: "usb-grabber", Display: "attr-256x192-50",
		Verdict: verdict("ram-bit"), Report: json.RawMessage(`{"schema":1}`),
		Stills:   []NewStill{{Data: first, Path: "x/a.png"}, {Data: second, Path: "a-marked.png", Marked: true, Role: After}},
		Measures: []Measure{{Name: "signal to noise", Value: &snr, Unit: "dB"}, {Name: "hum", Unit: "%"}},
		Soak:     &Soak{Seconds: 3600, Fields: 180000, BadFields: 2, Summary: "Two bad fields."},
		Screen:   []string{"READY"},
	})
	if err != nil {
		t.Fatal(err)
	}
	list, err := s.Timeline(ctx, j.ID)
	if err != nil || len(list) != 2 {
		t.Fatalf("%d entries, %v", len(list), err)
	}
	got := list[1]
	if got.ID != e.ID || !got.At.Equal(at) || got.Verdict.Class != "ram-bit" || *got.Verdict.Confidence != 0.97 ||
		got.Soak.BadFields != 2 || got.Screen[0] != "READY" || got.Device != "usb-grabber" {
		t.Errorf("read back %+v", got)
	}
	if len(got.Measures) != 2 || *got.Measures[0].Value != snr || got.Measures[1].Value != nil {
		t.Errorf("measures %+v", got.Measures)
	}
	if k := got.Stills[0]; k.Role != Before || k.Name != "a.png" || k.Marked {
		t.Errorf("the first still is %+v", k)
	}
	if k := got.Stills[1]; k.Role != After || !k.Marked {
		t.Errorf("the second still is %+v", k)
	}
	for i, want := range [][]byte{first, second} {
		if data, err := s.Read(got.Stills[i]); err != nil || !bytes.Equal(data, want) {
			t.Errorf("still %d: %v", i, err)
		}
	}
	if r, err := s.Report(ctx, e.ID); err != nil || string(r) != `{"schema":1}` {
		t.Errorf("report %s, %v", r, err)
	}
	// At a glance.
	j, err = s.Job(ctx, j.ID)
	if err != nil || j.Stills != 2 || j.Verdict.Class != "ram-bit" || !j.Pictured.Equal(at) {
		t.Errorf("at a glance %+v, %v", j, err)
	}
	if _, err := s.Attach(ctx, 7, Capture{}); !errors.Is(err, ErrNoJob) {
		t.Errorf("attaching to no job: %v", err)
	}
}

// The same file twice is kept once; a file in the store that is not what its name says is
// put aside when the right one comes.
func TestStillsAreNamedByContent(t *testing.T) {
	ctx := context.Background()
	s := create(t)
	j := begin(t, s, Job{Machine: "m"})
	attach := func() Still {
		t.Helper()
		e, err := s.AttachFiles(ctx, j.ID, "", []NewStill{{Data: still(1), Path: "photo.JPG"}})
		if err != nil {
			t.Fatal(err)
		}
		return e.Stills[0]
	}
	k := attach()
	if k != attach() && k.SHA256 != attach().SHA256 {
		t.Error("the same file has two names")
	}
	if k.Ending != ".png" {
		t.Errorf("a PNG called photo.JPG ends in %s", k.Ending)
	}
	if info, err := os.Stat(s.Path(k)); err != nil || info.Mode().Perm() != 0o444 {
		t.Errorf("the file is %v, %v", info, err)
	}
	if err := os.Remove(s.Path(k)); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(s.Path(k), []byte("other"), 0o666); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Read(k); err == nil {
		t.Error("a changed still was read")
	}
	attach()
	if _, err := s.Read(k); err != nil {
		t.Error(err)
	}
	if there, err := os.ReadFile(s.Path(k) + damaged); err != nil || string(there) != "other" {
		t.Errorf("what lay there: %q, %v", there, err)
	}
}

func TestTextIsTidied(t *testing.T) {
	s := create(t)
	j := begin(t, s, Job{Machine: "a\x1b[31mb\nc", Complaint: "x\r\n\x00y\u202ez\xff"})
	if j.Machine != "a[31mb c" || j.Complaint != "x\nyz\uFFFD" {
		t.Errorf("kept as %q, %q", j.Machine, j.Complaint)
	}
	e, err := s.Note(context.Background(), j.ID, strings.Repeat("é", most))
	if err != nil || len(e.Text) > most+8 {
		t.Errorf("%d bytes, %v", len(e.Text), err)
	}
}

// A board of the same name is the same machine come back, unless it is called otherwise.
func TestMachineComesBack(t *testing.T) {
	ctx := context.Background()
	s := create(t)
	first := begin(t, s, Job{Machine: "Quillmark 16", Tag: "17"}, "K4")
	if again := begin(t, s, Job{Machine: "quillmark 16", Tag: "17"}); again.Board != first.Board {
		t.Errorf("another board: %+v", again)
	}
	var taken *BoardTaken
	if _, err := s.New(ctx, Job{Machine: "Tessel 40", Tag: "17"}, nil); !errors.As(err, &taken) || taken.Machine != "quillmark 16" {
		t.Errorf("the tag of another machine: %v", err)
	}
	if j := begin(t, s, Job{Machine: "Tessel 40"}); j.Board != "job-3" {
		t.Errorf("a machine without a tag has the board %s", j.Board)
	}
	parts, err := s.Parts(ctx)
	if err != nil || len(parts) != 1 || parts[0].Name != "17/K4" || parts[0].Where.Position != "K4" {
		t.Errorf("ledger %+v, %v", parts, err)
	}
}

func TestStates(t *testing.T) {
	ctx := context.Background()
	s := create(t)
	a, b := begin(t, s, Job{Machine: "a"}), begin(t, s, Job{Machine: "b"})
	if _, err := s.SetState(ctx, a.ID, StateClosed, "repaired"); err != nil {
		t.Fatal(err)
	}
	open, err := s.List(ctx, false)
	if err != nil || len(open) != 1 || open[0].ID != b.ID {
		t.Errorf("open: %+v, %v", open, err)
	}
	all, err := s.List(ctx, true)
	if err != nil || len(all) != 2 || all[0].ID != a.ID || all[0].Outcome != "repaired" {
		t.Errorf("all, the last changed first: %+v, %v", all, err)
	}
	if _, err := s.SetState(ctx, a.ID, "mended", ""); err == nil {
		t.Error("a state that there is not was set")
	}
	if list, _ := s.Timeline(ctx, a.ID); len(list) != 2 {
		t.Errorf("a state that was refused left an entry: %+v", list)
	}
}

func TestOpenWhatIsNoStore(t *testing.T) {
	dir := t.TempDir()
	if _, err := Open(dir); !errors.Is(err, ErrNoStore) {
		t.Errorf("an empty folder: %v", err)
	}
	if err := os.WriteFile(filepath.Join(dir, index), bytes.Repeat([]byte("no database "), 1000), 0o666); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(dir); err == nil || !strings.Contains(err.Error(), "no job store") {
		t.Errorf("a file of another kind: %v", err)
	}
	s := create(t)
	if _, err := s.db.Exec("PRAGMA user_version = 99"); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(s.dir); !errors.Is(err, ErrNewer) {
		t.Errorf("a newer schema: %v", err)
	}
	if _, err := s.db.Exec("PRAGMA application_id = 1"); err != nil {
		t.Fatal(err)
	}
	if _, err := Create(s.dir); err == nil || !strings.Contains(err.Error(), "another program") {
		t.Errorf("another program's database: %v", err)
	}
	odd := filepath.Join(t.TempDir(), "a ? & %41 #")
	if s, err := Create(odd); err != nil {
		t.Errorf("a folder of an odd name: %v", err)
	} else {
		s.Close()
		if _, err := os.Stat(filepath.Join(odd, index)); err != nil {
			t.Error(err)
		}
	}
}

// The pragmas hold on every connection.
func TestPragmas(t *testing.T) {
	s := create(t)
	for pragma, want := range map[string]string{"journal_mode": "wal", "foreign_keys": "1", "synchronous": "2", "application_id": "1651526255"} {
		var got string
		if err := s.db.QueryRow("PRAGMA " + pragma).Scan(&got); err != nil || got != want {
			t.Errorf("%s is %s, want %s (%v)", pragma, got, want, err)
		}
	}
	if _, err := s.db.Exec("INSERT INTO entry (job, at, kind) VALUES (99, 0, 'note')"); err == nil {
		t.Error("an entry of no job was taken")
	}
}

func TestFingerprints(t *testing.T) {
	ctx := context.Background()
	s := create(t)
	a, b := begin(t, s, Job{Machine: "a"}), begin(t, s, Job{Machine: "b"})
	if f, err := s.Fingerprint(ctx, a.ID, "usb"); err != nil || f != nil {
		t.Errorf("before there is one: %+v, %v", f, err)
	}
	for _, j := range []int64{b.ID, a.ID, a.ID} {
		if err := s.SetFingerprint(ctx, j, "usb", json.RawMessage(`{"ppm":1}`)); err != nil {
			t.Fatal(err)
		}
	}
	f, err := s.Fingerprint(ctx, a.ID, "usb")
	if err != nil || string(f.Body) != `{"ppm":1}` {
		t.Errorf("%+v, %v", f, err)
	}
	if all, err := s.Fingerprints(ctx, "usb"); err != nil || len(all) != 2 || all[0].Job != a.ID {
		t.Errorf("%+v, %v", all, err)
	}
	if err := s.SetFingerprint(ctx, a.ID, "usb", json.RawMessage(`{`)); err == nil {
		t.Error("half an object was taken")
	}
	if err := s.SetFingerprint(ctx, 9, "usb", json.RawMessage(`{}`)); !errors.Is(err, ErrNoJob) {
		t.Errorf("of no job: %v", err)
	}
	if n, err := s.ForgetFingerprints(ctx, a.ID); err != nil || n != 1 {
		t.Errorf("%d forgotten, %v", n, err)
	}
	if all, err := s.Fingerprints(ctx, "usb"); err != nil || len(all) != 1 || all[0].Job != b.ID {
		t.Errorf("the other job's is left: %+v, %v", all, err)
	}
	entries, err := s.Timeline(ctx, a.ID)
	if err != nil || entries[len(entries)-1].Kind != KindNote {
		t.Errorf("%+v, %v", entries, err)
	}
	if n, err := s.ForgetFingerprints(ctx, a.ID); err != nil || n != 0 {
		t.Errorf("again: %d forgotten, %v", n, err)
	}
	if again, err := s.Timeline(ctx, a.ID); err != nil || len(again) != len(entries) {
		t.Errorf("a note of nothing: %+v, %v", again, err)
	}
}

func TestSwapTestIsRemembered(t *testing.T) {
	ctx := context.Background()
	s := create(t)
	bad, good := begin(t, s, Job{Machine: "m", Tag: "A"}), begin(t, s, Job{Machine: "m", Tag: "B", Donor: true})
	see := func(j Job, class string) {
		t.Helper()
		if _, err := s.Attach(ctx, j.ID, Capture{Command: "check", Source: "x", Verdict: verdict(class), Report: json.RawMessage(`{}`)}); err != nil {
			t.Fatal(err)
		}
	}
	must := func(_ Entry, err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	see(bad, "ram-bit")
	see(good, "clean")
	must(s.Pull(ctx, bad.ID, "K4", ""))
	must(s.Pull(ctx, good.ID, "K4", ""))
	if _, err := s.Pull(ctx, good.ID, "k4", ""); !errors.Is(err, ErrEmpty) {
		t.Errorf("pulled twice: %v", err)
	}
	must(s.Fit(ctx, bad.ID, "K4", "B/K4", "", false))
	see(bad, "clean")

	configurations, err := s.Configurations(ctx, bad.ID)
	if err != nil || len(configurations) != 2 {
		t.Fatalf("%+v, %v", configurations, err)
	}
	before, after := configurations[0], configurations[1]
	if before.Fitted["K4"] != "A/K4" || after.Fitted["K4"] != "B/K4" || before.Verdict.Class != "ram-bit" || string(after.Report) != "{}" {
		t.Errorf("%+v\n%+v", before, after)
	}
	if other, err := s.Configurations(ctx, good.ID); err != nil || other[0].Fitted["K4"] != "B/K4" {
		t.Errorf("%+v, %v", other, err)
	}
	if related, err := s.Related(ctx, bad.ID); err != nil || !slices.Equal(related, []int64{bad.ID, good.ID}) {
		t.Errorf("related %v, %v", related, err)
	}

	// A part can't be in two places, nor two in one; a socket of which nothing is known is not filled.
	var occupied *Occupied
	if _, err := s.Fit(ctx, good.ID, "K4", "B/K4", "", false); !errors.As(err, &occupied) || occupied.Place.Board != "A" {
		t.Errorf("a part in two places: %v", err)
	}
	if _, err := s.Fit(ctx, bad.ID, "K4", "A/K4", "", false); !errors.As(err, &occupied) || occupied.Part != "B/K4" {
		t.Errorf("two parts in one place: %v", err)
	}
	var unknown *NotPulled
	if _, err := s.Fit(ctx, good.ID, "K5", "A/K4", "", false); !errors.As(err, &unknown) {
		t.Errorf("a socket that was not pulled: %v", err)
	}
	if _, err := s.Fit(ctx, good.ID, "K5", "nothing", "", true); !errors.Is(err, ErrNoPart) {
		t.Errorf("a part that there is not: %v", err)
	}

	// The good machine lacks its part; then the bad part goes into it, and is forgotten there.
	warned := func(j Job, m Moment, want string) {
		t.Helper()
		said, err := s.Warnings(ctx, j.ID, m)
		if err != nil || !strings.Contains(strings.Join(said, "; "), want) || want == "" && len(said) > 0 {
			t.Errorf("job %d, warned %q (%v), want %q", j.ID, said, err, want)
		}
	}
	warned(bad, Testing, "the good machine B still misses B/K4, which sits here in K4")
	warned(good, Testing, "K4 is empty: its part B/K4 sits in K4 of A")
	if _, err := s.Mark(ctx, "a/k4", Bad, "bit 3 followed it", bad.ID); err != nil {
		t.Fatal(err)
	}
	must(s.Fit(ctx, good.ID, "K4", "A/K4", "", false))
	warned(good, Opening, "A/K4 in K4 is marked bad (bit 3 followed it) and came from A")
	must(s.Pull(ctx, good.ID, "K4", ""))
	if empty, err := s.Configurations(ctx, good.ID); err != nil || len(empty[0].Empty) != 0 {
		t.Errorf("%+v, %v", empty, err)
	}
	see(good, "undetermined")
	if empty, err := s.Configurations(ctx, good.ID); err != nil || !slices.Equal(empty[1].Empty, []string{"K4"}) || len(empty[1].Fitted) != 0 {
		t.Errorf("%+v, %v", empty, err)
	}
	must(s.Pull(ctx, bad.ID, "K4", ""))
	must(s.Fit(ctx, good.ID, "K4", "B/K4", "", false))
	warned(good, Closing, "")
	if err := s.AddPart(ctx, Part{Name: "spare 1", Condition: Good, Reason: "new"}); err != nil {
		t.Fatal(err)
	}
	if err := s.AddPart(ctx, Part{Name: "Spare 1"}); err == nil {
		t.Error("two parts of one name")
	}
	must(s.Fit(ctx, bad.ID, "K4", "spare 1", "", false))
	warned(bad, Closing, "")
}
