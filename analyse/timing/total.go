package timing

import "encoding/binary"

// total is the sum of a row of codes, eight of them at a time: every second one of eight goes in a lane of 16 bits, those between them
// are shifted there, and the lanes are added in the end.
func total(codes []uint8) (sum int) {
	const (
		lanes = 0x00ff00ff00ff00ff
		each  = 0x0001000100010001 // times this, the uppermost lane holds the sum of all four
		most  = 32                 // eights after which that still fits: 32 x 8 x 255 < 2^16
	)
	for len(codes) >= 8 {
		n := min(len(codes)/8, most) * 8
		var four uint64
		for at := 0; at < n; at += 8 {
			eight := binary.LittleEndian.Uint64(codes[at:])
			four += eight&lanes + eight>>8&lanes
		}
		sum += int(four * each >> 48)
		codes = codes[n:]
	}
	for _, v := range codes {
		sum += int(v)
	}
	return sum
}
