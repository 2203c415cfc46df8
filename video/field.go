package video

import "time"

// A Field is one vertical scan, top line first: one whole machine picture.
// Planes are row-major. A Field's planes belong to its holder; sources make a
// new one, or say that they reuse it.
type Field struct {
	Y           []uint8       // Width*Height luma codes
	Cb, Cr      []uint8       // ChromaWidth*Height each; empty in a monochrome field
	Width       int           // luma samples a line
	ChromaWidth int           // colour-difference samples a line; sample i is at luma x = i*Width/ChromaWidth (co-sited)
	Height      int           // lines
	Frame       int           // number of its frame, from 0
	Parity      int           // 0: the frame's lines 0, 2, 4 ...; 1: lines 1, 3, 5 ...
	Time        time.Duration // since the capture began
}

// ChromaStep is the luma distance between two colour-difference samples, 0
// when the field has none.
func (f *Field) ChromaStep() float64 {
	if f.ChromaWidth == 0 {
		return 0
	}
	return float64(f.Width) / float64(f.ChromaWidth)
}

// Line returns line y's luma samples.
func (f *Field) Line(y int) []uint8 { return f.Y[y*f.Width : (y+1)*f.Width] }
