package report

import (
	"bytes"
	"encoding/json"
	"flag"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"sort"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"backporch/analyse"
	"backporch/analyse/analysetest"
	"backporch/patterns"
	"backporch/patterns/workbench"
	"backporch/video"
	"backporch/video/display"
)

var update = flag.Bool("update", false, "rewrite the golden texts; read them before you commit")

func ptr[T any](v T) *T { return &v }

func profile(t *testing.T) *display.Profile {
	t.Helper()
	return analysetest.Profile(t, "attr-256x192-50")
}

// stuck is a capture with a stuck bit and some noise, all measured.
func stuck(t *testing.T) Finding {
	memory := &analyse.Memory{Seen: make([]uint8, 6912)}
	for i := range memory.Seen {
		memory.Seen[i] = 0xFF
	}
	lanes := []patterns.Lane{{Bit: 3, Wrong: ptr(3187), Of: 6912, Stuck: ptr(1)}, {Bit: 2, Wrong: ptr(0), Of: 6912}}
	return Finding{
		Tool:   "backporch 1.0",
		Info:   video.Info{Spec: "captures/no-3.avi", Kind: video.KindFile, Width: 720, Height: 576, Rate: 25},
		Frames: 100,
		Survey: &analyse.Survey{
			Display: "attr-256x192-50", Fields: 200, Seconds: 4,
			Sync:         analyse.Sync{State: analyse.Locked, JitterNs: ptr(12.04), RollLinesPerS: ptr(0.0)},
			Registration: analyse.Registration{OK: true, PitchX: 27.0 / 14, PitchY: 1, OriginX: 113.2, OriginY: 48.1, ResidualPx: 0.08},
			Border:       analyse.Border{Colour: 7, Uniform: true, Seen: true},
			Cells:        []analyse.Cell{{Column: 3, Row: 7, Third: true}, {Column: 4, Row: 7}},
			Memory:       memory,
			Text:         &analyse.Text{Checked: 2, Unknown: 1, Lines: []string{"A\uFFFD"}},
			Signal: analyse.Signal{
				SNRdB: ptr(44.1), OvershootPct: ptr(3.0), RiseNs: ptr(92.0), HumPct: ptr(0.1),
				FixedBarsPct: ptr(0.2), HueErrorDeg: ptr(1.5), HueTold: true, SaturationPct: ptr(98.0),
			},
		},
		Profile: profile(t),
		Board:   &workbench.Board{Name: "no. 3"},
		Verdict: &patterns.Verdict{
			Class: patterns.RAMBit, Confidence: ptr(0.998),
			Faults: []patterns.Fault{
				{Class: patterns.RAMBit, Kind: "data-bit-stuck", Probability: 0.998, Bit: ptr(3), Level: ptr(1), Part: "K4"},
				{Class: patterns.Signal, Kind: "noise", Probability: 0.93},
				{Class: patterns.RAMBit, Kind: "data-bit-weak", Probability: 0.06, Bit: ptr(3), Part: "K4"},
				{Class: patterns.VideoLogic, Kind: "shift-register", Probability: 0.001},
			},
			Good:  []string{"sync holds", "border", "memory bits 7 to 4 and 2 to 0"},
			Why:   []string{"bit 3 shows 1 in 6912 of 6912 bytes, where the screen has 0 in 3187"},
			Table: []patterns.Difference{{Expected: 0x20, Seen: 0x28, Cells: 412, Where: "code"}, {Expected: 0x00, Seen: 0x08, Cells: 2775, Where: "bitmap"}},
			Next:  []string{"Power off. Reseat K4, then look again: a bad socket holds the lane as well as a bad chip.", "Compare the level on pin 14 with its neighbours."},
			Lanes: lanes,
		},
	}
}

// nothing is a capture in which nothing could be measured.
func nothing() Finding {
	return Finding{
		Tool: "backporch 1.0",
		Info: video.Info{Spec: "black.png", Kind: video.KindStill, Width: 64, Height: 64}, Frames: 1,
		Survey: &analyse.Survey{
			Fields: 1, Sync: analyse.Sync{State: analyse.NoSignal, Picture: "fill", JitterNs: ptr(math.NaN())},
			Registration: analyse.Registration{Reason: "no edge in the picture", PitchX: 2},
			Border:       analyse.Border{Colour: -1},
		},
		Verdict: &patterns.Verdict{Class: patterns.Undetermined, Why: []string{"the picture has no edge at all"}},
	}
}

// open is a capture that shows a bad memory bit, but not which.
func open(t *testing.T) Finding {
	f := stuck(t)
	f.Board = nil
	f.Verdict = &patterns.Verdict{Class: patterns.RAMBit, Confidence: ptr(0.99), Faults: []patterns.Fault{
		{Class: patterns.RAMBit, Kind: "data-bit-stuck", Probability: 0.36, Bit: ptr(5), Level: ptr(0)},
		{Class: patterns.RAMBit, Kind: "data-bit-stuck", Probability: 0.28, Bit: ptr(7), Level: ptr(0)},
		{Class: patterns.RAMBit, Kind: "data-bit-stuck", Probability: 0.02, Bit: ptr(6), Level: ptr(0)},
		{Class: patterns.VideoLogic, Kind: "blank-picture", Probability: 0.04},
	}}
	return f
}

// clean is a capture in which nothing stands out.
func clean(t *testing.T) Finding {
	f := stuck(t)
	f.Board = nil
	f.Verdict = &patterns.Verdict{
		Class: patterns.Clean, Confidence: ptr(0.72), Why: []string{"no lane stands out"}, Next: []string{"give --reference"},
	}
	return f
}

// maybe is a capture that does not settle between two faults.
func maybe(t *testing.T) Finding {
	f := open(t)
	f.Verdict.Class, f.Verdict.Confidence = patterns.Undetermined, nil
	f.Verdict.Next = []string{"give --fill"}
	return f
}

// No heading stands without text, and no share of a particular with the class's.
func TestStory(t *testing.T) {
	for name, f := range map[string]Finding{"stuck": stuck(t), "open": open(t), "clean": clean(t), "maybe": maybe(t), "nothing": nothing()} {
		r := New(f)
		if r.Title() == "" {
			t.Errorf("%s: no title", name)
		}
		for _, said := range r.Story() {
			if said = strings.TrimSpace(said); said == "" || strings.HasSuffix(said, ":") || strings.HasSuffix(said, ": .") {
				t.Errorf("%s: %q", name, said)
			}
		}
	}
	if got := New(open(t)).Title(); strings.Contains(got, "5") {
		t.Errorf("the title names one of several bits: %q", got)
	}
}

// A fault that is hardly likelier than the next is not called the likeliest.
func TestNearlyEven(t *testing.T) {
	f := open(t)
	for _, c := range []struct {
		first, second float64
		want          string
	}{{0.50, 0.48, "Which one is open: "}, {0.7, 0.2, "Most likely "}, {0.36, 0.28, "Which one is open: "}, {0.97, 0.01, "Data bit 5 "}} {
		f.Verdict.Faults[0].Probability, f.Verdict.Faults[1].Probability = c.first, c.second
		if got := New(f).Verdict.Summary; !strings.HasPrefix(got, c.want) {
			t.Errorf("%v and %v: %q, want %q", c.first, c.second, got, c.want)
		}
	}
}

func TestText(t *testing.T) {
	kept := NewEvidence(&video.Field{Frame: 12, Time: 480e6}, []patterns.Region{{X: 1, Y: 2, W: 8, H: 8, Label: "bit 3"}})
	kept.Still, kept.Annotated, kept.SHA256 = ptr("out/no-3-frame12.png"), ptr("out/no-3-frame12-marked.png"), ptr("00ff")
	withStill := New(stuck(t))
	withStill.Evidence = append(withStill.Evidence, kept)
	for name, write := range map[string]func(*bytes.Buffer) error{
		"stuck.txt": func(b *bytes.Buffer) error { return withStill.Text(b, Style{}) },
		"block.txt": func(b *bytes.Buffer) error {
			return withStill.Block(b, Style{Width: 60}, "no-3.avi", "the third of the pile")
		},
		"open.txt":    func(b *bytes.Buffer) error { return New(open(t)).Text(b, Style{}) },
		"clean.txt":   func(b *bytes.Buffer) error { return New(clean(t)).Text(b, Style{}) },
		"maybe.txt":   func(b *bytes.Buffer) error { return New(maybe(t)).Text(b, Style{}) },
		"nothing.txt": func(b *bytes.Buffer) error { return New(nothing()).Text(b, Style{}) },
	} {
		t.Run(name, func(t *testing.T) {
			var b bytes.Buffer
			if err := write(&b); err != nil {
				t.Fatal(err)
			}
			path := filepath.Join("testdata", name)
			if *update {
				if err := os.WriteFile(path, b.Bytes(), 0o666); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(string(want), b.String()); diff != "" {
				t.Errorf("-want +got:\n%s", diff)
			}
		})
	}
}

var escape = regexp.MustCompile("\x1b\\[[0-9]*m")

// Colour adds escape sequences and nothing else.
func TestColourChangesNoWord(t *testing.T) {
	var plain, coloured bytes.Buffer
	r := New(stuck(t))
	if err := r.Text(&plain, Style{}); err != nil {
		t.Fatal(err)
	}
	if err := r.Text(&coloured, Style{Colour: true}); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(coloured.String(), "\x1b[") || strings.Contains(plain.String(), "\x1b") {
		t.Error("colour stands where it should not, or not where it should")
	}
	if diff := cmp.Diff(plain.String(), escape.ReplaceAllString(coloured.String(), "")); diff != "" {
		t.Error(diff)
	}
}

// contract is the object of the JSON's definition, schema 1; list members once.
const contract = `{"schema":1,
 "source":{"spec":"x.avi","kind":"file","frames":100,"fields":200,"seconds":4.0,"width":720,"height":576},
 "display":"attr-256x192-50",
 "sync":{"state":"locked","jitter_ns":12.0,"roll_lines_per_s":0.0,"repeated":0,"dropped":0,"device_status":[]},
 "registration":{"ok":true,"pitch_x":1.9286,"pitch_y":1.0,"origin_x":113.2,"origin_y":48.1,"residual_px":0.08},
 "border":{"colour":7,"name":"white","uniform":true},
 "cells":{"checked":768,"corrupt":0,"list":[{"col":3,"row":7,"reason":"third-colour"}]},
 "grid":{"checked":768,"unknown":0,"text":["..."]},
 "memory":{"lanes":[{"bit":7,"wrong":0,"of":6912,"stuck":null}]},
 "signal":{"snr_db":44.1,"overshoot_pct":3.0,"rise_ns":92,"hum_pct":0.1,"fixed_bars_pct":0.2,"hue_error_deg":1.5,"saturation_pct":98},
 "verdict":{"class":"ram-bit","confidence":0.99,
  "faults":[{"class":"ram-bit","kind":"data-bit-stuck","probability":0.98,"bit":3,"level":1,"part":"U14"}],
  "good":["..."],"why":["..."],"next":["..."]},
 "evidence":[{"still":"...png","annotated":"...png","frame":12,"field":0,"time_s":0.48,"sha256":"...",
  "regions":[{"x":0,"y":0,"w":8,"h":8,"label":"..."}]}]}`

func decode(t *testing.T, r *Report) map[string]any {
	t.Helper()
	var b bytes.Buffer
	if err := r.JSON(&b); err != nil {
		t.Fatal(err)
	}
	var out map[string]any
	if err := json.Unmarshal(b.Bytes(), &out); err != nil {
		t.Fatal(err)
	}
	return out
}

// paths lists where the values of an object stand, with the JSON type of each.
func paths(at string, v any, out map[string]string) {
	switch v := v.(type) {
	case map[string]any:
		for key, inner := range v {
			paths(at+"."+key, inner, out)
		}
	case []any:
		out[at] = "list"
		for _, inner := range v {
			paths(at+"[]", inner, out)
		}
	case nil:
		if out[at] == "" {
			out[at] = "null"
		}
	case string:
		out[at] = "string"
	case bool:
		out[at] = "bool"
	default:
		out[at] = "number"
	}
}

func TestJSONHasEveryKey(t *testing.T) {
	r := New(stuck(t))
	e := NewEvidence(&video.Field{Frame: 12, Time: 480e6}, []patterns.Region{{W: 8, H: 8, Label: "bit 3"}})
	e.Still, e.Annotated, e.SHA256 = ptr("a.png"), ptr("b.png"), ptr("00")
	r.Evidence = append(r.Evidence, e)
	want, got := map[string]string{}, map[string]string{}
	var definition any
	if err := json.Unmarshal([]byte(contract), &definition); err != nil {
		t.Fatal(err)
	}
	paths("", definition, want)
	paths("", decode(t, r), got)
	for path, kind := range want {
		if kind == "null" {
			kind = "number" // the lane's level, in the example of a lane that is not stuck
		}
		if got[path] != kind {
			t.Errorf("%s: got %q, want a %s", path, got[path], kind)
		}
	}
}

func TestJSONNullWhereNotMeasured(t *testing.T) {
	got := map[string]string{}
	paths("", decode(t, New(nothing())), got)
	var null []string
	for path, kind := range got {
		if kind == "null" {
			null = append(null, path)
		}
	}
	sort.Strings(null)
	want := []string{
		".border.colour", ".border.name", ".border.uniform", ".cells.corrupt", ".display",
		".grid.checked", ".grid.text", ".grid.unknown",
		".registration.origin_x", ".registration.origin_y", ".registration.pitch_x", ".registration.pitch_y", ".registration.residual_px",
		".signal.bandwidth_hz", ".signal.fixed_bars_pct", ".signal.ghost_ns", ".signal.ghost_pct",
		".signal.hue_error_deg", ".signal.hum_hz", ".signal.hum_pct", ".signal.overshoot_pct",
		".signal.ringing_hz", ".signal.ringing_pct", ".signal.rise_ns", ".signal.saturation_pct", ".signal.snr_db", ".signal.snr_weighted_db",
		".signal.tone_fixed", ".signal.tone_hz", ".signal.tone_pct", ".signal.tone_period_px",
		".source.device", ".source.seconds", ".sync.jitter_ns", ".sync.roll_lines_per_s", ".verdict.confidence",
	}
	if diff := cmp.Diff(want, null); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
	// Lists are empty, never null: a reader may count them without asking.
	for _, path := range []string{".sync.device_status", ".cells.list", ".memory.lanes", ".verdict.faults", ".verdict.good", ".verdict.why", ".verdict.next", ".evidence"} {
		if got[path] != "list" {
			t.Errorf("%s is %q, want a list", path, got[path])
		}
	}
}

func TestSure(t *testing.T) {
	for v, want := range map[float64]string{0.9999: "over 99 % sure", 1: "over 99 % sure", 0.994: "99 % sure", 0.5: "50 % sure", 0: "1 % sure"} {
		if got := sure(&v); got != want {
			t.Errorf("Sure(%v) = %q, want %q", v, got, want)
		}
	}
}

// The hue's error is that of all hues together, and null where the colours seen may be others, turned.
func TestHueError(t *testing.T) {
	for _, c := range []struct {
		error, off float64
		told       bool
		want       *float64
	}{{4, 1.5, true, ptr(5.5)}, {175, 10, true, ptr(-175.0)}, {4, 1.5, false, nil}} {
		got := quality(&analyse.Signal{HueErrorDeg: &c.error, HueOff: c.off, HueTold: c.told}).HueErrorDeg
		if diff := cmp.Diff(c.want, got); diff != "" {
			t.Errorf("%+v: %s", c, diff)
		}
	}
}
