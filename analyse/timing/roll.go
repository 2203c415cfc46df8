package timing

import (
	"math"
	"slices"

	"backporch/video"
)

// vertical is how the picture moves up and down.
type vertical struct {
	seen   bool      // the line means have enough shape to tell
	rate   float64   // lines a second, positive downwards
	steady bool      // it moves on and on in one direction: no vertical lock
	jumps  bool      // it moves at times
	at     []float64 // by field: lines below the place in field 0, wraps not undone
}

// profileBands is the number of column bands whose line means are compared; several, so that
// lines of equal mean still differ.
const profileBands = 4

// profile is the mean of each line in each band of columns.
func profile(f *video.Field) []float64 {
	p := make([]float64, f.Height*profileBands)
	wide := f.Width / profileBands
	for y := range f.Height {
		line := f.Line(y)
		for b := range profileBands {
			// All of them: every fourth would beat with the subcarrier.
			p[y*profileBands+b] = float64(total(line[b*wide:(b+1)*wide])) / float64(wide)
		}
	}
	return p
}

// profiles keeps those worked out.
type profiles map[*video.Field][]float64

func (p profiles) of(f *video.Field) []float64 {
	if p[f] == nil {
		p[f] = profile(f)
	}
	return p[f]
}

// track follows the vertical place from field to field, by the displacement that makes the
// line means of two fields differ least. The blanking between fields is narrower than the
// overlap asked for, so a picture that wraps is followed as well.
func track(fields []*video.Field, noise float64, o Options, known profiles) vertical {
	v := vertical{at: make([]float64, len(fields))}
	if len(fields) < 2 {
		return v
	}
	period := 1 / o.Standard.Scan().FieldHz
	if o.Rate > 0 {
		period = 0.5 / o.Rate
		if fields[0].Frame != fields[1].Frame {
			period *= 2
		}
	}
	floor := differenceFloor(noise, fields[0].Width)
	profiles := make([][]float64, len(fields))
	for i, f := range fields {
		profiles[i] = known.of(f)
	}
	v.seen = shape(profiles[0], 0, len(profiles[0])) > 2*floor
	moves, net, gross, took := 0, 0.0, 0.0, 0.0
	for i := 1; i < len(fields); i++ {
		d, moved := displacement(profiles[i-1], profiles[i], floor)
		v.at[i] = v.at[i-1] + d
		dt := (fields[i].Time - fields[i-1].Time).Seconds()
		if dt <= 0 {
			dt = period
		}
		if dt > 1.6*period { // fields were left out: how far it went is not known
			if moved {
				moves++
			}
			continue
		}
		took += dt
		net += d
		gross += math.Abs(d)
		if moved {
			moves++
		}
	}
	if took > 0 {
		v.rate = net / took
	} else {
		v.seen = false
	}
	pairs := len(fields) - 1
	v.steady = moves >= max(2, pairs/4) && math.Abs(net) >= gross/2
	v.jumps = moves >= 2 || moves == pairs && !o.Single
	if moves == 0 && v.seen {
		v.creep(fields, profiles, floor)
	}
	return v
}

// creep looks for a drift too slow to show from one field to the next: it compares
// the first field with later ones, which must agree.
func (v *vertical) creep(fields []*video.Field, profiles [][]float64, floor float64) {
	last := len(fields) - 1
	seconds := (fields[last].Time - fields[0].Time).Seconds()
	half, halfMoved := displacement(profiles[0], profiles[last/2], floor)
	whole, wholeMoved := displacement(profiles[0], profiles[last], floor)
	if last < 4 || seconds <= 0 || !halfMoved || !wholeMoved {
		return
	}
	if whole*half <= 0 || math.Abs(whole-2*half) > 0.5*math.Abs(whole) {
		return
	}
	v.rate, v.jumps = whole/seconds, true
	for i := range v.at {
		v.at[i] = whole * float64(i) / float64(last)
	}
}

// evenLight is the mean square difference by hum and flicker, half a code.
const evenLight = 0.5

// differenceFloor is the mean square difference of two still profiles: their noise,
// six times over for noise that the samples of a line share, and half a code for hum and flicker.
func differenceFloor(noise float64, width int) float64 {
	return evenLight + 6*2*noise*noise*4*profileBands/float64(width)
}

// displacement says how far profile b lies below a, in lines, if it moved at all.
func displacement(a, b []float64, floor float64) (d float64, moved bool) {
	still := differ(a, b, 0)
	if still <= floor {
		return 0, false
	}
	lines := len(a) / profileBands
	reach := lines * 5 / 9
	best, least := 0, still
	off := make([]float64, 2*reach+1)
	for s := -reach; s <= reach; s++ {
		off[s+reach] = differ(a, b, s)
		if e := off[s+reach]; e < least {
			best, least = s, e
		}
	}
	// Of a picture that shows something twice the nearer of two places that do as well is where it went.
	for s := 1; s < max(best, -best); s++ {
		if near := min(off[reach-s], off[reach+s]); near <= max(2*least, floor) {
			if best, least = s, near; off[reach-s] == near {
				best = -s
			}
			break
		}
	}
	// What a shift explains must be most of the difference, and what is left small against the
	// shape of the part compared, or flat would match flat.
	if best == 0 || best == -reach || best == reach || least > still/4 {
		return 0, false
	}
	from, to := max(0, best)*profileBands, (lines+min(0, best))*profileBands
	if shape(b, from, to) < 4*least+floor {
		return 0, false
	}
	if stays(a, b, best) {
		return 0, false
	}
	below, above := differ(a, b, best-1), differ(a, b, best+1)
	return float64(best) + vertex(below, least, above), true
}

// stays tells whether only fine stripes have moved by s lines and what is broader, as the edges of the picture, has not: a pattern about as fine as the subcarrier
// has a beat with it in every line, whose phase turns from field to field. Where stripes hardly average out, lines that are as they were and would not be after
// the move tell: those of the border beside the picture.
func stays(a, b []float64, s int) bool {
	lines := unmoved(a, b, s)
	a, b = broad(broad(a)), broad(broad(b))
	still, moved := differ(a, b, 0), differ(a, b, s)
	return moved > 2*still+evenLight/broadLines || moved > still && lines >= 1
}

// unmoved is how many lines of b are those of a within its noise, and plainly not those s lines above. The noise is that of the tenth that differs least, which
// no beat reaches, and half a code for hum.
func unmoved(a, b []float64, s int) int {
	off := make([]float64, len(a))
	for i := range a {
		off[i] = math.Abs(b[i] - a[i])
	}
	slices.Sort(off)
	noise := max(0.5, off[len(off)/10]/0.1257) // of a normal distribution
	s *= profileBands
	n := 0
	for i := max(0, s); i < min(len(b), len(b)+s); i++ {
		if math.Abs(b[i]-a[i]) < 2*noise && math.Abs(b[i]-a[i-s]) > 8*noise {
			n++
		}
	}
	return n / profileBands
}

// broadLines are those that broad takes the mean of: twice the longest beat that is taken for one.
const broadLines = 8

// broad is a profile of which each line is the mean of so many, fewer at its ends.
func broad(p []float64) []float64 {
	lines := len(p) / profileBands
	out := make([]float64, len(p))
	for b := range profileBands {
		for y := range lines {
			from, to := max(0, y-broadLines/2), min(lines, y+broadLines/2)
			for i := from; i < to; i++ {
				out[y*profileBands+b] += p[i*profileBands+b] / float64(to-from)
			}
		}
	}
	return out
}

// vertex is the place of the least of a parabola through three points, -0.5 to 0.5.
func vertex(below, least, above float64) float64 {
	curve := below - 2*least + above
	if curve <= 0 {
		return 0
	}
	return max(-0.5, min(0.5, (below-above)/2/curve))
}

// differ is the mean square difference of b, moved up by s lines, from a.
func differ(a, b []float64, s int) float64 {
	s *= profileBands
	from, to := max(0, s), min(len(b), len(b)+s)
	sum := 0.0
	for i := from; i < to; i++ {
		d := b[i] - a[i-s]
		sum += d * d
	}
	return sum / float64(to-from)
}

// shape is the variance down the lines, over all bands.
func shape(p []float64, from, to int) float64 {
	var sum, square [profileBands]float64
	for i := from; i < to; i++ {
		sum[i%profileBands] += p[i]
		square[i%profileBands] += p[i] * p[i]
	}
	n, all := float64(to-from)/profileBands, 0.0
	for b := range profileBands {
		all += square[b]/n - sum[b]*sum[b]/n/n
	}
	return all / profileBands
}
