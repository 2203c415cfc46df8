package picture

import (
	"errors"
	"fmt"
	"sync"

	"backporch/video"
)

// JPEGOptions are EncodeJPEG's.
type JPEGOptions struct {
	Quality  int  // 1 to 100, on the scale that most encoders share; 0 means 90
	NoTables bool // leave the Huffman tables out and mark the frame AVI1, as capture devices do
}

// EncodeJPEG appends a baseline JPEG of the frame's planes to dst, codes as they are,
// chroma as often as the frame has it (4:4:4, 4:2:2, 4:2:0, none). The standard library
// encodes 4:2:0 alone, and from R, G, B mostly; capture devices send 4:2:2.
func EncodeJPEG(dst []byte, f *video.Frame, o JPEGOptions) ([]byte, error) {
	if err := CheckSize(f.Width, f.Height); err != nil {
		return nil, err
	}
	quality := o.Quality
	if quality == 0 {
		quality = 90
	}
	if quality < 1 || quality > 100 {
		return nil, fmt.Errorf("quality %d: use 1 to 100", quality)
	}
	if len(f.Y) < f.Width*f.Height || len(f.Cb) < f.ChromaWidth*f.ChromaHeight || len(f.Cr) != len(f.Cb) {
		if len(f.Cb) != 0 || len(f.Y) < f.Width*f.Height {
			return nil, errors.New("the frame's planes are smaller than its size says")
		}
	}
	across, down := 1, 1
	mono := len(f.Cb) == 0
	if !mono {
		switch f.ChromaWidth {
		case f.Width:
		case (f.Width + 1) / 2:
			across = 2
		default:
			return nil, fmt.Errorf("%d chroma samples a line beside %d of luma: JPEG is written with as many or half", f.ChromaWidth, f.Width)
		}
		switch f.ChromaHeight {
		case f.Height:
		case (f.Height + 1) / 2:
			down = 2
		default:
			return nil, fmt.Errorf("%d chroma lines beside %d of luma: JPEG is written with as many or half", f.ChromaHeight, f.Height)
		}
	}
	e := encoder{out: dst}
	e.quant[0], e.quant[1] = scaled(quantLuma, quality), scaled(quantChroma, quality)
	e.header(f, across, down, mono, o.NoTables)
	for i := range e.divisor {
		e.divisor[i] = divisors(e.quant[i])
	}
	for y := 0; y < f.Height; y += 8 * down {
		for x := 0; x < f.Width; x += 8 * across {
			for by := 0; by < down; by++ {
				for bx := 0; bx < across; bx++ {
					e.block(f.Y, f.Width, f.Height, x+8*bx, y+8*by, 0)
				}
			}
			if !mono {
				e.block(f.Cb, f.ChromaWidth, f.ChromaHeight, x/across, y/down, 1)
				e.block(f.Cr, f.ChromaWidth, f.ChromaHeight, x/across, y/down, 2)
			}
		}
	}
	if e.held > 0 { // fill the last byte with ones (T.81 F.1.2.3)
		e.bits(0x7F, 7)
	}
	return append(e.out, 0xFF, markerEOI), nil
}

// An encoder holds what one picture needs.
type encoder struct {
	out     []byte
	quant   [2][64]uint8   // row by row
	divisor [2][64]float32 // what a coefficient of dct is multiplied by
	before  [3]int32       // the last DC value of Y, Cb, Cr
	pending uint32
	held    uint // bits in pending
}

// scaled is a table at a quality: the rule of the Independent JPEG Group's library,
// on which "quality" is mostly meant (common practice, no standard).
func scaled(table [64]uint8, quality int) [64]uint8 {
	scale := 200 - 2*quality
	if quality < 50 {
		scale = 5000 / quality
	}
	for i, v := range table {
		table[i] = uint8(max(1, min(255, (int(v)*scale+50)/100)))
	}
	return table
}

// divisors folds the quantiser and the scale factors that dct leaves out.
func divisors(quant [64]uint8) [64]float32 {
	scale := [8]float64{1, 1.387039845, 1.306562965, 1.175875602, 1, 0.785694958, 0.541196100, 0.275899379}
	var d [64]float32
	for i, q := range quant {
		d[i] = float32(1 / (float64(q) * scale[i/8] * scale[i%8] * 8))
	}
	return d
}

func (e *encoder) header(f *video.Frame, across, down int, mono, bare bool) {
	segment := func(marker uint8, body ...uint8) {
		n := len(body) + 2
		e.out = append(e.out, 0xFF, marker, byte(n>>8), byte(n))
		e.out = append(e.out, body...)
	}
	e.out = append(e.out, 0xFF, markerSOI)
	if bare {
		segment(markerAPP, 'A', 'V', 'I', '1', 0, 0, 0, 0, 0, 0, 0, 0, 0, 0)
	} else {
		segment(markerAPP, 'J', 'F', 'I', 'F', 0, 1, 1, 0, 0, 1, 0, 1, 0, 0)
	}
	for i, q := range e.quant {
		body := []uint8{uint8(i)}
		for _, at := range zigzag {
			body = append(body, q[at])
		}
		segment(markerDQT, body...)
	}
	frame := []uint8{8, byte(f.Height >> 8), byte(f.Height), byte(f.Width >> 8), byte(f.Width), 3,
		1, byte(across<<4 | down), 0, 2, 0x11, 1, 3, 0x11, 1}
	scan := []uint8{3, 1, 0x00, 2, 0x11, 3, 0x11, 0, 63, 0}
	if mono {
		frame = frame[:9]
		frame[5], frame[7] = 1, 0x11
		scan = []uint8{1, 1, 0x00, 0, 63, 0}
	}
	segment(markerSOF, frame...)
	if !bare {
		e.out = appendHuffmanTables(e.out)
	}
	segment(markerSOS, scan...)
}

// block codes one 8 x 8 block; beyond the picture the last sample is repeated.
func (e *encoder) block(plane []uint8, width, height, x, y, component int) {
	var b [64]float32
	for j := range 8 {
		row := plane[min(y+j, height-1)*width:]
		if x+8 <= width {
			for i, v := range row[x : x+8] {
				b[8*j+i] = float32(v) - 128
			}
			continue
		}
		for i := range 8 {
			b[8*j+i] = float32(row[min(x+i, width-1)]) - 128
		}
	}
	dct(&b)
	table := min(component, 1)
	divisor := &e.divisor[table]
	dc, ac := &huffmanCodes()[table], &huffmanCodes()[2+table]
	run := uint32(0)
	for k, at := range zigzag {
		v := b[at] * divisor[at]
		n := int32(v + 0.5)
		if v < 0 {
			n = int32(v - 0.5)
		}
		if k == 0 {
			diff := n - e.before[component]
			e.before[component] = n
			e.value(dc, 0, diff)
			continue
		}
		if n == 0 {
			run++
			continue
		}
		for ; run > 15; run -= 16 {
			e.bits(ac[0xF0].code, ac[0xF0].length)
		}
		e.value(ac, run, max(-1023, min(1023, n)))
		run = 0
	}
	if run > 0 {
		e.bits(ac[0].code, ac[0].length)
	}
}

// value codes a number after a run of zeros: its size class, then its bits, those of
// n-1 when it is negative (T.81 F.1.2.1, F.1.2.2).
func (e *encoder) value(table *[256]huffmanCode, run uint32, n int32) {
	m, bits := n, n
	if n < 0 {
		m, bits = -n, n-1
	}
	size := uint(0)
	for m>>size > 0 {
		size++
	}
	c := table[run<<4|uint32(size)]
	e.bits(c.code, c.length)
	if size > 0 {
		e.bits(uint32(bits)&(1<<size-1), size)
	}
}

// bits appends, with a zero byte stuffed after each 0xFF.
func (e *encoder) bits(code uint32, length uint) {
	e.pending = e.pending<<length | code
	e.held += length
	for e.held >= 8 {
		e.held -= 8
		b := uint8(e.pending >> e.held)
		e.out = append(e.out, b)
		if b == 0xFF {
			e.out = append(e.out, 0)
		}
	}
	e.pending &= 1<<e.held - 1
}

type huffmanCode struct {
	code   uint32
	length uint
}

// huffmanCodes are the codes of huffmanTables (T.81 C.2): DC luma, DC chroma, AC luma, AC chroma.
var huffmanCodes = sync.OnceValue(func() *[4][256]huffmanCode {
	var all [4][256]huffmanCode
	for _, t := range huffmanTables {
		to := &all[t.class>>4*2|t.class&1]
		code, k := uint32(0), 0
		for length, count := range t.counts {
			for range count {
				to[t.values[k]] = huffmanCode{code, uint(length + 1)}
				code++
				k++
			}
			code <<= 1
		}
	}
	return &all
})

// dct is the forward transform of Arai, Agui and Nakajima: five multiplications a line,
// each coefficient off by the factor that divisors puts right.
func dct(b *[64]float32) {
	for i := 0; i < 64; i += 8 {
		dct8(b, i, 1)
	}
	for i := range 8 {
		dct8(b, i, 8)
	}
}

func dct8(b *[64]float32, o, s int) {
	d := [8]float32{b[o], b[o+s], b[o+2*s], b[o+3*s], b[o+4*s], b[o+5*s], b[o+6*s], b[o+7*s]}
	s07, d07 := d[0]+d[7], d[0]-d[7]
	s16, d16 := d[1]+d[6], d[1]-d[6]
	s25, d25 := d[2]+d[5], d[2]-d[5]
	s34, d34 := d[3]+d[4], d[3]-d[4]

	e0, e3 := s07+s34, s07-s34
	e1, e2 := s16+s25, s16-s25
	b[o], b[o+4*s] = e0+e1, e0-e1
	r := (e2 + e3) * 0.707106781
	b[o+2*s], b[o+6*s] = e3+r, e3-r

	o0, o1, o2 := d34+d25, d25+d16, d16+d07
	t := (o0 - o2) * 0.382683433
	p := 0.541196100*o0 + t
	q := 1.306562965*o2 + t
	m := o1 * 0.707106781
	u, v := d07+m, d07-m
	b[o+5*s], b[o+3*s] = v+p, v-p
	b[o+s], b[o+7*s] = u+q, u-q
}
