package display

import (
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"sort"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"backporch/video"
)

//go:embed profiles/*.toml
var embedded embed.FS

// profileFile is a profile as it stands in its file.
type profileFile struct {
	Name         string  `toml:"name"`
	Kind         string  `toml:"kind"`
	Standard     string  `toml:"standard"`
	PixelClockHz float64 `toml:"pixel_clock_hz"`
	LinePixels   int     `toml:"line_pixels"`
	FieldLines   int     `toml:"field_lines"`
	Width        int     `toml:"width"`
	Height       int     `toml:"height"`
	BorderLeft   int     `toml:"border_left"`
	BorderRight  int     `toml:"border_right"`
	BorderTop    int     `toml:"border_top"`
	BorderBottom int     `toml:"border_bottom"`
	NormalLevel  float64 `toml:"normal_level,omitempty"`
	Memory       struct {
		Bitmap     []string `toml:"bitmap,omitempty"`
		ColourBase int      `toml:"colour_base,omitempty"`
		RowBits    int      `toml:"row_bits"`
		ColumnBits int      `toml:"column_bits"`
	} `toml:"memory"`
	Colours []fileColour `toml:"colours,omitempty"`
}

// fileColour is luma as a part of white, chroma as amplitude of white and angle, degrees.
type fileColour struct {
	Name   string  `toml:"name"`
	Luma   float64 `toml:"luma"`
	Chroma float64 `toml:"chroma"`
	Angle  float64 `toml:"angle"`
}

// Parse reads and checks a profile. Its errors name the key that is wrong.
func Parse(data []byte) (*Profile, error) {
	var f profileFile
	decoder := toml.NewDecoder(strings.NewReader(string(data))).DisallowUnknownFields()
	if err := decoder.Decode(&f); err != nil {
		var strict *toml.StrictMissingError
		if errors.As(err, &strict) && len(strict.Errors) > 0 {
			row, _ := strict.Errors[0].Position()
			return nil, fmt.Errorf("line %d: unknown key %q", row, strings.Join(strict.Errors[0].Key(), "."))
		}
		var syntax *toml.DecodeError
		if errors.As(err, &syntax) {
			row, _ := syntax.Position()
			return nil, fmt.Errorf("line %d: %w", row, err)
		}
		return nil, err
	}
	return f.profile()
}

// profile checks every value and makes the Profile.
func (f *profileFile) profile() (*Profile, error) {
	p := &Profile{
		Name: f.Name, Kind: Kind(f.Kind), PixelClockHz: f.PixelClockHz, LinePixels: f.LinePixels,
		FieldLines: f.FieldLines, Width: f.Width, Height: f.Height,
		BorderLeft: f.BorderLeft, BorderRight: f.BorderRight, BorderTop: f.BorderTop, BorderBottom: f.BorderBottom,
		NormalLevel: f.NormalLevel, ColourBase: f.Memory.ColourBase,
		RowBits: f.Memory.RowBits, ColumnBits: f.Memory.ColumnBits,
	}
	var problems []error
	check := func(ok bool, format string, args ...any) {
		if !ok {
			problems = append(problems, fmt.Errorf(format, args...))
		}
	}
	check(validName(f.Name), "name %q: use letters, digits and hyphens", f.Name)
	switch f.Standard {
	case "625/50":
		p.Standard = video.Std625
	case "525/60":
		p.Standard = video.Std525
	default:
		check(false, "standard %q: use \"625/50\" or \"525/60\"", f.Standard)
	}
	check(p.Kind == Attr || p.Kind == Text, "kind %q: use \"attr\" or \"text\"", f.Kind)
	check(f.PixelClockHz >= 1e6 && f.PixelClockHz <= 40e6, "pixel_clock_hz %v: use 1e6 to 40e6", f.PixelClockHz)
	check(f.LinePixels >= 64 && f.LinePixels <= 4096, "line_pixels %d: use 64 to 4096", f.LinePixels)
	check(f.FieldLines >= 200 && f.FieldLines <= 400, "field_lines %d: use 200 to 400", f.FieldLines)
	check(f.Width >= 64 && f.Width <= 1024 && f.Width%CellSize == 0, "width %d: use a multiple of 8 from 64 to 1024", f.Width)
	check(f.Height >= 64 && f.Height <= 288 && f.Height%CellSize == 0, "height %d: use a multiple of 8 from 64 to 288", f.Height)
	for _, b := range []struct {
		key   string
		value int
	}{{"border_left", f.BorderLeft}, {"border_right", f.BorderRight}, {"border_top", f.BorderTop}, {"border_bottom", f.BorderBottom}} {
		check(b.value >= 0 && b.value <= 512, "%s %d: use 0 to 512", b.key, b.value)
	}
	check(f.BorderLeft+f.Width+f.BorderRight <= f.LinePixels, "borders and width need %d pixels, line_pixels is %d", f.BorderLeft+f.Width+f.BorderRight, f.LinePixels)
	check(f.BorderTop+f.Height+f.BorderBottom <= f.FieldLines, "borders and height need %d lines, field_lines is %d", f.BorderTop+f.Height+f.BorderBottom, f.FieldLines)
	check(p.RowBits >= 1 && p.RowBits <= 12, "memory.row_bits %d: use 1 to 12", p.RowBits)
	check(p.ColumnBits >= 1 && p.ColumnBits <= 12, "memory.column_bits %d: use 1 to 12", p.ColumnBits)
	if p.LinePixels > 0 && p.PixelClockHz > 0 && p.Standard != video.UnknownStandard {
		off := p.LineHz()/p.Standard.Scan().LineHz - 1
		check(math.Abs(off) < 0.03, "pixel_clock_hz over line_pixels is %.0f lines a second, more than 3 %% from the standard's", p.LineHz())
	}
	if p.Kind == Attr {
		f.attr(p, check)
	} else {
		f.text(p, check)
	}
	if p.RowBits >= 1 && p.RowBits <= 12 && p.ColumnBits >= 1 && p.ColumnBits <= 12 {
		check(p.Size() <= 1<<(p.RowBits+p.ColumnBits), "memory: %d bytes do not fit a chip of %d row and %d column bits", p.Size(), p.RowBits, p.ColumnBits)
	}
	if len(problems) > 0 {
		return nil, errors.Join(problems...)
	}
	if p.Kind == Attr {
		p.layOut()
	}
	return p, nil
}

func (f *profileFile) attr(p *Profile, check func(bool, string, ...any)) {
	check(f.NormalLevel > 0 && f.NormalLevel <= 1, "normal_level %v: use more than 0, at most 1", f.NormalLevel)
	check(len(f.Colours) == 0, "colours: an attr display's are fixed by its bits; leave them out")
	p.Colours = attrColours(f.NormalLevel)
	seen := map[AddressBit]bool{}
	for i := len(f.Memory.Bitmap) - 1; i >= 0; i-- { // the file has the highest first
		word := f.Memory.Bitmap[i]
		var bit AddressBit
		if len(word) == 2 && (word[0] == 'y' || word[0] == 'c') && word[1] >= '0' && word[1] <= '9' {
			bit = AddressBit{word[0], int(word[1] - '0')}
		} else {
			check(false, "memory.bitmap %q: use y0, y1 ... for the line and c0, c1 ... for the column", word)
			return
		}
		check(!seen[bit], "memory.bitmap: %q stands twice", word)
		seen[bit] = true
		p.BitmapBits = append(p.BitmapBits, bit)
	}
	for _, axis := range []struct {
		name byte
		last int
	}{{'y', p.Height - 1}, {'c', p.Columns() - 1}} {
		for n := 0; axis.last>>n > 0; n++ {
			check(seen[AddressBit{axis.name, n}], "memory.bitmap: %c%d is missing", axis.name, n)
		}
	}
	check(p.ColourBase > 0 && p.ColourBase <= 1<<16, "memory.colour_base %d: use the address behind the bitmap", p.ColourBase)
	if p.Height > 0 && p.Height <= 288 && p.Width <= 1024 && p.ColourBase > 0 {
		last := 0
		for y := range p.Height {
			last = max(last, p.BitmapAddress(y, p.Columns()-1))
		}
		check(last < p.ColourBase, "memory.colour_base %d: the bitmap reaches to %d", p.ColourBase, last)
	}
}

func (f *profileFile) text(p *Profile, check func(bool, string, ...any)) {
	check(f.NormalLevel == 0, "normal_level: only for an attr display")
	check(len(f.Memory.Bitmap) == 0 && f.Memory.ColourBase == 0, "memory.bitmap and memory.colour_base: only for an attr display")
	check(len(f.Colours) == 16, "colours: %d given, 16 needed", len(f.Colours))
	for i, c := range f.Colours {
		check(c.Name != "", "colours, number %d: no name", i)
		check(c.Luma >= 0 && c.Luma <= 1, "colours, %s: luma %v: use 0 to 1", c.Name, c.Luma)
		check(c.Chroma >= 0 && c.Chroma <= 0.7, "colours, %s: chroma %v: use 0 to 0.7", c.Name, c.Chroma)
		check(c.Angle >= 0 && c.Angle < 360, "colours, %s: angle %v: use 0 to 360 degrees", c.Name, c.Angle)
		sin, cos := math.Sincos(c.Angle * math.Pi / 180)
		p.Colours = append(p.Colours, Colour{c.Name, video.YUV{Y: c.Luma, U: c.Chroma * cos, V: c.Chroma * sin}})
	}
}

func validName(name string) bool {
	if name == "" || len(name) > 64 {
		return false
	}
	for _, r := range name {
		if (r < 'a' || r > 'z') && (r < 'A' || r > 'Z') && (r < '0' || r > '9') && r != '-' {
			return false
		}
	}
	return true
}

// Load reads all profiles: the embedded ones, then the *.toml files of folder,
// which may replace them by name. An empty or missing folder adds none.
func Load(folder string) ([]*Profile, error) {
	byName := map[string]*Profile{}
	read := func(name string, data []byte) error {
		p, err := Parse(data)
		if err != nil {
			return fmt.Errorf("display profile %s: %w", name, firstLine(err))
		}
		byName[p.Name] = p
		return nil
	}
	names, err := fs.Glob(embedded, "profiles/*.toml")
	if err != nil {
		return nil, err
	}
	for _, name := range names {
		data, err := embedded.ReadFile(name)
		if err != nil {
			return nil, err
		}
		if err := read(name, data); err != nil {
			return nil, err
		}
	}
	if folder != "" {
		files, err := os.ReadDir(folder)
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return nil, fmt.Errorf("display profiles: %w", err)
		}
		for _, file := range files {
			if filepath.Ext(file.Name()) != ".toml" {
				continue
			}
			name := filepath.Join(folder, file.Name())
			data, err := os.ReadFile(name)
			if err != nil {
				return nil, fmt.Errorf("display profile: %w", err)
			}
			if err := read(name, data); err != nil {
				return nil, err
			}
		}
	}
	all := make([]*Profile, 0, len(byName))
	for _, p := range byName {
		all = append(all, p)
	}
	sort.Slice(all, func(i, j int) bool { return all[i].Name < all[j].Name })
	return all, nil
}

// firstLine keeps a joined error to one line and says how many more there are.
func firstLine(err error) error {
	lines := strings.Split(err.Error(), "\n")
	if len(lines) == 1 {
		return err
	}
	return fmt.Errorf("%s (and %d more)", lines[0], len(lines)-1)
}

// Find picks a profile by name; its error lists the names there are.
func Find(all []*Profile, name string) (*Profile, error) {
	names := make([]string, 0, len(all))
	for _, p := range all {
		if p.Name == name {
			return p, nil
		}
		names = append(names, p.Name)
	}
	return nil, fmt.Errorf("no display profile %q; there are %s", name, strings.Join(names, ", "))
}
