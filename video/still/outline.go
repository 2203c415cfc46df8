package still

import (
	"fmt"
	"image"
	"image/color"
	"slices"
	"strings"
)

const (
	mostLabels = 8  // groups that get a label
	mostNames  = 6  // different labels up to which regions are grouped by label
	laneWidth  = 6  // a lane is at most so many samples wide,
	laneHeight = 24 // and at least so many lines high
)

// A group is regions that are outlined as one, in samples and lines.
type group struct {
	rects  []image.Rectangle
	lane   bool
	byName bool // only regions of this label
	label  string
}

func (g *group) bounds() image.Rectangle {
	var r image.Rectangle
	for _, q := range g.rects {
		r = r.Union(q)
	}
	return r
}

// grouped puts regions together: pieces of one lane, then places that touch, so that
// hundreds of cells make a few outlines. With few different labels only places of
// the same label go together. Parts outside the field are cut off.
func grouped(regions []Region, width, height int) []*group {
	field := image.Rect(0, 0, width, height)
	type piece struct {
		r     image.Rectangle
		label string
	}
	var pieces []piece
	names := map[string]bool{}
	for _, q := range regions {
		r := image.Rect(q.X, q.Y, q.X+max(1, q.W), q.Y+max(1, q.H)).Intersect(field)
		if r.Empty() {
			continue
		}
		label := strings.Join(strings.Fields(q.Label), " ")
		names[label] = true
		pieces = append(pieces, piece{r, label})
	}
	// A column that was told cell by cell is one lane.
	columns := map[string][]piece{}
	var joined []piece
	var order []string
	for _, q := range pieces {
		if q.r.Dx() > laneWidth {
			joined = append(joined, q)
			continue
		}
		key := fmt.Sprintf("%d %d %s", q.r.Min.X, q.r.Max.X, q.label)
		if columns[key] == nil {
			order = append(order, key)
		}
		columns[key] = append(columns[key], q)
	}
	for _, key := range order {
		column := columns[key]
		slices.SortFunc(column, func(a, b piece) int { return a.r.Min.Y - b.r.Min.Y })
		for i, q := range column {
			if i > 0 && q.r.Min.Y <= joined[len(joined)-1].r.Max.Y {
				joined[len(joined)-1].r = joined[len(joined)-1].r.Union(q.r)
				continue
			}
			joined = append(joined, q)
		}
	}
	byName := len(names) <= mostNames
	var groups []*group
	lanes := map[string]*group{}
	var boxes []piece
	for _, q := range joined {
		if q.r.Dx() > laneWidth || q.r.Dy() < laneHeight {
			boxes = append(boxes, q)
			continue
		}
		g := lanes[q.label]
		if g == nil {
			g = &group{lane: true, label: q.label}
			lanes[q.label] = g
			groups = append(groups, g)
		}
		g.rects = append(g.rects, q.r)
	}
	parent := make([]int, len(boxes))
	for i := range parent {
		parent[i] = i
	}
	root := func(i int) int {
		for parent[i] != i {
			parent[i] = parent[parent[i]]
			i = parent[i]
		}
		return i
	}
	for i := range boxes {
		near := boxes[i].r.Inset(-2) // a pitch is no whole number of samples: gaps of one
		for j := range i {
			if (!byName || boxes[i].label == boxes[j].label) && near.Overlaps(boxes[j].r) {
				a, b := root(i), root(j)
				parent[max(a, b)] = min(a, b) // the first region's label stays
			}
		}
	}
	of := map[int]*group{}
	var places []*group
	for i, q := range boxes {
		r := root(i)
		if of[r] == nil {
			of[r] = &group{label: q.label, byName: byName}
			places = append(places, of[r])
		}
		of[r].rects = append(of[r].rects, q.r)
	}
	if !byName {
		for _, g := range places {
			if len(g.rects) > 1 {
				g.label += fmt.Sprintf(" and %d more", len(g.rects)-1)
			}
		}
	}
	// The largest first: they get the labels.
	slices.SortStableFunc(places, func(a, b *group) int { return len(b.rects) - len(a.rects) })
	return append(groups, places...)
}

// zoomOf is the part to enlarge: about the middle of the first group that is not too
// large to be seen as it is; 4:3 as it is shown. Empty when there is none.
func zoomOf(groups []*group, width, height int) image.Rectangle {
	w, h := max(8, width/11), max(8, height/11) // 4 or 5 cells across
	for _, g := range groups {
		r := g.rects[len(g.rects)/2]
		if g.lane {
			r = image.Rect(r.Min.X, r.Min.Y, r.Max.X, min(r.Max.Y, r.Min.Y+2*h))
		}
		if r.Dx() > w || r.Dy() > 2*h {
			continue
		}
		x := max(0, min(width-w, (r.Min.X+r.Max.X-w)/2))
		y := max(0, min(height-h, (r.Min.Y+r.Max.Y-h)/2))
		return image.Rect(x, y, x+w, y+h)
	}
	return image.Rectangle{}
}

// outline draws all groups.
func (p *print) outline(groups []*group) {
	// Places of different labels may lie in one another: a round each. With many labels
	// none was grouped by it and one round does for all.
	rounds := map[string][]*group{}
	var order []string
	for _, g := range groups {
		if g.lane {
			continue
		}
		name := ""
		if g.byName {
			name = g.label
		}
		if rounds[name] == nil {
			order = append(order, name)
		}
		rounds[name] = append(rounds[name], g)
	}
	for _, name := range order {
		p.frame(rounds[name])
	}
	for _, g := range groups {
		if g.lane {
			p.lane(g)
		}
	}
}

// labels puts plates by the groups, over all else; it tells how many got none.
func (p *print) labels(groups []*group) (unlabelled int) {
	for _, g := range groups {
		for _, r := range g.rects {
			p.marked = append(p.marked, p.place(r))
		}
	}
	said := map[string]bool{}
	labels := 0
	for _, g := range groups {
		switch {
		case g.label == "", said[g.label]: // one label a name
		case labels == mostLabels || !p.label(g):
			unlabelled++
		default:
			labels++
			said[g.label] = true
		}
	}
	return unlabelled
}

// frame draws the outline of places around them: casing, mark, casing.
func (p *print) frame(groups []*group) {
	near := p.distances(groups)
	for y := p.area.Min.Y; y < p.area.Max.Y; y++ {
		for x := p.area.Min.X; x < p.area.Max.X; x++ {
			switch d := near[(y-p.area.Min.Y)*shownW+x-p.area.Min.X]; {
			case d == 1, d == outlineReach:
				p.img.SetRGBA(x, y, ink)
			case d > 1 && d < outlineReach:
				p.img.SetRGBA(x, y, mark)
			}
		}
	}
}

const outlineReach = 5 // the print's pixels

// distances gives for each of the picture's pixels how far the nearest place is, the larger
// of the two steps, up to 9; 0 inside. A place on the picture's edge is drawn in a
// little, so that its outline is seen.
func (p *print) distances(groups []*group) []uint8 {
	const far = 9
	d := make([]uint8, shownW*shownH)
	for i := range d {
		d[i] = far
	}
	for _, g := range groups {
		for _, r := range g.rects {
			q := p.place(r).Inset(-1).Intersect(p.area.Inset(outlineReach)).Sub(p.area.Min) // closes gaps of a rounded sample
			for y := q.Min.Y; y < q.Max.Y; y++ {
				clear(d[y*shownW+q.Min.X : y*shownW+q.Max.X])
			}
		}
	}
	// Two passes suffice for this measure (Rosenfeld and Pfaltz, 1966). The picture's own
	// rim is never inside a place, so it can be left out.
	for y := 1; y < shownH-1; y++ {
		above, row := d[(y-1)*shownW:y*shownW], d[y*shownW:(y+1)*shownW]
		for x := 1; x < shownW-1; x++ {
			row[x] = min(row[x], min(row[x-1], above[x-1], above[x], above[x+1])+1)
		}
	}
	for y := shownH - 2; y > 0; y-- {
		row, below := d[y*shownW:(y+1)*shownW], d[(y+1)*shownW:(y+2)*shownW]
		for x := shownW - 2; x > 0; x-- {
			row[x] = min(row[x], min(row[x+1], below[x-1], below[x], below[x+1])+1)
		}
	}
	return d
}

// lane marks columns by points above and below, joined by a rail.
func (p *print) lane(g *group) {
	all := p.place(g.bounds())
	const size = 11 // of a point; and the rail beyond it
	upper, lower := max(all.Min.Y, p.area.Min.Y+size+5), min(all.Max.Y, p.area.Max.Y-size-5)
	rail := func(y int, c color.RGBA, grow int) {
		p.fill(image.Rect(all.Min.X-6-grow, y-1-grow, all.Max.X+6+grow, y+1+grow).Intersect(p.area), c)
	}
	point := func(cx float64, tip, base int, c color.RGBA, grow float64) {
		half := 4.5 + grow
		t, b := float64(tip), float64(base)
		if t > b {
			t += grow
		} else {
			t -= grow
		}
		r := image.Rect(int(cx-half-1), int(min(t, b))-1, int(cx+half+2), int(max(t, b))+2).Intersect(p.area)
		p.shape(r, c, func(x, y float64) bool {
			part := (y - t) / (b - t) // 0 at the tip
			return part >= 0 && part <= 1 && abs(x-cx) <= half*part
		})
	}
	for pass, c := range []color.RGBA{ink, mark} {
		grow := 1 - pass
		rail(upper-size, c, grow)
		rail(lower+size, c, grow)
		for _, r := range g.rects {
			q := p.place(r)
			cx := float64(q.Min.X+q.Max.X) / 2
			point(cx, upper-1, upper-size, c, 1.5*float64(grow))
			point(cx, lower+1, lower+size, c, 1.5*float64(grow))
		}
	}
	p.taken = append(p.taken, image.Rect(all.Min.X-6, upper-size-2, all.Max.X+6, upper), image.Rect(all.Min.X-6, lower, all.Max.X+6, lower+size+2))
}

// label puts a plate by its group, in the picture and clear of other plates; false when
// there is no room.
func (p *print) label(g *group) bool {
	s := p.fit(p.faces.label, g.label, shownW/3, false)
	const gap, padX, padY = 9, 9, 5
	w, h := p.width(p.faces.label, s)+2*padX+5, 18+2*padY
	b := p.place(g.rects[0])
	if g.lane || len(g.rects) > 1 {
		b = p.place(g.bounds())
	}
	if g.lane {
		b = image.Rect(b.Min.X, b.Min.Y-12, b.Max.X, b.Max.Y+12)
	}
	middle := (b.Min.X + b.Max.X - w) / 2
	var tries []image.Point
	for away := 0; away < 5; away++ {
		step := gap + away*(h+4)
		above, below := b.Min.Y-step-h, b.Max.Y+step
		xs := []int{b.Min.X - 4, b.Max.X + 4 - w, middle}
		if g.lane {
			xs = []int{middle, b.Min.X, b.Max.X - w}
		}
		for _, x := range xs {
			tries = append(tries, image.Pt(x, above), image.Pt(x, below))
		}
		beside := b.Min.Y + away*(h+4)
		tries = append(tries, image.Pt(b.Max.X+gap, beside), image.Pt(b.Min.X-gap-w, beside))
	}
	tries = append(tries, image.Pt(middle, b.Min.Y+gap)) // inside, for what fills the picture
	inner := p.area.Inset(4)
	var best image.Rectangle
	least := -1
	for n, at := range tries {
		r := image.Rectangle{at, at.Add(image.Pt(w, h))}
		// Sliding along the edge is fine, leaving it is not.
		r = r.Add(image.Pt(max(0, inner.Min.X-r.Min.X)-max(0, r.Max.X-inner.Max.X), 0))
		if !r.In(inner) || slices.ContainsFunc(p.taken, func(t image.Rectangle) bool { return r.Inset(-3).Overlaps(t) }) {
			continue
		}
		cost := n * w * h / 40 // nearer is better, and hiding marked places is worse than standing off
		for _, m := range p.marked {
			o := r.Intersect(m)
			cost += o.Dx() * o.Dy()
		}
		if least < 0 || cost < least {
			least, best = cost, r
		}
	}
	if least < 0 {
		return false
	}
	p.taken, p.plates = append(p.taken, best), append(p.plates, best)
	p.leader(best, b)
	p.fill(best.Inset(-1), ink)
	p.fill(best, paper)
	p.fill(image.Rect(best.Min.X, best.Min.Y, best.Min.X+5, best.Max.Y), mark)
	p.text(p.faces.label, ink, best.Min.X+5+padX, best.Min.Y+padY+15, s)
	return true
}

// leader joins a plate that stands off to its place.
func (p *print) leader(plate, place image.Rectangle) {
	x := max(plate.Min.X+8, min(plate.Max.X-8, (place.Min.X+place.Max.X)/2))
	from, to := 0, 0
	switch {
	case plate.Max.Y < place.Min.Y-12:
		from, to = plate.Max.Y, place.Min.Y-4
	case plate.Min.Y > place.Max.Y+12:
		from, to = place.Max.Y+4, plate.Min.Y
	default:
		return
	}
	p.fill(image.Rect(x-2, from, x+2, to), ink)
	p.fill(image.Rect(x-1, from, x+1, to), mark)
}
