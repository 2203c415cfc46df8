package main

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"github.com/spf13/cobra"

	"backporch/cmd/backporch/internal/report"
	"backporch/cmd/backporch/internal/term"
	"backporch/video/simulator"
)

func newSimulate(s *invocation) *cobra.Command {
	var o options
	var m simulation
	c := &cobra.Command{
		Use:   "simulate",
		Short: "Write a capture of a simulated machine, with any fault it knows",
		Long: `Simulate builds a machine's picture from its memory, sends it through a composite
signal and a grabber, and writes what the grabber delivers: for practice, and to try
the other commands; to a FILE.wav it writes the composite signal itself, sampled at four
times the subcarrier. --fault may be given several times; the faults act together. The
same seed gives the same capture. --power-off switches the machine off and on again, to
practise 'backporch powerup': its memory decays meanwhile, lane by lane.

Kinds of fault:
  ` + strings.Join(report.Wrap(strings.Join(simulator.Kinds(), ", "), 80), "\n  ") + `
A particular that is left out has a middling value; a wrong one is answered with those
that the kind takes.

` + failHelp,
		Example: `  backporch simulate --out good.avi
  backporch simulate --fault data-bit-stuck:bit=3,level=1 --out stuck.avi
  backporch simulate --fault noise --fault data-bit-stuck:bit=6,level=0 --seed 7 --out both.avi
  backporch simulate --display text-40x25-60 --seconds 0.2 --out stills
  backporch simulate --screen busy --power-off 0.3,0.6 --retention 1.2,6=0.5 --rewrite 0.5 --out switched.avi
  backporch simulate --power-off 0.5 --retention 0.02 --cold --out unwritten.avi
  backporch simulate --seconds 0.2 --out output.wav`,
		Args: exactly(),
		RunE: func(c *cobra.Command, _ []string) error {
			sc, err := m.scenario(c, &o)
			if err != nil {
				return err
			}
			if o.out == "" {
				return withHint(errors.New("simulate: no --out given"), "--out FILE.avi writes a recording, FILE.wav the sampled waveform, DIR a folder of stills")
			}
			status := term.NewStatus(s.err, o.quiet)
			w, err := record(c.Context(), sc, o.out, func(n int) { status.Set("simulating %s: %d", o.out, n) })
			status.Done()
			if err != nil {
				return err
			}
			if o.json {
				return writeJSON(s.out, w)
			}
			_, err = fmt.Fprintln(s.out, w)
			return err
		},
	}
	o.addDisplay(c, "display profile `NAME` (default attr-256x192-50)")
	c.Flags().StringArrayVar(&m.faults, "fault", nil, "a fault as `KIND[:k=v,...]`; may be repeated")
	complete(c, "fault", simulator.Kinds)
	c.Flags().Uint64Var(&m.seed, "seed", 1, "seed `N` of everything that chance decides")
	c.Flags().StringVar(&m.screen, "screen", "", "`NAME` of what the screen shows, by chance without it: "+strings.Join(screens(), ", "))
	complete(c, "screen", screens)
	c.Flags().IntVar(&m.border, "border", -1, "border colour `N`, 0 to 15, by chance without it")
	o.addSeconds(c, 2, "`N` seconds of capture")
	c.Flags().IntVar(&m.fields, "fields", 0, "`N` fields in place of --seconds")
	m.switching.add(c)
	o.addFont(c)
	o.addJSON(c, "what was written and what was put in, as JSON")
	o.addOut(c, "", "write `FILE.avi`, the sampled waveform as FILE.wav, or stills into a folder")
	o.addQuiet(c)
	return c
}

// A simulation is what the flags of simulate ask for.
type simulation struct {
	faults []string
	seed   uint64
	screen string
	border int
	fields int
	switching
}

// scenario turns the flags into what the simulator takes.
func (m *simulation) scenario(c *cobra.Command, o *options) (simulator.Scenario, error) {
	sc := simulator.Scenario{Seed: m.seed, Screen: simulator.Screen(m.screen)}
	if o.display == "" {
		o.display = "attr-256x192-50"
	}
	var err error
	if sc.Display, err = o.profile(); err != nil {
		return sc, err
	}
	if sc.Font, err = o.readFont(); err != nil {
		return sc, err
	}
	sc.Order = orderOf(sc.Display)
	if c.Flags().Changed("border") {
		sc.Border = &m.border
	}
	if c.Flags().Changed("fields") && (m.fields < 2 || m.fields > maxFields) {
		return sc, fmt.Errorf("reading --fields: %d is not between 2 and %d", m.fields, maxFields)
	}
	if sc.Power, sc.Fields, err = m.power(c, sc.Display); err != nil {
		return sc, err
	}
	if sc.Power == nil {
		sc.Fields = m.fields
	}
	if sc.Fields == 0 {
		if err := o.checkSeconds(); err != nil {
			return sc, err
		}
		sc.Fields = max(2*int(math.Round(o.seconds*frameRate(sc.Display))), 2)
	}
	for _, word := range m.faults {
		f, err := simulator.ParseFault(word)
		if err != nil {
			return sc, fmt.Errorf("reading --fault %s: %w", word, err)
		}
		sc.Faults = append(sc.Faults, f)
	}
	return sc, nil
}

// maxFields is what fits a recording: an hour.
const maxFields = 3600 * 50

func screens() []string {
	all := simulator.Screens()
	names := make([]string, len(all))
	for i, name := range all {
		names[i] = string(name)
	}
	return names
}

// truthJSON is what was put in, as simulate --json gives it.
type truthJSON struct {
	Faults     []string `json:"faults"`
	Screen     string   `json:"screen"`
	Border     int      `json:"border"`      // as written
	BorderSeen int      `json:"border_seen"` // as it leaves its register
	OriginX    float64  `json:"origin_x"`    // capture samples
	OriginY    float64  `json:"origin_y"`    // lines of a field
	PitchX     float64  `json:"pitch_x"`
	PitchY     float64  `json:"pitch_y"`
	NoiseMV    float64  `json:"noise_mv"`
	Written    []byte   `json:"written"` // display memory, base64
	Read       []byte   `json:"read"`    // as the display read it last
}

func truthOf(t simulator.Truth) truthJSON {
	out := truthJSON{
		Faults: []string{}, Screen: string(t.Screen), Border: t.Border, BorderSeen: t.BorderSeen,
		OriginX: t.OriginX, OriginY: t.OriginY, PitchX: t.PitchX, PitchY: t.PitchY,
		NoiseMV: t.NoiseMV, Written: t.Written, Read: t.Read,
	}
	for _, f := range t.Faults {
		out.Faults = append(out.Faults, f.String())
	}
	return out
}

// String says what was written, for a person.
func (r *recording) String() string {
	put := strings.Join(r.Truth.Faults, " and ")
	if put == "" {
		put = "no fault"
	}
	if r.Power != nil {
		put += "; " + r.Power.String()
	}
	if r.FullScale > 0 {
		return fmt.Sprintf("%s: %d fields as a waveform, %.6g million samples a second, full scale %g V\nput in: %s; screen %s, border %d, seed %d",
			r.File, r.Fields, r.Rate/1e6, r.FullScale, put, r.Truth.Screen, r.Truth.Border, r.Seed)
	}
	return fmt.Sprintf("%s: %d frames of %dx%d, %.2f a second\nput in: %s; screen %s, border %d, seed %d",
		r.File, r.Frames, r.Width, r.Height, r.Rate, put, r.Truth.Screen, r.Truth.Border, r.Seed)
}
