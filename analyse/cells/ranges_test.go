package cells

import (
	"math"
	"testing"

	"backporch/analyse"
	"backporch/video"
)

// ITU-R BT.601 has black at 16 and white at 235, of colour differences 224 codes; JPEG (ITU-T T.871) has 0 to 255 and 255. A code of the one range, normalised as
// the good machine's device gave the other, is what the transform says.
func TestOtherRange(t *testing.T) {
	for _, c := range []struct {
		name         string
		good         analyse.Levels
		luma, chroma func(v float64) float64 // the other file's codes by the good machine's
	}{
		{"full beside limited", analyse.Levels{Black: 14, White: 240}, func(v float64) float64 { return (v - 16) * 255 / 219 }, func(v float64) float64 { return 128 + (v-128)*255/224 }},
		{"limited beside full", analyse.Levels{Black: 3, White: 250, Full: true}, func(v float64) float64 { return 16 + v*219/255 }, func(v float64) float64 { return 128 + (v-128)*224/255 }},
	} {
		gain := (c.good.White - c.good.Black) / 219
		plain := func(y, cb, cr float64) video.YUV {
			return video.YUVOfCodes(16+(y-c.good.Black)/gain, 128+(cb-128)/gain, 128+(cr-128)/gain)
		}
		b := otherRange(c.good, gain)
		for _, s := range []side{{40, 128, 128}, {200, 100, 150}, {120, 180, 90}} {
			want := plain(c.luma(s.y), c.chroma(s.cb), c.chroma(s.cr))
			got := b.centre.shown(plain(s.y, s.cb, s.cr))
			if math.Abs(got.Y-want.Y) > 1e-9 || math.Abs(got.U-want.U) > 1e-9 || math.Abs(got.V-want.V) > 1e-9 {
				t.Errorf("%s, %v: %v, want %v", c.name, s, got, want)
			}
		}
	}
}

// A colour stored as red, green and blue is cut off where one of them is full; so is white, which has nothing to lose.
func TestAtGamutsEdge(t *testing.T) {
	for name, c := range map[string]struct {
		r, g, b float64
		want    bool
	}{"cut": {0.7, 0.68, 1, true}, "within": {0.7, 0.68, 0.97, false}, "beyond": {0.7, 0.68, 1.05, false}, "white": {1, 1, 1, false}, "strong": {0, 1, 0.2, true}} {
		y, cb, cr := video.YUVOfRGB(c.r, c.g, c.b).Codes()
		if got := atGamutsEdge(side{y, cb, cr}); got != c.want {
			t.Errorf("%s: %v", name, got)
		}
	}
}

// Where nothing on a screen is black, blanking, which is black's level in 625/50 (ITU-R BT.1700), tells a picture that is too large from one whose codes have the other range.
func TestBlankingTellsRangeFromLevel(t *testing.T) {
	good := analyse.Levels{Black: 16, White: 235}
	like := func(blanking float64) float64 {
		w := scene{believe: []believed{{transform{16, 1, 1, 0}, againstBlack, againstGain, againstSize, againstHue, 0}, otherRange(good, 1)}}
		for i, y := range []float64{0.2, 0.6, 1} {
			s := sightOf(255*y, 128, 128) // of the other range
			s.target, s.sy, s.meanY = i, cellY, cellY
			w.sights, w.palette = append(w.sights, s), append(w.palette, video.YUV{Y: y})
			w.common, w.blends = append(w.common, 0), append(w.blends, blend{})
		}
		held := [][]video.YUV{append([]video.YUV(nil), w.palette...)}
		w.addBlanking(func(s side) (y, cb, cr float64) { return s.y, s.cb, s.cr }, blanking, 16, [][][]video.YUV{held})
		if n := len(held[0]); n != 4 || held[0][3] != w.palette[3] {
			t.Errorf("%d targets under a fault of the logic", n)
		}
		v, _ := w.like(unaltered)
		return v
	}
	if range0, range16 := like(0), like(16); range0 < range16+2 {
		t.Errorf("blanking at 0: %.1f, at 16: %.1f", range0, range16)
	}
}
