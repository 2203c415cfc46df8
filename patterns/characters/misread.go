package characters

// What is misread on a Text display, and what can't be seen.

import (
	"math"
	"math/bits"
	"slices"

	"backporch/analyse"
	"backporch/patterns"
	"backporch/video"
)

// unseenInk is the log-likelihood of these cells, in order, of so many having their background's colour as ink: few screens have
// any, and then it is a few runs, or here and there a cell.
func unseenInk(cells []int, p *page) float64 {
	if len(cells) == 0 {
		return 0
	}
	runs := 0
	for k, i := range cells {
		if k == 0 || cells[k-1] != i-1 || i%p.columns == 0 {
			runs++
		}
	}
	return math.Log(hasPatch) - math.Min(patchRun*float64(runs-1), patchCell*math.Max(0, float64(len(cells))-largePatch*float64(len(p.shape))))
}

// hiddenInk is the log-likelihood of these cells holding a character in their background's colour, where nothing is known of their inks: each run
// of them is a patch of its own, but where it stands just below another as long. That it goes on with an ink that hardly shows makes it likelier as far as such ink is seldom.
func (p *page) hiddenInk(cells []int) float64 {
	if len(cells) == 0 {
		return 0
	}
	hidden, faint := make([]bool, len(p.shape)), 0
	for _, i := range cells {
		hidden[i] = true
	}
	for _, f := range p.faint {
		if f {
			faint++
		}
	}
	beside := math.Max(0, patchRun+math.Log(math.Min(1, 2*float64(faint+1)/float64(len(p.faint)))))
	cost := 0.0
	for i := range hidden {
		if !hidden[i] || i%p.columns > 0 && hidden[i-1] {
			continue
		}
		end := i + 1
		for end%p.columns > 0 && hidden[end] {
			end++
		}
		if p.goesOn(hidden, i, end) {
			continue
		}
		if i%p.columns > 0 && p.faint[i-1] || end%p.columns > 0 && p.faint[end] {
			cost += beside
		} else {
			cost += patchRun
		}
	}
	return math.Log(hasPatch) - math.Max(0, cost-patchRun)
}

// goesOn tells whether a run of cells, from the first to before the end, goes on with one as long in the line above.
func (p *page) goesOn(in []bool, first, end int) bool {
	first, end = first-p.columns, end-p.columns
	if first < 0 || first%p.columns > 0 && in[first-1] || (end%p.columns > 0 && in[end]) {
		return false
	}
	return !slices.Contains(in[first:end], false)
}

// hides is how often a cell's ink is its background's colour: where many inks are used that is one as well as another.
func (p *page) hides() float64 {
	used := map[int]bool{}
	for _, ink := range p.ink {
		if ink >= 0 {
			used[ink] = true
		}
	}
	return float64(len(used)) / (16 * 16)
}

// glyphsApart is what it costs, in nats, that one shape is taken for another throughout: a stroke lost is four pixels
// or so, and each further one is half a nat; dots tells of two that differ by a dot or two.
func (t textCells) glyphsApart(a, b int) (far float64, dots bool) {
	n := bits.OnesCount64(t.want.rowsOf(a) ^ t.seen.rowsOf(b))
	return 0.5 * math.Max(0, float64(n-4)), n <= twoDots
}

// twoDots are as few pixels as one cell has read of them and the next one not, by the subcarrier's phase. Common practice, no source.
const twoDots = 2

// settle takes cells for the reference's where a decoder may have made the difference: another trap or comb spoils pixels of the same character in
// another way. They must be nearer to their own character than to any other on the reference, and no pixel column may hold most of what
// differs, as with a bit of the generator, where none is held already; but has the pixels beside that one, which say nothing.
func (p *page) settle(want *page, but uint64) {
	var columns [8]int
	var spoilt []int
	written, total, others := 0, 0, 0
	for i, shape := range p.shape {
		w := want.shape[i]
		if shape < 0 || w < 0 || p.blank[i] || want.blank[i] {
			continue
		}
		written++
		diff := p.rows[i] ^ want.rowsOf(w)
		switch n := bits.OnesCount64(diff); {
		case shape == w:
			continue
		case n > spoiltPixels:
			others++
			continue
		}
		spoilt = append(spoilt, i)
		for diff &^= but; diff != 0; diff &= diff - 1 {
			columns[bits.TrailingZeros64(diff)%8]++
			total++
		}
	}
	if len(spoilt) == 0 || others > len(spoilt) || total > usuallySpoilt*written || but == 0 && 5*slices.Max(columns[:]) > 2*total {
		return
	}
	sorts := map[int]bool{}
	for i, w := range want.shape {
		if w >= 0 && !want.blank[i] {
			sorts[w] = true
		}
	}
	for _, i := range spoilt {
		own, least := bits.OnesCount64(p.rows[i]^want.rowsOf(want.shape[i])), 64
		for w := range sorts {
			if w != want.shape[i] {
				least = min(least, bits.OnesCount64(p.rows[i]^want.rowsOf(w)))
			}
		}
		if own+apartPixels <= least {
			p.shape[i], p.code[i] = want.shape[i], want.code[i]
		}
	}
}

// manyApart is of how many cells one must plainly differ for that. Common practice, no source.
const manyApart = 10

// doubt takes it back that cells show otherwise than the reference while the two pictures don't say so: another character is neither the good machine's for sure nor a
// fault's, and of the same one no pixels are wrong. Where the pictures do say so of most that differ, all over the screen,
// the rest is as these are.
func (p *page) doubt(cells []analyse.Cell, want *page) {
	hardly, plainly := 0, 0
	for i := range cells {
		switch {
		case p.rows[i] == want.rows[i]:
		case hardlyApart(&cells[i]):
			hardly++
		case cells[i].Apart >= patterns.PlainlyApart:
			plainly++
		}
	}
	if plainly > hardly && plainly*manyApart > len(cells) {
		return
	}
	p.unsaid = make([]bool, len(cells))
	for i := range cells {
		switch {
		case !hardlyApart(&cells[i]):
		case p.shape[i] == want.shape[i]:
			p.rows[i] = want.rows[i]
		default:
			p.unsaid[i], p.shape[i], p.code[i] = true, -1, -1
		}
	}
}

// settled is the page with the same done beside a screen whose characters show as others.
func (p *page) settled(want *page, shows func(shape int) int, but uint64) *page {
	out, as := *p, *want
	as.font = p.font // which may be the one that is changed
	out.shape, out.code = slices.Clone(p.shape), slices.Clone(p.code)
	as.shape = slices.Clone(want.shape)
	as.blank = slices.Clone(want.blank)
	for i, shape := range as.shape {
		if shape >= 0 {
			as.shape[i] = shows(shape)
			as.blank[i] = as.rowsOf(as.shape[i]) == 0
		}
	}
	out.settle(&as, but)
	return &out
}

// A decoder spoils so many pixels of a character of 64 at the most, and so many of those written on the mean. Common practice, no source.
const (
	spoiltPixels  = 12
	usuallySpoilt = 5
)

// inksApart is the same for colours: they are misread by a thirtieth of white or so.
func (t textCells) inksApart(a, b int) (far float64, dots bool) {
	return math.Min(12, apartYUV(t.e.Profile.Colours[a].YUV, t.e.Profile.Colours[b].YUV)/0.03), false
}

// doubtInks leaves out the inks of a reference that hardly show in the capture where the others do: what is hard to read there was hard to
// read here; and those of a few cells among many whose ink was not read at all. Fine strokes look like chroma to a decoder, so that a
// reference has colours that nobody has written.
func (p *page) doubtInks(seen *page) {
	unread, of := map[int]int{}, map[int]int{}
	all, total, blurred := 0, 0, p.blurred()
	for i, ink := range p.ink {
		if ink < 0 || seen.shape[i] < 0 || seen.blank[i] {
			continue
		}
		of[ink]++
		total++
		if seen.ink[i] < 0 {
			unread[ink]++
			all++
		}
	}
	for i, ink := range p.ink {
		n := of[ink]
		if n == 0 || ink < 0 {
			continue
		}
		if 2*unread[ink] >= n && unread[ink]*(total-n) > 2*n*(all-unread[ink]) || float64(n) <= fewInk*float64(blurred) {
			p.ink[i] = -1
		}
	}
}

// Of the cells whose ink was read so many, for each whose ink was not, may have been misread: an ink of fewer may be nobody's, and
// half as many changes of ink no lane's. Common practice, no source.
const fewInk = 0.2

// oddInks counts the inks that differ from the reference's.
func (t textCells) oddInks() (n int) {
	for i, ink := range t.seen.ink {
		if w := t.want.ink[i]; w >= 0 && ink >= 0 && ink != w && t.seen.shape[i] >= 0 && t.want.shape[i] >= 0 {
			n++
		}
	}
	return n
}

// fewInks tells whether what a fault of the colour memory explains, of so many inks that differ, is as well misread: less than
// two thirds of them, or few beside the inks that were not read at all.
func (t textCells) fewInks(explained, odd int) bool {
	return explained < leastFlips || 3*explained <= 2*odd || float64(explained) < fewInk/2*float64(t.seen.blurred())
}

// blurred counts the written cells whose ink was not read.
func (p *page) blurred() int {
	n := 0
	for i, ink := range p.ink {
		if ink < 0 && p.shape[i] >= 0 && !p.blank[i] {
			n++
		}
	}
	return n
}

// anyGlyph is what a misread glyph costs, whichever it is.
func anyGlyph(int, int) float64 { return math.Log(glyphsMistaken) }

// anotherInk is what it costs that one ink is read as another: those nearby are the likelier.
func (t textCells) anotherInk(want, seen int) float64 {
	sum := 0.0
	near := func(k int) float64 {
		return math.Exp(-apartYUV(t.e.Profile.Colours[want].YUV, t.e.Profile.Colours[k].YUV) / nearInk)
	}
	for k := range t.e.Profile.Colours {
		if k != want {
			sum += near(k)
		}
	}
	return math.Log(sum / near(seen))
}

// nearInk is the distance, in parts of white, over which a colour is misread e times as seldom. Common practice, no source.
const nearInk = 0.1

func apartYUV(a, b video.YUV) float64 {
	return math.Hypot(a.Y-b.Y, math.Hypot(a.U-b.U, a.V-b.V))
}
