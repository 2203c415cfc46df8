package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"backporch/analyse"
	"backporch/cmd/backporch/internal/job"
	"backporch/cmd/backporch/internal/plots"
	"backporch/cmd/backporch/internal/quality"
	"backporch/cmd/backporch/internal/term"
	"backporch/patterns/signalpath"
	"backporch/video"
	"backporch/video/capture"
	"backporch/video/display"
	"backporch/video/source"
)

// gauging is what signal takes beside the shared flags.
type gauging struct {
	options
	against   string
	device    string
	calibrate string
	keep      jobFlag
}

func newSignal(s *invocation) *cobra.Command {
	var g gauging
	c := &cobra.Command{
		Use:   "signal SOURCE",
		Short: "Is this composite output clean: the measurements, with grades",
		Long: `Signal measures the composite output that a capture shows: noise, edges, ringing,
ghosts, fixed bars, single frequencies, hum, jitter, levels, hue and saturation, each
with its uncertainty and a grade of the five-grade impairment scale (ITU-R BT.500),
and says whether the output is clean, usable or not clean, and what in the circuit is
the likely cause. A screen with black text on white inside a bright border shows most.

SOURCE is what it is to check. --against sets another capture beside it, measure by
measure. A capture device has noise and edges of its own: --calibrate NAME keeps what
it shows of a good machine, and --device NAME takes that into account from then on (a
device that is SOURCE itself has its own name). With --out the averaged edge, the
noise spectrum, the profile of bars and the colours are drawn; nothing is overwritten.

Exit status:
  0  done, the output is clean or usable
  1  done, the output is not clean
  2  could not run: usage, input or device
  3  done, but the picture has nothing to measure by`,
		Example: `  backporch signal capture.avi
  backporch signal capture.avi --against good.png --out plots
  backporch signal /dev/video0 --seconds 2 --json`,
		Args: exactly("SOURCE"),
		RunE: func(c *cobra.Command, args []string) error { return g.run(c.Context(), s, args[0]) },
	}
	g.addDisplay(c, "display profile `NAME`; without it the one that fits best")
	g.addFont(c)
	c.Flags().StringVar(&g.against, "against", "", "capture `FILE` to compare with, measure by measure")
	c.Flags().StringVar(&g.device, "device", "", "the capture device `NAME` whose calibration is taken into account")
	c.Flags().StringVar(&g.calibrate, "calibrate", "", "keep the measures as those of the capture device `NAME`: SOURCE shows a good machine")
	g.addSeconds(c, 2, "read `N` seconds of the capture")
	g.addJSON(c, "the measures as JSON")
	g.addOut(c, "", "draw plots into the folder `DIR`")
	g.keep.add(c)
	g.addDevice(c)
	g.addQuiet(c)
	return c
}

// calibrationFolder is where calibrations are kept, "" when there is no home.
func calibrationFolder() string {
	config, err := os.UserConfigDir()
	if err != nil {
		return ""
	}
	return filepath.Join(config, "backporch", "devices")
}

func (g *gauging) run(ctx context.Context, s *invocation, spec string) error {
	if g.device != "" && g.calibrate != "" {
		return withHint(errors.New("reading --calibrate: with --device the device's own part would be taken off before it is kept"), "give one of them")
	}
	e, err := g.examination()
	if err != nil {
		return err
	}
	calibration, err := g.calibration()
	if err != nil {
		return err
	}
	a, err := g.keep.open(ctx, s)
	if err != nil {
		return err
	}
	defer a.close()
	folder, err := openFolder(g.out)
	if err != nil {
		return err
	}
	defer folder.leave()
	status := term.NewStatus(s.err, g.quiet)
	a.under(status)
	defer status.Done()
	c, measured, profile, err := e.gauge(ctx, spec, e.device, nil, status)
	if err != nil {
		return err
	}
	if calibration == nil && g.device == "" && g.calibrate == "" && c.info.Kind == video.KindDevice {
		if calibration, err = quality.Load(calibrationFolder(), stem(spec)); errors.Is(err, quality.ErrNoCalibration) || errors.Is(err, quality.ErrName) {
			calibration, err = nil, nil
		}
		if err != nil {
			return fmt.Errorf("reading the device's calibration: %w", err)
		}
	}
	f := quality.Finding{Tool: toolVersion(), Info: c.info, Frames: len(c.frames), Survey: measured, Profile: profile}
	if calibration != nil {
		f.Device, f.Calibration = calibration.Device, calibration.Measures
	}
	if g.against != "" {
		_, other, _, err := e.gauge(ctx, g.against, e.deviceFor(g.against), profile, status)
		if err != nil {
			return fmt.Errorf("--against: %w", err)
		}
		f.AgainstSpec, f.Against = g.against, other
	}
	r := quality.New(f)
	status.Done()
	if err := a.recognise(ctx, c.fields, c.info, measured, profile); err != nil {
		return err
	}
	if g.calibrate != "" {
		if err := g.keepCalibration(s, r, spec, measured); err != nil {
			return err
		}
	}
	if folder != nil {
		for _, p := range plots.Signal(measured, profile, filepath.Base(spec)) {
			path, err := folder.plot(spec, &p)
			if err != nil {
				return err
			}
			r.Plots = append(r.Plots, path)
		}
	}
	if err := attachSignal(ctx, a, r); err != nil {
		return err
	}
	s.status = map[string]int{signalpath.CleanOutput: statusClean, signalpath.UsableOutput: statusClean, signalpath.PoorOutput: statusFault}[r.Verdict.Word]
	if r.Verdict.Word == "undetermined" {
		s.status = statusUndetermined
	}
	if g.json {
		return r.JSON(s.out)
	}
	style := s.style()
	return r.Text(s.out, quality.Style{Colour: style.Colour, Width: style.Width})
}

// gauge reads and measures one capture.
func (e *examination) gauge(ctx context.Context, spec string, device capture.DeviceOptions, p *display.Profile, status *term.Status) (*footage, *analyse.Survey, *display.Profile, error) {
	c, err := readWith(ctx, spec, source.Options{Seconds: e.seconds, Device: device}, status)
	if err != nil {
		return nil, nil, nil, err
	}
	status.Set("measuring %s", spec)
	if p == nil {
		p = e.profile
	}
	measured, profile, err := e.survey(c, p)
	return c, measured, profile, err
}

// calibration is that of --device, nil when it was not given.
func (g *gauging) calibration() (*quality.Calibration, error) {
	if g.device == "" {
		return nil, nil
	}
	c, err := quality.Load(calibrationFolder(), g.device)
	if errors.Is(err, quality.ErrNoCalibration) {
		return nil, withHint(fmt.Errorf("reading --device: %w", err), "backporch signal SOURCE --calibrate %s makes one, of a good machine", g.device)
	}
	if err != nil {
		return nil, fmt.Errorf("reading --device: %w", err)
	}
	return c, nil
}

// keepCalibration keeps what was measured as the device's own. A source that is not good enough is none.
func (g *gauging) keepCalibration(s *invocation, r *quality.Report, spec string, measured *analyse.Survey) error {
	if r.Verdict.Word != signalpath.CleanOutput && r.Verdict.Word != signalpath.UsableOutput {
		return withHint(fmt.Errorf("reading --calibrate: %s shows no good source: %s", spec, r.Verdict.Reason),
			"capture a machine that is known to be good, with black text on white")
	}
	path, err := quality.Calibrate(g.calibrate, spec, time.Now(), measured).Save(calibrationFolder())
	if err != nil {
		return fmt.Errorf("reading --calibrate: %w", plainPath(err))
	}
	fmt.Fprintf(s.err, "backporch: kept as the device %s: %s\n", g.calibrate, path)
	return nil
}

// plot writes one plot under a free name.
func (f *folder) plot(spec string, p *plots.Plot) (string, error) {
	const ending = ".png"
	path := free(filepath.Join(f.path, stem(spec)+"-"+p.Name), ending) + ending
	file, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o666)
	if err != nil {
		return "", fmt.Errorf("keeping the plot: %w", plainPath(err))
	}
	err = p.PNG(file)
	if closing := file.Close(); err == nil {
		err = closing
	}
	if err != nil {
		_ = os.Remove(path)
		return "", fmt.Errorf("keeping the plot: %w", err)
	}
	return path, nil
}

// attachSignal keeps the measures on a job's time line.
func attachSignal(ctx context.Context, a *attachment, r *quality.Report) error {
	if a == nil {
		return nil
	}
	raw, err := json.Marshal(r)
	if err != nil {
		return err
	}
	c := job.Capture{
		Command: "signal", Source: r.Source.Spec, Display: r.Display, Report: raw,
		Text: fmt.Sprintf("composite output %s: %s", r.Verdict.Word, r.Verdict.Reason),
	}
	for i := range r.Measures {
		if m := &r.Measures[i]; m.Value != nil {
			c.Measures = append(c.Measures, figure(m.Title(), m.Value, m.Unit, m.Note))
		}
	}
	_, err = a.attach(ctx, c)
	return err
}
