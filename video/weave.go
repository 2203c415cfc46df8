package video

// Weave puts fields together line by line, older one first: the inverse of Frame.Fields. They are
// of one size; one field alone gives a frame of its own lines.
func Weave(fields []*Field, order FieldOrder) *Frame {
	n, f := len(fields), fields[0]
	out := &Frame{
		Width: f.Width, Height: f.Height * n, ChromaWidth: f.ChromaWidth, ChromaHeight: f.Height * n,
		Y:  make([]uint8, f.Width*f.Height*n),
		Cb: make([]uint8, f.ChromaWidth*f.Height*n), Cr: make([]uint8, f.ChromaWidth*f.Height*n),
	}
	for i, f := range fields {
		if order == BottomFirst {
			i = n - 1 - i
		}
		for y := range f.Height {
			to := y*n + i
			copy(out.Y[to*f.Width:], f.Line(y))
			copy(out.Cb[to*f.ChromaWidth:], f.Cb[y*f.ChromaWidth:(y+1)*f.ChromaWidth])
			copy(out.Cr[to*f.ChromaWidth:], f.Cr[y*f.ChromaWidth:(y+1)*f.ChromaWidth])
		}
	}
	return out
}
