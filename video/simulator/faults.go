package simulator

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// A Fault is one kind of the catalogue with its particulars; those that the kind
// does not use are 0 or empty.
type Fault struct {
	Kind      string
	Bit       int     // data bit, or bit of the border register
	Level     int     // 0 or 1
	Component string  // green, red, blue; luma, cb, cr
	Memory    string  // Text: screen or colour
	Mode      string  // what sort of the kind
	Share     float64 // part of addresses or of time; part of random bits; how badly, 0 to 1
	MV        float64 // noise, mV rms; bars, mV peak to peak
	Lines     Bits    // address lines
	Lanes     Bits    // data bits
	Number    int     // row, column, counter bit, cell column or line of the generator
	PeriodPx  float64 // machine pixels
	Degrees   float64
	Hz        float64
}

// Bits is a set of numbers, bit n for number n; in text they stand with "/" between.
type Bits uint32

func (b Bits) has(n int) bool { return b>>n&1 == 1 }

func (b Bits) String() string {
	var parts []string
	for n := range 32 {
		if b.has(n) {
			parts = append(parts, strconv.Itoa(n))
		}
	}
	return strings.Join(parts, "/")
}

// List gives the numbers in the set.
func (b Bits) List() []int {
	var out []int
	for n := range 32 {
		if b.has(n) {
			out = append(out, n)
		}
	}
	return out
}

// ParseFault reads "kind" or "kind:key=value,key=value", as in
// "data-bit-stuck:bit=3,level=1"; particulars left out have a middling value.
func ParseFault(text string) (Fault, error) {
	name, rest, _ := strings.Cut(strings.TrimSpace(text), ":")
	k, err := findKind(name)
	if err != nil {
		return Fault{}, err
	}
	f := k.usual
	f.Kind = name
	if k.modes != nil {
		f.Mode = k.modes[0]
	}
	for _, part := range strings.FieldsFunc(rest, func(r rune) bool { return r == ',' }) {
		key, value, ok := strings.Cut(part, "=")
		if !ok || !slices.Contains(k.keys, key) {
			return Fault{}, fmt.Errorf("fault %s: %q: it takes %s", name, part, k.takes())
		}
		if err := f.set(k, key, value); err != nil {
			return Fault{}, fmt.Errorf("fault %s: %w", name, err)
		}
	}
	return f, nil
}

// ParseFaults reads several faults of one machine, joined by "+".
func ParseFaults(text string) ([]Fault, error) {
	var all []Fault
	for _, part := range strings.Split(text, "+") {
		f, err := ParseFault(part)
		if err != nil {
			return nil, err
		}
		all = append(all, f)
	}
	return all, nil
}

// set reads one particular.
func (f *Fault) set(k *kind, key, value string) error {
	whole := func(dst *int, limit int) error {
		n, err := strconv.Atoi(value)
		if err != nil || n < 0 || n > limit {
			return fmt.Errorf("%s=%s: use 0 to %d", key, value, limit)
		}
		*dst = n
		return nil
	}
	part := func(dst *float64, limit float64) error {
		v, err := strconv.ParseFloat(value, 64)
		if err != nil || !(v >= 0 && v <= limit) {
			return fmt.Errorf("%s=%s: use 0 to %g", key, value, limit)
		}
		*dst = v
		return nil
	}
	word := func(dst *string, allowed []string) error {
		if !slices.Contains(allowed, value) {
			return fmt.Errorf("%s=%s: use %s", key, value, strings.Join(allowed, ", "))
		}
		*dst = value
		return nil
	}
	set := func(dst *Bits, limit int) error {
		*dst = 0
		for _, word := range strings.Split(value, "/") {
			n, err := strconv.Atoi(word)
			if err != nil || n < 0 || n > limit {
				return fmt.Errorf("%s=%s: use 0 to %d, with / between", key, value, limit)
			}
			*dst |= 1 << n
		}
		return nil
	}
	switch key {
	case "bit":
		return whole(&f.Bit, 7)
	case "level":
		return whole(&f.Level, 1)
	case "row", "column", "counter_bit", "after", "line":
		return whole(&f.Number, 4095)
	case "share":
		return part(&f.Share, 1)
	case "mv":
		return part(&f.MV, 300)
	case "period":
		return part(&f.PeriodPx, 1000)
	case "hz":
		return part(&f.Hz, 8e6)
	case "degrees":
		v, err := strconv.ParseFloat(value, 64)
		if err != nil || !(v >= -180 && v <= 180) {
			return fmt.Errorf("%s=%s: use -180 to 180", key, value)
		}
		f.Degrees = v
		return nil
	case "lines":
		return set(&f.Lines, 23)
	case "lanes":
		return set(&f.Lanes, 7)
	case "mode":
		return word(&f.Mode, k.modes)
	case "memory":
		return word(&f.Memory, []string{"screen", "colour"})
	case "component":
		return word(&f.Component, []string{"green", "red", "blue", "luma", "cb", "cr"})
	}
	return fmt.Errorf("%s: not a particular of any fault", key)
}

// String gives a fault as ParseFault reads it.
func (f Fault) String() string {
	k, err := findKind(f.Kind)
	if err != nil {
		return f.Kind
	}
	number := func(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }
	which := strconv.Itoa(f.Number)
	values := map[string]string{
		"bit": strconv.Itoa(f.Bit), "level": strconv.Itoa(f.Level), "mode": f.Mode, "memory": f.Memory,
		"component": f.Component, "lines": f.Lines.String(), "lanes": f.Lanes.String(),
		"share": number(f.Share), "mv": number(f.MV), "period": number(f.PeriodPx), "hz": number(f.Hz), "degrees": number(f.Degrees),
		"row": which, "column": which, "counter_bit": which, "after": which, "line": which,
	}
	var parts []string
	for _, key := range k.keys {
		if v := values[key]; v != "" {
			parts = append(parts, key+"="+v)
		}
	}
	if len(parts) == 0 {
		return f.Kind
	}
	return f.Kind + ":" + strings.Join(parts, ",")
}
