package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"backporch/patterns/workbench"
	"backporch/video/capture"
	"backporch/video/display"
	"backporch/video/waveform"
)

// options are the flags that commands share; each command takes those it heeds.
type options struct {
	display   string
	reference string
	font      string
	board     string
	fill      string
	known     []string
	seconds   float64
	json      bool
	out       string
	quiet     bool
	waveform  waveform.Options // of a SOURCE that is a sampled waveform
	device    capture.DeviceOptions
	job       jobFlag
}

func (o *options) addDisplay(c *cobra.Command, help string) {
	c.Flags().StringVar(&o.display, "display", "", help)
	complete(c, "display", func() []string {
		all, err := profiles()
		if err != nil {
			return nil
		}
		names := make([]string, len(all))
		for i, p := range all {
			names[i] = p.Name
		}
		return names
	})
}

func (o *options) addSeconds(c *cobra.Command, seconds float64, help string) {
	c.Flags().Float64Var(&o.seconds, "seconds", seconds, help)
}

func (o *options) addFont(c *cobra.Command) {
	c.Flags().StringVar(&o.font, "font", "", "glyphs of a character display: raw `FILE`, 8 bytes a glyph")
}

func (o *options) addJSON(c *cobra.Command, help string) {
	c.Flags().BoolVar(&o.json, "json", false, help)
}

func (o *options) addOut(c *cobra.Command, folder, help string) {
	c.Flags().StringVar(&o.out, "out", folder, help)
}

func (o *options) addQuiet(c *cobra.Command) {
	c.Flags().BoolVar(&o.quiet, "quiet", false, "no progress on standard error")
}

// checkSeconds refuses what no capture can last.
func (o *options) checkSeconds() error {
	if !(o.seconds > 0 && o.seconds <= 3600) {
		return fmt.Errorf("reading --seconds: %v is not between 0 and 3600", o.seconds)
	}
	return nil
}

// profiles are all displays: the built-in ones and those in the user's folder.
func profiles() ([]*display.Profile, error) { return display.Load(profileFolder()) }

// profileFolder is where users put displays of their own, "" when there is no home.
func profileFolder() string {
	config, err := os.UserConfigDir()
	if err != nil {
		return ""
	}
	return filepath.Join(config, "backporch", "displays")
}

// profile is the display that --display names, nil when it was not given.
func (o *options) profile() (*display.Profile, error) {
	if o.display == "" {
		return nil, nil
	}
	all, err := profiles()
	if err != nil {
		return nil, err
	}
	p, err := display.Find(all, o.display)
	if err != nil {
		return nil, withHint(fmt.Errorf("reading --display: %w", err), "backporch display list shows them")
	}
	return p, nil
}

// readFont reads --font, nil when it was not given.
func (o *options) readFont() (*display.Font, error) {
	if o.font == "" {
		return nil, nil
	}
	raw, err := readSmall(o.font, 1<<16)
	if err != nil {
		return nil, fmt.Errorf("reading --font: %w", err)
	}
	f, err := display.ParseFont(raw)
	if err != nil {
		return nil, fmt.Errorf("reading --font %s: %w", o.font, err)
	}
	return &f, nil
}

func (o *options) addBoard(c *cobra.Command) {
	c.Flags().StringVar(&o.board, "board", "", "board map `FILE` (TOML): which part carries which bit")
}

// readBoard reads --board, nil when it was not given.
func (o *options) readBoard() (*workbench.Board, error) {
	if o.board == "" {
		return nil, nil
	}
	data, err := readSmall(o.board, 1<<20)
	if err != nil {
		return nil, fmt.Errorf("reading --board: %w", err)
	}
	b, err := workbench.ParseBoard(data)
	if err != nil {
		return nil, fmt.Errorf("reading --board %s: %w", o.board, err)
	}
	return b, nil
}

// readFill reads --fill, the byte that memory was filled with; nil when not given.
func (o *options) readFill() (*byte, error) {
	if o.fill == "" {
		return nil, nil
	}
	v, err := strconv.ParseUint(o.fill, 0, 8)
	if err != nil {
		return nil, fmt.Errorf("reading --fill: %q is no byte; write 0 to 255 or 0x00 to 0xff", o.fill)
	}
	b := byte(v)
	return &b, nil
}

// addKnown takes what the user knows beside the picture.
func (o *options) addKnown(c *cobra.Command) {
	c.Flags().StringArrayVar(&o.known, "known", nil, "what came of a test on the bench, as `KEY=VALUE`; once for each")
	complete(c, "known", func() []string {
		var words []string
		for _, k := range workbench.KnownKeys() {
			words = append(words, strings.TrimSuffix(k.Text, "[:BITS]"))
		}
		return words
	})
}

// readKnown reads --known, nil when it was not given; b, which may be nil, has the designators.
func (o *options) readKnown(b *workbench.Board) ([]workbench.Fact, error) {
	facts, err := workbench.ParseFacts(o.known, b)
	if err != nil {
		return nil, withHint(fmt.Errorf("reading --known: %w", err), "backporch help known says what can be stated")
	}
	return facts, nil
}

// readSmall reads a file that the user named, if it is not absurdly large.
func readSmall(path string, most int64) ([]byte, error) {
	info, err := os.Stat(path)
	switch {
	case err != nil:
		return nil, plainPath(err)
	case info.IsDir():
		return nil, fmt.Errorf("%s: this is a folder", path)
	case info.Size() > most:
		return nil, fmt.Errorf("%s: %d bytes are too many, %d at most", path, info.Size(), most)
	}
	data, err := os.ReadFile(path)
	return data, plainPath(err)
}

// plainPath drops the system call's name from a file error: 'a.avi: no such file or directory'.
func plainPath(err error) error {
	if p, ok := err.(*os.PathError); ok {
		return fmt.Errorf("%s: %w", p.Path, p.Err)
	}
	return err
}

// complete offers words for a flag's value.
func complete(c *cobra.Command, flag string, words func() []string) {
	err := c.RegisterFlagCompletionFunc(flag, func(_ *cobra.Command, _ []string, start string) ([]string, cobra.ShellCompDirective) {
		var found []string
		for _, w := range words() {
			if strings.HasPrefix(w, start) {
				found = append(found, w)
			}
		}
		return found, cobra.ShellCompDirectiveNoFileComp
	})
	if err != nil {
		panic(err) // the flag is not there: a slip in the command's own code
	}
}
