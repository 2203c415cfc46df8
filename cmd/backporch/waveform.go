package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	measure "backporch/analyse/waveform"
	"backporch/cmd/backporch/internal/scope"
	"backporch/cmd/backporch/internal/term"
	"backporch/video/keep"
	"backporch/video/waveform"
)

// addWaveform adds the flags that a waveform file may need when it is read.
func (o *options) addWaveform(c *cobra.Command) {
	c.Flags().Float64Var(&o.waveform.Rate, "rate", 0, "`N` samples a second of a waveform file that does not say")
	c.Flags().StringVar(&o.waveform.Format, "samples", "", "`FORMAT` of bare samples: "+strings.Join(waveform.Formats(), ", "))
	c.Flags().IntVar(&o.waveform.Column, "column", 0, "column `N` of a CSV, or channel of a WAV")
	complete(c, "samples", waveform.Formats)
}

func newWaveform(s *invocation) *cobra.Command {
	var o options
	c := &cobra.Command{
		Use:   "waveform FILE",
		Short: "Measure a sampled waveform: levels, timing and burst against the standard",
		Long: `Waveform reads what an oscilloscope or a fast sampler took of a composite output and
measures it: sync, white and burst, line and field timing, porches, edges, jitter,
pulses; says which scanning it is and which limits of the standard it keeps, and
whether the line is terminated. It finds sync by itself, whatever the polarity, the
offset and the drift.

FILE is a CSV (time and volts, or volts with --rate), a WAV of 8 or 16 bits, an NPY
array, or bare samples of 8 or 16 bits with --rate. A WAV's volts come from
--full-scale; without it levels are told against the height of sync.

Measure with one load of 75 ohm at the end of the cable. A probe's ground clip ties the
board to mains earth through the oscilloscope: check that nothing else does.

Exit status:
  0  done, and within limits
  1  done, out of limits
  2  could not run: usage or input`,
		Example: `  backporch waveform output.csv
  backporch waveform output.wav --full-scale 2 --out pictures
  backporch waveform output.raw --rate 17734475 --json`,
		Args: exactly("FILE"),
		RunE: func(c *cobra.Command, args []string) error {
			if err := o.checkWaveform(c); err != nil {
				return err
			}
			keep, err := openFolder(o.out)
			if err != nil {
				return err
			}
			defer keep.leave()
			status := term.NewStatus(s.err, o.quiet)
			w, err := readWaveform(c.Context(), args[0], o.waveform, o.seconds, status)
			status.Done()
			if err != nil {
				return err
			}
			if err := keep.line(w); err != nil {
				return err
			}
			if len(scope.Faults(w.Result)) > 0 {
				s.status = statusFault
			}
			if o.json {
				return writeJSON(s.out, w)
			}
			r := scope.Report{Result: w.Result, Seen: w.seen()}
			if w.Picture != nil {
				r.Kept = *w.Picture
			}
			return r.Text(s.out, s.style())
		},
	}
	o.addWaveform(c)
	c.Flags().Float64Var(&o.waveform.FullScale, "full-scale", 0, "`VOLTS` (peak) that the greatest sample code stands for")
	o.addSeconds(c, 4, "measure `N` seconds of the file, 0 for all")
	o.addJSON(c, "the measures as JSON")
	o.addOut(c, "", "keep a picture of the averaged line in the folder `DIR`")
	o.addQuiet(c)
	return c
}

func (o *options) checkWaveform(c *cobra.Command) error {
	if o.seconds < 0 || o.seconds != o.seconds || math.IsInf(o.seconds, 0) {
		return fmt.Errorf("reading --seconds: %v is not 0 or more", o.seconds)
	}
	for flag, v := range map[string]float64{"rate": o.waveform.Rate, "full-scale": o.waveform.FullScale} {
		if c.Flags().Changed(flag) && !(v > 0 && v < 1e12) {
			return fmt.Errorf("reading --%s: %v is not above 0", flag, v)
		}
	}
	if c.Flags().Changed("column") && o.waveform.Column < 1 {
		return fmt.Errorf("reading --column: %d is not 1 or more", o.waveform.Column)
	}
	return nil
}

// A measured waveform, as waveform --json gives it.
type measuredWaveform struct {
	Schema int            `json:"schema"`
	Source waveformSource `json:"source"`
	*measure.Result
	Faults  []string `json:"faults"`  // what is out of limits, in words
	Picture *string  `json:"picture"` // of the averaged line
}

// waveformSource is the file.
type waveformSource struct {
	Spec    string   `json:"spec"`
	Format  string   `json:"format"`
	Rate    float64  `json:"rate"`
	Samples *int64   `json:"samples"` // in the file, null when its end was not reached
	Missing int64    `json:"missing"`
	Gaps    int      `json:"gaps"`
	Notes   []string `json:"notes"`
}

// readWaveform measures so many seconds of a file, 0 for all of it.
func readWaveform(ctx context.Context, path string, o waveform.Options, seconds float64, status *term.Status) (*measuredWaveform, error) {
	r, err := waveform.Open(path, o)
	if err != nil {
		return nil, err
	}
	defer r.Close()
	info := r.Info()
	source := waveform.NewDecimator(r, info.Rate)
	meter, err := measure.NewMeter(measure.Options{Rate: source.Rate(), Absolute: info.Absolute})
	if err != nil {
		return nil, fmt.Errorf("measuring %s: %w", path, err)
	}
	limit := int64(math.MaxInt64)
	if seconds > 0 {
		limit = int64(math.Min(math.Ceil(seconds*source.Rate()), math.MaxInt64/2))
	}
	buf := make([]float32, 1<<16)
	whole := false
	for done := int64(0); done < limit; {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		n, err := source.Read(buf[:min(int64(len(buf)), limit-done)])
		meter.Add(buf[:n])
		done += int64(n)
		if errors.Is(err, io.EOF) {
			whole = true
			break
		}
		if err != nil {
			return nil, err
		}
		status.Set("measuring %s: %.2f s", path, float64(done)/source.Rate())
	}
	result, err := meter.Result()
	if err != nil && len(info.Notes) > 0 { // it may be another column or another sort of samples
		return nil, fmt.Errorf("measuring %s (%s): %w", path, strings.Join(info.Notes, "; "), err)
	}
	if err != nil {
		return nil, fmt.Errorf("measuring %s: %w", path, err)
	}
	seen := r.Seen()
	w := &measuredWaveform{Schema: 1, Result: result, Faults: scope.Faults(result), Source: waveformSource{
		Spec: path, Format: info.Format, Rate: info.Rate, Missing: seen.Missing, Gaps: seen.Gaps, Notes: info.Notes,
	}}
	if w.Faults == nil {
		w.Faults = []string{}
	}
	if w.Source.Notes == nil {
		w.Source.Notes = []string{}
	}
	switch {
	case info.Samples > 0:
		w.Source.Samples = &info.Samples
	case whole:
		w.Source.Samples = &seen.Samples
	}
	if !whole && (info.Samples == 0 || info.Samples > seen.Samples) {
		result.Notes = append(result.Notes, fmt.Sprintf("the first %.3g s were measured; --seconds 0 measures the whole file", float64(seen.Samples)/info.Rate))
	}
	return w, nil
}

// seen says what was looked at.
func (w *measuredWaveform) seen() string {
	said := []string{w.Source.Spec, w.Source.Format, fmt.Sprintf("%.6g million samples a second", w.Source.Rate/1e6),
		fmt.Sprintf("%.4g ms, %d lines", w.Seconds*1000, w.MeasuredLines)}
	if w.Source.Gaps > 0 {
		said = append(said, fmt.Sprintf("%d gaps", w.Source.Gaps))
	}
	return strings.Join(append(said, w.Source.Notes...), "; ")
}

// line keeps the picture of the averaged line when there is a folder to keep it in.
func (f *folder) line(w *measuredWaveform) error {
	if f == nil || w.Mean == nil {
		return nil
	}
	name := free(filepath.Join(f.path, stem(w.Source.Spec)+"-line"), stillEnding) + stillEnding
	title := fmt.Sprintf("%s: mean of %d lines, %s", filepath.Base(w.Source.Spec), w.Mean.Lines, w.Scanning)
	err := keep.Write(name, 0o444, func(out io.Writer) error { return scope.WritePlot(out, w.Result, title) })
	if err != nil {
		return fmt.Errorf("keeping the picture: %w", err)
	}
	w.Picture = &name
	return nil
}
