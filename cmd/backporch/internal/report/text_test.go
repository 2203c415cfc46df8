package report

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

func TestWrap(t *testing.T) {
	for _, c := range []struct {
		in    string
		width int
		want  []string
	}{
		{"", 10, []string{""}},
		{"one two", 10, []string{"one two"}},
		{"one two three", 8, []string{"one two", "three"}},
		{"one two three", 7, []string{"one two", "three"}},
		{"a verylongwordindeed b", 6, []string{"a", "verylongwordindeed", "b"}},
		{"it has 88 % of it", 9, []string{"it has", "88 % of", "it"}},
		{"0x20   0x28   08", 20, []string{"0x20   0x28   08"}},
	} {
		if diff := cmp.Diff(c.want, Wrap(c.in, c.width)); diff != "" {
			t.Errorf("Wrap(%q, %d): %s", c.in, c.width, diff)
		}
	}
}

// Wrapping changes no word, and a line is longer than asked only when it is one word.
func TestWrapKeepsWords(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := strings.Join(rapid.SliceOf(rapid.StringMatching(`[a-zäß]{1,12}`)).Draw(t, "words"), " ")
		width := rapid.IntRange(1, 40).Draw(t, "width")
		lines := Wrap(in, width)
		if got := strings.Join(lines, " "); got != in {
			t.Fatalf("got %q, want %q", got, in)
		}
		for _, line := range lines {
			if len([]rune(line)) > width && strings.Contains(line, " ") {
				t.Fatalf("%q is longer than %d", line, width)
			}
		}
	})
}
