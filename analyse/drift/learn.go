package drift

import (
	"math"
	"slices"

	"backporch/analyse"
	"backporch/video"
)

const (
	// least is the share of fields that a state must have been seen in; rarer ones are faults.
	least = 0.12
	// apart is the difference of mean codes, over 4 samples by 4 lines, that parts two states.
	apart = 10
	// restlessAfter is how often a place is learned anew in a spell before it counts as moving.
	restlessAfter = 5
	// spell is how many fields such a count and a moving place last: five minutes.
	spell = 15000
)

// learn learns the whole picture from the ring, if there is one that stands still.
func (w *Watcher) learn(r *Reading) {
	s := w.state(len(w.ring))
	switch s.State {
	case analyse.NoSignal:
		r.Kind = NoSignal
	case analyse.NoLock:
		r.Kind = LostLock
	}
	if r.Kind != Learning {
		w.held = 0 // another two seconds
		return
	}
	fields := w.recent(len(w.ring))
	w.sigma = noiseOf(fields)
	w.threshold = limit + int(6*w.sigma)
	w.restless = allEqual(fields)
	all := make([]bool, w.columns*w.rows)
	for i := range all {
		all[i] = true
	}
	w.learnPlaces(fields, all, true)
	w.series.baseline(w, fields)
	w.learned = true
}

// allEqual: a source without noise, such as one still; its repeats mean nothing.
func allEqual(fields []*video.Field) bool {
	for i := 2; i < len(fields); i++ {
		if !slices.Equal(fields[i].Y, fields[i-2].Y) {
			return false
		}
	}
	return true
}

// learnPlaces learns those places from fields. anew forgets the states they had.
func (w *Watcher) learnPlaces(fields []*video.Field, which []bool, anew bool) {
	var by [2][]*video.Field
	for _, f := range fields {
		by[f.Parity&1] = append(by[f.Parity&1], f)
	}
	for k := range by {
		if len(by[k]) == 0 { // single fields: both are the one
			by[k] = by[1-k]
		}
		p := &w.kept[k]
		sortings := make([]sorting, 0, len(which))
		for i, wanted := range which {
			if wanted {
				sortings = append(sortings, w.sorted(by[k], i%w.columns, i/w.columns))
			}
		}
		skip, next := odd(len(by[k]), sortings), 0
		for i, wanted := range which {
			if !wanted {
				continue
			}
			if k == 0 {
				w.moving[i] = false
			}
			states := sortings[next].members(by[k], skip)
			next++
			if len(states) == 0 {
				w.moving[i] = true
				continue
			}
			first := uint8(0)
			if !anew && len(states) == 1 {
				first = 1 - p.prefer[i] // what it was stays the other state
				p.has[i] = 2
			} else {
				p.has[i] = uint8(len(states))
			}
			for n, members := range states {
				s := first ^ uint8(n)
				w.span(p.state[s], members, i%w.columns, i/w.columns)
			}
			p.prefer[i] = first
		}
		if anew {
			p.rows = lineMeans(by[k])
		}
	}
}

// A sorting is what a place shows in some fields: groups of fields that look alike, the largest first.
type sorting struct {
	features [][blockWidth / 4]float32
	groups   [][]int
}

// sorted sorts fields by what a place shows in them.
func (w *Watcher) sorted(fields []*video.Field, column, row int) sorting {
	s := sorting{features: make([][blockWidth / 4]float32, len(fields))}
	for j, f := range fields {
		s.features[j] = boxMeans(f, column, row)
	}
	bound := float32(max(apart, 6*w.sigma/4))
	taken := make([]bool, len(fields))
	for seed := range fields {
		if taken[seed] {
			continue
		}
		var group []int
		for j := seed; j < len(fields); j++ {
			if !taken[j] && distance(s.features[j], s.features[seed]) <= bound {
				taken[j] = true
				group = append(group, j)
			}
		}
		s.groups = append(s.groups, group)
	}
	slices.SortStableFunc(s.groups, func(a, b []int) int { return len(b) - len(a) })
	return s
}

// distance is the greatest difference of two features.
func distance(a, b [blockWidth / 4]float32) float32 {
	most := float32(0)
	for i := range a {
		most = max(most, a[i]-b[i], b[i]-a[i])
	}
	return most
}

// states are how many groups are large enough to be states, at most two. Flashing and cursors stay in a
// state for some fields; what changes all the time is the crawling subcarrier, in one state.
func (s *sorting) states(fields int) int {
	n := 0
	for n < min(len(s.groups), 2) && float64(len(s.groups[n])) >= least*float64(fields) {
		n++
	}
	if n < 2 {
		return n
	}
	in := make([]bool, fields)
	for _, j := range s.groups[1] {
		in[j] = true
	}
	changes := 0
	for j := 1; j < fields; j++ {
		if in[j] != in[j-1] {
			changes++
		}
	}
	if changes > fields/5 {
		return 1
	}
	return 2
}

// odd picks the fields that are faulty: out of the states of their places in far more places than
// the others. What crawls is out of them now and then in every field alike.
func odd(fields int, places []sorting) []bool {
	count := make([]int, fields)
	for i := range places {
		n := 0 // groups that are no fault
		for n < len(places[i].groups) && float64(len(places[i].groups[n])) >= least*float64(fields) {
			n++
		}
		for _, group := range places[i].groups[n:] {
			for _, j := range group {
				count[j]++
			}
		}
	}
	sorted := slices.Clone(count)
	slices.Sort(sorted)
	bound := 8 + 4*sorted[fields/2]
	out := make([]bool, fields)
	for j, n := range count {
		out[j] = n > bound
	}
	return out
}

// members gives the fields of each state of a place, those that are no state's with the state they are
// nearest to; none when the place shows something else all the time.
func (s *sorting) members(fields []*video.Field, skip []bool) [][]*video.Field {
	n := s.states(len(fields))
	if n == 0 {
		return nil
	}
	out := make([][]*video.Field, n)
	for _, group := range s.groups {
		for _, j := range group {
			if skip[j] {
				continue
			}
			best := 0
			if n > 1 && distance(s.features[j], s.features[s.groups[1][0]]) < distance(s.features[j], s.features[s.groups[0][0]]) {
				best = 1
			}
			out[best] = append(out[best], fields[j])
		}
	}
	return slices.DeleteFunc(out, func(m []*video.Field) bool { return len(m) == 0 })
}

// boxMeans are the mean lumas of a place's four parts; the subcarrier averages out in them.
func boxMeans(f *video.Field, column, row int) (out [blockWidth / 4]float32) {
	x0, y0 := column*blockWidth, row*blockHeight
	y1 := min(y0+blockHeight, f.Height)
	for b := range out {
		sum, n := 0, 0
		for y := y0; y < y1; y++ {
			for x := x0 + 4*b; x < min(x0+4*b+4, f.Width); x++ {
				sum += int(f.Y[y*f.Width+x])
				n++
			}
		}
		if n > 0 {
			out[b] = float32(sum) / float32(n)
		}
	}
	return out
}

// span sets a place's ranges to those of the fields, and somewhat beyond.
func (w *Watcher) span(e *envelope, fields []*video.Field, column, row int) {
	box := &e.boxes[row*w.columns+column]
	for j, f := range fields {
		m := boxMeans(f, column, row)
		for i, v := range m {
			if j == 0 || v < box.low[i] {
				box.low[i] = v
			}
			if j == 0 || v > box.high[i] {
				box.high[i] = v
			}
		}
	}
	x0, x1 := column*blockWidth, min((column+1)*blockWidth, w.width)
	y0, y1 := row*blockHeight, min((row+1)*blockHeight, w.height)
	for y := y0; y < y1; y++ {
		line := y * w.width
		e.y.span1(fields, func(f *video.Field) []uint8 { return f.Y }, line, line+w.width, line+x0, line+x1, w.sigma)
		if w.chroma == 0 || y%chromaLines != 0 {
			continue
		}
		line = y * w.chroma
		from, to := line+x0*w.chroma/w.width, line+x1*w.chroma/w.width
		e.cb.span1(fields, func(f *video.Field) []uint8 { return f.Cb }, line, line+w.chroma, from, to, w.sigma)
		e.cr.span1(fields, func(f *video.Field) []uint8 { return f.Cr }, line, line+w.chroma, from, to, w.sigma)
	}
}

// reach is how many samples to either side lend their range: the subcarrier has three or four samples a
// period, so that one of so many neighbours has shown its whole swing even where the training saw only a part of
// the slow turn by which it crawls.
const reach = 2

// span1 is span on one line of a plane. The range of 48 samples of a normal distribution is about
// 4.4 sigma; with a quarter of it and 1.5 sigma more on either side it reaches 4.8 sigma and pad codes.
func (b *bounds) span1(fields []*video.Field, plane func(*video.Field) []uint8, line, end, from, to int, sigma float64) {
	first, last := max(from-reach, line), min(to+reach, end)
	var low, high [blockWidth + 2*reach]uint8
	for i := range low {
		low[i] = 255
	}
	for _, f := range fields {
		for i, v := range plane(f)[first:last] {
			low[i], high[i] = min(low[i], v), max(high[i], v)
		}
	}
	for at := from; at < to; at++ {
		i := at - first
		width := 0.0
		for k := max(i-reach, 0); k <= min(i+reach, last-first-1); k++ {
			width = max(width, float64(high[k])-float64(low[k]))
		}
		middle := (float64(low[i]) + float64(high[i])) / 2
		half := width/2 + pad + width/4 + 1.5*sigma
		lo := math.Max(0, math.Floor(middle-half))
		hi := math.Min(255, math.Ceil(middle+half))
		b.lo[at], b.span[at] = uint8(lo), uint8(hi-lo)
	}
}

// relearn counts how long places have differed, and learns those anew that differ for good.
func (w *Watcher) relearn() int {
	ripe := 0
	for i, bad := range w.bad {
		if bad {
			if w.run[i]++; w.run[i] >= settled {
				ripe++
			}
		}
	}
	if w.fields%spell == 0 {
		clear(w.relearned)
		w.retry()
	}
	if ripe == 0 {
		return 0
	}
	which := make([]bool, len(w.run))
	for i := range which {
		// A neighbour that began a little later belongs to the same change.
		if w.run[i] < settled/2 {
			continue
		}
		which[i] = true
		w.run[i] = 0
		if w.relearned[i]++; w.relearned[i] >= restlessAfter {
			which[i] = false
			w.moving[i] = true
		}
	}
	fields := w.recent(settled / 2)
	w.learnPlaces(fields, which, false)
	w.series.rebase(w, which, fields)
	for k := range w.kept {
		var own []*video.Field
		for _, f := range fields {
			if f.Parity&1 == k {
				own = append(own, f)
			}
		}
		if len(own) > 0 {
			w.kept[k].rows = lineMeans(own)
		}
	}
	return ripe
}

// retry watches moving places again, from what they show now.
func (w *Watcher) retry() {
	which, n := make([]bool, len(w.moving)), 0
	for i, m := range w.moving {
		if m {
			which[i] = true
			n++
		}
	}
	if n > 0 {
		w.learnPlaces(w.recent(len(w.ring)), which, true)
	}
}

// lineMeans are the mean lumas of the lines, over all fields.
func lineMeans(fields []*video.Field) []float64 {
	if len(fields) == 0 {
		return nil
	}
	out := make([]float64, fields[0].Height)
	for _, f := range fields {
		for y, v := range profile(f) {
			out[y] += v / float64(len(fields))
		}
	}
	return out
}

// profile is the mean luma of every line of a field, of every fourth sample.
func profile(f *video.Field) []float64 {
	out := make([]float64, f.Height)
	for y := range out {
		sum, n := 0, 0
		line := f.Line(y)
		for x := 0; x < len(line); x += 4 {
			sum += int(line[x])
			n++
		}
		out[y] = float64(sum) / float64(n)
	}
	return out
}
