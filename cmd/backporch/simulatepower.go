package main

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"backporch/video/display"
	"backporch/video/simulator"
)

// switching is what simulate's flags say of the power switch.
type switching struct {
	off       []float64 // seconds of each time without power
	on        float64   // seconds of power before the first, between them and after the last
	retention string
	rewrite   float64
	cold      bool
}

func (w *switching) add(c *cobra.Command) {
	c.Flags().Float64SliceVar(&w.off, "power-off", nil, "switch off for `SECONDS` and on again; once for each time, or with commas between")
	c.Flags().Float64Var(&w.on, "power-on", 1, "`SECONDS` with power before, between and after --power-off")
	c.Flags().StringVar(&w.retention, "retention", "1", "`SECONDS` without power that half of a lane's memory lasts; 1.2,6=0.5 says it of one lane")
	c.Flags().Float64Var(&w.rewrite, "rewrite", 0, "`SECONDS` after switching on until the program writes its screen again; 0: never")
	c.Flags().BoolVar(&w.cold, "cold", false, "begin with memory that nothing has written, as after hours without power")
}

// switchedOnly are the flags that mean nothing without --power-off.
var switchedOnly = []string{"power-on", "retention", "rewrite", "cold"}

const (
	leastOff = 0.02 // seconds: a field
	mostOff  = 600
)

// power turns the flags into what the simulator takes, and gives the fields of the capture; nil without --power-off.
func (w *switching) power(c *cobra.Command, p *display.Profile) (power *simulator.Power, fields int, err error) {
	if len(w.off) == 0 {
		for _, name := range switchedOnly {
			if c.Flags().Changed(name) {
				return nil, 0, withHint(fmt.Errorf("reading --%s: the machine stays on", name), "--power-off SECONDS switches it off")
			}
		}
		return nil, 0, nil
	}
	for _, name := range []string{"seconds", "fields"} {
		if c.Flags().Changed(name) {
			return nil, 0, withHint(fmt.Errorf("reading --%s: with --power-off the times make the length", name), "--power-on SECONDS says how long the machine is on each time")
		}
	}
	if !(w.on >= 0.1 && w.on <= mostOff) {
		return nil, 0, fmt.Errorf("reading --power-on: %v is not between 0.1 and %d", w.on, mostOff)
	}
	if !(w.rewrite >= 0 && w.rewrite <= mostOff) {
		return nil, 0, fmt.Errorf("reading --rewrite: %v is not between 0 and %d", w.rewrite, mostOff)
	}
	rate := p.FieldHz()
	on := 2 * max(int(math.Round(w.on*rate/2)), 1) // whole frames
	power = &simulator.Power{On: on, Cold: w.cold, Clear: int(math.Round(w.rewrite * rate))}
	if power.Median, err = lanesOf(w.retention); err != nil {
		return nil, 0, fmt.Errorf("reading --retention: %w", err)
	}
	fields = on
	for _, off := range w.off {
		if !(off >= leastOff && off <= mostOff) {
			return nil, 0, fmt.Errorf("reading --power-off: %v is not between %v and %d", off, leastOff, mostOff)
		}
		power.Cycles = append(power.Cycles, simulator.Cycle{Off: time.Duration(off * float64(time.Second)), On: on})
		fields += int(math.Round(off*rate)) + on
	}
	if fields += fields % 2; fields > maxFields {
		return nil, 0, fmt.Errorf("simulate: %d fields are too many, %d at most", fields, maxFields)
	}
	return power, fields, nil
}

// lanesOf reads how long each lane lasts: a number for all, and BIT=NUMBER for one.
func lanesOf(text string) (lanes [8]float64, err error) {
	for _, word := range strings.Split(text, ",") {
		from, to, number := 0, 7, word
		if bit, of, one := strings.Cut(word, "="); one {
			n, err := strconv.Atoi(bit)
			if err != nil || n < 0 || n > 7 {
				return lanes, fmt.Errorf("%q is no data bit, 0 to 7", bit)
			}
			from, to, number = n, n, of
		}
		v, err := strconv.ParseFloat(number, 64)
		if err != nil || !(v >= 0.001 && v <= 1e6) {
			return lanes, fmt.Errorf("%q is no time between 0.001 and 1000000 seconds", number)
		}
		for bit := from; bit <= to; bit++ {
			lanes[bit] = v
		}
	}
	for _, v := range lanes {
		if v == 0 {
			return lanes, errors.New("it says one lane alone; begin with the time of all, as in 1.2,6=0.5")
		}
	}
	return lanes, nil
}

// switchedJSON is how the machine was switched, as simulate --json gives it.
type switchedJSON struct {
	Off       []float64  `json:"off_s"`
	Retention [8]float64 `json:"retention_s"` // by data bit, that half of its memory lasts
	Cold      bool       `json:"cold"`
}

func switchedOf(p *simulator.Power) *switchedJSON {
	if p == nil {
		return nil
	}
	out := &switchedJSON{Retention: p.Median, Cold: p.Cold}
	for _, c := range p.Cycles {
		out.Off = append(out.Off, c.Off.Seconds())
	}
	return out
}

// String says it for a person.
func (w *switchedJSON) String() string {
	var off, lanes []string
	for _, s := range w.Off {
		off = append(off, fmt.Sprintf("%g", s))
	}
	for bit, s := range w.Retention {
		lanes = append(lanes, fmt.Sprintf("bit %d %g", bit, s))
	}
	said := "switched off for " + strings.Join(off, ", ") + " s; half of a lane lasts, in s: " + strings.Join(lanes, ", ")
	if w.Cold {
		said += "; memory was at rest at first"
	}
	return said
}
