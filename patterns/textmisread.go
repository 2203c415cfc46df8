package patterns

// What is misread on a Text display, and what can't be seen.

import (
	"math"
	"math/bits"

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

// glyphsApart is what it costs, in nats, that one shape is taken for another throughout: a stroke lost is four pixels
// or so, and each further one is half a nat.
func (t textCells) glyphsApart(a, b int) float64 {
	return 0.5 * math.Max(0, float64(bits.OnesCount64(t.want.rowsOf(a)^t.seen.rowsOf(b))-4))
}

// inksApart is the same for colours: they are misread by a thirtieth of white or so.
func (t textCells) inksApart(a, b int) float64 {
	return math.Min(12, apartYUV(t.e.p.Colours[a].YUV, t.e.p.Colours[b].YUV)/0.03)
}

// anyGlyph is what a misread glyph costs, whichever it is.
func anyGlyph(int, int) float64 { return math.Log(glyphsMistaken) }

// anotherInk is what it costs that one ink is read as another: those nearby are the likelier.
func (t textCells) anotherInk(want, seen int) float64 {
	sum := 0.0
	near := func(k int) float64 {
		return math.Exp(-apartYUV(t.e.p.Colours[want].YUV, t.e.p.Colours[k].YUV) / nearInk)
	}
	for k := range t.e.p.Colours {
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
