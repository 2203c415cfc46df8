package main

import (
	"encoding/json"
	"fmt"
	"io"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"backporch/video/display"
)

func newDisplay(s *invocation) *cobra.Command {
	c := &cobra.Command{
		Use:   "display",
		Short: "List, show and learn display profiles and fonts",
		Long: `A display profile says how a machine makes its picture from memory. Four are built
in; the *.toml files in ` + "backporch/displays" + ` of your configuration folder
(~/.config on most systems) are added to them, and replace them by name.

` + failHelp,
		Example: `  backporch display list
  backporch display show attr-256x192-50`,
		Args: func(c *cobra.Command, args []string) error {
			if len(args) > 0 {
				return withHint(fmt.Errorf("display: no command %q", args[0]), "backporch display --help lists them")
			}
			return nil
		},
		RunE: func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	c.AddCommand(newDisplayList(s), newDisplayShow(s), newDisplayLearn(s))
	return c
}

// displayJSON is a profile as display list --json and display show --json give it.
type displayJSON struct {
	Name         string       `json:"name"`
	Kind         string       `json:"kind"`
	Standard     string       `json:"standard"`
	PixelClockHz float64      `json:"pixel_clock_hz"`
	LinePixels   int          `json:"line_pixels"`
	FieldLines   int          `json:"field_lines"`
	LineHz       float64      `json:"line_hz"`
	FieldHz      float64      `json:"field_hz"`
	Width        int          `json:"width"`
	Height       int          `json:"height"`
	Columns      int          `json:"columns"`
	Rows         int          `json:"rows"`
	Border       [4]int       `json:"border"` // left, right, above, below
	MemoryBytes  int          `json:"memory_bytes"`
	Colours      []colourJSON `json:"colours"`
}

// colourJSON is a colour as the picture carries it and as BT.601 codes.
type colourJSON struct {
	Index      int      `json:"index"`
	Name       string   `json:"name"`
	Luma       float64  `json:"luma"`
	Saturation float64  `json:"saturation"`
	HueDeg     *float64 `json:"hue_deg"` // null where there is no colour
	Codes      [3]int   `json:"codes"`   // Y, Cb, Cr
}

// greyBelow is the saturation under which a colour has no hue worth naming.
const greyBelow = 0.005

func describe(p *display.Profile) displayJSON {
	d := displayJSON{
		Name: p.Name, Kind: string(p.Kind), Standard: p.Standard.String(),
		PixelClockHz: p.PixelClockHz, LinePixels: p.LinePixels, FieldLines: p.FieldLines,
		LineHz: p.LineHz(), FieldHz: p.FieldHz(), Width: p.Width, Height: p.Height,
		Columns: p.Columns(), Rows: p.Rows(),
		Border:      [4]int{p.BorderLeft, p.BorderRight, p.BorderTop, p.BorderBottom},
		MemoryBytes: p.Size(),
	}
	for i, c := range p.Colours {
		y, cb, cr := c.Codes()
		out := colourJSON{Index: i, Name: c.Name, Luma: c.Y, Saturation: c.Saturation(),
			Codes: [3]int{int(y + 0.5), int(cb + 0.5), int(cr + 0.5)}}
		if hue := c.Hue(); out.Saturation > greyBelow {
			out.HueDeg = &hue
		}
		d.Colours = append(d.Colours, out)
	}
	return d
}

func newDisplayList(s *invocation) *cobra.Command {
	var o options
	c := &cobra.Command{
		Use:     "list",
		Short:   "List the display profiles",
		Long:    "List the display profiles, the built-in ones and your own.\n\n" + failHelp,
		Example: "  backporch display list\n  backporch display list --json",
		Args:    exactly(),
		RunE: func(*cobra.Command, []string) error {
			all, err := profiles()
			if err != nil {
				return err
			}
			described := make([]displayJSON, len(all))
			for i, p := range all {
				described[i] = describe(p)
			}
			if o.json {
				return writeJSON(s.out, described)
			}
			return listDisplays(s.out, described)
		},
	}
	o.addJSON(c, "as JSON")
	return c
}

func newDisplayShow(s *invocation) *cobra.Command {
	var o options
	c := &cobra.Command{
		Use:     "show NAME",
		Short:   "Show one display profile",
		Long:    "Show one display profile: raster, memory and colours.\n\n" + failHelp,
		Example: "  backporch display show attr-256x192-50\n  backporch display show text-40x25-60 --json",
		Args:    exactly("NAME"),
		ValidArgsFunction: func(_ *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
			all, err := profiles()
			if err != nil || len(args) > 0 {
				return nil, cobra.ShellCompDirectiveNoFileComp
			}
			names := make([]string, len(all))
			for i, p := range all {
				names[i] = p.Name
			}
			return names, cobra.ShellCompDirectiveNoFileComp
		},
		RunE: func(_ *cobra.Command, args []string) error {
			all, err := profiles()
			if err != nil {
				return err
			}
			p, err := display.Find(all, args[0])
			if err != nil {
				return withHint(fmt.Errorf("showing a display: %w", err), "backporch display list shows them")
			}
			if o.json {
				return writeJSON(s.out, describe(p))
			}
			return showDisplay(s.out, p)
		},
	}
	o.addJSON(c, "as JSON")
	return c
}

var kindNames = map[string]string{"attr": "bitmap, colour cells", "text": "character cells"}

func listDisplays(w io.Writer, all []displayJSON) error {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "NAME\tKIND\tSTANDARD\tPICTURE\tCELLS\tPIXEL CLOCK\tFIELDS A SECOND")
	for _, d := range all {
		fmt.Fprintf(t, "%s\t%s\t%s\t%d x %d\t%d x %d\t%.6g MHz\t%.3f\n", d.Name, kindNames[d.Kind], d.Standard,
			d.Width, d.Height, d.Columns, d.Rows, d.PixelClockHz/1e6, d.FieldHz)
	}
	return t.Flush()
}

func showDisplay(w io.Writer, p *display.Profile) error {
	d := describe(p)
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintf(t, "%s\t%s, %s\n", d.Name, kindNames[d.Kind], d.Standard)
	fmt.Fprintf(t, "picture\t%d x %d pixels, %d x %d cells\n", d.Width, d.Height, d.Columns, d.Rows)
	fmt.Fprintf(t, "border seen\tleft %d, right %d pixels; above %d, below %d lines\n", d.Border[0], d.Border[1], d.Border[2], d.Border[3])
	fmt.Fprintf(t, "pixel clock\t%.6f MHz, %d periods a line: %.3f Hz\n", d.PixelClockHz/1e6, d.LinePixels, d.LineHz)
	fmt.Fprintf(t, "field\t%d lines, not interlaced: %.4f a second\n", d.FieldLines, d.FieldHz)
	fmt.Fprintf(t, "in a 720 capture\t%.4f samples a pixel\n", p.PitchX(720))
	fmt.Fprintf(t, "memory\t%d bytes\n", d.MemoryBytes)
	if p.Kind == display.Attr {
		fmt.Fprintf(t, "bitmap address\t%s\n", addressBits(p))
		fmt.Fprintf(t, "colour bytes\tfrom %d, one a cell, row by row\n", p.ColourBase)
	}
	if p.RowBits > 0 {
		fmt.Fprintf(t, "memory chip\trow address A0 to A%d, column address A%d to A%d\n", p.RowBits-1, p.RowBits, p.RowBits+p.ColumnBits-1)
	}
	if err := t.Flush(); err != nil {
		return err
	}
	fmt.Fprintln(w)
	t = tabwriter.NewWriter(w, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(t, "COLOUR\tLUMA\tSATURATION\tHUE\tY\tCb\tCr\t  NAME")
	for _, c := range d.Colours {
		hue := "-"
		if c.HueDeg != nil {
			hue = fmt.Sprintf("%.1f", *c.HueDeg)
		}
		fmt.Fprintf(t, "%d\t%.3f\t%.3f\t%s\t%d\t%d\t%d\t  %s\n", c.Index, c.Luma, c.Saturation, hue, c.Codes[0], c.Codes[1], c.Codes[2], c.Name)
	}
	return t.Flush()
}

// addressBits writes the bitmap address, the highest bit first.
func addressBits(p *display.Profile) string {
	s := ""
	for i := len(p.BitmapBits) - 1; i >= 0; i-- {
		if s != "" {
			s += " "
		}
		s += fmt.Sprintf("%c%d", p.BitmapBits[i].Axis, p.BitmapBits[i].Index)
	}
	return s
}

// writeJSON writes v as indented JSON.
func writeJSON(w io.Writer, v any) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", " ")
	return e.Encode(v)
}
