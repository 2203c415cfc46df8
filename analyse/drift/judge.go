package drift

import (
	"math"

	"backporch/analyse"
	"backporch/analyse/timing"
	"backporch/video"
)

const (
	// few: fewer places than these can't be a picture that has left its place.
	few = 6
	// judgeEvery is how many fields a judgement of the slow measure lasts while a fault goes on.
	judgeEvery = 25
	// snowFields in a row are needed to tell snow from a picture.
	snowFields = 4
	// farthest is the displacement, in lines, that is looked for.
	farthest = 40
)

// judge says what kind of fault the places that differ make.
func (w *Watcher) judge(f *video.Field, p *parity, r *Reading) {
	if w.repeats >= frozenFields && !w.restless {
		r.Kind = Frozen
		return
	}
	if r.Blocks == 0 {
		w.inARow = 0
		return
	}
	w.inARow++
	r.Kind = BadField
	if w.onlyBorder() {
		r.Kind = Border
		return
	}
	if r.Blocks < few {
		return
	}
	if shift, ok := w.displaced(f, p); ok {
		r.Kind, r.Shift = LostLock, shift
		return
	}
	if float64(r.Blocks) < wide*float64(r.Of) {
		return
	}
	switch {
	case w.inARow == 1:
		w.judged = kindOf(syncOf([]*video.Field{f}, w.o.Standard))
	case w.inARow == snowFields || w.inARow%judgeEvery == 0: // snow shows by what fields share
		w.judged = kindOf(w.state(snowFields))
	}
	if w.judged != Good {
		r.Kind = w.judged
	}
}

// kindOf is the fault that a state of sync is, Good for none.
func kindOf(s analyse.Sync) Kind {
	switch s.State {
	case analyse.NoSignal:
		return NoSignal
	case analyse.NoLock, analyse.Unstable:
		return LostLock
	}
	return Good
}

// onlyBorder: the places that differ lie in the border, and are most of it.
func (w *Watcher) onlyBorder() bool {
	if w.border == nil {
		return false
	}
	all, bad := 0, 0
	for i, b := range w.border {
		switch {
		case b == ofPicture && w.bad[i]:
			return false
		case b == ofBorder && !w.moving[i]:
			all++
			if w.bad[i] {
				bad++
			}
		}
	}
	return all > 0 && 2*bad > all
}

// displaced tells whether the learned picture fits f better some lines up or down: much better, by
// the mean square difference of the lines' means, after their own mean.
func (w *Watcher) displaced(f *video.Field, p *parity) (int, bool) {
	if len(p.rows) != f.Height {
		return 0, false
	}
	now := profile(f)
	misfit := func(shift int) float64 {
		var sum, square float64
		n := 0
		for y := farthest; y < f.Height-farthest; y++ {
			d := now[y] - p.rows[y-shift]
			sum += d
			square += d * d
			n++
		}
		return square/float64(n) - sum*sum/float64(n)/float64(n)
	}
	if f.Height < 3*farthest {
		return 0, false
	}
	home := misfit(0)
	best, at := home, 0
	for s := -farthest; s <= farthest; s++ {
		if m := misfit(s); m < best {
			best, at = m, s
		}
	}
	// A line's mean of 180 samples has the noise of one over 13; a move by one line must show well above it.
	floor := math.Max(0.5, w.sigma*w.sigma/20)
	return at, at != 0 && home > 4*best && home > 4*floor
}

// syncOf asks the measure of sync for these fields alone.
func syncOf(fields []*video.Field, standard video.Standard) analyse.Sync {
	return timing.Measure(fields, timing.Options{Standard: standard, Single: len(fields) == 1})
}
