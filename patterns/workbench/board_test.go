package workbench

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"backporch/patterns"
)

func TestParseBoard(t *testing.T) {
	got, err := ParseBoard([]byte("name = \"test board\"\nvideo_logic = \"X9\"\n[bits]\n0 = \"M1\"\n7 = \"M8\"\n[colour_bits]\n3 = \"C4\"\n"))
	if err != nil {
		t.Fatal(err)
	}
	want := &Board{Name: "test board", VideoLogic: "X9"}
	want.Bits[0], want.Bits[7], want.ColourBits[3] = "M1", "M8", "C4"
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}

func TestParseBoardErrors(t *testing.T) {
	for _, c := range []struct{ name, in, want string }{
		{"bit too high", "[bits]\n8 = \"M1\"", "bits.8: a bit is 0 to 7"},
		{"not a bit", "[bits]\nseven = \"M1\"", "bits.seven: a bit is 0 to 7"},
		{"leading zero", "[bits]\n07 = \"M1\"", "bits.07: a bit is 0 to 7"},
		{"colour bit", "[colour_bits]\n4 = \"M1\"", "colour_bits.4: a bit is 0 to 3"},
		{"empty", "[bits]\n1 = \" \"", "bits.1: the designator is empty"},
		{"unknown key", "name = \"a\"\nvideo = \"X\"", "line 2: unknown key \"video\""},
		{"no value", "name =\n", "line 1: "},
		{"a number", "[bits]\n1 = 14", "line 2: "},
	} {
		t.Run(c.name, func(t *testing.T) {
			b, err := ParseBoard([]byte(c.in))
			if err == nil {
				t.Fatalf("got %+v, want an error", b)
			}
			if !strings.Contains(err.Error(), c.want) || strings.Contains(err.Error(), "\n") {
				t.Errorf("got %q, want one line with %q", err, c.want)
			}
		})
	}
}

func FuzzParseBoard(f *testing.F) {
	f.Add([]byte("name = \"a\"\n[bits]\n3 = \"M4\"\n"))
	f.Add([]byte("[colour_bits]\n0 = \"C1\"\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		b, err := ParseBoard(data)
		if err == nil && b == nil {
			t.Error("no board and no error")
		}
	})
}

func TestPart(t *testing.T) {
	b := &Board{VideoLogic: "V1", CharacterGenerator: "G1", Multiplexer: "X1"}
	b.Bits[3], b.ColourBits[1] = "M4", "C2"
	bit := func(n int) *int { return &n }
	for _, c := range []struct {
		f    patterns.Fault
		want string
	}{
		{patterns.Fault{Class: patterns.RAMBit, Kind: "data-bit-stuck", Bit: bit(3)}, "M4"},
		{patterns.Fault{Class: patterns.RAMBit, Kind: "data-bit-stuck", Bit: bit(2)}, ""},
		{patterns.Fault{Class: patterns.RAMBit, Kind: "data-bit-weak", Bit: bit(1), Memory: "colour"}, "C2"},
		{patterns.Fault{Class: patterns.RAMBit, Kind: "data-bit-weak", Bit: bit(7), Memory: "colour"}, ""},
		{patterns.Fault{Class: patterns.RAMBit, Kind: "address-line-stuck", Lanes: []int{3}}, "M4"},
		{patterns.Fault{Class: patterns.RAMBit, Kind: "address-line-stuck", Lanes: []int{0, 1, 2, 3}}, "X1"},
		{patterns.Fault{Class: patterns.VideoLogic, Kind: "character-generator"}, "G1"},
		{patterns.Fault{Class: patterns.VideoLogic, Kind: "colour-path"}, "V1"},
		{patterns.Fault{Class: patterns.Signal, Kind: "noise"}, ""},
	} {
		if got := b.Part(c.f); got != c.want {
			t.Errorf("%s, bit %v, lanes %v: %q, want %q", c.f.Kind, c.f.Bit, c.f.Lanes, got, c.want)
		}
	}
	if got := (*Board)(nil).Part(patterns.Fault{Class: patterns.VideoLogic}); got != "" {
		t.Errorf("no map: %q", got)
	}
}
