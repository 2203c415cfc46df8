package main

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"backporch/video/capture/v4l2"
)

func newDevices(s *invocation) *cobra.Command {
	var o options
	c := &cobra.Command{
		Use:   "devices",
		Short: "List what can capture here: inputs, standards, formats, signal",
		Long: `Devices lists the capture devices of this machine: their inputs, the standards and
formats that can be asked for with --input, --standard and --format, the standard that
each detects, and what it says itself of the signal at its selected input. Nothing is
changed, and a device that another program uses can be asked all the same.

Most devices say nothing of their signal, whatever reaches them: no word is no proof of a
good one. 'check' looks at the picture as well.

` + failHelp,
		Example: `  backporch devices
  backporch devices --json`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			found, err := v4l2.List(c.Context())
			if err != nil {
				return fmt.Errorf("listing the capture devices: %w", err)
			}
			list := make([]deviceJSON, 0, len(found))
			for _, l := range found {
				list = append(list, describeDevice(l))
			}
			if o.json {
				return writeJSON(s.out, struct {
					Schema  int          `json:"schema"`
					Devices []deviceJSON `json:"devices"`
				}{1, list})
			}
			return printDevices(s.out, list)
		},
	}
	o.addJSON(c, "the list as JSON")
	return c
}

// deviceJSON is a device in devices --json. What it does not say is null.
type deviceJSON struct {
	Path     string       `json:"path"`
	ByID     *string      `json:"by_id"` // its lasting name; numbers wander
	Card     string       `json:"card"`
	Driver   string       `json:"driver"`
	Bus      string       `json:"bus"`
	Inputs   []inputJSON  `json:"inputs"`
	Standard *string      `json:"standard"` // as it is set
	Detected *string      `json:"detected"` // 625/50 or 525/60
	Status   []string     `json:"device_status"`
	Formats  []formatJSON `json:"formats"`
	Error    *string      `json:"error"` // why it says nothing
}

type inputJSON struct {
	Number    int      `json:"number"`
	Name      string   `json:"name"`
	Tuner     bool     `json:"tuner"`
	Selected  bool     `json:"selected"`
	Standards []string `json:"standards"`
}

type formatJSON struct {
	Code  string   `json:"code"`
	Name  string   `json:"name"`
	Sizes []string `json:"sizes"`
	Used  bool     `json:"used"` // the one that is taken when none is asked for
}

func describeDevice(l v4l2.Listed) deviceJSON {
	out := deviceJSON{Path: l.Path, Inputs: []inputJSON{}, Status: []string{}, Formats: []formatJSON{}}
	if l.Err != nil {
		why := l.Err.Error()
		out.Error = &why
		return out
	}
	d := l.Device
	out.Card, out.Driver, out.Bus = d.Card, d.Driver, d.Bus
	word := func(s string, known bool) *string {
		if !known {
			return nil
		}
		return &s
	}
	out.ByID = word(d.ByID, d.ByID != "")
	out.Standard = word(d.Standard.String(), d.Standard != 0)
	out.Detected = word(d.Seen.Scan().String(), d.Seen.Scan() != 0)
	out.Status = append(out.Status, d.Input().Status...)
	for _, in := range d.Inputs {
		out.Inputs = append(out.Inputs, inputJSON{in.Number, in.Name, in.Tuner, in.Number == d.Selected, append([]string{}, in.Standards.Names()...)})
	}
	used, _, err := d.Choose("")
	for _, f := range d.Formats {
		j := formatJSON{f.Code, f.Name, []string{}, err == nil && f.Code == used}
		for _, size := range f.Sizes {
			j.Sizes = append(j.Sizes, fmt.Sprintf("%dx%d", size.Width, size.Height))
		}
		out.Formats = append(out.Formats, j)
	}
	return out
}

func printDevices(w io.Writer, list []deviceJSON) error {
	var b strings.Builder
	if len(list) == 0 {
		b.WriteString("No capture device is here. Plug one in; it may take a few seconds to appear.\n")
	}
	for i, d := range list {
		if i > 0 {
			b.WriteByte('\n')
		}
		if d.Error != nil {
			fmt.Fprintf(&b, "%s\n  %s\n", d.Path, *d.Error)
			continue
		}
		fmt.Fprintf(&b, "%s  %s\n", d.Path, d.Card)
		line := func(name, format string, args ...any) {
			fmt.Fprintf(&b, "  %-9s %s\n", name, fmt.Sprintf(format, args...))
		}
		line("driver", "%s, %s", d.Driver, d.Bus)
		if d.ByID != nil {
			line("name", "%s", *d.ByID)
		}
		printInputs(d.Inputs, line)
		switch {
		case d.Standard == nil:
			line("standard", "none to set: the size of its frames tells")
		case d.Detected != nil:
			line("standard", "set to %s; detects %s", *d.Standard, *d.Detected)
		default:
			line("standard", "set to %s; detects none", *d.Standard)
		}
		if len(d.Status) > 0 {
			line("signal", "the device says: %s", strings.Join(d.Status, ", "))
		} else {
			line("signal", "the device finds no fault with it, or does not look")
		}
		printFormats(d.Formats, line)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// printInputs puts inputs of the same standards on one name.
func printInputs(inputs []inputJSON, line func(name, format string, args ...any)) {
	for i, in := range inputs {
		name := ""
		if i == 0 {
			name = "inputs"
		}
		about := strings.Join(in.Standards, " ")
		if i > 0 && slices.Equal(in.Standards, inputs[i-1].Standards) && about != "" {
			about = "the same standards"
		}
		mark := " "
		if in.Selected {
			mark = "*"
		}
		if in.Tuner {
			about = strings.TrimSuffix("tuner, "+about, ", ")
		}
		line(name, "%s %d  %-16s %s", mark, in.Number, in.Name, about)
	}
}

func printFormats(formats []formatJSON, line func(name, format string, args ...any)) {
	const most = 12 // a list of all that a webcam offers helps nobody
	var usual, others []string
	for _, f := range formats {
		switch {
		case f.Used:
			usual = append(usual, f.Code+" (used)")
		default:
			others = append(others, f.Code)
		}
	}
	all := append(usual, others...)
	if len(all) > most {
		all = append(all[:most], fmt.Sprintf("and %d more", len(formats)-most))
	}
	if len(all) > 0 {
		line("formats", "%s", strings.Join(all, " "))
	}
	if len(usual) == 0 && len(all) > 0 {
		line("", "none that keeps the device's own samples: colours outside R, G, B are clipped")
	}
}

// addDevice adds the flags of commands that take a capture device.
func (o *options) addDevice(c *cobra.Command) {
	c.Flags().StringVar(&o.device.Input, "input", "", "of a capture device: the `INPUT`, by number or name")
	c.Flags().StringVar(&o.device.Standard, "standard", "", "of a capture device: the `STANDARD`, such as pal or ntsc; else what it detects")
	c.Flags().StringVar(&o.device.Format, "format", "", "of a capture device: the pixel `FORMAT`, such as YUYV or MJPG")
	complete(c, "standard", v4l2.StandardNames)
	complete(c, "format", func() []string { return []string{"YUYV", "UYVY", "MJPG"} })
}

// checkDevice refuses what no device knows, before one is opened.
func (o *options) checkDevice() error {
	if o.device.Standard == "" {
		return nil
	}
	if _, err := v4l2.ParseStandard(o.device.Standard); err != nil {
		return fmt.Errorf("reading --standard: %w", err)
	}
	return nil
}
