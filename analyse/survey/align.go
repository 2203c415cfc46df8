package survey

import (
	"math"
	"slices"

	"backporch/analyse"
	"backporch/video/display"
)

// align says by how many pixels and lines a capture and its reference should each
// be placed otherwise, so that they show the same screen at probable places of both. Both are zero when
// neither place is in doubt; that of characters always is: what stands in their cells may be as alike a line or a pixel aside. Where they have been laid over each
// other by their luma, it is a pixel aside where the path delays the one.
func align(s, reference *analyse.Survey, p *display.Profile, laid bool) (here, there analyse.Shift) {
	if len(reference.Cells) != len(s.Cells) || len(s.Cells) == 0 {
		return here, there
	}
	own, others := s.Registration.Shifts, reference.Registration.Shifts
	if len(own)*len(others) <= 1 && p.Kind != display.Text && !laid {
		return here, there
	}
	a, b := ideal(s.Cells, p), ideal(reference.Cells, p)
	all := len(a)
	if s.Signal.ChromaDead || reference.Signal.ChromaDead { // without colours cells are read in greys, but their edges stay
		a, b = outlines(a, p.Width), outlines(b, p.Width)
		all = max(sum(a), sum(b))
	}
	differ := map[[2]int]int{} // by displacement; many pairs share one
	put := func(own []analyse.Shift) (least int) {
		best := math.Inf(-1)
		for _, i := range own {
			for _, j := range others {
				d := [2]int{i.Pixels - j.Pixels, i.Lines - j.Lines}
				n, ok := differ[d]
				if !ok {
					n = mismatch(a, b, p, d[0], d[1])
					differ[d] = n
				}
				// Neighbouring pixels differ together: one in twenty counts.
				score := math.Log(i.Probability) + math.Log(j.Probability) - float64(n)/20
				if score > best {
					best, least = score, n
					here, there = analyse.Shift{Pixels: i.Pixels, Lines: i.Lines}, analyse.Shift{Pixels: j.Pixels, Lines: j.Lines}
				}
			}
		}
		return least
	}
	doubted := own
	if len(own)*len(others) > 1 { // a place that is in doubt may also be one that was not thought of
		doubted = aboutThem(own, 8, 0)
	} else if laid {
		doubted = aboutThem(own, 2, 0)
	}
	least := put(doubted)
	if p.Kind == display.Text {
		was := [2]analyse.Shift{here, there}
		if n := put(aboutThem(own, 8, 8)); 2*n < least {
			least = n
		} else { // a fault of the raster fits somewhat better elsewhere too
			here, there = was[0], was[1]
		}
	}
	if least*5 > all { // not the same screen, wherever it is put
		return analyse.Shift{}, analyse.Shift{}
	}
	return here, there
}

// aboutThem adds the places so many pixels and lines about a picture's that it was not thought to have.
func aboutThem(own []analyse.Shift, pixels, lines int) []analyse.Shift {
	out := slices.Clone(own)
	for dy := -lines; dy <= lines; dy++ {
		for dx := -pixels; dx <= pixels; dx++ {
			if !slices.ContainsFunc(own, func(o analyse.Shift) bool { return o.Pixels == dx && o.Lines == dy }) {
				out = append(out, analyse.Shift{Pixels: dx, Lines: dy, Probability: unthought})
			}
		}
	}
	return out
}

// unthought is how often a picture lies some pixels aside of every place that its edges allowed.
const unthought = 0.003

// outlines marks the pixels that differ from the one to their left, by a 1.
func outlines(a []uint8, width int) []uint8 {
	out := make([]uint8, len(a))
	for i := range a {
		if i%width > 0 && a[i] != a[i-1] {
			out[i] = 1
		}
	}
	return out
}

func sum(a []uint8) (n int) {
	for _, v := range a {
		n += int(v)
	}
	return n
}

// mismatch counts the pixels of a at (x+dx, y+dy) that are not b's at (x, y); brightness is left out.
func mismatch(a, b []uint8, p *display.Profile, dx, dy int) int {
	n := 0
	for y := max(0, -dy); y < min(p.Height, p.Height-dy); y++ {
		for x := max(0, -dx); x < min(p.Width, p.Width-dx); x++ {
			u, v := a[(y+dy)*p.Width+x+dx], b[y*p.Width+x]
			if u != v && (p.Kind == display.Text || (u^v)&7 != 0) {
				n++
			}
		}
	}
	return n
}

// move puts a survey's registration elsewhere, for good.
func move(s *analyse.Survey, d analyse.Shift) {
	reg := &s.Registration
	reg.OriginX += float64(d.Pixels) * reg.PitchX
	reg.OriginY += float64(d.Lines) * reg.PitchY
	reg.Shifts = []analyse.Shift{{Probability: 1}}
	if d != (analyse.Shift{}) {
		reg.Reason = "placed by its reference"
	} else {
		reg.Reason = ""
	}
}

// moved reads a survey again at another place; what needs its fields one by one is left out.
func moved(s *analyse.Survey, p *display.Profile, font *display.Font, d analyse.Shift) *analyse.Survey {
	out := *s
	move(&out, d)
	v := &view{p: p, font: font}
	v.read(&out)
	keepFlash(&out, s, p, d)
	return &out
}

// keepFlash takes what flashes, which only time shows, from a survey for the same one at another place: of the old cells under a new one, that
// with most of it says.
func keepFlash(to, from *analyse.Survey, p *display.Profile, d analyse.Shift) {
	if p.Kind != display.Attr || from.Memory == nil || to.Memory == nil || len(to.Cells) != len(from.Cells) {
		return
	}
	near := func(cell, pixels, n int) int {
		return max(0, min(n-1, int(math.Floor(float64(cell*8+pixels)/8+0.5))))
	}
	for i := range to.Cells {
		c := &to.Cells[i]
		old := near(c.Row, d.Lines, p.Rows())*p.Columns() + near(c.Column, d.Pixels, p.Columns())
		a, b := p.CellAddress(c.Row, c.Column), p.CellAddress(from.Cells[old].Row, from.Cells[old].Column)
		if c.Flash = from.Cells[old].Flash; c.Flash {
			to.Memory.Bytes[a] |= 0x80
		}
		to.Memory.Seen[a] |= from.Memory.Seen[b] & 0x80
	}
}
