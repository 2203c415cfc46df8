package exhibit

import (
	"fmt"
	"image"
	"math"
	"testing"

	"backporch/analyse"
	"backporch/analyse/analysetest"
	"backporch/patterns"
	"backporch/video"
	"backporch/video/display"
	"backporch/video/still"
)

func ptr[T any](v T) *T { return &v }

// good is a finding about an even grey capture that is well placed, with one drawn cell.
func good(t *testing.T, name string) Finding {
	t.Helper()
	p := analysetest.Profile(t, name)
	return Finding{Profile: p, Survey: surveyed(p), Verdict: &patterns.Verdict{}, Field: grey(0), Fields: []*video.Field{grey(0), grey(1), grey(2)}}
}

func grey(frame int) *video.Field {
	f := &video.Field{Width: 720, Height: 288, ChromaWidth: 360, Frame: frame, Y: make([]uint8, 720*288), Cb: make([]uint8, 360*288), Cr: make([]uint8, 360*288)}
	for i := range f.Y {
		f.Y[i] = 100
	}
	for i := range f.Cb {
		f.Cb[i], f.Cr[i] = 128, 128
	}
	return f
}

func surveyed(p *display.Profile) *analyse.Survey {
	s := &analyse.Survey{
		Display: p.Name, Sync: analyse.Sync{State: analyse.Locked}, Border: analyse.Border{Colour: 7, Seen: true, Uniform: true},
		Registration: analyse.Registration{OK: true, PitchX: 27.0 / 14, PitchY: 1, OriginX: 113.2, OriginY: 48},
		Stack:        analyse.Add([]*video.Field{grey(0), grey(0), grey(0), grey(0), grey(0), grey(0), grey(0), grey(0)}),
		Text:         &analyse.Text{Codes: make([]int, p.Columns()*p.Rows())},
	}
	for row := range p.Rows() {
		for column := range p.Columns() {
			s.Cells = append(s.Cells, analyse.Cell{Column: column, Row: row, Paper: 7, Ink: 0, Bits: [8]uint8{0x3C, 0x42, 0x42, 0x7E, 0x42, 0x42}})
		}
	}
	return s
}

func (f Finding) with(class patterns.Class, fault patterns.Fault) Finding {
	fault.Class = class
	if fault.Probability == 0 {
		fault.Probability = 0.97
	}
	f.Verdict = &patterns.Verdict{Class: class, Faults: []patterns.Fault{fault}}
	return f
}

// By the profile, bit b of a byte is its pixel 7-b from the left.
func TestBadColumnsLieOnTheLane(t *testing.T) {
	for bit := range 8 {
		f := good(t, "attr-256x192-50").with(patterns.RAMBit, patterns.Fault{Kind: "data-bit-stuck", Bit: &bit, Level: ptr(1)})
		part := Of(f)[0].Part
		r := f.Survey.Registration
		bad := 0
		for _, c := range part.Columns {
			pixel := int(math.Round((c.X - r.OriginX) / r.PitchX))
			if c.Label != fmt.Sprint(7-pixel%8) || c.Bad != (pixel%8 == 7-bit) {
				t.Errorf("bit %d: the column of pixel %d is labelled %s, bad %v", bit, pixel, c.Label, c.Bad)
			}
			if c.Bad {
				bad++
				if middle := int(c.X + c.W/2); middle < part.Where.Min.X || middle >= part.Where.Max.X {
					t.Errorf("bit %d: a bad column at %d lies outside %v", bit, middle, part.Where)
				}
			}
		}
		if bad != 3 {
			t.Errorf("bit %d: %d columns pointed at in three bytes", bit, bad)
		}
	}
}

// Which bit it is has to be sure before one is pointed at.
func TestNoColumnWhereTheBitIsOpen(t *testing.T) {
	f := good(t, "attr-256x192-50").with(patterns.RAMBit, patterns.Fault{Kind: "data-bit-stuck", Bit: ptr(5), Level: ptr(0), Probability: 0.36})
	for _, c := range Of(f)[0].Part.Columns {
		if c.Bad {
			t.Fatalf("bit %s is pointed at with a probability of 0.36", c.Label)
		}
	}
}

func TestThePartShownIsWhereTheMachinesDiffer(t *testing.T) {
	for _, at := range []image.Point{{20, 11}, {0, 0}, {31, 23}, {5, 22}} {
		f := good(t, "attr-256x192-50").with(patterns.RAMBit, patterns.Fault{Kind: "data-bit-weak", Bit: ptr(4)})
		f.Reference = surveyed(f.Profile)
		c := &f.Survey.Cells[at.Y*f.Profile.Columns()+at.X]
		for y := range c.Bits {
			c.Bits[y] ^= 1 << 4
		}
		all := Of(f)
		r := f.Survey.Registration
		middle := image.Pt(int(r.OriginX+(float64(at.X)*8+4)*r.PitchX), int(r.OriginY)+at.Y*8+4)
		for _, e := range all[:2] {
			if !middle.In(e.Part.Where) {
				t.Errorf("cell %v differs, at %v: %q shows %v", at, middle, e.Title, e.Part.Where)
			}
		}
		if all[0].Part.Field != nil || all[1].Part.Field == nil {
			t.Error("the first part is of the capture, the second of the good machine")
		}
	}
}

// framed draws a border that begins at the given place of each line, its step blurred
// as a capture's is.
func framed(at func(y int) float64) *video.Field {
	f := grey(0)
	for y := range f.Height {
		for x := range f.Width {
			f.Y[y*f.Width+x] = uint8(16 + 160*min(1, max(0, (float64(x)-at(y))/3+0.5)))
		}
	}
	return f
}

func TestEdges(t *testing.T) {
	at := func(y int) float64 { return 20 + float64(y%7)*0.37 }
	for y, got := range edges(framed(at)) {
		if math.Abs(got-at(y)) > 0.4 {
			t.Fatalf("line %d: the edge is at %.2f, found at %.2f", y, at(y), got)
		}
	}
	if _, ok := median(edges(grey(0))); ok {
		t.Error("an edge was found in an even grey")
	}
}

func TestTheUnsteadiestFieldIsShown(t *testing.T) {
	still, torn := framed(func(int) float64 { return 20 }), framed(func(y int) float64 { return 20 + float64(y/200*9) })
	fields := []*video.Field{still, still, torn, still}
	for state, want := range map[analyse.SyncState]int{analyse.Unstable: 2, analyse.NoLock: 2, analyse.Locked: 1} {
		if got := Show(fields, &analyse.Survey{Sync: analyse.Sync{State: state}, Worst: 1}); got != want {
			t.Errorf("%s: field %d, want %d", state, got, want)
		}
	}
	f := Finding{Field: torn, Fields: fields, Survey: &analyse.Survey{Sync: analyse.Sync{State: analyse.Unstable}}}
	where := f.unsteady()[0].Part.Where
	if where.Min.Y > 200 || where.Max.Y <= 200 || where.Min.X > 20 || where.Max.X <= 20 {
		t.Errorf("the tear at sample 20, line 200 is not in %v", where)
	}
}

func TestNoiseIsTheFieldLessItsMean(t *testing.T) {
	f := good(t, "attr-256x192-50").with(patterns.Signal, patterns.Fault{Kind: "noise"})
	f.Field = grey(0)
	f.Field.Y[5] += 4
	all := Of(f)
	if len(all) != 3 {
		t.Fatalf("%d exhibits", len(all))
	}
	less := all[2].Part.Field
	if less.Y[4] != 126 || less.Y[5] != 126+6*4 {
		t.Errorf("a field 4 above the mean shows as %d, one at the mean as %d", less.Y[5], less.Y[4])
	}
}

func TestColoursThatAreMissing(t *testing.T) {
	f := good(t, "attr-256x192-50").with(patterns.VideoLogic, patterns.Fault{Kind: "colour-path", Component: "green", Level: ptr(0)})
	for i := range f.Survey.Cells {
		f.Survey.Cells[i].Paper = 3 // magenta, ink black
	}
	var bad []string
	for _, s := range Of(f)[0].Swatches {
		if s.Bad {
			bad = append(bad, s.Name)
		}
	}
	if fmt.Sprint(bad) != "[green cyan yellow white]" {
		t.Errorf("missing: %v", bad)
	}
}

// Whatever the verdict is, a print comes of it; nothing is shown where nothing is wrong.
func TestEveryKindDraws(t *testing.T) {
	for _, name := range []string{"attr-256x192-50", "text-40x25-50"} {
		for _, k := range patterns.Catalogue() {
			for _, placed := range []bool{true, false} {
				f := good(t, name).with(k.Class, patterns.Fault{Kind: k.Name})
				switch k.Name {
				case "data-bit-stuck", "data-bit-weak":
					f.Verdict.Faults[0].Bit, f.Verdict.Faults[0].Level = ptr(7), ptr(0)
				case "border-latch":
					f.Verdict.Faults[0].Expected, f.Verdict.Faults[0].Seen = ptr(2), ptr(99)
				}
				f.Verdict.Table = []patterns.Difference{{Expected: 0x4F, Seen: 0xCF, Cells: 3, Where: "code"}}
				f.Reference = surveyed(f.Profile)
				if f.Survey.Registration.OK = placed; !placed {
					f.Survey.Cells, f.Survey.Stack, f.Reference = nil, nil, nil
				}
				if _, err := still.Annotate(f.Field, still.Annotation{Title: k.Name, Exhibits: Of(f)}); err != nil {
					t.Errorf("%s, %s, placed %v: %v", name, k.Name, placed, err)
				}
			}
		}
	}
	for _, class := range []patterns.Class{patterns.Clean, patterns.Undetermined} {
		f := good(t, "attr-256x192-50").with(class, patterns.Fault{Kind: "data-bit-stuck", Bit: ptr(3)})
		if got := Of(f); len(got) != 0 {
			t.Errorf("%s: %d exhibits", class, len(got))
		}
	}
}

// Of a picture that was laid straight the close-up is of the mean, where the cells are; of another it is a part of the frame itself.
func TestCloseUpOfAPictureLaidStraight(t *testing.T) {
	for _, straightened := range []bool{false, true} {
		f := good(t, "attr-256x192-50")
		f.Survey.Straightened = straightened
		f = f.with(patterns.RAMBit, patterns.Fault{Kind: "data-bit-stuck", Bit: ptr(3), Level: ptr(1)})
		part := Of(f)[0].Part
		if own := part.Field == nil; own == straightened {
			t.Errorf("laid straight %v: the frame's own part %v", straightened, own)
		}
	}
}
