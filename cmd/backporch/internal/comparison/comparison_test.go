package comparison

import (
	"bytes"
	"encoding/json"
	"reflect"
	"strings"
	"testing"

	"backporch/analyse/fingerprint"
	"backporch/cmd/backporch/internal/report"
	"backporch/patterns/change"
	"backporch/video/still"
)

func ptr[T any](v T) *T { return &v }

func reports(before, after string) (*report.Report, *report.Report) {
	side := func(class, spec string) *report.Report {
		r := &report.Report{Schema: 1, Source: report.Source{Spec: spec, Frames: 25, Notes: []string{}}, Display: ptr("attr-256x192-50")}
		r.Verdict = report.Verdict{Class: class, Confidence: ptr(0.97), Next: []string{"measure the supply rails"}}
		return r
	}
	return side(before, "a.avi"), side(after, "b.avi")
}

func judged(word change.Word) *change.Judgement {
	better := 4.2
	j := &change.Judgement{
		Word: word, Confidence: ptr(0.91), Words: map[change.Word]float64{word: 0.91, change.Same: 0.09}, Cells: 768,
		Gone: []string{"noise on the signal path"}, Kept: []string{"data bit 3 lane stuck at 1"}, Why: []string{"before: x", "1 of 768 cells look different"},
		Differences: []change.Cell{{Column: 3, Row: 7, Pixels: 9}}, Warnings: []string{"a caution that is long enough to be wrapped on a narrow terminal by whoever wraps it"},
		Measures: []change.Measure{
			{Name: "signal to noise", Unit: "dB", Before: ptr(30.0), After: ptr(54.0), Spread: 1, Better: &better},
			{Name: "hum", Unit: "%", Before: ptr(0.1)},
		},
		SameScreen: ptr(true),
	}
	j.Machine = &fingerprint.Comparison{Log10: 1.5}
	return j
}

// Text, JSON and the pair of pictures say the same word; JSON comes back as it went.
func TestRenderingsAgree(t *testing.T) {
	before, after := reports("ram-bit", "ram-bit")
	for _, word := range []change.Word{change.Fixed, change.Better, change.Same, change.Worse, change.Another, change.Undetermined} {
		c := New("backporch test", before, after, judged(word), [2]*fingerprint.Print{})
		if word == change.Undetermined {
			c.Confidence = nil
		}
		var text, raw bytes.Buffer
		if err := c.Text(&text, report.Style{Width: 60}); err != nil {
			t.Fatal(err)
		}
		if !strings.HasPrefix(text.String(), strings.ToUpper(string(word))) {
			t.Errorf("%s: %q", word, text.String())
		}
		for _, line := range strings.Split(text.String(), "\n") {
			if len([]rune(line)) > 80 || strings.HasSuffix(line, " ") {
				t.Errorf("%s: line %q", word, line)
			}
		}
		if err := c.JSON(&raw); err != nil {
			t.Fatal(err)
		}
		var back Comparison
		if err := json.Unmarshal(raw.Bytes(), &back); err != nil {
			t.Fatal(err)
		}
		back.next = c.next
		if !reflect.DeepEqual(&back, c) {
			t.Errorf("%s: the JSON comes back otherwise:\n%+v\n%+v", word, back, c)
		}
		if p := c.Pair(still.View{}, still.View{}); !strings.EqualFold(p.Title[:4], string(word)[:4]) || p.Before.Note != "a.avi" {
			t.Errorf("%s: the pair is titled %q", word, p.Title)
		}
	}
}

// What was not measured is null and a dash, never a zero.
func TestUnmeasuredIsNull(t *testing.T) {
	before, after := reports("clean", "clean")
	c := New("backporch test", before, after, judged(change.Better), [2]*fingerprint.Print{})
	if m := c.Measures[1]; m.After != nil || m.Better != nil || m.Word != nil {
		t.Errorf("%+v", m)
	}
	if rows := c.rows(); rows[1].Cells[2] != "-" || rows[0].Cells[3] != "better" {
		t.Errorf("%+v", rows)
	}
	c.Machine = nil
	if !strings.HasPrefix(c.machine(), "not compared") {
		t.Error(c.machine())
	}
}

func TestSureIsNeverCertain(t *testing.T) {
	for p, want := range map[float64]string{0.9999: "over 99 % sure", 0.878: "87 % sure", 0.001: "1 % sure"} {
		if got := (&Comparison{Confidence: &p}).Sure(); got != want {
			t.Errorf("%v: %s", p, got)
		}
	}
}
