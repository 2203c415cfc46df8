package signal

import (
	"math"

	"backporch/video"
)

// A border that is black or white lies at an end of what a device, or RGB, can code: of a wave about it only one side is there, and less of it the further the
// border lies beyond. What part of the time it is there tells how much of its fundamental is left.
const (
	endShare  = 0.3    // of the border's samples that are at the end, at the least
	beyond    = 1e-3   // and at the most beyond it
	endReach  = 3      // codes from the end that a twentieth of the samples reaches: less may be noise about it
	leastSeen = 0.15   // of the time that a wave must show; by less its size is not told
	cutDoubt  = 1 / 3. // of what is put back; noise moves the ends of each cut (common practice, no source)
)

// ends are the codes where a picture is cut: RGB's black and white (ITU-R BT.601 codes), and the first and last that devices give.
var ends = [6]int{16, 235, 0, 1, 254, 255}

// seenPart is the part of the time that the border's waves are not cut off at an end of the codes; 1: they are not.
func (f frame) seenPart(fields []*video.Field) float64 {
	var count [256]int
	all := 0
	for _, field := range some(fields, mostFields) {
		for _, y := range f.lines() {
			if y >= field.Height {
				continue
			}
			for _, v := range field.Line(y)[f.from:f.to] {
				count[v]++
				all++
			}
		}
	}
	if all == 0 {
		return 1
	}
	part := func(from, to int) float64 {
		n := 0
		for v := max(from, 0); v <= min(to, 255); v++ {
			n += count[v]
		}
		return float64(n) / float64(all)
	}
	for _, end := range ends {
		at, below, above := part(end, end), part(0, end-1), part(end+1, 255)
		outside, reach := below, part(end+endReach, 255)
		if above < below {
			outside, reach = above, part(0, end-endReach)
		}
		if at > endShare && outside < beyond && reach > 0.05 {
			return 1 - at
		}
	}
	return 1
}

// buriedShare is the part of the border's samples at the end of the codes from which on nothing of a wave shows (common practice, no source).
const buriedShare = 0.85

// endOf is the part of the border's samples that lie at the first or the last code that a device gives.
func (f frame) endOf(fields []*video.Field) float64 {
	low, high, all := 0, 0, 0
	for _, field := range some(fields, mostFields) {
		for _, y := range f.lines() {
			if y >= field.Height {
				continue
			}
			for _, v := range field.Line(y)[f.from:f.to] {
				if v <= 1 {
					low++
				} else if v >= 254 {
					high++
				}
				all++
			}
		}
	}
	return float64(max(low, high)) / math.Max(1, float64(all))
}

// uncut is how many times what is left a sine's fundamental is, of which only so much of the time is seen: 1/2 of it is left by a half of the time,
// (a - sin a cos a)/pi by 2a of 2 pi (the Fourier series of a sine's tip, as in class C amplifiers; from memory).
func uncut(part float64) (times, doubt float64) {
	if part >= 1 || part < leastSeen {
		return 1, 0
	}
	a := math.Pi * part
	times = math.Pi / (a - math.Sin(a)*math.Cos(a))
	return times, cutDoubt * (times - 1)
}
