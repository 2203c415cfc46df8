package waveform

import (
	"bytes"
	"math"
	"strconv"
)

var powers = [...]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22}

// number reads a decimal number with this decimal mark. Within 15 digits and powers that a
// float64 holds exactly it is read here, for a long file has millions of them.
func number(b []byte, mark byte) (v float64, ok bool) {
	b = bytes.TrimSpace(b)
	if len(b) >= 2 && b[0] == '"' && b[len(b)-1] == '"' {
		b = bytes.TrimSpace(b[1 : len(b)-1])
	}
	if len(b) == 0 || len(b) > 60 {
		return 0, false
	}
	i, negative := 0, false
	if b[0] == '+' || b[0] == '-' {
		negative = b[0] == '-'
		i++
	}
	var mantissa uint64
	digits, exponent, seen := 0, 0, false
	marked := false
	for ; i < len(b); i++ {
		c := b[i]
		if c >= '0' && c <= '9' {
			seen = true
			if digits < 15 {
				mantissa = mantissa*10 + uint64(c-'0')
				if mantissa > 0 {
					digits++
				}
				if marked {
					exponent--
				}
			} else {
				return slowNumber(b, mark)
			}
			continue
		}
		if c == mark && !marked {
			marked = true
			continue
		}
		break
	}
	if !seen {
		return 0, false
	}
	if i < len(b) {
		if b[i] != 'e' && b[i] != 'E' || i+1 >= len(b) {
			return 0, false
		}
		e, err := strconv.Atoi(string(bytes.TrimPrefix(b[i+1:], []byte("+"))))
		if err != nil || b[i+1] == '+' && i+2 < len(b) && (b[i+2] == '+' || b[i+2] == '-') {
			return 0, false
		}
		exponent += max(min(e, 1000), -1000)
	}
	v = float64(mantissa)
	switch {
	case exponent < -22 || exponent > 22:
		return slowNumber(b, mark)
	case exponent < 0:
		v /= powers[-exponent]
	default:
		v *= powers[exponent]
	}
	if negative {
		v = -v
	}
	return v, true
}

func slowNumber(b []byte, mark byte) (float64, bool) {
	if mark != '.' {
		if bytes.IndexByte(b, '.') >= 0 {
			return 0, false
		}
		b = bytes.Replace(b, []byte{mark}, []byte{'.'}, 1)
	}
	if bytes.ContainsAny(b, "xXpP_") {
		return 0, false
	}
	v, err := strconv.ParseFloat(string(b), 64)
	if err != nil || math.IsInf(v, 0) || math.IsNaN(v) {
		return 0, false
	}
	return v, true
}

// noNumber says that a field stands for a sample that is not there.
func noNumber(b []byte) bool {
	switch string(bytes.ToLower(bytes.Trim(bytes.TrimSpace(b), `"+-`))) {
	case "", "nan", "inf", "infinity", "n/a", "#n/a", "null", "none", "overflow", "ovr", "1.#inf", "1.#qnan", "1.#ind", "∞":
		return true
	}
	return false
}
