package waveform

import (
	"bufio"
	"encoding/binary"
	"errors"
	"io"
	"math"
)

// A layout is how one sample lies in a file.
type layout struct {
	bytes  int // 1, 2, 3, 4 or 8
	signed bool
	big    bool
	float  bool
}

// bits is the width of an integer sample.
func (l layout) bits() int {
	if l.float {
		return 0
	}
	return 8 * l.bytes
}

// value reads one sample: an integer as a part of full scale, -1 to 1.
func (l layout) value(b []byte) float64 {
	if l.big && l.bytes > 1 {
		var r [8]byte
		for i := range l.bytes {
			r[i] = b[l.bytes-1-i]
		}
		b = r[:l.bytes]
	}
	switch {
	case l.float && l.bytes == 4:
		return float64(math.Float32frombits(binary.LittleEndian.Uint32(b)))
	case l.float:
		return math.Float64frombits(binary.LittleEndian.Uint64(b))
	}
	var u uint64
	for i := range l.bytes {
		u |= uint64(b[i]) << (8 * i)
	}
	shift := uint(64 - 8*l.bytes)
	if !l.signed {
		u -= 1 << (8*l.bytes - 1)
	}
	return float64(int64(u<<shift)) / (1 << 63)
}

// packed reads samples that lie one behind the other.
type packed struct {
	r      *bufio.Reader
	l      layout
	stride int     // bytes from one sample to the next
	scale  float64 // to mV, or to 1000 at full scale
	left   int64   // samples still to come
	buf    []byte
	table  []float32 // of all values, up to 16 bits
}

func newPacked(r io.Reader, l layout, stride int, scale float64, samples int64) *packed {
	p := &packed{r: bufio.NewReaderSize(r, 1<<18), l: l, stride: stride, scale: scale, left: samples}
	if !l.float && l.bytes <= 2 {
		p.table = make([]float32, 1<<(8*l.bytes))
		for i := range p.table {
			b := []byte{byte(i), byte(i >> 8)}
			p.table[i] = float32(l.value(b[:l.bytes]) * scale)
		}
	}
	return p
}

func (p *packed) read(dst []float32, seen *Seen) (int, error) {
	n := int(min(int64(len(dst)), p.left))
	if cap(p.buf) < n*p.stride {
		p.buf = make([]byte, n*p.stride)
	}
	got, err := io.ReadFull(p.r, p.buf[:n*p.stride])
	n = got / p.stride
	if rest := got % p.stride; rest >= p.l.bytes && n < len(dst) {
		n++ // the last sample of a channel need not be followed by the others
	}
	b := p.buf[:got]
	switch {
	case p.table != nil && p.l.bytes == 1:
		for i := range n {
			dst[i] = p.table[b[i*p.stride]]
		}
	case p.table != nil:
		for i := range n {
			k := i * p.stride
			dst[i] = p.table[int(b[k])|int(b[k+1])<<8]
		}
	default:
		for i := range n {
			dst[i] = float32(p.l.value(b[i*p.stride:]) * p.scale)
			if !finite(dst[i]) {
				dst[i] = nan
				seen.Missing++
			}
		}
	}
	p.left -= int64(n)
	if err == nil && (n < len(dst) || len(dst) == 0) {
		err = io.EOF
	}
	if errors.Is(err, io.ErrUnexpectedEOF) {
		err = io.EOF
	}
	return n, err
}

var nan = float32(math.NaN())

// finite also refuses what no oscilloscope shows: a megavolt marks an overflow.
func finite(v float32) bool { return v > -1e9 && v < 1e9 }
