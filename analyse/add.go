package analyse

import "encoding/binary"

// stretch is how many samples are added up at a time: what a processor keeps at hand while all planes pass.
const stretch = 2048

// addSquares adds planes to sum, sample by sample, and their squares to square, four planes at once.
func addSquares(sum, square []uint32, planes [][]uint8) {
	for from := 0; from < len(sum); from += stretch {
		into := sum[from:min(from+stretch, len(sum))]
		squares := square[from:][:len(into)]
		list := planes
		for ; len(list) >= 4; list = list[4:] {
			p, q, r, s := list[0][from:][:len(into)], list[1][from:][:len(into)], list[2][from:][:len(into)], list[3][from:][:len(into)]
			for i := range into {
				a, b, c, d := uint32(p[i]), uint32(q[i]), uint32(r[i]), uint32(s[i])
				into[i] += a + b + c + d
				squares[i] += a*a + b*b + c*c + d*d
			}
		}
		for _, plane := range list {
			for i, code := range plane[from:][:len(into)] {
				v := uint32(code)
				into[i] += v
				squares[i] += v * v
			}
		}
	}
}

// addUp adds planes to sum, eight samples at a time: every second one in a lane of 16 bits, those between them in lanes of another word,
// where 257 of the greatest codes have room.
func addUp(sum []uint32, planes [][]uint8) {
	const lanes = 0x00ff00ff00ff00ff
	const most = 257
	var even, odd [stretch / 8]uint64
	for len(planes) > 0 {
		list := planes[:min(most, len(planes))]
		planes = planes[len(list):]
		for from := 0; from < len(sum); from += stretch {
			into := sum[from:min(from+stretch, len(sum))]
			words := len(into) / 8
			for _, plane := range list {
				codes := plane[from:][:len(into)]
				for i := range words {
					eight := binary.LittleEndian.Uint64(codes[8*i:])
					even[i] += eight & lanes
					odd[i] += eight >> 8 & lanes
				}
				for i := 8 * words; i < len(into); i++ {
					into[i] += uint32(codes[i])
				}
			}
			for i := range words {
				for k := range 4 {
					into[8*i+2*k] += uint32(even[i] >> (16 * k) & 0xffff)
					into[8*i+2*k+1] += uint32(odd[i] >> (16 * k) & 0xffff)
				}
			}
			clear(even[:words])
			clear(odd[:words])
		}
	}
}
