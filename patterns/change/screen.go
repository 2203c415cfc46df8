package change

import (
	"math"
	"slices"

	"backporch/analyse"
	"backporch/patterns"
	"backporch/video/display"
)

// A Cell is a cell that looks different.
type Cell struct {
	Column, Row int
	Pixels      int // of its 64
}

// Regions outlines cells in the capture that a registration places, those side by side together.
func Regions(cells []Cell, r analyse.Registration, label string) []patterns.Region {
	var out []patterns.Region
	for i := 0; i < len(cells); {
		k := i + 1
		for k < len(cells) && cells[k].Row == cells[i].Row && cells[k].Column == cells[k-1].Column+1 {
			k++
		}
		const size = display.CellSize
		x0 := r.OriginX + float64(cells[i].Column*size)*r.PitchX
		x1 := r.OriginX + float64((cells[k-1].Column+1)*size)*r.PitchX
		y0 := r.OriginY + float64(cells[i].Row*size)*r.PitchY
		y1 := y0 + size*r.PitchY
		out = append(out, patterns.Region{
			X: int(math.Round(x0)), Y: int(math.Round(y0)), W: int(math.Round(x1 - x0)), H: int(math.Round(y1 - y0)), Label: label,
		})
		i = k
	}
	return out
}

// Columns outlines the pixel columns of a lane, 0 the leftmost of each cell.
func Columns(lane int, r analyse.Registration, p *display.Profile, label string) []patterns.Region {
	var out []patterns.Region
	for column := range p.Columns() {
		x := r.OriginX + float64(column*display.CellSize+lane)*r.PitchX
		out = append(out, patterns.Region{
			X: int(math.Round(x)), Y: int(math.Round(r.OriginY)), Label: label,
			W: int(math.Round(x+r.PitchX) - math.Round(x)), H: int(math.Round(float64(p.Height) * r.PitchY)),
		})
	}
	return out
}

// lane is the pixel column of eight that holds most of what differs, -1 when none does.
func lane(a, b *raster) int {
	var by [display.CellSize]int
	all := 0
	for i := range a.colour {
		if a.colour[i] != b.colour[i] {
			by[i%a.width%display.CellSize]++
			all++
		}
	}
	for lane, n := range by {
		if 10*n >= 7*all && n > 0 {
			return lane
		}
	}
	return -1
}

// A raster is the colours shown, by pixel; brightness is left out on a display that has it as a bit
// of colour.
type raster struct {
	colour        []uint8
	luma          []float32
	width, height int
}

func rasterOf(s *analyse.Survey, p *display.Profile) *raster {
	r := &raster{width: p.Width, height: p.Height, colour: make([]uint8, p.Width*p.Height), luma: make([]float32, p.Width*p.Height)}
	const size = display.CellSize
	for i := range s.Cells {
		c := &s.Cells[i]
		for y := range size {
			for x := range size {
				colour := c.Paper
				if !c.Single && c.Bits[y]>>(7-x)&1 == 1 {
					colour = c.Ink
				}
				at := (c.Row*size+y)*p.Width + c.Column*size + x
				if colour < 0 || colour >= len(p.Colours) || at >= len(r.colour) {
					continue
				}
				r.luma[at] = float32(p.Colours[colour].Y)
				if p.Kind == display.Attr {
					colour &= 7
				}
				r.colour[at] = uint8(colour)
			}
		}
	}
	return r
}

// differences lists the cells in which at least so many pixels have another colour: single ones are
// misread.
func differences(a, b *raster) []Cell {
	const size, least = display.CellSize, 4
	var out []Cell
	for row := range a.height / size {
		for column := range a.width / size {
			n := 0
			for y := range size {
				at := (row*size+y)*a.width + column*size
				for x := range size {
					if a.colour[at+x] != b.colour[at+x] {
						n++
					}
				}
			}
			if n >= least {
				out = append(out, Cell{Column: column, Row: row, Pixels: n})
			}
		}
	}
	return out
}

// SameScreen says whether two surveys surely show one screen.
func SameScreen(a, b *analyse.Survey, p *display.Profile) bool {
	var j Judgement
	j.screens(&Side{Survey: a}, &Side{Survey: b}, p)
	return j.SameScreen != nil && *j.SameScreen
}

// An edge is a step of luma of this part of white.
const edge = 0.15

// agreement is the upper quartile, over the eight pixel columns of a cell, of kappa between the
// edges of both pictures, vertical and horizontal ones together: two bad bits, each with its edges
// on both sides, spoil four columns. Nil when there are too few edges to say.
func agreement(a, b *raster) *float64 {
	var lanes []float64
	for lane := range display.CellSize {
		var both, one, other, n float64
		for y := 1; y < a.height; y++ {
			for x := max(lane, 1); x < a.width; x += display.CellSize {
				at := y*a.width + x
				for _, back := range [2]int{1, a.width} {
					u := abs(a.luma[at]-a.luma[at-back]) > edge
					v := abs(b.luma[at]-b.luma[at-back]) > edge
					n++
					switch {
					case u && v:
						both++
					case u:
						one++
					case v:
						other++
					}
				}
			}
		}
		if both+one < 40 && both+other < 40 {
			continue
		}
		pa, pb := (both+one)/n, (both+other)/n
		expected := pa*pb + (1-pa)*(1-pb)
		observed := 1 - (one+other)/n
		if expected < 1 {
			lanes = append(lanes, (observed-expected)/(1-expected))
		}
	}
	if len(lanes) < 4 {
		return nil
	}
	slices.Sort(lanes)
	k := lanes[3*len(lanes)/4]
	return &k
}

func abs(v float32) float32 { return max(v, -v) }
