package characters

import (
	"fmt"
	"maps"
	"math"
	"math/bits"
	"slices"

	"gonum.org/v1/gonum/stat/combin"

	"backporch/analyse/text"
	"backporch/patterns"
	"backporch/patterns/nats"
)

// A character generator that has lost some of its cells, beside a reference: codes whose glyph is another one, or has a few pixels wrong.

// wrongCodes finds the codes whose glyph is another one throughout, as a generator has them that has lost some of its cells, and the
// log-likelihood of the screen with them; plain is that of none. ok is false where there are none.
func (t textCells) wrongCodes(plain float64) (f patterns.Fault, like float64, why string, ok bool) {
	all := t
	t = t.ownTaken() // what a path makes of a character says nothing of the others
	taken := 0
	for i, s := range t.seen.shape {
		if s != all.seen.shape[i] {
			taken++
		}
	}
	became := tally{}
	for i, seen := range t.seen.shape {
		if w := t.want.shape[i]; w >= 0 && seen >= 0 {
			became.add(w, seen)
		}
	}
	f = patterns.Fault{Kind: "character-generator"}
	if t.seen.fits && !t.want.fits { // the characters are the font's: it is the reference that was misread
		return f, 0, "", false
	}
	wrong, cells, clear, twins, looks := map[int]int{}, 0, 0, 0, 0.0
	usual := t.want.usualEdges()
	for _, want := range slices.Sorted(maps.Keys(became)) {
		all, most, other := 0, 0, -1
		for _, seen := range slices.Sorted(maps.Keys(became[want])) {
			n := became[want][seen]
			if all += n; seen != want && n > most {
				most, other = n, seen
			}
		}
		twin := 0
		if want > 255 { // two characters that are nearly alike have one number where the font is not known
			twin = min(most, became[want][want])
		}
		dots := want > 255 && other > 255 && dotsOnly(t.seen.rowsOf(other)) && strokeless(t.seen.rowsOf(other), usual) >= surelyDots
		if most < 2 && !dots || (most+twin)*10 < all*9 || t.seen.rowsOf(other) == 0 && fineTexture(t.want.rowsOf(want)) ||
			takenForChroma(t.want.rowsOf(want), t.seen.rowsOf(other)) {
			continue
		}
		if far, _ := strokesApart(t.want.rowsOf(want), t.seen.rowsOf(other)); far <= twoDots && taken >= most { // where strokes are too thick or too thin there, they are here
			continue
		}
		wrong[want] = other
		if want > 255 && other > 255 {
			looks += strokeless(t.seen.rowsOf(other), usual)
		}
		cells += most
		if twin > 0 {
			twins++
		}
		if bits.OnesCount64(t.want.rowsOf(want)^t.seen.rowsOf(other)) > mistakenFor { // what is nearly alike the path makes so
			clear += most
		}
		if want < 256 && t.want.fits {
			f.Codes = append(f.Codes, want)
		}
	}
	// Of others that are read as themselves the same few pixels are wrong wherever they stand.
	spoilt, gain := map[int]float64{}, 0.0
	for w, g := range t.spoilt() {
		if _, ok := wrong[w]; !ok {
			spoilt[w] = g
		}
	}
	for _, w := range slices.Sorted(maps.Keys(spoilt)) {
		gain += spoilt[w]
		if w < 256 && t.want.fits {
			f.Codes = append(f.Codes, w)
		}
		for i, s := range t.want.shape {
			if s == w && t.seen.shape[i] >= 0 {
				cells++
			}
		}
	}
	slices.Sort(f.Codes)
	sorts := len(wrong) + len(spoilt)
	if clear < leastFlips && len(spoilt) == 0 || sorts > max(fewCodes, len(became)/8) {
		return f, 0, "", false
	}
	like = plain - t.weigh(t.plain, true) + t.weigh(func(i int) (int, int) {
		shape, ink := t.plain(i)
		if other, ok := wrong[shape]; ok && (shape < 256 || t.seen.shape[i] != shape) {
			shape = other
		}
		return shape, ink
	}, true)
	like += nats.BetaSequence(sorts, len(became), 0.5, 40) - float64(len(wrong))*math.Log(256) + float64(twins)*math.Log(twinned) + looks + gain
	if len(wrong) > 0 && 2*t.misreadBeside(wrong) >= clear { // half as many others are misread: one that stands twice is misread twice
		like = math.Min(like, plain)
	}
	why = fmt.Sprintf("one character is another one in all %d cells where it stands", cells)
	if sorts > 1 {
		why = fmt.Sprintf("%d of %d sorts of characters are another picture each wherever they stand, in %d cells", sorts, len(became), cells)
	}
	return f, like, why, true
}

// misreadBeside counts the cells that clearly show another character than they should, of sorts that are not wrong throughout.
func (t textCells) misreadBeside(wrong map[int]int) int {
	n := 0
	for i, seen := range t.seen.shape {
		w := t.want.shape[i]
		if _, ok := wrong[w]; w < 0 || seen < 0 || seen == w || ok {
			continue
		}
		lost := t.seen.blank[i] && !t.want.blank[i] // however little there was of it
		if lost || bits.OnesCount64(t.want.rowsOf(w)^t.seen.rowsOf(seen)) > mistakenFor {
			n++
		}
	}
	return n
}

// fewCodes are as many as a generator may have lost on a screen of few: where more are wrong it is a line of its data or of its address,
// or the path. Common practice, no source.
const fewCodes = 4

// edges counts the pixels of a cell that differ from their right or lower neighbour, of 112 pairs.
func edges(rows uint64) int {
	return bits.OnesCount64((rows^rows>>1)&0x7f7f7f7f7f7f7f7f) + bits.OnesCount64((rows^rows>>8)&0x00ffffffffffffff)
}

// usualEdges is the part of such pairs that differ in the characters of a page.
func (p *page) usualEdges() float64 {
	seen, n := map[int]bool{}, 0
	for i, s := range p.shape {
		if s >= 0 && !p.blank[i] && !seen[s] {
			seen[s] = true
			n += edges(p.rowsOf(s))
		}
	}
	return float64(n+1) / float64(112*len(seen)+4)
}

// strokeless is, in nats, how much likelier a picture is as a glyph whose bits were lost than as a character: strokes have ink beside ink,
// and of bits at random every second differs from its neighbour.
func strokeless(rows uint64, usual float64) float64 {
	n := edges(rows)
	return math.Max(-surelyDots, math.Min(surelyDots, float64(n)*math.Log(0.5/usual)+float64(112-n)*math.Log(0.5/(1-usual))))
}

// surelyDots is as much as the strokes of a character may say, nats: some graphics have none. Common practice, no source.
const surelyDots = 3.0

// dotted is what it costs, in nats (0 or less), that what a lane makes of characters has no strokes, as a generator's lost glyphs have none: it is another character.
func (t textCells) dotted(m characterMap) (cost float64) {
	usual := t.want.usualEdges()
	for _, pair := range m.became {
		cost -= math.Max(0, strokeless(t.seen.rowsOf(pair[1]), usual))
	}
	return cost
}

// spoilt finds characters that are still read as themselves, with the same few pixels wrong wherever they stand: by shape of the reference, ln of
// how much likelier its pixels are with bits of it lost than misread, where that speaks for it.
// What a path does to one character it does to the others: their pixels say how many it has wrong. At edges it has more wrong than
// where a pixel has its own kind on both sides.
func (t textCells) spoilt() map[int]float64 {
	votes := map[int]*[64]int{}
	before := map[int]*[64]int{}
	cells := map[int]int{}
	for i, seen := range t.seen.shape {
		w := t.want.shape[i]
		if seen < 0 || w < 0 || t.want.blank[i] && t.seen.blank[i] {
			continue
		}
		if votes[w] == nil {
			votes[w], before[w] = &[64]int{}, &[64]int{}
		}
		cells[w]++
		for k := range 64 {
			votes[w][k] += int(t.seen.rows[i] >> k & 1)
			before[w][k] += int(t.want.rows[i] >> k & 1)
		}
	}
	// Pixels that most cells have wrong, in all sorts: at edges, and elsewhere.
	wrong, of := map[int][2]int{}, map[int][2]int{}
	var total, all [2]int
	for w, n := range cells {
		var was, now uint64
		for k := range 64 {
			if 2*before[w][k] > n {
				was |= 1 << k
			}
			if 2*votes[w][k] > n {
				now |= 1 << k
			}
		}
		if takenForChroma(was, now) { // it is the decoder that has it so
			delete(cells, w)
			continue
		}
		edge := besideEdges(was)
		apart := was ^ now
		k := [2]int{bits.OnesCount64(apart & edge), bits.OnesCount64(apart &^ edge)}
		wrong[w] = k
		inside := bits.OnesCount64(^edge)
		of[w] = [2]int{64 - inside, inside}
		for j := range k {
			total[j] += k[j]
			all[j] += of[w][j]
		}
	}
	out := map[int]float64{}
	for _, w := range slices.Sorted(maps.Keys(wrong)) {
		k := wrong[w]
		if cells[w] < leastSteadily || k[0]+k[1] < 2 {
			continue
		}
		misread := 0.0
		for j := range k { // as the other sorts have them
			rate := (float64(total[j]-k[j]) + usualWrong[j]) / float64(all[j]-of[w][j]+64)
			misread += nats.NegativeBinomial(k[j], rate*float64(of[w][j]), wrongShape)
		}
		// Lost bits may be any of the 64.
		lost := combin.LogGeneralizedBinomial(float64(k[0]+k[1]), float64(k[0])) - math.Log(mostLost)
		for j, n := range k {
			if n > 0 {
				lost += float64(n) * math.Log(float64(of[w][j])/64)
			}
		}
		if lost > misread {
			out[w] = lost - misread
		}
	}
	return out
}

// Pixels that a path has wrong in all characters of a screen before anything was seen, at edges and elsewhere; and as many as a
// generator may have lost of one. Common practice, no source.
var usualWrong = [2]float64{2, 0.2}

const (
	mostLost   = 24
	wrongShape = 0.4 // of the rates' gamma density: characters of fine strokes have more wrong than others
)

// besideEdges are the pixels of a cell whose left or right neighbour is another; beside the cell is paper.
func besideEdges(rows uint64) uint64 {
	return text.EachLine(func(b uint8) uint8 { return (b ^ b<<1) | (b ^ b>>1) })(rows)
}
