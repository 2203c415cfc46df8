package video

import "time"

// A Frame is one picture as a device or file delivers it, mostly two fields woven.
type Frame struct {
	Y             []uint8       // Width*Height luma codes, row-major
	Cb, Cr        []uint8       // ChromaWidth*ChromaHeight each; empty when monochrome
	Width, Height int           // luma samples
	ChromaWidth   int           // Width (4:4:4) or (Width+1)/2
	ChromaHeight  int           // Height, or (Height+1)/2 for 4:2:0
	Index         int           // from 0
	Time          time.Duration // since the capture began
	Lost          int           // frames lost just before this one, by the device's own count; Index leaves them out
}

// FieldOrder says which lines of a frame are the older field.
type FieldOrder int

const (
	// TopFirst: lines 0, 2, 4 ... were scanned first (625/50, by V4L2's rule).
	TopFirst FieldOrder = iota
	// BottomFirst: lines 1, 3, 5 ... were scanned first (525/60).
	BottomFirst
	// Progressive: the frame is a single field.
	Progressive
	// Doubled: the frame is a single field, and has lines made of their neighbours between that field's.
	Doubled
)

// Single tells whether a frame is made of one field.
func (o FieldOrder) Single() bool { return o == Progressive || o == Doubled }

// fieldsRate is above any standard's frames a second and below any's fields.
const fieldsRate = 40

// At is the order at so many frames a second, where the source does not say: at a field's rate a program has made a
// frame of every field.
func (o FieldOrder) At(rate float64) FieldOrder {
	if rate > fieldsRate && o != Progressive {
		return Doubled
	}
	return o
}

// OrderOf is the order to assume for a frame of this height when the source
// does not say: V4L2's rule for interlaced frames (older field is the bottom one for
// 525/60, else the top), and a single field when the height is that of one.
func OrderOf(width, height int) FieldOrder {
	switch {
	case height <= 313:
		return Progressive
	case height == 480 && width != 768, height == 486:
		return BottomFirst
	}
	return TopFirst
}

// Fields splits a frame into its fields, older one first, each with planes of
// its own. In a 4:2:0 frame both fields share each colour line. rate is in
// frames a second, 0 when unknown: it spaces the fields' times. Of a doubled frame its
// field's own lines are given.
func (f *Frame) Fields(order FieldOrder, rate float64) []*Field {
	if order == Progressive || f.Height < 2 {
		return []*Field{f.field(0, 1, 0, f.Time)}
	}
	if order == Doubled {
		parity := f.scanned()
		return []*Field{f.field(parity, 2, parity, f.Time)}
	}
	half := time.Duration(0)
	if rate > 0 {
		half = time.Duration(float64(time.Second) / rate / 2)
	}
	top, bottom := f.Time, f.Time+half
	if order == BottomFirst {
		top, bottom = bottom, top
	}
	fields := []*Field{f.field(0, 2, 0, top), f.field(1, 2, 1, bottom)}
	if order == BottomFirst {
		fields[0], fields[1] = fields[1], fields[0]
	}
	return fields
}

// scanned is the parity of the lines that a doubled frame really has: those between are means of their neighbours, or copies.
func (f *Frame) scanned() int {
	var off [2]int
	for y := 1; y+1 < f.Height; y++ {
		above, here, below := f.Y[(y-1)*f.Width:y*f.Width], f.Y[y*f.Width:(y+1)*f.Width], f.Y[(y+1)*f.Width:(y+2)*f.Width]
		sum := 0
		for x := 0; x < f.Width; x += 2 {
			d := 2*int(here[x]) - int(above[x]) - int(below[x])
			sum += max(d, -d)
		}
		off[y&1] += sum
	}
	if 2*off[1] > 3*off[0] {
		return 1
	}
	return 0
}

// field takes every step-th line from line first on.
func (f *Frame) field(first, step, parity int, at time.Duration) *Field {
	height := (f.Height - first + step - 1) / step
	out := &Field{
		Y: make([]uint8, f.Width*height), Width: f.Width, Height: height,
		ChromaWidth: f.ChromaWidth, Frame: f.Index, Parity: parity, Time: at,
	}
	if len(f.Cb) > 0 {
		out.Cb = make([]uint8, f.ChromaWidth*height)
		out.Cr = make([]uint8, f.ChromaWidth*height)
	} else {
		out.ChromaWidth = 0
	}
	for y := range height {
		from := first + y*step
		copy(out.Y[y*f.Width:(y+1)*f.Width], f.Y[from*f.Width:])
		if out.ChromaWidth == 0 {
			continue
		}
		c := from * f.ChromaHeight / f.Height
		copy(out.Cb[y*f.ChromaWidth:(y+1)*f.ChromaWidth], f.Cb[c*f.ChromaWidth:])
		copy(out.Cr[y*f.ChromaWidth:(y+1)*f.ChromaWidth], f.Cr[c*f.ChromaWidth:])
	}
	return out
}
