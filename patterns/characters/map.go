package characters

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"math/bits"
	"slices"

	"backporch/analyse/text"
	"backporch/patterns"
	"backporch/patterns/nats"
)

// Screen codes that are not known, beside a reference: a lane that fails makes of every character one definite other one, or leaves
// it as it is.

// A characterMap is what became of the reference's characters. Two codes may have one picture, so that it becomes two.
type characterMap struct {
	became [][2]int // the shape of the reference, and one that shows in its place
	same   []int    // shapes that show as themselves alone
	sorts  int      // that show as others
	cells  int      // that show the other
	like   float64  // log-likelihood of the codes, whatever stands for whatever
}

// mapped reads the map of a lane that is stuck, or (weak) that fails here and there; in says in which cells (nil: in all), and in the
// others all stands for itself. ok is false where there is none.
func (t textCells) mapped(weak bool, in func(i int) bool) (m characterMap, ok bool) {
	became := tally{}
	near, misread, others := map[[2]int]bool{}, 0, 0
	filler, own := t.filler(in), t.ownLikeness()
	for i, seen := range t.seen.shape {
		if w := t.want.shape[i]; w >= 0 && seen >= 0 {
			pair := [2]int{w, seen}
			if _, ok := near[pair]; !ok {
				a, b := t.want.rowsOf(w), t.seen.rowsOf(seen)
				near[pair] = (bits.OnesCount64(a^b) <= mistakenFor || a == 0 && oneStroke(b)) && !(a == 0 && seen == filler) || own(w, seen) || weak && takenForChroma(a, b)
			}
			if near[pair] && seen != w { // so does the path change characters
				seen = w
				misread++
			}
			switch {
			case in == nil || in(i):
				became.add(w, seen)
			default:
				if others++; seen != w {
					misread++
				}
			}
		}
	}
	sources, stands := map[int]int{}, map[int]int{}
	for w, list := range became {
		for _, n := range list {
			stands[w] += n
		}
	}
	order := slices.SortedFunc(maps.Keys(became), func(a, b int) int { return cmp.Or(stands[b]-stands[a], a-b) })
	flips, flipped, wrong, all := 0, 0, misread, others
	for _, w := range order {
		own, n := became[w][w], 0
		var others []int
		for _, s := range slices.Sorted(maps.Keys(became[w])) {
			if n += became[w][s]; s != w {
				others = append(others, s)
			}
		}
		slices.SortStableFunc(others, func(a, b int) int { return became[w][b] - became[w][a] })
		all += n
		images := []float64{}
		if own > 0 {
			images = append(images, float64(own))
		}
		explained := own
		for k, s := range others {
			of := became[w][s]
			if k >= mostTwins || k > 0 && (of < 2 || of*10 < n) || own > 0 && of*10 < n && !weak || sources[s] >= mostTwins {
				break
			}
			explained += of
			images = append(images, float64(of))
			m.became = append(m.became, [2]int{w, s})
			m.cells += of
			m.like -= math.Log(256)
			if sources[s]++; sources[s] > 1 || became[s] != nil && became[s][s] == 0 {
				m.like -= notOfALane
			}
			flipped += of
		}
		wrong += n - explained
		if explained == own {
			m.same = append(m.same, w)
			continue
		}
		m.sorts++
		flips += explained
		if weak {
			images = images[min(1, own):] // whether it is itself or another is the rate's
		}
		if len(images) > 1 {
			m.like += math.Log(twinned)*float64(len(images)-1) + math.Min(0, sequence(images)+expected*float64(explained))
		}
	}
	m.like -= math.Ln2 * float64(len(became))
	m.like += nats.BetaSequence(wrong, all, 0.5, 50) - float64(wrong)*math.Log(glyphsMistaken)
	if weak {
		m.like += nats.BetaSequence(flipped, flips, 0.5, 3) + halfExpected(flipped, flips)
	}
	sorts := 2
	if in != nil { // the place says that it is memory's
		sorts = 1
	}
	return m, m.sorts >= sorts && m.cells >= leastFlips && !t.blurred(m)
}

// ownLikeness tells of a character and what shows in its place whether that is its own picture, spoilt: its strokes are thicker or thinner or lie a pixel aside, as
// where two captures were sampled otherwise, and of all characters of the reference it is the one that this is most like.
func (t textCells) ownLikeness() func(w, seen int) bool {
	sorts := map[int]bool{}
	for i, w := range t.want.shape {
		if w >= 0 && !t.want.blank[i] {
			sorts[w] = true
		}
	}
	return func(w, seen int) bool {
		a, b := t.want.rowsOf(w), t.seen.rowsOf(seen)
		if seen == w || a == 0 || b == 0 {
			return false
		}
		far, n := strokesApart(a, b)
		if far > twoDots || n > spoiltStrokes || sorts[seen] && far > 0 { // the reference may have a character in two ways, too
			return false
		}
		for other := range sorts {
			if other == seen {
				continue
			}
			if f, k := strokesApart(t.want.rowsOf(other), b); other != w && (f < far || f == far && k < n) {
				return false
			}
		}
		return true
	}
}

// strokesApart is how many pixels of either of two pictures have no ink of the other's in or beside their place, and how many differ.
func strokesApart(a, b uint64) (far, n int) {
	wide := text.EachLine(func(b uint8) uint8 { return b | b<<1 | b>>1 })
	return bits.OnesCount64(a&^wide(b)) + bits.OnesCount64(b&^wide(a)), bits.OnesCount64(a ^ b)
}

// ownTaken takes what is a character's own picture, spoilt, for the character.
func (t textCells) ownTaken() textCells {
	own, seen := t.ownLikeness(), *t.seen
	seen.shape = slices.Clone(seen.shape)
	for i, s := range seen.shape {
		if w := t.want.shape[i]; s >= 0 && w >= 0 && own(w, s) {
			seen.shape[i] = w
		}
	}
	t.seen = &seen
	return t
}

// takenForChroma tells of two pictures of which one is a pattern of single pixels and the other all of one colour, or has lines that are so: a decoder takes such pixels for chroma, in some cells and not in others.
func takenForChroma(a, b uint64) bool {
	if blended(a, b) || blended(b, a) {
		return true
	}
	even := func(v uint64) bool { return v == 0 || v == math.MaxUint64 }
	single := func(v uint64) bool { return bits.OnesCount64((v^v>>1)&0x7f7f7f7f7f7f7f7f) >= 56-singleStray }
	return even(a) && single(b) || even(b) && single(a)
}

// blended tells whether what shows is a character with its lines of single pixels each taken for chroma: they are even, or nearly so, and
// the other lines are as they were.
func blended(was, now uint64) bool {
	lines := 0
	for shift := 0; shift < 64; shift += 8 {
		a, b := uint8(was>>shift), uint8(now>>shift)
		switch {
		case bits.OnesCount8(a^b) <= 1:
		case bits.OnesCount8((a^a>>1)&0x7f) >= 6 && bits.OnesCount8((b^b>>1)&0x7f) <= 1:
			lines++
		default:
			return false
		}
	}
	return lines > 0
}

// fineTexture tells of a picture whose lines change within every two pixels or so: a path of little bandwidth leaves nothing of it.
func fineTexture(rows uint64) bool {
	for shift := 0; shift < 64; shift += 8 {
		if b := rows >> shift & 0xff; bits.OnesCount64((b^b>>1)&0x7f) < 3 {
			return false
		}
	}
	return true
}

// singleStray is how many of the 56 pairs of neighbours in a cell's lines may be alike where its pixels alternate one by one. Common practice, no source.
const singleStray = 8

// spoiltStrokes is how many pixels a character has wrong at the most whose strokes are a pixel too thick or too thin all along. Common practice, no source.
const spoiltStrokes = 20

// filler is the character that shows in most cells of which the reference has nothing in, of those that are in (nil: all), as where a lane makes one of
// the space; -1 where nothing does. Edges and the path leave something in some of them, and bars of the path's stand in all lines.
func (t textCells) filler(in func(i int) bool) int {
	count, of := map[int]int{}, 0
	for i, seen := range t.seen.shape {
		if t.want.shape[i] >= 0 && seen >= 0 && t.want.rows[i] == 0 && (in == nil || in(i)) {
			of++
			count[seen]++
		}
	}
	for seen, n := range count {
		if rows := t.seen.rowsOf(seen); 2*n > of && bits.OnesCount64(rows) > apartPixels && !barred(rows) {
			return seen
		}
	}
	return -1
}

// blurred tells of characters that are nearer to what shows in their places than characters are to each other: they were misread. A lane
// makes of a character any other.
func (t textCells) blurred(m characterMap) bool {
	const nearer = 0.6 // of the usual distance; common practice, no source
	seen := map[int]bool{}
	for _, s := range t.want.shape {
		if s >= 0 {
			seen[s] = true
		}
	}
	sorts := slices.Sorted(maps.Keys(seen))
	usual, pairs := 0.0, 0.0
	for k, a := range sorts {
		for _, b := range sorts[:k] {
			usual += float64(bits.OnesCount64(t.want.rowsOf(a) ^ t.want.rowsOf(b)))
			pairs++
		}
	}
	if pairs == 0 {
		return false
	}
	usual /= pairs
	sum, within := 0.0, 0
	for _, pair := range m.became {
		a, b := t.want.rowsOf(pair[0]), t.seen.rowsOf(pair[1])
		apart := float64(bits.OnesCount64(a ^ b))
		if bits.OnesCount64((a^b)&^strokeEnds(a)) > apartPixels { // no path changes what lies within
			apart = math.Max(apart, usual)
			within++
		}
		sum += apart
	}
	if 2*within > len(m.became) { // most are plainly others
		return false
	}
	return sum < nearer*usual*float64(len(m.became))
}

// strokeEnds are the pixels at either side of which ink ends or begins, in their line or at the cell's end.
func strokeEnds(rows uint64) (out uint64) {
	for shift := 0; shift < 64; shift += 8 {
		b := rows >> shift & 0xff
		out |= ((b^b<<1|b^b>>1)&0xff | 0x81) << shift
	}
	return out
}

// oneStroke tells of a cell with ink in one or two neighbouring pixel columns alone: what an edge nearby leaves in a cell that is blank.
func oneStroke(rows uint64) bool {
	all := uint64(0)
	for shift := 0; shift < 64; shift += 8 {
		all |= rows >> shift & 0xff
	}
	return all != 0 && all>>bits.TrailingZeros64(all) <= 3
}

// Of ten characters one looks like another in small cells; as few as these can be alike.
const (
	twinned   = 0.1
	mostTwins = 2
)

// sequence is the log-likelihood of a row of choices of which each was taken so many times, all shares being alike before.
func sequence(n []float64) float64 {
	total := 0.0
	like, _ := math.Lgamma(float64(len(n)))
	for _, k := range n {
		g, _ := math.Lgamma(k + 1)
		like += g
		total += k
	}
	g, _ := math.Lgamma(total + float64(len(n)))
	return like - g
}

// notOfALane is what it costs, in nats, that what shows in a character's place is changed itself, or shows in the place of two.
const notOfALane = 5.0

// fontless weighs a lane of the screen memory by the map alone, for every bit and level by how the characters look.
func (t *screenText) fontless(b textCells, plain, still float64, add func(f patterns.Fault, share, like float64, why ...string)) {
	colours := b.sameInks()
	for bit := range 8 { // as the reference has it but for what comes and goes
		if moving, why := t.time.weak("screen", bit); t.time.pairs != nil {
			add(patterns.Fault{Kind: "data-bit-weak", Bit: new(bit), Memory: "screen"}, screenShare/8, plain+moving, why)
		}
	}
	for _, weak := range []bool{false, true} {
		m, ok := b.mapped(weak, nil)
		if !ok || !weak && t.turnsOf(m) >= leastFlips { // a lane that is stuck holds, whenever one looks
			continue
		}
		kind, state := "data-bit-stuck", "always"
		if weak {
			kind, state = "data-bit-weak", "in some cells"
		}
		why := fmt.Sprintf("%d sorts of characters show %s as one definite other each, in %d cells, and %d as themselves: as a bit of their codes makes it", m.sorts, state, m.cells, len(m.same))
		looks, dots := b.looks(m, weak), b.dotted(m)
		if weak && len(t.time.changes) > 0 { // what has decayed before one looked shows so too
			decay, said := t.time.refresh(-1)
			add(patterns.Fault{Kind: "refresh-loss"}, 0.5, m.like+colours+dots+decay, said, why)
		}
		for bit := range 8 {
			for level := range 2 {
				f := patterns.Fault{Kind: kind, Bit: new(bit), Memory: "screen"}
				if !weak {
					f.Level = new(level)
				}
				like := m.like + colours + still + looks[bit][level] + dots
				add(f, screenShare/16, like, why)
				if g, share, ok := lineOfGenerator(hold{fault: f}); ok && !weak {
					add(g, share, like, why)
				}
			}
		}
	}
}

// turnsOf counts the cells that show a character at one time and at another what it becomes.
func (t *screenText) turnsOf(m characterMap) (n int) {
	became := map[[2]int]bool{}
	for _, pair := range m.became {
		became[pair], became[[2]int{pair[1], pair[0]}] = true, true
	}
	for i := range t.time.changes {
		if c := &t.time.changes[i]; became[[2]int{t.page.shape[c.At], c.shows}] {
			n++
		}
	}
	return n
}

// fontlessLines weighs a lane of the screen memory that fails in one row or column of its chip, in the same way.
func (t *screenText) fontlessLines(b textCells, still float64, add func(f patterns.Fault, share, like float64, why ...string)) {
	colours := b.sameInks()
	changed := func(in func(i int) bool, filler int) (n int) {
		for i, seen := range b.seen.shape {
			if w := b.want.shape[i]; w >= 0 && seen >= 0 && seen != w && in(i) && (bits.OnesCount64(b.want.rowsOf(w)^b.seen.rowsOf(seen)) > mistakenFor || seen == filler && b.want.blank[i]) {
				n++ // what is small is misread here and there, but not in all that is blank
			}
		}
		return n
	}
	everywhere := func(int) bool { return true }
	all := changed(everywhere, b.filler(everywhere))
	for _, h := range deadRows(t.e.Profile, func(memory string, bit, level int, in func(i int) bool) bool {
		return memory == "screen" && bit == 0 && level == 0 && 2*changed(in, b.filler(in)) > all // the others would be misread
	}) {
		m, ok := b.mapped(false, h.in)
		if !ok || 2*m.cells <= all {
			continue
		}
		looks := b.looks(m, false)
		n := changed(h.in, b.filler(h.in))
		why := fmt.Sprintf("%d of the %d cells that differ from the reference are one %s of the chips', and show one definite other character for each", n, max(n, all), map[bool]string{true: "row", false: "column"}[h.fault.Row != nil])
		for bit := range 8 {
			for level := range 2 {
				f := h.fault
				f.Bit, f.Level = new(bit), new(level)
				add(f, h.share, m.like+colours+still+looks[bit][level], why)
			}
		}
	}
}

// sameInks is the log-likelihood of the inks where no lane changes them.
func (t textCells) sameInks() float64 {
	inks := tally{}
	for i := range t.seen.ink {
		if w, s := t.want.ink[i], t.seen.ink[i]; w >= 0 && s >= 0 {
			inks.add(w, s)
		}
	}
	return inks.weigh(inksMistaken, t.anotherInk, t.inksApart)
}
