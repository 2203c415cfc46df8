package patterns

import (
	"fmt"

	"backporch/video/display"
)

// Describe names a fault in a few words.
func (f *Fault) Describe(p *display.Profile) string {
	colour := func(i *int) string {
		if i == nil || p == nil || *i < 0 || *i >= len(p.Colours) {
			return "unknown"
		}
		return p.Colours[*i].Name
	}
	part := ""
	if f.Part != "" {
		part = " (" + f.Part + ")"
	}
	switch {
	case f.Kind == "data-bit-stuck" && f.Memory == "colour":
		return fmt.Sprintf("colour memory bit %d lane stuck at %d%s", *f.Bit, *f.Level, part)
	case f.Kind == "data-bit-stuck":
		return fmt.Sprintf("data bit %d lane stuck at %d%s", *f.Bit, *f.Level, part)
	case f.Kind == "data-bit-weak":
		return fmt.Sprintf("data bit %d lane weak%s", *f.Bit, part)
	case f.Kind == "colour-path":
		state := "missing"
		if f.Level != nil && *f.Level == 1 {
			state = "stuck on"
		}
		return fmt.Sprintf("%s %s in picture and border%s", f.Component, state, part)
	case f.Kind == "border-latch":
		return fmt.Sprintf("border latch: %s where %s should be%s", colour(f.Seen), colour(f.Expected), part)
	case f.Kind == "blank-picture":
		return "blank picture: the video logic draws nothing" + part
	case f.Kind == "power-up-pattern":
		return "memory as it wakes: the processor side does not run"
	case f.Kind == "address-line-stuck":
		at := ""
		if f.Level != nil {
			at = fmt.Sprintf(" at %d", *f.Level)
		}
		return fmt.Sprintf("address %s stuck%s%s%s", many("line", f.Lines), at, onLanes(f.Lanes), part)
	case f.Kind == "row-dead" && f.Row != nil:
		return fmt.Sprintf("row %d of data bit %d dead%s", *f.Row, *f.Bit, part)
	case f.Kind == "column-dead" && f.Column != nil:
		return fmt.Sprintf("column %d of data bit %d dead%s", *f.Column, *f.Bit, part)
	case f.Kind == "refresh-loss":
		return "memory not refreshed" + onLanes(f.Lanes) + part
	case f.Kind == "supply-or-all-lanes":
		return "most memory lanes wrong: supply or what they share"
	case f.Kind == "cell-fetch":
		return "cell fetch: " + f.Columns + " wrong" + part
	case f.Kind == "line-counter" && f.CounterBit != nil:
		return fmt.Sprintf("line counter bit %d stuck%s", *f.CounterBit, part)
	case f.Kind == "cell-snow":
		return "bytes wrong for single fields at scattered cells" + part
	case f.Kind == "shift-register":
		return "shift register: the pixels of every cell wrong the same way" + part
	case f.Kind == "flash-dead":
		return "flashing cells stand still" + part
	case f.Kind == "character-generator":
		return "character generator" + part
	case f.Kind == "no-signal":
		return "no signal"
	case f.Kind == "sync-weak":
		return "weak sync"
	case f.Kind == "noise":
		return "noise on the signal path"
	}
	if name := pathName(f); name != "" {
		return name
	}
	return f.Kind + part
}

// pathName names a fault of the path with its particulars, "" for others.
func pathName(f *Fault) string {
	name := map[string]string{
		"hum": "hum", "ringing": "ringing", "low-bandwidth": "low bandwidth", "ghost": "ghost: a second copy of the picture",
		"fixed-bars": "fixed upright bars", "interference": "interference of one frequency", "colour-lost": "colour lost",
		"hue-shift": "hue shifted", "level-high": "level too high", "level-low": "level too low", "clipping": "clipping of bright parts",
	}[f.Kind]
	switch {
	case name == "":
	case f.PeriodPx != nil:
		name += fmt.Sprintf(", one every %.3g pixels", *f.PeriodPx)
	case f.FrequencyHz != nil && f.Kind == "hum":
		name += fmt.Sprintf(" at %.0f Hz", *f.FrequencyHz)
	case f.FrequencyHz != nil:
		name += " at " + InHz(*f.FrequencyHz)
	case f.Degrees != nil:
		name += fmt.Sprintf(" by %.0f degrees", *f.Degrees)
	}
	return name
}

// many names one or several numbered things.
func many(what string, n []int) string {
	switch len(n) {
	case 0:
		return what
	case 1:
		return fmt.Sprintf("%s %d", what, n[0])
	}
	return what + "s " + List(n)
}

// onLanes names lanes unless they are all eight.
func onLanes(n []int) string {
	if len(n) == 0 || len(n) == 8 {
		return ""
	}
	return " on data " + many("bit", n)
}

// List writes numbers as 0 to 3, 5 and 7.
func List(n []int) string {
	var parts []string
	for i := 0; i < len(n); {
		j := i
		for j+1 < len(n) && n[j+1] == n[j]+1 {
			j++
		}
		switch {
		case j-i >= 2:
			parts = append(parts, fmt.Sprintf("%d to %d", n[i], n[j]))
		case j > i:
			parts = append(parts, fmt.Sprint(n[i]), fmt.Sprint(n[j]))
		default:
			parts = append(parts, fmt.Sprint(n[i]))
		}
		i = j + 1
	}
	out := parts[0]
	for i, p := range parts[1:] {
		if i == len(parts)-2 {
			out += " and " + p
		} else {
			out += ", " + p
		}
	}
	return out
}

// InHz writes a frequency in Hz as MHz or kHz.
func InHz(hz float64) string {
	if hz >= 1e6 {
		return fmt.Sprintf("%.3f MHz", hz/1e6)
	}
	return fmt.Sprintf("%.1f kHz", hz/1e3)
}
