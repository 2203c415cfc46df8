package waveform

import (
	"bytes"
	"math"
	"regexp"
	"strings"
)

// A dialect is how a table of numbers is written.
type dialect struct {
	sep, mark byte    // between fields (' ': any white space, 0: one field a line); decimal mark
	skip      int     // lines before the first row
	time      int     // column of times, -1: none
	index     bool    // the first column counts samples
	volts     int     // column of volts
	columns   []int   // all that hold numbers
	perSecond float64 // time units a second; 0: not said
	mV        float64 // millivolts a unit; 0: not said
	rate      float64 // samples a second by the header; 0: not said
	whole     bool    // all values of the head are whole numbers
	low, high float64 // their range
}

// split cuts a line into fields, which go into dst.
func (d *dialect) split(dst [][]byte, line []byte) [][]byte {
	dst = dst[:0]
	switch d.sep {
	case 0:
		return append(dst, line)
	case ' ':
		return append(dst, bytes.Fields(line)...)
	}
	quoted, from := false, 0
	for i, c := range line {
		if c == '"' {
			quoted = !quoted
		} else if c == d.sep && !quoted {
			dst = append(dst, line[from:i])
			from = i + 1
		}
	}
	return append(dst, line[from:])
}

// row says which columns of a line hold numbers; ok when nothing else stands in it.
func (d *dialect) row(line []byte) (numbers []int, ok bool) {
	ok = true
	for i, f := range d.split(nil, line) {
		if _, is := number(f, d.mark); is {
			numbers = append(numbers, i)
		} else if !noNumber(f) {
			ok = false
		}
	}
	return numbers, ok && len(numbers) > 0
}

// mostColumns is more than any oscilloscope exports.
const mostColumns = 64

// dialectOf finds how a text that begins with head is written; false when it is no
// table of numbers.
func dialectOf(head []byte) (*dialect, bool) {
	lines := bytes.Split(bytes.TrimPrefix(head, []byte("\xef\xbb\xbf")), []byte("\n"))
	if len(head) == 1<<16 && len(lines) > 1 {
		lines = lines[:len(lines)-1] // cut off by us
	}
	var best *dialect
	most := 0
	for _, sep := range []byte{';', '\t', ',', ' ', 0} {
		for _, mark := range []byte{',', '.'} {
			if sep == mark {
				continue
			}
			d := &dialect{sep: sep, mark: mark}
			rows := d.fit(lines)
			if rows > most || rows == most && best != nil && len(d.columns) > len(best.columns) {
				best, most = d, rows
			}
		}
	}
	// A row or two among words is an accident; a file of one number is a waveform of
	// one sample, and is told so.
	written := 0
	for _, l := range lines {
		if len(bytes.TrimSpace(l)) > 0 {
			written++
		}
	}
	if best == nil || most < 3 && most < written && len(best.columns) < 2 || best.skip > 200 {
		return nil, false
	}
	if best.sep == ',' && best.commaIsMark(lines) {
		best = &dialect{mark: ','}
		best.fit(lines)
	}
	best.header(lines)
	return best, true
}

// fit finds the columns with numbers and the first row, and counts the rows.
func (d *dialect) fit(lines [][]byte) (rows int) {
	d.columns = nil
	// The columns are those of most lines towards the end.
	votes := map[string]int{}
	sets := map[string][]int{}
	best := ""
	for i := len(lines) - 1; i >= len(lines)/2 || (i >= 0 && len(sets) == 0); i-- {
		n, ok := d.row(lines[i])
		if !ok || len(n) > mostColumns {
			continue
		}
		key := string(intBytes(n))
		votes[key]++
		sets[key] = n
		// More columns are better than fewer where lines differ: a missing value takes one away.
		if best == "" || votes[key] > 2*votes[best] || votes[key] >= votes[best]/4 && len(n) > len(sets[best]) {
			best = key
		}
	}
	if best == "" {
		return 0
	}
	d.columns = sets[best]
	first, beside := -1, 0
	for i := range lines {
		if len(bytes.TrimSpace(lines[i])) == 0 {
			continue
		}
		n, pure := d.row(lines[i])
		whole := holds(n, d.columns)
		if pure && (whole || first >= 0) {
			rows++
		}
		if whole && !pure {
			beside++
		}
		switch {
		case whole && first < 0:
			first = i // a header's words may stand beside the first rows
		case !pure && !whole && first >= 0 && rows+beside < 3:
			first, rows, beside = -1, 0, 0 // numbers of a header
		}
	}
	d.skip = max(first, 0)
	return rows
}

func intBytes(n []int) []byte {
	b := make([]byte, len(n))
	for i, v := range n {
		b[i] = byte(min(v, 255))
	}
	return b
}

func holds(all, some []int) bool {
	i := 0
	for _, v := range all {
		if i < len(some) && some[i] == v {
			i++
		}
	}
	return i == len(some)
}

// commaIsMark says that lines like '0,123' are one number each and not two: the part
// before the comma doesn't rise from line to line, as a count or a time would.
func (d *dialect) commaIsMark(lines [][]byte) bool {
	if len(d.columns) != 2 || d.columns[0] != 0 || d.columns[1] != 1 {
		return false
	}
	last, rising, n := 0.0, 0, 0
	for _, l := range lines[d.skip:] {
		l = bytes.TrimSpace(l)
		if len(l) == 0 {
			continue
		}
		if noNumber(l) {
			continue
		}
		if bytes.Count(l, []byte(",")) != 1 || bytes.IndexByte(l, '.') >= 0 {
			return false
		}
		if _, ok := number(l, ','); !ok {
			return false
		}
		v, ok := number(l[:bytes.IndexByte(l, ',')], '.')
		if ok && n > 0 && v > last {
			rising++
		}
		last = v
		n++
	}
	return n >= 3 && rising < n/2
}

var (
	inUnits    = regexp.MustCompile(`[(\[/]\s*([A-Za-zµμ]{1,7})\s*[)\]]?\s*"?$`)
	perSecond  = map[string]float64{"s": 1, "sec": 1, "second": 1, "seconds": 1, "ms": 1e3, "us": 1e6, "µs": 1e6, "μs": 1e6, "ns": 1e9, "ps": 1e12}
	milliVolts = map[string]float64{"v": 1000, "volt": 1000, "volts": 1000, "mv": 1, "millivolt": 1, "millivolts": 1, "uv": 1e-3, "µv": 1e-3, "μv": 1e-3}
	isInterval = regexp.MustCompile(`(?i)\b(sampl\w* (interval|period|time)|x ?incr\w*|increment|interval|delta ?t?|dt|tdiv_step)\b`)
	isRate     = regexp.MustCompile(`(?i)\b(sampl\w* ?(rate|freq\w*)|samplerate|fs|sa/s|samples (per|a) second)\b`)
	withUnit   = regexp.MustCompile(`^\s*([-+0-9.,eE]+)\s*([kKMG]?)\s*(Hz|Sa/s|S/s|Sps|sps|[mnpuµμ]?s)?\s*$`)
	isTime     = regexp.MustCompile(`(?i)^\W*(time|t|seconds?|x-axis|x)\b`)
)

// header reads names and units above the rows, and finds the columns of time and volts.
func (d *dialect) header(lines [][]byte) {
	named := d.names(lines)
	d.time = -1
	if len(d.columns) > 1 {
		rises, steps := d.rises(lines, d.columns[0])
		switch {
		case rises && steps && d.perSecond == 0:
			d.index = true
		case rises:
			d.time = d.columns[0]
		case named == d.columns[0]:
			d.time = d.columns[0]
		}
	}
	d.volts = d.columns[0]
	if d.time >= 0 || d.index {
		d.volts = d.columns[1]
	}
	d.whole = true
	d.low, d.high = math.Inf(1), math.Inf(-1)
	for _, l := range lines[d.skip:] {
		if f := d.split(nil, l); d.volts < len(f) {
			if v, ok := number(f[d.volts], d.mark); ok {
				d.whole = d.whole && v == math.Trunc(v)
				d.low, d.high = min(d.low, v), max(d.high, v)
			}
		}
	}
}

// names reads the header's units and rate, and gives the column named as time, -1 for none.
func (d *dialect) names(lines [][]byte) (timeColumn int) {
	timeColumn = -1
	// The first row may carry a header's numbers beside its own.
	head := lines[:min(d.skip+20, len(lines))]
	for i, l := range head {
		if _, pure := d.row(l); pure && i > d.skip {
			break
		}
		fields := d.headerFields(l)
		for j, f := range fields {
			word := strings.ToLower(strings.Trim(string(f), "\" \t\r#%"))
			unit := word
			if m := inUnits.FindStringSubmatch(word); m != nil {
				unit = m[1]
			}
			if v, ok := perSecond[unit]; ok && i < d.skip && (d.perSecond == 0 || unit != word) && !isInterval.MatchString(word) {
				d.perSecond = v
				if timeColumn < 0 {
					timeColumn = j
				}
			}
			if v, ok := milliVolts[unit]; ok && d.mV == 0 {
				d.mV = v
			}
			if i < d.skip && isTime.MatchString(word) {
				timeColumn = j
			}
			interval, rate := isInterval.MatchString(word), isRate.MatchString(word)
			if !interval && !rate || d.rate > 0 {
				continue
			}
			v, ok := d.headerValue(fields, j+1)
			if !ok && i+1 < len(lines) {
				v, ok = d.headerValue(d.headerFields(lines[i+1]), j)
			}
			if ok && v > 0 {
				if interval && v < 1e-3 {
					d.rate = 1 / v
				} else if rate && v > 1e3 {
					d.rate = v
				}
			}
		}
	}
	return timeColumn
}

// headerFields splits a header line also at ':' and '=', as notes are written.
func (d *dialect) headerFields(line []byte) [][]byte {
	var out [][]byte
	for _, f := range d.split(nil, bytes.TrimSpace(line)) {
		if key, value, ok := bytes.Cut(f, []byte("=")); ok {
			out = append(out, key, value)
		} else if key, value, ok := bytes.Cut(f, []byte(":")); ok {
			out = append(out, key, value)
		} else {
			out = append(out, f)
		}
	}
	return out
}

// headerValue reads a rate or an interval in its unit.
func (d *dialect) headerValue(fields [][]byte, j int) (float64, bool) {
	if j >= len(fields) {
		return 0, false
	}
	m := withUnit.FindSubmatch(bytes.Trim(fields[j], "\"\r"))
	if m == nil {
		return 0, false
	}
	v, ok := number(m[1], d.mark)
	if !ok {
		v, ok = number(m[1], '.')
	}
	switch string(m[2]) {
	case "k", "K":
		v *= 1e3
	case "M":
		v *= 1e6
	case "G":
		v *= 1e9
	}
	if per, is := perSecond[string(m[3])]; is {
		v /= per
	}
	return v, ok
}

// rises says whether a column's values rise from row to row, and whether by one.
func (d *dialect) rises(lines [][]byte, column int) (rises, ones bool) {
	last, n, up, one, falls := 0.0, 0, 0, 0, 0
	for _, l := range lines[d.skip:] {
		f := d.split(nil, l)
		if column >= len(f) {
			continue
		}
		v, ok := number(f[column], d.mark)
		if !ok {
			continue
		}
		if n > 0 {
			switch {
			case v == last+1:
				one++
				up++
			case v > last:
				up++
			case v < last:
				falls++
			}
		}
		last = v
		n++
	}
	if n < 2 {
		return n == 1 && len(d.columns) > 1, false
	}
	return up > 3*falls, one*10 >= (n-1)*9
}
