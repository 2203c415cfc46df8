package timing

import (
	"math"

	"backporch/analyse"
	"backporch/video"
)

// Options say what is known of the capture beside its fields.
type Options struct {
	Rate       float64        // frames a second; 0: taken from the fields' times, then from the standard
	Standard   video.Standard // for the line period; unknown counts as 625/50
	Single     bool           // one still: nothing is said of what needs time
	InterFrame bool           // the codec predicts frames from each other, so that equal frames prove nothing
	Blocks     bool           // the codec works on blocks of samples, lines of both fields in each
	Device     []string       // what the device itself says of the signal
	Detects    bool           // the device detects a standard
}

// InterFrame says whether a codec, by its four letters, predicts frames from others.
// The list is common practice, no source.
func InterFrame(codec string) bool {
	switch codec {
	case "", "MJPG", "mjpg", "mjpa", "jpeg", "YUY2", "YUYV", "UYVY", "yuv2", "I420", "IYUV", "Y800", "HFYU", "FFVH", "FFV1", "DIB ", "png ", "MPNG", "v210", "dvsd", "apcn":
		return false
	}
	return true
}

// Bounds of the states.
const (
	// unlockedNoise is the rms noise, in codes, of a signal-to-noise ratio of 23 dB:
	// 219 x 10^(-23/20). Below it sync separators work (EBU Tech. 3209, appendix 2).
	unlockedNoise = 15.5
	// unstableJitter, rms in samples: beyond half a sample a pixel of 7 MHz can't
	// be placed to a quarter of its width from its own line.
	unstableJitter = 0.5
	// leastJitter is what lines must move by for their errors to be followed from line to line; common practice, no source.
	leastJitter = 0.12
	// unstableTear, in samples: half a pixel of 7 MHz, visible as a step. Medians of four lines that
	// each lie off by up to a quarter sample step by as much in one of a thousand; see jitterSteps.
	unstableTear = 1.0
	// jitterSteps times the jitter is what the greatest of some hundreds of steps comes to when lines
	// lie off one by one: 4.5 standard errors of the difference of two medians of four, 1.25 sqrt(2/4) each.
	jitterSteps = 4.0
	// unlockedLines, rms in samples: lines that lie more than a cell of 8 pixels apart show no
	// picture any more.
	unlockedLines = 16.0
)

// Measure tells the sync state of fields that followed each other, oldest first. Some may
// be left out, as long as their times and frame numbers tell.
func Measure(fields []*video.Field, o Options) analyse.Sync {
	known := profiles{}
	step := stepOf(fields, known)
	s := look(Level(fields, step), o, known)
	s.Step = step
	s.Device, s.Detects = o.Device, o.Detects
	if s.State == analyse.Locked {
		s.Weave = weave(alike(fields), o)
	}
	Hear(&s, true)
	return s
}

// look is Measure by the pictures alone.
func look(fields []*video.Field, o Options, known profiles) analyse.Sync {
	fields = alike(fields)
	s := analyse.Sync{State: analyse.NoSignal}
	if len(fields) == 0 {
		return s
	}
	frozen := false
	if !o.Single {
		s.Repeated, s.Dropped, frozen = frames(fields, o)
	}
	if s.Picture = devicePicture(fields); s.Picture != "" {
		return s
	}
	noise := fieldNoise(fields)
	fields = lit(fields, noise)
	v := track(fields, noise, o, known)
	share := compare(fields, v)
	if share.pairs > 0 {
		s.SnowShare = &share.unshared
	}
	if share.snow() {
		s.Picture = "snow"
		return s
	}
	if share.blank() {
		s.Picture = "blank"
		return s
	}
	if frozen && noise > 0 {
		// The fields of a frame differ by noise, and the frames don't differ at all.
		s.Picture = "frozen"
		return s
	}
	if !o.Single && v.seen {
		s.RollLinesPerS = &v.rate
	}
	l := lines(fields, v, noise)
	if l.jitter != nil {
		ns := *l.jitter * sampleNs(o.Standard, fields[0].Width)
		s.JitterNs = &ns
		if *l.jitter > leastJitter {
			if sync, spread, ok := syncErrors(fields, v, noise); ok {
				unit := sampleNs(o.Standard, fields[0].Width)
				s.EdgesNs = &analyse.Estimate{Value: sync * unit, Spread: spread * unit, Limit: "lines"}
			}
		}
	}
	s.TearPx = l.tear
	if l.lost > 0.5 && share.unshared > 0.5 && !l.ends && quietSides(fields, noise) {
		l.lost = 0 // it is what the lines show that changes, not where they lie
	}
	s.State = state(v, l, share)
	return s
}

// state is the verdict on a signal that is there.
func state(v vertical, l placement, share shared) analyse.SyncState {
	tear := unstableTear
	if l.jitter != nil {
		tear = max(tear, jitterSteps**l.jitter)
	}
	above := func(value *float64, bound float64) bool { return value != nil && *value > bound }
	switch {
	case v.steady, above(l.jitter, unlockedLines), l.lost > 0.5 && share.unshared > 0.5 && !l.ends:
		return analyse.NoLock
	case v.jumps, above(l.jitter, unstableJitter), above(l.tear, tear):
		return analyse.Unstable
	}
	return analyse.Locked
}

// sampleNs is the time from one sample to the next: the line period over BT.601's
// samples a line, for a line of 720 samples.
func sampleNs(s video.Standard, width int) float64 {
	scan := s.Scan()
	return 1e9 / scan.LineHz / (float64(scan.LineSamples) * float64(width) / 720)
}

// alike keeps the fields that have the size of the first, and samples at all.
func alike(fields []*video.Field) []*video.Field {
	out := make([]*video.Field, 0, len(fields))
	for _, f := range fields {
		if f == nil || f.Width < 16 || f.Height < 16 || len(f.Y) < f.Width*f.Height {
			continue
		}
		if len(out) == 0 || f.Width == out[0].Width && f.Height == out[0].Height {
			out = append(out, f)
		}
	}
	return out
}

// spread picks at most n fields, evenly over the capture, in neighbouring pairs.
func spread(fields []*video.Field, n int) []int {
	var out []int
	if len(fields) <= n {
		for i := range fields {
			out = append(out, i)
		}
		return out
	}
	for k := range n / 2 {
		i := k * (len(fields) - 2) / (n/2 - 1)
		out = append(out, i, i+1)
	}
	return out
}

// fieldNoise is the rms difference of neighbouring fields over sqrt 2, in codes, where the picture
// stands still: from the median absolute difference on a coarse lattice (0.6745 sigma
// for a normal distribution), so that what moves doesn't count.
func fieldNoise(fields []*video.Field) float64 {
	if len(fields) < 2 {
		return 0
	}
	var all []float64
	pick := spread(fields, 8)
	for k := 1; k < len(pick); k += 2 {
		a, b := fields[pick[k-1]], fields[pick[k]]
		// Codes are whole numbers: the rms of the smaller half, by a histogram.
		var count [256]int
		n := 0
		for y := 3; y < a.Height; y += 5 {
			la, lb := a.Line(y), b.Line(y)
			for x := 5; x < len(la); x += 7 {
				if la[x] <= 2 || la[x] >= 253 { // clipped: the noise is not all there
					continue
				}
				d := int(la[x]) - int(lb[x])
				count[max(d, -d)]++
				n++
			}
		}
		all = append(all, medianOf(&count, n)/0.6745/math.Sqrt2)
	}
	least := all[0]
	for _, v := range all[1:] {
		least = min(least, v)
	}
	return least
}

// medianOf interpolates within the code that holds the median of absolute
// differences; code 0 holds -0.5 to 0.5, half as wide as the others.
func medianOf(count *[256]int, n int) float64 {
	below := 0
	for v, c := range count {
		if 2*(below+c) >= n && c > 0 {
			part := (float64(n)/2 - float64(below)) / float64(c)
			if v == 0 {
				if c == n {
					return 0
				}
				return 0.5 * part
			}
			return float64(v) - 0.5 + part
		}
		below += c
	}
	return 0
}
