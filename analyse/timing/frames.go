package timing

import (
	"bytes"
	"math"
	"sort"

	"backporch/video"
)

// frozenFrames is how many equal frames in a row make a frozen picture: a third of a second, more
// than any dropped frame is bridged with.
const frozenFrames = 8

// frames counts the frames that equal the one before, and those missing by the times
// of the others. It is frozen when all are equal while the fields of a frame are
// not, as noise never repeats.
func frames(fields []*video.Field, o Options) (repeated, dropped int, frozen bool) {
	byFrame := [][]*video.Field{}
	for _, f := range fields {
		last := len(byFrame) - 1
		if last >= 0 && byFrame[last][0].Frame == f.Frame {
			byFrame[last] = append(byFrame[last], f)
		} else {
			byFrame = append(byFrame, []*video.Field{f})
		}
	}
	var steps []float64 // seconds a frame
	for i := 1; i < len(byFrame); i++ {
		a, b := byFrame[i-1], byFrame[i]
		if equal(a, b) {
			repeated++
		}
		if n := b[0].Frame - a[0].Frame; n > 0 && b[0].Time > a[0].Time {
			steps = append(steps, (b[0].Time-a[0].Time).Seconds()/float64(n))
		}
	}
	frozen = !o.InterFrame && len(byFrame) >= frozenFrames && repeated == len(byFrame)-1 &&
		len(byFrame[0]) == 2 && !bytes.Equal(byFrame[0][0].Y, byFrame[0][1].Y)
	if len(steps) == 0 {
		return repeated, 0, frozen
	}
	sort.Float64s(steps)
	step := steps[len(steps)/2]
	if o.Rate > 0 {
		step = 1 / o.Rate
	}
	for i := 1; i < len(byFrame); i++ {
		n := byFrame[i][0].Frame - byFrame[i-1][0].Frame
		took := (byFrame[i][0].Time - byFrame[i-1][0].Time).Seconds()
		if missing := int(math.Round(took/step)) - n; n > 0 && missing > 0 {
			dropped += missing
		}
	}
	return repeated, dropped, frozen
}

func equal(a, b []*video.Field) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if !bytes.Equal(a[i].Y, b[i].Y) || !bytes.Equal(a[i].Cb, b[i].Cb) || !bytes.Equal(a[i].Cr, b[i].Cr) {
			return false
		}
	}
	return true
}
