package isolation

import (
	"bytes"
	"encoding/json"
	"reflect"
	"strings"
	"testing"

	"backporch/cmd/backporch/internal/report"
	"backporch/patterns/swap"
)

const tomlTests = `
[parts]
m1 = "suspect"
d1 = "good"

[[test]]
name = "as it came"
board = "A"
path = "cable"
verdict = "bad"
bad_at = ["K4"]
good_at = ["K5"]
fitted = { K4 = "m1", K5 = "m2" }

[[test]]
board = "B"
verdict = "good"
fitted = { K4 = "d1", K5 = "d2" }

[[test]]
board = "B"
verdict = "unknown"
fitted = { K4 = "m1" }

[[test]]
board = "A"
verdict = "good"
fitted = { K4 = "d1", K5 = "" }
`

// A test keeps what its board had; a part that moves leaves its place; "" empties one.
func TestParseFollowsTheParts(t *testing.T) {
	tests, parts, err := Parse([]byte(tomlTests))
	if err != nil {
		t.Fatal(err)
	}
	want := []map[string]string{
		{"K4": "m1", "K5": "m2"}, {"K4": "d1", "K5": "d2"}, {"K4": "m1", "K5": "d2"}, {"K4": "d1"},
	}
	for i, w := range want {
		if !reflect.DeepEqual(tests[i].Fitted, w) {
			t.Errorf("%s: %v, want %v", tests[i].Name, tests[i].Fitted, w)
		}
	}
	if tests[0].Name != "as it came" || tests[1].Name != "test 2" || tests[0].Path != "cable" || tests[2].Outcome != swap.Unknown {
		t.Errorf("%+v", tests)
	}
	if parts["m1"] != swap.Suspect || parts["d1"] != swap.ThoughtGood {
		t.Errorf("%v", parts)
	}
	var f map[string]any
	raw, err := json.Marshal(map[string]any{"test": []any{map[string]any{"verdict": "bad", "fitted": map[string]string{"K4": "m1"}}}})
	if err != nil || json.Unmarshal(raw, &f) != nil {
		t.Fatal(err)
	}
	if tests, _, err := Parse(raw); err != nil || tests[0].Fitted["K4"] != "m1" {
		t.Errorf("JSON: %v %v", tests, err)
	}
}

// What is printed is what the model holds: text and JSON name the same first set.
func TestTextAndJSONAgree(t *testing.T) {
	tests, parts, err := Parse([]byte(tomlTests))
	if err != nil {
		t.Fatal(err)
	}
	d, err := swap.Isolate(tests, swap.Options{Parts: parts})
	if err != nil {
		t.Fatal(err)
	}
	i := New("x.toml", d, []string{"a note"})
	var text, raw bytes.Buffer
	if err := i.Text(&text, report.Style{Width: 60}); err != nil {
		t.Fatal(err)
	}
	if err := i.JSON(&raw); err != nil {
		t.Fatal(err)
	}
	var back Isolation
	if err := json.Unmarshal(raw.Bytes(), &back); err != nil || !reflect.DeepEqual(&back, i) {
		t.Errorf("JSON does not come back: %v", err)
	}
	if !strings.Contains(text.String(), back.Sets[0].Text) || !strings.Contains(text.String(), "a note") {
		t.Errorf("text:\n%s", text.String())
	}
	for _, line := range strings.Split(text.String(), "\n") {
		if len([]rune(line)) > 62 {
			t.Errorf("a line of %d: %s", len(line), line)
		}
	}
}

func FuzzParse(f *testing.F) {
	f.Add([]byte(tomlTests))
	f.Add([]byte(`{"test":[{"verdict":"bad","fitted":{"K4":"m1"}}]}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		if len(data) > 1<<12 {
			return
		}
		tests, parts, err := Parse(data)
		if err != nil {
			if strings.ContainsAny(err.Error(), "\n") {
				t.Errorf("an error of several lines: %q", err)
			}
			return
		}
		_, _ = swap.Isolate(tests, swap.Options{Parts: parts}) // refusing is fine
	})
}
