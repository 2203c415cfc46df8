package jobreport

import (
	"bytes"
	"context"
	"encoding/json"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"backporch/cmd/backporch/internal/job"
	"backporch/video"
	"backporch/video/still"
)

func TestMain(m *testing.M) {
	time.Local = time.UTC // stamps are of the bench's own clock
	os.Exit(m.Run())
}

var made = time.Date(2026, 5, 4, 12, 0, 0, 0, time.UTC)

// capture is a still of ours whose left half has this luma.
func capture(t testing.TB, luma uint8) []byte {
	t.Helper()
	f := &video.Frame{Width: 720, Height: 576, ChromaWidth: 360, ChromaHeight: 576, Y: make([]uint8, 720*576), Cb: make([]uint8, 360*576), Cr: make([]uint8, 360*576)}
	for i := range f.Y {
		f.Y[i] = 16
		if i%720 < 360 {
			f.Y[i] = luma
		}
	}
	for i := range f.Cb {
		f.Cb[i], f.Cr[i] = 128, 128
	}
	var b bytes.Buffer
	if err := still.Write(&b, f, still.Text{Source: "/captures/somebody/private.avi", Tool: "test", Order: video.TopFirst}); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

type bench struct {
	t     testing.TB
	store *job.Store
	id    int64
}

func open(t testing.TB, j job.Job) *bench {
	t.Helper()
	s, err := job.Create(filepath.Join(t.TempDir(), "jobs"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	if j, err = s.New(context.Background(), j, nil); err != nil {
		t.Fatal(err)
	}
	return &bench{t, s, j.ID}
}

func (b *bench) must(_ any, err error) {
	b.t.Helper()
	if err != nil {
		b.t.Fatal(err)
	}
}

func (b *bench) see(class, summary string, c job.Capture) {
	b.t.Helper()
	p := 0.97
	c.Command, c.Source = "check", "/captures/somebody/private.avi"
	c.Verdict = &job.Verdict{Class: class, Kind: class, Confidence: &p, Summary: summary}
	c.Report = json.RawMessage(`{"source":{"spec":"/captures/somebody/private.avi"},"evidence":[],"verdict":{"good":["sync"],"why":["bit 3 reads 1"],"next":["measure the rails"]}}`)
	b.must(b.store.Attach(context.Background(), b.id, c))
}

func (b *bench) model(o Options) *Model {
	b.t.Helper()
	o.Tool, o.Now = "backporch test", made
	m, err := New(context.Background(), b.store, b.id, o)
	if err != nil {
		b.t.Fatal(err)
	}
	return m
}

func figure(name, unit string, v float64) job.Measure {
	return job.Measure{Name: name, Unit: unit, Value: &v}
}

// A comparison says the last clean verdict and keeps one marked picture of both: what came after is shown all the same.
func TestComparedLast(t *testing.T) {
	b := open(t, job.Job{Machine: "practice board"})
	b.see("ram-bit", "Data bit 3 lane stuck at 1.", job.Capture{Stills: []job.NewStill{{Data: capture(t, 40), Path: "a.png"}}})
	b.see("clean", "Nothing wrong to be seen.", job.Capture{Stills: []job.NewStill{{Data: capture(t, 120), Path: "b.png"}}})
	b.see("clean", "Nothing wrong to be seen.", job.Capture{Stills: []job.NewStill{{Data: capture(t, 200), Path: "pair.png", Marked: true}}})
	if m := b.model(Options{}); m.Before == nil || m.After == nil || m.Before.SHA256 == m.After.SHA256 {
		t.Errorf("before shown: %v, after shown: %v, or both are one", m.Before != nil, m.After != nil)
	}
}

// repaired is a whole job: a fault, a chip changed, a clean picture, a soak.
func repaired(t testing.TB) *bench {
	ctx := context.Background()
	b := open(t, job.Job{Machine: "Quillmark 16", Tag: "QM-0412", Issue: "3B",
		Complaint: "Stripes <script>alert(1)</script> & since \"the move\".\nΠριν δούλευε."})
	b.see("ram-bit", "Data bit 3 lane stuck at 1.", job.Capture{
		Meaning:  "One of the eight data lines always reads the same value.",
		Stills:   []job.NewStill{{Data: capture(t, 235), Path: "before.png"}},
		Measures: []job.Measure{figure("signal to noise", "dB", 44.12), figure("hum", "%", 0.021), {Name: "jitter", Unit: "ns"}},
		Screen:   []string{"READY  &<"},
	})
	b.must(b.store.Note(ctx, b.id, "the owner is in a hurry"))
	b.must(b.store.AttachFiles(ctx, b.id, "", []job.NewStill{{Data: photo(t), Path: "IMG.jpg", Note: "the socket"}, {Data: []byte("x"), Path: "wave.raw"}}))
	b.must(b.store.Pull(ctx, b.id, "K4", ""))
	b.must(nil, b.store.AddPart(ctx, job.Part{Name: "spare-1", Condition: job.Good, Reason: "new"}))
	b.must(b.store.Fit(ctx, b.id, "K4", "spare-1", "", false))
	b.must(b.store.Mark(ctx, "QM-0412/K4", job.Bad, "bit 3 followed it", b.id))
	b.see("clean", "Nothing wrong to be seen.", job.Capture{
		Stills:   []job.NewStill{{Data: capture(t, 120), Path: "after.png", Role: job.After}},
		Measures: []job.Measure{figure("signal to noise", "dB", 45.9)},
	})
	return b
}

// photo is 8 x 4, red at its left, with Exif that says 'turn right by 90 degrees' (6).
func photo(t testing.TB) []byte {
	t.Helper()
	img := image.NewRGBA(image.Rect(0, 0, 64, 32))
	for y := range 32 {
		for x := range 64 {
			img.Set(x, y, color.RGBA{uint8(255 * (1 - x/32)), 0, uint8(255 * (x / 32)), 255})
		}
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, &jpeg.Options{Quality: 95}); err != nil {
		t.Fatal(err)
	}
	exif := "Exif\x00\x00MM\x00*\x00\x00\x00\x08\x00\x01\x01\x12\x00\x03\x00\x00\x00\x01\x00\x06\x00\x00\x00\x00\x00\x00"
	head := append([]byte{0xff, 0xd8, 0xff, 0xe1, 0, byte(len(exif) + 2)}, exif...)
	return append(head, b.Bytes()[2:]...)
}

func TestStoryOfARepair(t *testing.T) {
	b := repaired(t)
	m := b.model(Options{})
	if m.Tone != Well || m.Answer != "The fault is gone" {
		t.Errorf("%s: %s", m.Tone, m.Answer)
	}
	if lead := strings.Join(m.Lead, " "); !strings.Contains(lead, "data bit 3 lane stuck at 1. After the repair") {
		t.Errorf("lead %q", lead)
	}
	if m.Before == nil || m.After == nil || m.Before.SHA256 == m.After.SHA256 || len(m.Others) != 1 {
		t.Fatalf("pictures %v %v %v", m.Before, m.After, m.Others)
	}
	if m.Before.Width*3 != m.Before.Height*4 {
		t.Errorf("a still is shown at %d x %d, not at 4:3", m.Before.Width, m.Before.Height)
	}
	want := []Row{{"signal to noise", "dB", "44.1", "45.9", ""}, {"hum", "%", "0.021", "", ""}}
	if len(m.Measures) != 2 || m.Measures[0] != want[0] || m.Measures[1] != want[1] {
		t.Errorf("measures %+v, want %+v", m.Measures, want)
	}
	if f := m.Figures(); len(f) != 1 || f[0] != want[0] || m.Once() != "Measured once: hum 0.021 %." {
		t.Errorf("the table has %+v; %s", f, m.Once())
	}
	alone := Model{Measures: want[1:]}
	if f := alone.Figures(); len(f) != 1 || alone.Once() != "" {
		t.Errorf("nothing to compare: %+v; %s", f, alone.Once())
	}
	if len(m.Changes) != 1 || m.Changes[0] != (Change{"K4", "QM-0412/K4", "spare-1", "bad: bit 3 followed it", "good: new"}) {
		t.Errorf("changes %+v", m.Changes)
	}
	if said := strings.Join(m.Cautions, " "); !strings.Contains(said, "not watched for hours") || len(m.Next) != 0 {
		t.Errorf("cautions %q, next %q", said, m.Next)
	}
	// Soaked, the caution goes; for a minute only, another comes.
	for seconds, want := range map[float64]string{60: "for 1 min only", 8 * 3600: ""} {
		b.must(b.store.Attach(context.Background(), b.id, job.Capture{Command: "soak", Soak: &job.Soak{Seconds: seconds, Fields: 100}}))
		m := b.model(Options{})
		if said := strings.Join(m.Cautions, " "); want == "" && said != "" || !strings.Contains(said, want) {
			t.Errorf("soaked %v s: cautions %q", seconds, said)
		}
		if m.Soak == "" {
			t.Error("the soak is not told")
		}
	}
}

// The answer follows the verdicts, and a fault that went by itself is not called repaired.
func TestAnswers(t *testing.T) {
	ctx := context.Background()
	fault := func(b *bench) { b.see("ram-bit", "Data bit 3 lane stuck at 1.", job.Capture{}) }
	clean := func(b *bench) { b.see("clean", "Nothing wrong to be seen.", job.Capture{}) }
	open_ := func(b *bench) { b.see("undetermined", "The capture does not settle it.", job.Capture{}) }
	swap := func(b *bench) {
		b.must(b.store.Pull(ctx, b.id, "K4", ""))
		b.must(nil, b.store.AddPart(ctx, job.Part{Name: "s"}))
		b.must(b.store.Fit(ctx, b.id, "K4", "s", "", false))
	}
	pull := func(b *bench) { b.must(b.store.Pull(ctx, b.id, "K5", "")) }
	for name, c := range map[string]struct {
		steps   []func(*bench)
		tone    Tone
		answer  string
		caution string
	}{
		"nothing":              {nil, Unsure, "Not examined yet", ""},
		"a good machine":       {[]func(*bench){clean}, Well, "No fault to be seen", ""},
		"a fault":              {[]func(*bench){fault}, Faulty, "There is a fault", "unattended"},
		"repaired":             {[]func(*bench){fault, swap, clean}, Well, "The fault is gone", "not watched"},
		"gone by itself":       {[]func(*bench){fault, clean}, Unsure, "The fault does not show any more", "no part was changed"},
		"changed before":       {[]func(*bench){fault, swap, fault, clean}, Unsure, "The fault does not show any more", "no part was changed"},
		"only pulled":          {[]func(*bench){fault, pull, clean}, Unsure, "The fault does not show any more", "no part was changed"},
		"come back":            {[]func(*bench){fault, swap, clean, fault}, Faulty, "There is a fault", "unattended"},
		"open":                 {[]func(*bench){open_}, Unsure, "Not settled yet", ""},
		"open after the fault": {[]func(*bench){fault, swap, open_}, Unsure, "Not settled yet", ""},
	} {
		b := open(t, job.Job{Machine: "m", Tag: "A"})
		for _, step := range c.steps {
			step(b)
		}
		m := b.model(Options{})
		if m.Tone != c.tone || m.Answer != c.answer {
			t.Errorf("%s: %s, %q", name, m.Tone, m.Answer)
		}
		if said := strings.Join(m.Cautions, " "); !strings.Contains(said, c.caution) {
			t.Errorf("%s: cautions %q", name, said)
		}
	}
}

func TestPage(t *testing.T) {
	b := repaired(t)
	var page bytes.Buffer
	if err := b.model(Options{}).HTML(&page); err != nil {
		t.Fatal(err)
	}
	html := page.String()
	// Everything is in it: nothing that a browser would fetch or run (HTML Standard, 4.2.4, 4.12.1).
	for _, not := range []string{"<script", "http://", "https://", "//", "url(", "@import", "<link", "<iframe", "javascript:", "/captures/somebody", "in a hurry"} {
		text := regexp.MustCompile(`data:image/(png|jpeg);base64,[A-Za-z0-9+/=&#;]+`).ReplaceAllString(html, "data")
		if strings.Contains(text, not) {
			t.Errorf("the page has %q", not)
		}
	}
	for _, want := range []string{"Stripes &lt;script&gt;", "Πριν δούλευε.", "The fault is gone", "READY  &amp;&lt;", "spare-1", "45.9"} {
		if !strings.Contains(html, want) {
			t.Errorf("the page has no %q", want)
		}
	}
	page.Reset()
	if err := b.model(Options{Notes: true}).HTML(&page); err != nil || !strings.Contains(page.String(), "in a hurry") {
		t.Errorf("the notes that were asked for are not there: %v", err)
	}
}

// What pdftotext (Poppler) reads of the PDF is what the model says.
func TestPDF(t *testing.T) {
	b := repaired(t)
	m := b.model(Options{})
	for paper, size := range map[Paper]string{A4: "595.28 x 841.89", Letter: "612 x 792"} { // points; ISO 216 and 8.5 x 11 inches
		var pdf bytes.Buffer
		if err := m.PDF(&pdf, paper); err != nil {
			t.Fatal(err)
		}
		path := filepath.Join(t.TempDir(), "report.pdf")
		if err := os.WriteFile(path, pdf.Bytes(), 0o666); err != nil {
			t.Fatal(err)
		}
		for _, tool := range []string{"pdftotext", "pdfinfo"} {
			if _, err := exec.LookPath(tool); err != nil {
				t.Skipf("%s is not installed (Debian package poppler-utils)", tool)
			}
		}
		text, err := exec.Command("pdftotext", "-layout", path, "-").Output()
		if err != nil {
			t.Fatal(err)
		}
		for _, want := range append([]string{"The fault is gone", "Πριν δούλευε.", "QM-0412/K4", "spare-1", "45.9", "READY"}, strings.Fields(strings.Join(m.Cautions, " "))...) {
			if !strings.Contains(string(text), want) {
				t.Errorf("%s has no %q", paper, want)
			}
		}
		info, err := exec.Command("pdfinfo", path).Output()
		if err != nil || !strings.Contains(string(info), size) {
			t.Errorf("%s: %v\n%s", paper, err, info)
		}
	}
}

func TestPost(t *testing.T) {
	files, err := repaired(t).model(Options{}).Post()
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, f := range files {
		names = append(names, f.Name)
		if bytes.Contains(f.Data, []byte("somebody")) || bytes.Contains(f.Data, []byte("QM-0412")) {
			t.Errorf("%s tells where it was taken, or of which machine", f.Name)
		}
	}
	if got := strings.Join(names, " "); got != "post.txt 01-before.png 02-after.png 03-before-1.jpg verdicts.json" {
		t.Errorf("files %s", got)
	}
	text := string(files[0].Data)
	for _, want := range []string{"- Bit 3 reads 1", "K4: the original (bad: bit 3 followed it) taken out, spare-1 (good: new) put in",
		"44.1 dB before, 45.9 dB after", "    READY", "02-after.png: After"} {
		if !strings.Contains(text, want) {
			t.Errorf("the text has no %q:\n%s", want, text)
		}
	}
}

// A photo is turned as its Exif says: 6 is 'the row 0 is the right side', so red, at the left of
// the file, comes to the top.
func TestPhotoIsUpright(t *testing.T) {
	p, err := render(photo(t))
	if err != nil {
		t.Fatal(err)
	}
	if p.Width != 32 || p.Height != 64 || !p.JPEG {
		t.Errorf("%d x %d", p.Width, p.Height)
	}
	img, err := jpeg.Decode(bytes.NewReader(p.Data))
	if err != nil {
		t.Fatal(err)
	}
	if r, _, b, _ := img.At(16, 8).RGBA(); r < 0xc000 || b > 0x4000 {
		t.Errorf("the top is %x red, %x blue", r, b)
	}
	for orientation := 1; orientation <= 8; orientation++ { // each turns a corner somewhere else, and back
		src := image.NewRGBA(image.Rect(0, 0, 3, 2))
		src.Set(0, 0, color.White)
		inverse := map[int]int{6: 8, 8: 6}[orientation]
		if inverse == 0 {
			inverse = orientation
		}
		back := upright(upright(src, orientation), inverse)
		if back.Bounds() != src.Bounds() || back.At(0, 0) != src.At(0, 0) {
			t.Errorf("orientation %d, and back by %d, is another picture", orientation, inverse)
		}
	}
	if orientation([]byte("\xff\xd8\xff\xe1\x00\x10Exif\x00\x00II*\x00\xff\xff\xff\xff")) != 1 {
		t.Error("a directory beyond the end has an orientation")
	}
}

// A picture that can't be shown is left out, and said.
func TestPictureThatCannotBeShown(t *testing.T) {
	b := open(t, job.Job{Machine: "m"})
	var huge bytes.Buffer
	if err := png.Encode(&huge, image.NewGray(image.Rect(0, 0, 2, 2))); err != nil {
		t.Fatal(err)
	}
	b.must(b.store.AttachFiles(context.Background(), b.id, "", []job.NewStill{
		{Data: []byte("\x89PNG\r\n\x1a\n and no more"), Path: "cut.png"}, {Data: huge.Bytes(), Path: "small.png"},
	}))
	m := b.model(Options{})
	if len(m.Unshown) != 1 || !strings.Contains(m.Unshown[0], "cut.png") || len(m.Shown()) != 1 {
		t.Errorf("unshown %q, shown %d", m.Unshown, len(m.Shown()))
	}
	var pdf bytes.Buffer
	if err := m.PDF(&pdf, A4); err != nil {
		t.Error(err)
	}
}

func FuzzOrientation(f *testing.F) {
	f.Add(photo(f))
	f.Fuzz(func(t *testing.T, data []byte) {
		if o := orientation(data); o < 1 || o > 8 {
			t.Errorf("orientation %d", o)
		}
	})
}
