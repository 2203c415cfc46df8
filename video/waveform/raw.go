package waveform

import (
	"fmt"
	"io"
	"maps"
	"math"
	"slices"
	"strings"
)

// rawFormats are the bare samples that can be read.
var rawFormats = map[string]layout{
	"u8": {bytes: 1}, "s8": {bytes: 1, signed: true},
	"u16": {bytes: 2}, "s16": {bytes: 2, signed: true},
	"u16be": {bytes: 2, big: true}, "s16be": {bytes: 2, signed: true, big: true},
}

// Formats names the formats of bare samples.
func Formats() []string { return slices.Sorted(maps.Keys(rawFormats)) }

func (r *Reader) openRaw(o Options, size int64) error {
	if o.Rate == 0 {
		return fmt.Errorf("as bare samples %w", ErrNoRate)
	}
	name := o.Format
	l, ok := rawFormats[name]
	if name != "" && !ok {
		return fmt.Errorf("%q is no format of bare samples; there are %s", name, strings.Join(Formats(), ", "))
	}
	if name == "" {
		// From the middle: a capture may begin with nothing.
		part := make([]byte, min(size, 1<<18)&^1)
		at := (size - int64(len(part))) / 2 &^ 1
		if _, err := r.file.ReadAt(part, at); err != nil {
			return err
		}
		if name = smoothest(part); name == "" {
			return fmt.Errorf("its samples are all alike")
		}
		l = rawFormats[name]
		r.note("the samples look like %s; --samples says otherwise", name)
	}
	if _, err := r.file.Seek(0, io.SeekStart); err != nil {
		return err
	}
	r.info.Format, r.info.Rate, r.info.Bits = "bare samples, "+name, o.Rate, l.bits()
	r.info.Samples = size / int64(l.bytes)
	r.block = newPacked(r.file, l, l.bytes, r.scale(o), r.info.Samples)
	return nil
}

// scale is what a part of full scale is multiplied by.
func (r *Reader) scale(o Options) float64 {
	r.info.Absolute = o.FullScale > 0
	if r.info.Absolute {
		return 1000 * o.FullScale
	}
	return 1000
}

// smoothest finds how bytes are to be read as samples: a waveform hardly jumps from one sample
// to the next, while bytes of unlike weight, or a sign read wrongly, jump all the time. "" when
// every way gives one value only.
func smoothest(b []byte) string {
	best, found := math.Inf(1), ""
	for _, name := range []string{"u8", "s8", "u16", "s16", "u16be", "s16be"} {
		l := rawFormats[name]
		n := len(b) / l.bytes
		if n < 8 {
			continue
		}
		var sum, squares, steps float64
		last := l.value(b)
		for i := range n {
			v := l.value(b[i*l.bytes:])
			sum += v
			squares += v * v
			steps += (v - last) * (v - last)
			last = v
		}
		spread := squares - sum*sum/float64(n)
		if spread <= 1e-12*float64(n) {
			continue
		}
		if rough := steps / spread; rough < best*0.999 {
			best, found = rough, name
		}
	}
	return found
}
