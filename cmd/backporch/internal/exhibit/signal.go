package exhibit

import (
	"fmt"
	"image"
	"math"
	"slices"

	"backporch/analyse"
	"backporch/video"
	"backporch/video/still"
)

// grain shows a piece of the field, the mean of the fields, in which noise is averaged
// out, and the field less the mean.
func (f *Finding) grain() []still.Exhibit {
	field, s := f.Field, f.Survey.Stack
	w := field.Width / 10
	h := field.Height / 10
	// At the picture's left edge there are border and picture together.
	at := image.Pt(field.Width/2-w/2, field.Height/2-h/2)
	if r := f.Survey.Registration; r.OK {
		at = image.Pt(int(r.OriginX)-w/3, int(r.OriginY+40*r.PitchY))
	}
	at.X, at.Y = max(0, min(field.Width-w, at.X)), max(0, min(field.Height-h, at.Y))
	where := image.Rectangle{Min: at, Max: at.Add(image.Pt(w, h))}
	out := []still.Exhibit{{Title: "Enlarged: one field as it came", Part: &still.Part{Where: where}}}
	if s == nil || s.N < 8 || s.Width != field.Width || s.Height != field.Height {
		return out
	}
	const times = 6
	less := &video.Field{Width: field.Width, Height: field.Height, Y: make([]uint8, len(field.Y))}
	for i, v := range field.Y {
		less.Y[i] = uint8(max(0, min(255, 126+times*(float32(v)-s.Y[i]))))
	}
	return append(out,
		still.Exhibit{Title: fmt.Sprintf("The mean of %d fields: no grain", s.N), Part: &still.Part{Field: FieldOf(s), Where: where}},
		still.Exhibit{Title: fmt.Sprintf("The noise alone, %d times as strong", times), Part: &still.Part{Field: less, Where: where}},
	)
}

// unsteady shows what moves: two fields of a picture that rolls, else the border's edge
// stretched sideways.
func (f *Finding) unsteady() []still.Exhibit {
	if r := f.Survey.Sync.RollLinesPerS; r != nil && math.Abs(*r) > 1 && len(f.Fields) > 2 {
		var out []still.Exhibit
		for _, field := range []*video.Field{f.Fields[0], f.Fields[len(f.Fields)-1]} {
			out = append(out, still.Exhibit{
				Title: fmt.Sprintf("At %.2f s", field.Time.Seconds()),
				Part:  &still.Part{Field: field, Where: whole(field.Width, field.Height)},
			})
		}
		return out
	}
	e := edges(f.Field)
	middle, ok := median(e)
	if !ok {
		return nil
	}
	const lines = 96
	from, most := 0, -1.0
	for y := 0; y+lines <= len(e); y += 4 {
		if v := spread(e[y : y+lines]); v > most {
			from, most = y, v
		}
	}
	wide := int(max(16, min(64, 10*most))) // samples: the mean step aside is a tenth of the width
	x := max(0, int(middle+0.5)-wide/2)
	return []still.Exhibit{{
		Title: "The picture's left edge, stretched sideways",
		Note:  fmt.Sprintf("lines %d to %d; on a steady picture the edge is a straight line", from, min(from+lines, len(e))-1),
		Part:  &still.Part{Where: image.Rect(x, from, x+wide, min(from+lines, len(e)))},
	}}
}

// Unsteadiest is the index of the field whose lines stand least in one place, in a
// picture that does not lock.
func Unsteadiest(fields []*video.Field) int {
	worst, most := 0, -1.0
	for i, f := range fields {
		if v := spread(edges(f)); v > most {
			worst, most = i, v
		}
	}
	return worst
}

// Show is the index of the field to show: the survey's choice in a picture that holds, the
// unsteadiest one otherwise.
func Show(fields []*video.Field, s *analyse.Survey) int {
	switch s.Sync.State {
	case analyse.Unstable, analyse.NoLock:
		return Unsteadiest(fields)
	}
	return min(max(s.Worst, 0), len(fields)-1)
}

// edges gives the sample at which the picture begins on each line: the middle of the first
// rise out of blanking, whichever of luma and colour shows it; NaN without one.
func edges(f *video.Field) []float64 {
	out := make([]float64, f.Height)
	const least = 12 // codes over five samples
	for y := range out {
		row := f.Y[y*f.Width : (y+1)*f.Width]
		out[y] = math.NaN()
		for x := 3; x < f.Width/4; x++ {
			if step := int(row[x+2]) - int(row[x-3]); step < least {
				continue
			}
			// The centre of the steps about here.
			sum, at := 0.0, 0.0
			for i := x - 3; i < x+5; i++ {
				d := math.Abs(float64(row[i+1]) - float64(row[i]))
				sum += d
				at += d * (float64(i) + 0.5)
			}
			out[y] = at / sum
			break
		}
	}
	return out
}

func median(v []float64) (float64, bool) {
	var known []float64
	for _, x := range v {
		if !math.IsNaN(x) {
			known = append(known, x)
		}
	}
	if len(known) < len(v)/2 || len(known) == 0 {
		return 0, false
	}
	slices.Sort(known)
	return known[len(known)/2], true
}

// spread is the mean distance from the median; -1 when most lines have no edge.
func spread(v []float64) float64 {
	m, ok := median(v)
	if !ok {
		return -1
	}
	sum, n := 0.0, 0
	for _, x := range v {
		if !math.IsNaN(x) {
			sum += min(math.Abs(x-m), 40)
			n++
		}
	}
	return sum / float64(n)
}
