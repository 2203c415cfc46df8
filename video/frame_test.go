package video

import (
	"testing"
	"time"
)

// numbered is a frame whose every sample is the number of its line.
func numbered(width, height, chromaHeight int) *Frame {
	f := &Frame{Width: width, Height: height, ChromaWidth: (width + 1) / 2, ChromaHeight: chromaHeight, Index: 3, Time: time.Second}
	f.Y = make([]uint8, width*height)
	for i := range f.Y {
		f.Y[i] = uint8(i / width)
	}
	f.Cb = make([]uint8, f.ChromaWidth*chromaHeight)
	for i := range f.Cb {
		f.Cb[i] = uint8(i / f.ChromaWidth)
	}
	f.Cr = append([]uint8(nil), f.Cb...)
	return f
}

func TestFieldsSplitAFrame(t *testing.T) {
	for _, order := range []FieldOrder{TopFirst, BottomFirst} {
		for _, height := range []int{10, 11} {
			f := numbered(6, height, height)
			fields := f.Fields(order, 25)
			if len(fields) != 2 || fields[0].Time != time.Second || fields[1].Time != time.Second+20*time.Millisecond {
				t.Fatalf("order %d: %d fields, times %v", order, len(fields), fields[0].Time)
			}
			if (fields[0].Parity == 0) != (order == TopFirst) {
				t.Errorf("order %d: the older field has parity %d", order, fields[0].Parity)
			}
			if fields[0].Height+fields[1].Height != height {
				t.Errorf("%d lines became %d and %d", height, fields[0].Height, fields[1].Height)
			}
			for _, field := range fields {
				for y := range field.Height {
					line := uint8(2*y + field.Parity)
					if field.Line(y)[5] != line || field.Cb[y*field.ChromaWidth] != line {
						t.Fatalf("field line %d of parity %d holds %d", y, field.Parity, field.Line(y)[5])
					}
				}
			}
		}
	}
}

// In 4:2:0 the two fields share each colour line, and no line is read past the end.
func TestFieldsShareColourLines(t *testing.T) {
	f := numbered(5, 9, 5)
	for _, field := range f.Fields(TopFirst, 0) {
		for y := range field.Height {
			if got := int(field.Cb[y*field.ChromaWidth]); got > 4 || got != (2*y+field.Parity)*5/9 {
				t.Errorf("parity %d, line %d: colour line %d", field.Parity, y, got)
			}
		}
	}
}

func TestSmallFramesAreOneField(t *testing.T) {
	f := &Frame{Y: []uint8{7}, Width: 1, Height: 1}
	if fields := f.Fields(TopFirst, 25); len(fields) != 1 || fields[0].Y[0] != 7 || fields[0].ChromaStep() != 0 {
		t.Errorf("%+v", fields)
	}
}

func TestStandardOfSizeAndRate(t *testing.T) {
	for _, c := range []struct {
		width, height int
		rate          float64
		want          Standard
	}{
		{720, 576, 25, Std625}, {720, 576, 0, Std625}, {720, 480, 29.97, Std525}, {720, 486, 0, Std525}, {640, 480, 25, Std625},
		{640, 480, 29.97, Std525}, {720, 576, 25.04, Std625}, {720, 288, 50.08, Std625}, {720, 240, 59.83, Std525},
		{320, 200, 0, UnknownStandard}, {1, 1, 0, UnknownStandard}, {1280, 720, 50, Std625},
	} {
		if got := StandardOf(c.width, c.height, c.rate); got != c.want {
			t.Errorf("%dx%d at %v: %v, want %v", c.width, c.height, c.rate, got, c.want)
		}
	}
}

// ITU-R BT.601: the two families have 864 and 858 samples a line of 13.5 MHz, so the line
// rates stand as 429 to 432; BT.1700 and SMPTE 170M give the subcarriers as multiples.
func TestScanFigures(t *testing.T) {
	pal, ntsc := Std625.Scan(), Std525.Scan()
	near := func(what string, got, want, tol float64) {
		t.Helper()
		if got < want-tol || got > want+tol {
			t.Errorf("%s: %v, want %v", what, got, want)
		}
	}
	near("625 samples", pal.LineHz*float64(pal.LineSamples), 13.5e6, 1e-6)
	near("525 samples", ntsc.LineHz*float64(ntsc.LineSamples), 13.5e6, 1e-6)
	near("625 subcarrier", pal.SubcarrierHz, (1135.0/4+1.0/625)*15625, 1e-6)
	near("525 subcarrier", ntsc.SubcarrierHz, 455.0/2*ntsc.LineHz, 1e-6)
	near("525 line rate", ntsc.LineHz, 15734.2657, 5e-5)
	near("525 field rate", ntsc.FieldHz, 59.94006, 5e-6)
	near("625 tip to white", pal.WhiteMV+pal.SyncMV, 1000, 1e-9)
	near("525 tip to white", ntsc.WhiteMV+ntsc.SyncMV, 1000, 1e-9)
}
