package timing

import "backporch/video"

// devicePicture names what a device shows of its own: "fill", "bars", or nothing. Every field
// looked at must show it.
func devicePicture(fields []*video.Field) string {
	name := ""
	for k, i := range spread(fields, 6) {
		now := ""
		switch {
		case isFill(fields[i]):
			now = "fill"
		case isBars(fields[i]):
			now = "bars"
		}
		if now == "" || k > 0 && now != name {
			return ""
		}
		name = now
	}
	return name
}

// isFill: one code everywhere in each plane. A machine's own blank picture has the noise of the
// analogue path, and most have blanking edges at the ends of the 720 samples: BT.601's line is
// wider than the picture. Noise of 0.2 codes rms (61 dB, past what 8 bits can show) would already put a
// sample in a hundred on another code; a codec's rounding is let off a thousandth.
// A blank black picture that a codec has cleaned of all noise can't be told from a fill.
func isFill(f *video.Field) bool {
	return flat(f.Y) && flat(f.Cb) && flat(f.Cr)
}

func flat(plane []uint8) bool {
	if len(plane) == 0 {
		return true
	}
	var count [256]int
	for _, v := range plane {
		count[v]++
	}
	most := 0
	for v, c := range count {
		if c > count[most] {
			most = v
		}
	}
	others := 0
	for v, c := range count {
		if c > 0 && (v < most-2 || v > most+2) {
			return false
		}
		if v != most {
			others += c
		}
	}
	return 1000*others <= len(plane)
}

// isBars: every line, from the first on, is the line above, sample by sample, and it has four
// or more broad steps. A machine's lines differ by noise, and its border above and below the
// picture has no steps. Patterns of two or three bands of bars pass as well.
func isBars(f *video.Field) bool {
	changes := 0
	for y := 1; y < f.Height; y++ {
		a, b := f.Line(y-1), f.Line(y)
		off := 0
		for x := range a {
			if d := int(a[x]) - int(b[x]); d > 2 || d < -2 {
				off++
			}
		}
		if 100*off > len(a) {
			if changes++; changes > max(4, f.Height*3/100) { // a codec's block may spread a band's edge over its lines
				return false
			}
		}
	}
	return steps(f.Line(2)) >= 4 && steps(f.Line(f.Height/2)) >= 4
}

// steps counts the level parts of a line that are wider than a twentieth of it and
// differ from the level part before.
func steps(line []uint8) int {
	n, start, last := 0, 0, -1000
	for x := 1; x <= len(line); x++ {
		if x < len(line) && near(line[x], line[start], 2) {
			continue
		}
		if 20*(x-start) >= len(line) {
			if v := int(line[start]); v-last > 4 || last-v > 4 {
				n++
				last = v
			}
		}
		start = x
	}
	return n
}

func near(a, b uint8, by int) bool {
	d := int(a) - int(b)
	return d <= by && d >= -by
}
