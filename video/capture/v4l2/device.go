package v4l2

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"backporch/video"
)

// ErrUnsupported: this system has no such drivers.
var ErrUnsupported = errors.New("inputs, standards and what the device says of the signal are known on Linux alone (64-bit)")

// ErrNotCapture: it is no device that captures.
var ErrNotCapture = errors.New("it does not capture")

// A Device is what a capture device says of itself.
type Device struct {
	Path     string
	ByID     string // its lasting name, "" when the system has made none
	Card     string
	Driver   string
	Bus      string
	Inputs   []Input
	Selected int      // number of the selected input, -1 when there are none
	Standard Standard // as it is set; 0 when it has none
	Seen     Standard // as it is detected; 0 when it does not say
	Formats  []Format
}

// Input gives the selected input; a zero one when there is none.
func (d *Device) Input() Input {
	for _, in := range d.Inputs {
		if in.Number == d.Selected {
			return in
		}
	}
	return Input{Number: -1}
}

// An Input is one of a device's sockets.
type Input struct {
	Number    int
	Name      string
	Tuner     bool
	Standards Standard // it can be set to; 0 when it has none
	Status    []string // what the device says of its signal; known of the selected input only
}

// A Format is a pixel format that a device offers.
type Format struct {
	Code  string // four letters
	Name  string
	Sizes []Size // that it lists; empty where it gives a range, or nothing
}

// A Size is that of a frame.
type Size struct{ Width, Height int }

// statusWords are the flags of ENUMINPUT that bear on a signal.
var statusWords = []struct {
	flag uint32
	word string
}{
	{0x1, "no power"}, {0x2, "no signal"}, {0x4, "no colour"}, {0x100, "no horizontal lock"},
	{0x200, "colour killer on"}, {0x400, "no vertical lock"}, {0x800, "no lock to the standard"},
	{0x10000, "no sync"}, {0x20000, "no equaliser lock"}, {0x40000, "no carrier"},
}

func words(flags uint32) []string {
	var out []string
	for _, w := range statusWords {
		if flags&w.flag != 0 {
			out = append(out, w.word)
		}
	}
	return out
}

// A Standard is a set of television standards, as V4L2 counts them.
type Standard uint64

const (
	lines525 Standard = 0xF900   // V4L2_STD_525_60
	lines625 Standard = 0xFF06FF // V4L2_STD_625_50
)

// standards are those that can be asked for by name.
var standards = []struct {
	name string
	set  Standard
}{
	{"pal", 0xFF}, {"ntsc", 0xB000}, {"secam", 0xFF0000}, {"pal-60", 0x800}, {"pal-m", 0x100},
	{"pal-n", 0x600}, {"ntsc-443", 0x4000},
}

// StandardNames are the names that ParseStandard takes.
func StandardNames() []string {
	var names []string
	for _, s := range standards {
		names = append(names, s.name)
	}
	return append(names, "625", "525")
}

// ParseStandard reads the name of a standard; 625 and 525 stand for the common ones.
func ParseStandard(name string) (Standard, error) {
	word := strings.ToLower(name)
	switch word {
	case "625", "625/50":
		word = "pal"
	case "525", "525/60":
		word = "ntsc"
	}
	for _, s := range standards {
		if s.name == word {
			return s.set, nil
		}
	}
	return 0, fmt.Errorf("%q is no standard; use one of %s", name, strings.Join(StandardNames(), ", "))
}

// Scan is the scanning standard of the set, unknown when it is empty or holds both: a
// driver that can't detect gives all of them.
func (s Standard) Scan() video.Standard {
	switch {
	case s == 0, s&lines525 != 0 && s&lines625 != 0:
		return video.UnknownStandard
	case s&lines625 != 0:
		return video.Std625
	case s&lines525 != 0:
		return video.Std525
	}
	return video.UnknownStandard
}

// Names are the standards of the set, each that has a part in it.
func (s Standard) Names() []string {
	var names []string
	for _, n := range standards {
		if s&n.set != 0 {
			names = append(names, n.name)
		}
	}
	return names
}

func (s Standard) String() string {
	names := s.Names()
	switch {
	case s == 0:
		return "none"
	case len(names) == 1:
		return names[0]
	}
	if scan := s.Scan(); scan != video.UnknownStandard {
		return scan.String()
	}
	return strings.Join(names, " ")
}

// FindInput gives the input of a number or a name; case does not matter, and a part of a
// name will do where it fits one input only.
func (d *Device) FindInput(word string) (Input, error) {
	if len(d.Inputs) == 0 {
		return Input{}, errors.New("the device has no inputs to choose from")
	}
	if n, err := strconv.Atoi(word); err == nil {
		for _, in := range d.Inputs {
			if in.Number == n {
				return in, nil
			}
		}
	}
	low := strings.ToLower(word)
	var found []Input
	for _, in := range d.Inputs {
		name := strings.ToLower(in.Name)
		if name == low {
			return in, nil
		}
		if low != "" && strings.Contains(name, low) {
			found = append(found, in)
		}
	}
	if len(found) == 1 {
		return found[0], nil
	}
	var names []string
	for _, in := range d.Inputs {
		names = append(names, fmt.Sprintf("%d (%s)", in.Number, in.Name))
	}
	return Input{}, fmt.Errorf("it has no input %q; it has %s", word, strings.Join(names, ", "))
}

// preferred are the pixel formats that are taken apart here, best first: raw 4:2:2 is the
// device's own, with 4:2:0 both fields share their colour lines, Motion JPEG loses some.
var preferred = []string{"YUYV", "UYVY", "YVYU", "VYUY", "422P", "NV12", "YU12", "YV12", "MJPG", "JPEG"}

// Choose gives the pixel format to ask for: the one that is wanted, else the best on offer.
// ok is false when none can be taken apart here.
func (d *Device) Choose(wanted string) (code string, ok bool, err error) {
	offers := func(code string) bool {
		return slices.ContainsFunc(d.Formats, func(f Format) bool { return f.Code == code })
	}
	if wanted != "" {
		code = strings.ToUpper(wanted)
		if code == "YUY2" {
			code = "YUYV"
		}
		if !offers(code) {
			var codes []string
			for _, f := range d.Formats {
				if !slices.Contains(codes, f.Code) {
					codes = append(codes, f.Code)
				}
			}
			if len(codes) > 10 {
				codes = append(codes[:10], "others")
			}
			return "", false, fmt.Errorf("it has no format %q; it has %s", wanted, strings.Join(codes, ", "))
		}
		return code, slices.Contains(preferred, code), nil
	}
	for _, code := range preferred {
		if offers(code) {
			return code, true, nil
		}
	}
	return "", false, nil
}

// Config is what is set before a device streams; what is empty stays as it is, or is chosen.
type Config struct {
	Input    string // number or name
	Standard string // a name of StandardNames; "": the one that the device detects, else as it is set
	Format   string // four letters; "": the best on offer
}

// A Mode is how a device streams, as it was read back.
type Mode struct {
	Code          string // four letters
	Width, Height int
	Stride        int // bytes a line, of the first plane
	Field         uint32
	Rate          float64 // frames a second by the driver's word, 0 without one
	Notes         []string
}

// Order is the field order that the driver states; woven says whether it does.
func (m Mode) Order() (order video.FieldOrder, woven bool) {
	switch m.Field {
	case fieldInterlaced:
		if m.Height == 480 || m.Height == 486 {
			return video.BottomFirst, true
		}
		return video.TopFirst, true
	case fieldInterlacedTB, fieldSeqTB:
		return video.TopFirst, true
	case fieldInterlacedBT, fieldSeqBT:
		return video.BottomFirst, true
	}
	return video.Progressive, false
}

// Stacked says whether the two fields lie one below the other in a frame.
func (m Mode) Stacked() bool { return m.Field == fieldSeqTB || m.Field == fieldSeqBT }

// Values of enum v4l2_field.
const (
	fieldInterlaced   = 4
	fieldSeqTB        = 5
	fieldSeqBT        = 6
	fieldInterlacedTB = 8
	fieldInterlacedBT = 9
)

// letters are the four of a code, without padding.
func letters(code uint32) string {
	out := []byte{byte(code), byte(code >> 8), byte(code >> 16), byte(code>>24) &^ 0x80} // bit 31: big-endian
	for i, b := range out {
		if b < ' ' || b > '~' {
			out[i] = ' '
		}
	}
	return strings.TrimSpace(string(out))
}

func codeOf(s string) uint32 {
	b := [4]byte{' ', ' ', ' ', ' '}
	copy(b[:], s)
	return uint32(b[0]) | uint32(b[1])<<8 | uint32(b[2])<<16 | uint32(b[3])<<24
}
