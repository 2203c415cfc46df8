package survey

import (
	"math"
	"slices"

	"backporch/analyse"
	"backporch/video"
	"backporch/video/display"
)

// splitStates parts fields between which the picture goes back and forth as a whole, as a fault makes it that comes and
// goes: what moves then moves together, by one amount or not at all. The fields' movements are projected
// on their first principal component (Jolliffe, Principal Component Analysis, 2002, from memory), and the projections
// parted where that leaves the least variance within the parts (Otsu, IEEE Trans. SMC 9, 1979, from memory). fewer is
// empty where that is not how it moves.
func splitStates(fields []*video.Field, all *analyse.Stack) (most, fewer []*video.Field) {
	g := movements(fields, all)
	if g == nil {
		return fields, nil
	}
	u, power := principal(g.gram, len(fields))
	if power < leastState*g.trace {
		return fields, nil
	}
	sorted := slices.Sorted(slices.Values(u))
	cut, within := bestCut(sorted)
	total := 0.0
	for _, v := range u {
		total += v * v
	}
	if within > 0.12*total {
		return fields, nil
	}
	return g.part(fields, all, func(k int) bool { return u[k] >= cut })
}

// leastState is the part of all movement that goes with the two states, at the least: the dots' crawl is the rest, and a crawl by itself, being a sine,
// is not parted so cleanly. Common practice, no source.
const leastState = 0.3

// part gives the fields in two, the larger part first; fewer is empty where it is but the subcarrier that they differ by.
func (g *movement) part(fields []*video.Field, all *analyse.Stack, other func(k int) bool) (most, fewer []*video.Field) {
	for i, f := range fields {
		if other(i) {
			fewer = append(fewer, f)
		} else {
			most = append(most, f)
		}
	}
	if inSequence(len(fields), other) || crawls(most, fewer, g.moving, g.step, all.Width, all.Height) || byParity(most, fewer) {
		return fields, nil
	}
	if len(fewer) > len(most) {
		most, fewer = fewer, most
	}
	return most, fewer
}

// inSequence tells whether the two take turns every field, every second or every fourth: a subcarrier comes round after two, four or eight fields
// (ITU-R BT.1700), or any device's own after as many, and nothing that comes and goes is as regular.
func inSequence(fields int, other func(k int) bool) bool {
	for _, d := range [...]int{1, 2, 4} {
		wrong, of := 0, fields-d
		for k := range max(of, 0) {
			if other(k) == other(k+d) {
				wrong++
			}
		}
		if of >= 2*d+3 && wrong*10 <= of {
			return true
		}
	}
	return false
}

// byParity tells whether two lists are the device's fields of either parity: that a device makes of two like pictures, for a machine that doesn't
// interlace has no such fields.
func byParity(a, b []*video.Field) bool {
	if len(a)+len(b) < 6 {
		return false // as few may alternate by themselves
	}
	odd := func(list []*video.Field) (n int) {
		for _, f := range list {
			n += f.Parity & 1
		}
		return n
	}
	here := odd(a) + len(b) - odd(b) // fields that are where their parity would have them, if a is the odd ones
	wrong := min(here, len(a)+len(b)-here)
	return wrong*10 <= len(a)+len(b)
}

// leastFlash is the part of all movement that goes with a flash, at the least; what a coloured picture's crawl leaves it.
const leastFlash = 0.25

// flashPhases parts fields by the phase of flash that fits their movement best, where that is most of what moves or the rest is the
// dots' crawl: the projection on square waves of flash's period, the frame's fields in either order. What turns must turn as a whole, or it is
// memory that decays; and of a single turn nearly all samples must change where any do: ink and paper change places.
func flashPhases(fields []*video.Field, all *analyse.Stack) (most, fewer []*video.Field) {
	g := movements(fields, all)
	if g == nil {
		return fields, nil
	}
	n := len(fields)
	best, power := []bool(nil), leastFlash*g.trace
	least := 2
	if g.solid() > solidFlash {
		least = 1
	}
	for offset := range 2 * display.FlashFields {
		for swapped := range 2 {
			wave := make([]bool, n)
			turns, set := 0, 0
			for k := range wave {
				at := k ^ swapped
				if at >= n {
					at = k
				}
				wave[k] = (at+offset)/display.FlashFields&1 == 1
				if wave[k] {
					set++
				}
				if k > 0 && (k+offset)%display.FlashFields == 0 {
					turns++
				}
			}
			if turns < least {
				continue
			}
			// The wave less its mean, of length 1.
			mean := float64(set) / float64(n)
			level := [2]float64{-mean, 1 - mean}
			sum := 0.0
			for i := range wave {
				for j := range wave {
					sum += level[bit(wave[i])] * level[bit(wave[j])] * g.gram[i*n+j]
				}
			}
			if sum /= float64(n) * mean * (1 - mean); sum > power {
				best, power = wave, sum
			}
		}
	}
	if best == nil || g.together(fields, best) < togetherFlash {
		return fields, nil
	}
	return g.part(fields, all, func(k int) bool { return best[k] })
}

// solidFlash is the part of the samples about one that changes which change too, at the least, where whole cells do: all but those at the edges of
// strokes. togetherFlash is the part of what goes with a flash that lies in samples which go with it mostly; of memory that decays bit by
// bit each goes some of the way. Common practice, no source.
const (
	solidFlash    = 0.5
	togetherFlash = 0.7
	mostlyFlash   = 0.6
)

// solid is the mean part of the samples about each that moves, over a cell's width, that move too.
func (g *movement) solid() float64 {
	const reach = 7 // samples to either side
	from, to, sum := 0, 0, 0
	for _, at := range g.moving {
		for g.moving[from] < at-reach {
			from++
		}
		for to < len(g.moving) && g.moving[to] <= at+reach {
			to++
		}
		sum += to - from - 1
	}
	return float64(sum) / float64(2*reach*len(g.moving))
}

// together is the part of the movement along a wave that lies in samples of which mostlyFlash or more of their movement is along it.
func (g *movement) together(fields []*video.Field, wave []bool) float64 {
	n := float64(len(fields))
	set := 0.0
	for _, v := range wave {
		set += float64(bit(v))
	}
	all, mostly := 0.0, 0.0
	for k := 0; k < len(g.moving); k += g.step {
		at := g.moving[k]
		var sum, square, up float64
		for i, f := range fields {
			v := float64(f.Y[at])
			sum += v
			square += v * v
			if wave[i] {
				up += v
			}
		}
		spread := square - sum*sum/n
		d := up/set - (sum-up)/(n-set)
		along := d * d * set * (n - set) / n
		all += along
		if along > mostlyFlash*spread {
			mostly += along
		}
	}
	return mostly / all
}

func bit(b bool) int {
	if b {
		return 1
	}
	return 0
}

// A movement is what samples do over time that do not stand still.
type movement struct {
	moving []int // samples
	step   int   // of which every so many-th was taken
	gram   []float64
	trace  float64
}

// movements gives the products of the fields' departures from the mean; nil where next to nothing moves.
func movements(fields []*video.Field, all *analyse.Stack) *movement {
	n := len(fields)
	if n < 6 || all.VarY == nil {
		return nil
	}
	limit := max(150, 20*float32(all.Variance()))
	var moving []int
	for i, v := range all.VarY {
		if v > limit {
			moving = append(moving, i)
		}
	}
	if len(moving) < 40 {
		return nil
	}
	step := max(1, len(moving)/1500)
	gram := make([]float64, n*n)
	d := make([]float64, n)
	trace := 0.0
	for k := 0; k < len(moving); k += step {
		at := moving[k]
		mean := 0.0
		for i, f := range fields {
			d[i] = float64(f.Y[at])
			mean += d[i] / float64(n)
		}
		for i := range d {
			d[i] -= mean
			trace += d[i] * d[i]
		}
		for i, a := range d {
			row := gram[i*n : i*n+i+1]
			for j, b := range d[:i+1] {
				row[j] += a * b
			}
		}
	}
	for i := range n {
		for j := range i {
			gram[j*n+i] = gram[i*n+j]
		}
	}
	return &movement{moving, step, gram, trace}
}

// leastShared is the energy that the means of four lines have of the difference of two pictures, as a part of that of single
// lines: a quarter and more where a line's pixels change, next to none where the subcarrier does.
const leastShared = 0.1

// crawls tells whether what two parts of the fields differ by is the subcarrier: where it is half a cycle on from each field to the next
// the picture goes back and forth as well, but what moves turns by a quarter or half a cycle from line to line, and
// is gone from the mean of four.
func crawls(a, b []*video.Field, moving []int, step, width, height int) bool {
	mean := func(list []*video.Field, at int) float64 {
		sum := 0.0
		for _, f := range list {
			sum += float64(f.Y[at])
		}
		return sum / float64(len(list))
	}
	single, shared := 0.0, 0.0
	for k := 0; k < len(moving); k += step {
		at := moving[k]
		if y := at / width; y < 1 || y+2 >= height {
			continue
		}
		sum := 0.0
		for line := -1; line <= 2; line++ {
			d := mean(a, at+line*width) - mean(b, at+line*width)
			single += d * d / 4
			sum += d / 4
		}
		shared += sum * sum
	}
	return shared < leastShared*single
}

// principal is the first eigenvector of a symmetric matrix, of length 1, and its eigenvalue, by power iteration.
func principal(m []float64, n int) ([]float64, float64) {
	u, next := make([]float64, n), make([]float64, n)
	for i := range u {
		u[i] = math.Sin(float64(i)*1.7 + 0.3) // no structure of the data is as this
	}
	power := 0.0
	for range 60 {
		power = 0
		for i := range next {
			next[i] = 0
			for j, v := range u {
				next[i] += m[i*n+j] * v
			}
			power += next[i] * next[i]
		}
		power = math.Sqrt(power)
		if power == 0 {
			return u, 0
		}
		for i := range next {
			u[i] = next[i] / power
		}
	}
	return u, power
}

// bestCut parts sorted values in two so that the sum of squares within the parts is least.
func bestCut(v []float64) (cut, within float64) {
	within = math.Inf(1)
	for k := 1; k < len(v); k++ {
		if w := scatter(v[:k]) + scatter(v[k:]); w < within {
			cut, within = (v[k-1]+v[k])/2, w
		}
	}
	return cut, within
}

func scatter(v []float64) float64 {
	mean, sum := 0.0, 0.0
	for _, x := range v {
		mean += x / float64(len(v))
	}
	for _, x := range v {
		sum += (x - mean) * (x - mean)
	}
	return sum
}
