package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"backporch/analyse"
	"backporch/analyse/palette"
	"backporch/analyse/text"
	"backporch/cmd/backporch/internal/term"
	"backporch/video/display"
)

func newDisplayLearn(s *invocation) *cobra.Command {
	c := &cobra.Command{
		Use:   "learn",
		Short: "Learn a font or a display's colours from a good machine",
		Long: `Learn makes what the other commands need of a kind of machine from captures of a good
one: the font of its character generator, and the colours of its display.

` + failHelp,
		Example: `  backporch display learn font text.avi --display text-40x25-50 --text screen.txt --out machine.font
  backporch display learn colours text.avi --display text-40x25-50 --inks inks.txt --border 3 --name mine --out mine.toml`,
		Args: func(c *cobra.Command, args []string) error {
			if len(args) > 0 {
				return withHint(fmt.Errorf("display learn: no command %q", args[0]), "backporch display learn --help lists them")
			}
			return nil
		},
		RunE: func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	c.AddCommand(newLearnFont(s), newLearnColours(s))
	return c
}

// learning is what both lessons need besides their own flags.
type learning struct {
	options
	text, inks, name string
	paper, border    int
}

func newLearnFont(s *invocation) *cobra.Command {
	var o learning
	c := &cobra.Command{
		Use:   "font SOURCE",
		Short: "Make a font of a good machine's screen whose text is known",
		Long: `Font makes the font of a character generator from a capture of a good machine on which
a known text stands, and the text: a line a row from the top of the screen, a character a
cell, its code that of ASCII. A code that is none is written \xNN, a backslash \\, a cell
of which nothing is to be said \?. Rows that the file does not have are left out.

Glyphs that do not show on the screen are empty, or those of --font, so that a font can be
made of several screens, one after the other. Use a border of another colour than the
background: it says where the first pixel of a cell lies. Nothing is overwritten.

` + failHelp,
		Example: `  backporch display learn font text.avi --display text-40x25-50 --text screen.txt --out machine.font`,
		Args:    exactly("SOURCE"),
		RunE: func(c *cobra.Command, args []string) error {
			return o.font(c.Context(), s, args[0])
		},
	}
	o.addDisplay(c, "display profile `NAME` of the machine")
	o.options.addFont(c)
	c.Flags().StringVar(&o.text, "text", "", "text `FILE`: what stands on the screen")
	o.addSeconds(c, 2, "read `N` seconds of the source")
	o.addOut(c, "", "write the font to `FILE`: raw, 8 bytes a glyph")
	o.addJSON(c, "what was learned, as JSON")
	o.addQuiet(c)
	return c
}

func newLearnColours(s *invocation) *cobra.Command {
	var o learning
	c := &cobra.Command{
		Use:   "colours SOURCE",
		Short: "Measure a display's colours on a good machine",
		Long: `Colours measures the colours of a character display where a good machine shows even
areas of them: full cells, blank cells and the border, and writes a profile like that of
--display with the measured colours in it. Put in the configuration folder's
backporch/displays it serves all commands under its --name.

--inks says which colour fills a cell: a line a row, a hexadecimal digit a cell, a dot
where nothing is to be said; cells that show more than one colour are left out. Have the
display's black and white among them: they set the levels. Nothing is overwritten.

` + failHelp,
		Example: `  backporch display learn colours text.avi --display text-40x25-50 --inks inks.txt --border 3 --name mine --out mine.toml`,
		Args:    exactly("SOURCE"),
		RunE: func(c *cobra.Command, args []string) error {
			return o.colours(c.Context(), s, args[0])
		},
	}
	o.addDisplay(c, "display profile `NAME` to begin with")
	c.Flags().StringVar(&o.inks, "inks", "", "`FILE` of the colours in the cells, a hexadecimal digit a cell")
	c.Flags().IntVar(&o.paper, "paper", -1, "palette index `N` of the background")
	c.Flags().IntVar(&o.border, "border", -1, "palette index `N` of the border")
	c.Flags().StringVar(&o.name, "name", "", "`NAME` of the profile that is made")
	o.addSeconds(c, 2, "read `N` seconds of the source")
	o.addOut(c, "", "write the profile to `FILE` (TOML)")
	o.addJSON(c, "what was measured, as JSON")
	o.addQuiet(c)
	return c
}

// look reads the capture of the good machine.
func (o *learning) look(ctx context.Context, s *invocation, what, spec string) (*analyse.Survey, *display.Profile, error) {
	switch {
	case o.display == "":
		return nil, nil, withHint(fmt.Errorf("display learn %s: no --display given", what), "backporch display list shows them")
	case o.out == "":
		return nil, nil, withHint(fmt.Errorf("display learn %s: no --out given", what), "--out FILE is where it is written")
	}
	if _, err := os.Lstat(o.out); err == nil {
		return nil, nil, withHint(fmt.Errorf("writing --out: %s is there already", o.out), "give another name, or move it away")
	}
	e, err := o.examination()
	if err != nil {
		return nil, nil, err
	}
	if e.profile.Kind != display.Text {
		return nil, nil, withHint(fmt.Errorf("display learn %s: %s is a bitmap display", what, e.profile.Name), "it is for character displays: backporch display list shows the kind of each")
	}
	status := term.NewStatus(s.err, o.quiet)
	defer status.Done()
	captured, err := readSource(ctx, spec, o.seconds, status)
	if err != nil {
		return nil, nil, err
	}
	measured, p, err := e.survey(captured, e.profile)
	if err != nil {
		return nil, nil, err
	}
	if !measured.Registration.OK {
		return nil, nil, fmt.Errorf("measuring %s: %s", spec, measured.Registration.Reason)
	}
	return measured, p, nil
}

// learnedFont is what display learn font --json says.
type learnedFont struct {
	Font    string `json:"font"`
	Glyphs  int    `json:"glyphs"`
	Codes   []int  `json:"codes"`
	Cells   int    `json:"cells"`
	Odd     int    `json:"odd"` // cells that differ from the others of their code
	Missing string `json:"missing"`
	Reason  string `json:"reason,omitempty"` // what makes the place of the picture uncertain
}

func (o *learning) font(ctx context.Context, s *invocation, spec string) error {
	if o.text == "" {
		return withHint(errors.New("display learn font: no --text given"), "a font is learned from a screen whose text is known")
	}
	measured, p, err := o.look(ctx, s, "font", spec)
	if err != nil {
		return err
	}
	base, err := o.readFont()
	if err != nil {
		return err
	}
	data, err := readSmall(o.text, 1<<16)
	if err != nil {
		return fmt.Errorf("reading --text: %w", err)
	}
	codes, err := text.Codes(string(data), p)
	if err != nil {
		return fmt.Errorf("reading --text %s: %w", o.text, err)
	}
	l, err := text.Learn(measured.Cells, p, codes, measured.Registration.Shifts, base)
	if err != nil {
		return withHint(fmt.Errorf("learning from %s: %w", spec, err), "the text must be what stands on the screen, and the machine a good one: backporch check tells")
	}
	raw := make([]byte, 0, 256*8)
	for _, g := range l.Font.Glyphs {
		raw = append(raw, g[:]...)
	}
	if err := writeNew(o.out, raw); err != nil {
		return err
	}
	out := learnedFont{Font: o.out, Glyphs: len(l.Glyphs), Cells: l.Cells, Odd: l.Odd, Reason: measured.Registration.Reason}
	shown := map[int]bool{}
	for _, g := range l.Glyphs {
		out.Codes = append(out.Codes, g.Code)
		shown[g.Code] = true
	}
	for code := 0x21; code <= 0x7e; code++ {
		if !shown[code] && (base == nil || base.Glyph(byte(code)) == [8]byte{}) {
			out.Missing += string(rune(code))
		}
	}
	if o.json {
		return writeJSON(s.out, out)
	}
	fmt.Fprintf(s.out, "%s: %d glyphs from %d cells", out.Font, out.Glyphs, out.Cells)
	if out.Odd > 0 {
		fmt.Fprintf(s.out, ", %d of which differ from the others of their code", out.Odd)
	}
	fmt.Fprintln(s.out)
	if out.Missing != "" {
		fmt.Fprintf(s.out, "not on the screen: %s\n", out.Missing)
	}
	if out.Reason != "" {
		fmt.Fprintf(s.out, "not certain: %s\n", out.Reason)
	}
	return nil
}

// learnedColour is a colour as display learn colours --json says it.
type learnedColour struct {
	Index   int     `json:"index"`
	Name    string  `json:"name"`
	Luma    float64 `json:"luma"`
	Chroma  float64 `json:"chroma"`
	HueDeg  float64 `json:"hue_deg"`
	Samples int     `json:"samples"`
	Moved   float64 `json:"moved"` // from the profile's, as a part of white
}

func (o *learning) colours(ctx context.Context, s *invocation, spec string) error {
	switch {
	case o.name == "":
		return withHint(errors.New("display learn colours: no --name given"), "--name is what the new profile is called")
	case o.inks == "" && o.paper < 0 && o.border < 0:
		return withHint(errors.New("display learn colours: none of --inks, --paper and --border given"), "say which colour stands where")
	case o.paper > 15 || o.border > 15 || o.paper < -1 || o.border < -1:
		return errors.New("display learn colours: --paper and --border are 0 to 15")
	}
	measured, p, err := o.look(ctx, s, "colours", spec)
	if err != nil {
		return err
	}
	screen := palette.Screen{Paper: o.paper, Border: o.border}
	if o.inks != "" {
		data, err := readSmall(o.inks, 1<<16)
		if err != nil {
			return fmt.Errorf("reading --inks: %w", err)
		}
		if screen.Inks, err = readInks(string(data), p); err != nil {
			return fmt.Errorf("reading --inks %s: %w", o.inks, err)
		}
	}
	areas, err := palette.Measure(measured, p, screen)
	if err != nil {
		return fmt.Errorf("learning from %s: %w", spec, err)
	}
	if len(areas) == 0 {
		return withHint(fmt.Errorf("learning from %s: no even area of a colour that was named", spec), "fill cells with each colour: full blocks, two cells wide or more")
	}
	own := *p
	own.Name, own.Colours = o.name, palette.Colours(areas, p, measured.Levels)
	data, err := own.TOML()
	if err == nil {
		_, err = display.Parse(data)
	}
	if err != nil {
		return fmt.Errorf("making the profile %s: %w", o.name, err)
	}
	if err := writeNew(o.out, data); err != nil {
		return err
	}
	var list []learnedColour
	for _, a := range areas {
		c, was := own.Colours[a.Index], p.Colours[a.Index]
		list = append(list, learnedColour{
			Index: a.Index, Name: c.Name, Luma: c.Y, Chroma: c.Saturation(), HueDeg: c.Hue(), Samples: a.Samples,
			Moved: apartBy(c, was),
		})
	}
	if o.json {
		return writeJSON(s.out, list)
	}
	fmt.Fprintf(s.out, "%s: %d of %d colours measured\n", o.out, len(list), len(own.Colours))
	for _, c := range list {
		fmt.Fprintf(s.out, "%2d %-14s luma %.3f chroma %.3f hue %5.1f  moved %.3f\n", c.Index, c.Name, c.Luma, c.Chroma, c.HueDeg, c.Moved)
	}
	return nil
}

// apartBy is how far two colours lie from each other, as a part of white.
func apartBy(a, b display.Colour) float64 {
	d := a.YUV
	d.Y, d.U, d.V = a.Y-b.Y, a.U-b.U, a.V-b.V
	return max(abs(d.Y), d.Saturation())
}

func abs(v float64) float64 { return max(v, -v) }

// readInks reads a line a row, a hexadecimal digit a cell; -1 for a dot or what is not there.
func readInks(data string, p *display.Profile) ([]int, error) {
	out := slices.Repeat([]int{-1}, p.Rows()*p.Columns())
	for row, line := range strings.Split(strings.TrimRight(data, "\r\n"), "\n") {
		line = strings.TrimRight(line, "\r ")
		if row >= p.Rows() || len(line) > p.Columns() {
			return nil, fmt.Errorf("line %d: the screen has %d rows of %d columns", row+1, p.Rows(), p.Columns())
		}
		for column, c := range line {
			k := strings.IndexRune("0123456789abcdef", c)
			if k < 0 {
				k = strings.IndexRune("0123456789ABCDEF", c)
			}
			if k < 0 && c != '.' {
				return nil, fmt.Errorf("line %d, column %d: %q is no hexadecimal digit and no dot", row+1, column+1, c)
			}
			if column < p.Columns() {
				out[row*p.Columns()+column] = k
			}
		}
	}
	return out, nil
}

// writeNew writes a file that is not there yet.
func writeNew(path string, data []byte) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
	if err != nil {
		return fmt.Errorf("writing --out: %w", plainPath(err))
	}
	_, err = f.Write(data)
	if closing := f.Close(); err == nil {
		err = closing
	}
	if err != nil {
		os.Remove(path)
		return fmt.Errorf("writing --out %s: %w", path, err)
	}
	return nil
}
