package waveform

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
)

func (r *Reader) openCSV(head []byte, o Options, size int64) error {
	d, ok := dialectOf(head)
	if !ok {
		return errors.New("it is text, but no table of numbers")
	}
	if o.Column > 0 {
		if !slices.Contains(d.columns, o.Column-1) {
			return fmt.Errorf("column %d holds no numbers", o.Column)
		}
		d.volts = o.Column - 1
	} else if rest := d.columns[slices.Index(d.columns, d.volts)+1:]; len(rest) > 0 {
		r.note("column %d; --column reads another", d.volts+1)
	}
	r.info.Format = "CSV"
	c := &table{d: d, file: r.file}
	if d.time >= 0 {
		if err := c.fitTimes(); err != nil {
			return err
		}
		if d.perSecond == 0 {
			d.perSecond = guessUnit(c.step)
			if d.perSecond == 0 && o.Rate == 0 {
				return fmt.Errorf("its times step by %.3g: no unit makes that a sampled waveform; give --rate", c.step)
			}
			if d.perSecond > 1 {
				r.note("times are taken as %s", map[float64]string{1e3: "milliseconds", 1e6: "microseconds", 1e9: "nanoseconds"}[d.perSecond])
			}
		}
		r.info.Rate = d.perSecond / c.step
		// A header's interval has more digits than the times, when both mean the same.
		if d.rate > 0 && math.Abs(d.rate/r.info.Rate-1) < 1e-3 {
			r.info.Rate = d.rate
		}
	} else if d.rate > 0 {
		r.info.Rate = d.rate
	}
	if o.Rate > 0 {
		r.info.Rate = o.Rate
	}
	if r.info.Rate == 0 {
		return ErrNoRate
	}
	c.scale = d.mV
	r.info.Absolute = true
	if d.mV == 0 {
		c.scale = 1000
		switch span := d.high - d.low; {
		case d.whole && span > 2 && span <= 255 && d.low >= -128 && d.high <= 255:
			c.scale, r.info.Absolute = 1, false
			r.note("whole numbers of no unit are taken as sample codes")
		case span > mostVolts:
			c.scale = 1
			r.note("values are taken as millivolts: as volts they would be no composite signal")
		}
	}
	if o.FullScale > 0 && !r.info.Absolute {
		c.scale, r.info.Absolute = 1000*o.FullScale/128, true
	}
	if err := c.rewind(); err != nil {
		return err
	}
	if few, err := c.fewerThan(2); err != nil {
		return err
	} else if few {
		return errFewRow
	}
	r.block = c
	return c.rewind()
}

// guessUnit says how many time units a second make a step a sample of 0.7 to 500 million a
// second; the ranges do not overlap. 0 when none does.
func guessUnit(step float64) float64 {
	for _, per := range []float64{1, 1e3, 1e6, 1e9} {
		if s := step / per; s >= 2e-9 && s <= 1/leastRate {
			return per
		}
	}
	return 0
}

// A table reads the rows of a CSV.
type table struct {
	d     *dialect
	file  io.ReadSeeker
	in    *bufio.Reader
	line  int64
	scale float64 // to mV

	step, slack float64 // time a sample, in the file's unit, and by how much times are rounded
	last        float64 // time of the row before
	timed       bool
	owed        int64   // samples of a gap that are still to be given
	held        float32 // the sample behind the gap
	holding     bool
	fields      [][]byte
	cut         bool // the last line read has no end of line
	err         error
}

// rewind begins again at the first row.
func (c *table) rewind() error {
	if _, err := c.file.Seek(0, io.SeekStart); err != nil {
		return err
	}
	c.in = bufio.NewReaderSize(c.file, 1<<18)
	c.line, c.timed, c.owed, c.holding, c.err = 0, false, 0, false, nil
	for range c.d.skip {
		if _, err := c.next(); err != nil {
			return err
		}
	}
	return nil
}

// next is the next line.
func (c *table) next() ([]byte, error) {
	b, err := c.in.ReadSlice('\n')
	if errors.Is(err, bufio.ErrBufferFull) {
		return nil, fmt.Errorf("line %d is longer than %d bytes: this is no table of samples", c.line+1, 1<<18)
	}
	if len(b) == 0 && err != nil {
		return nil, err
	}
	c.line++
	c.cut = err != nil
	return b, nil
}

// row gives the next row's time and value; NaN where there is none.
func (c *table) row() (at, v float64, err error) {
	for {
		b, err := c.next()
		if err != nil {
			return 0, 0, err
		}
		if len(bytes.TrimSpace(b)) == 0 {
			continue
		}
		c.fields = c.d.split(c.fields, b)
		at, v = math.NaN(), math.NaN()
		if c.d.volts < len(c.fields) {
			if x, ok := number(c.fields[c.d.volts], c.d.mark); ok {
				v = x
			}
		}
		if c.d.time >= 0 && c.d.time < len(c.fields) {
			if x, ok := number(c.fields[c.d.time], c.d.mark); ok {
				at = x
			}
		}
		return at, v, nil
	}
}

func (c *table) fewerThan(n int) (bool, error) {
	for i := range n {
		if _, _, err := c.row(); errors.Is(err, io.EOF) {
			return i < n, nil
		} else if err != nil {
			return false, err
		}
	}
	return false, nil
}

// fitRows is how many rows the rate is fitted to.
const fitRows = 400_000

// fitTimes finds the time a sample by a straight line through the times of the first
// rows, and how coarsely they are rounded.
func (c *table) fitTimes() error {
	if err := c.rewind(); err != nil {
		return err
	}
	var times []float64
	for len(times) < fitRows {
		at, _, err := c.row()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return err
		}
		if !math.IsNaN(at) {
			times = append(times, at)
		}
	}
	if len(times) < 2 {
		return errFewRow
	}
	// The middle step over some rows: neither rounding nor a gap moves it.
	span := min(64, max(1, (len(times)-1)/8))
	var steps []float64
	for i := 0; i+span < len(times); i += max(1, span/2) {
		steps = append(steps, (times[i+span]-times[i])/float64(span))
	}
	slices.Sort(steps)
	c.step = steps[len(steps)/2]
	if !(c.step > 0) {
		return errors.New("its times do not rise: give --rate and leave the time out")
	}
	off := make([]float64, 0, len(times)-1)
	for i, t := range times[1:] {
		off = append(off, math.Abs(t-times[i]-c.step))
	}
	slices.Sort(off)
	c.slack = off[(len(off)-1)*3/4]
	// Least squares over the samples' numbers, gaps counted.
	var n, si, st, sii, sit, at float64
	for i, t := range times {
		if i > 0 {
			at++
			if d := t - times[i-1]; c.gap(d) {
				at += math.Round(d/c.step) - 1
			}
		}
		x, y := at, t-times[0]
		n++
		si += x
		st += y
		sii += x * x
		sit += x * y
	}
	if det := n*sii - si*si; det > 0 {
		if fitted := (n*sit - si*st) / det; math.Abs(fitted/c.step-1) < 0.1 {
			c.step = fitted
		}
	}
	return nil
}

// gap says that a step of time leaves samples out.
func (c *table) gap(d float64) bool { return d > 1.5*c.step+2*c.slack }

// longestGap is how many missing samples are made up, so that time stays right.
const longestGap = 50_000_000

func (c *table) read(dst []float32, seen *Seen) (int, error) {
	for i := range dst {
		v, err := c.sample(seen)
		if err != nil {
			return i, err
		}
		dst[i] = v
	}
	return len(dst), nil
}

func (c *table) sample(seen *Seen) (float32, error) {
	if c.owed > 0 {
		c.owed--
		seen.Missing++
		return nan, nil
	}
	if c.holding {
		c.holding = false
		return c.held, nil
	}
	if c.err != nil {
		return 0, c.err
	}
	at, v, err := c.row()
	if err != nil {
		c.err = err
		return 0, err
	}
	out := float32(v * c.scale)
	if !finite(out) {
		out = nan
		seen.Missing++
	}
	if math.IsNaN(at) {
		return out, nil
	}
	d := at - c.last
	if c.timed && c.cut && (d < -c.step-2*c.slack || c.gap(d)) {
		c.err = io.EOF // a number that was cut off with its file
		return 0, io.EOF
	}
	c.last = at
	if !c.timed {
		c.timed = true
		return out, nil
	}
	switch {
	case d < -c.step-2*c.slack:
		c.err = fmt.Errorf("line %d: time goes back by %.3g; give the record of one sweep", c.line, -d)
		return 0, c.err
	case c.gap(d):
		missing := math.Round(d/c.step) - 1
		if missing > longestGap {
			c.err = fmt.Errorf("line %d: time jumps ahead by %.0f samples; cut the file there", c.line, missing)
			return 0, c.err
		}
		seen.Gaps++
		c.owed, c.held, c.holding = int64(missing), out, true
		return c.sample(seen)
	}
	return out, nil
}
