package exhibit

import (
	"fmt"
	"image"
	"math"

	"backporch/analyse"
	"backporch/patterns"
	"backporch/video"
	"backporch/video/display"
	"backporch/video/still"
)

// A Finding is what exhibits are chosen from.
type Finding struct {
	Field     *video.Field   // the annotated one
	Fields    []*video.Field // all of the capture
	Survey    *analyse.Survey
	Reference *analyse.Survey // nil when there is none
	Profile   *display.Profile
	Verdict   *patterns.Verdict
}

// likely is the probability from which a fault is shown.
const likely = 0.5

// Of gives the exhibits, the most telling first.
func Of(f Finding) []still.Exhibit {
	if f.Verdict.Class == patterns.Clean || f.Verdict.Class == patterns.Undetermined {
		return nil
	}
	var out []still.Exhibit
	for i, fault := range f.Verdict.Faults {
		if fault.Probability >= likely || i == 0 && fault.Class == f.Verdict.Class {
			out = append(out, f.of(&fault)...)
		}
	}
	return out[:min(len(out), 3)]
}

func (f *Finding) of(fault *patterns.Fault) []still.Exhibit {
	switch fault.Kind {
	case "no-signal":
		return nil
	case "sync-weak":
		return f.unsteady()
	case "noise":
		return f.grain()
	}
	if f.Profile == nil || !f.Survey.Registration.OK {
		return nil
	}
	switch {
	case fault.Class == patterns.RAMBit:
		return f.lane(fault)
	case fault.Kind == "colour-path" && f.Profile.Kind == display.Attr:
		return append(f.colours(fault), f.good()...)
	case fault.Kind == "border-latch":
		return append(f.border(fault), f.good()...)
	case fault.Kind == "power-up-pattern":
		return append([]still.Exhibit{f.pixels("Enlarged: nothing has written this", f.Survey, nil, 104, 80, 48, 0, false)}, f.good()...)
	}
	return f.good()
}

// good is the reference's whole picture, for the eye.
func (f *Finding) good() []still.Exhibit {
	if f.Reference == nil || f.Reference.Stack == nil {
		return nil
	}
	field := FieldOf(f.Reference.Stack)
	return []still.Exhibit{{
		Title: "A good machine with this screen", Note: "the reference",
		Part: &still.Part{Field: field, Where: image.Rect(0, 0, field.Width, field.Height)},
	}}
}

// FieldOf is a stack's mean as a field.
func FieldOf(s *analyse.Stack) *video.Field {
	f := &video.Field{Width: s.Width, Height: s.Height, ChromaWidth: s.ChromaWidth}
	plane := func(v []float32) []uint8 {
		out := make([]uint8, len(v))
		for i, c := range v {
			out[i] = uint8(max(0, min(255, c+0.5)))
		}
		return out
	}
	f.Y, f.Cb, f.Cr = plane(s.Y), plane(s.Cb), plane(s.Cr)
	return f
}

// pixels shows so many machine pixels in width, from pixel x and line y on; the height keeps
// 4:3. In a survey other than the capture's own it shows the mean of its fields. With
// bit >= 0 the columns of each byte are numbered, and that of the bit pointed at when sure.
func (f *Finding) pixels(title string, s *analyse.Survey, field *video.Field, x, y, w, bit int, numbered bool) still.Exhibit {
	r := s.Registration
	width, height := s.Stack.Width, s.Stack.Height
	left, right := r.OriginX+float64(x)*r.PitchX, r.OriginX+float64(x+w)*r.PitchX
	lines := (right - left) * float64(height) / float64(width)
	top := r.OriginY + float64(y)*r.PitchY
	where := image.Rect(int(math.Round(left)), int(math.Round(top)), int(math.Round(right)), int(math.Round(top+lines)))
	// Kept in the picture, whatever its edge cuts off.
	where = where.Add(image.Pt(max(0, -where.Min.X)-max(0, where.Max.X-width), max(0, -where.Min.Y)-max(0, where.Max.Y-height)))
	note := ""
	if field == nil && s.Straightened { // the frame as captured shows it elsewhere
		field, note = FieldOf(s.Stack), "laid straight: the mean of the fields"
	}
	e := still.Exhibit{Title: title, Note: note, Part: &still.Part{Field: field, Where: where}}
	if numbered {
		for i := range w {
			b := 7 - (x+i)%8
			e.Part.Columns = append(e.Part.Columns, still.Column{
				X: r.OriginX + float64(x+i)*r.PitchX, W: r.PitchX, Label: fmt.Sprint(b), Bad: b == bit,
			})
		}
	}
	return e
}

// colours counts the basic colours with and without a component.
func (f *Finding) colours(fault *patterns.Fault) []still.Exhibit {
	mask := map[string]int{"blue": 1, "red": 2, "green": 4}[fault.Component]
	if mask == 0 || fault.Level == nil {
		return nil
	}
	here := counted(f.Survey)
	var there map[int]int
	if f.Reference != nil {
		there = counted(f.Reference)
	}
	e := still.Exhibit{Title: fmt.Sprintf("Colours without %s, then with it", fault.Component), Note: "how many cells show each"}
	if there != nil {
		e.Note += "; in brackets: on the good machine"
	}
	for _, with := range []int{0, mask} {
		for k := range 8 {
			if k&mask != with {
				continue
			}
			sw := still.Swatch{Name: f.name(k)}
			sw.Colour = f.rgba(k | 8)
			switch n := here[k]; {
			case n > 0:
				sw.Note = fmt.Sprintf("%d", n)
			case with == mask && *fault.Level == 0 || with == 0 && *fault.Level == 1:
				sw.Note, sw.Bad = "none", true
			default:
				sw.Note = "none"
			}
			if there != nil {
				sw.Note += fmt.Sprintf(" (%d)", there[k])
			}
			e.Swatches = append(e.Swatches, sw)
		}
	}
	return []still.Exhibit{e}
}

// counted is in how many cells each basic colour shows.
func counted(s *analyse.Survey) map[int]int {
	n := map[int]int{}
	for i := range s.Cells {
		c := &s.Cells[i]
		if c.Paper >= 0 {
			n[c.Paper&7]++
		}
		if !c.Single && c.Ink >= 0 && c.Ink&7 != c.Paper&7 {
			n[c.Ink&7]++
		}
	}
	return n
}

func (f *Finding) name(colour int) string {
	if colour < 0 || colour >= len(f.Profile.Colours) {
		return "unknown"
	}
	return f.Profile.Colours[colour].Name
}

// border shows what colour the border should have and which it has.
func (f *Finding) border(fault *patterns.Fault) []still.Exhibit {
	if fault.Expected == nil || fault.Seen == nil {
		return nil
	}
	e := still.Exhibit{Title: "The border's colour"}
	for _, v := range []struct {
		note   string
		colour int
		bad    bool
	}{{"should be", *fault.Expected, false}, {"is", *fault.Seen, true}} {
		e.Swatches = append(e.Swatches, still.Swatch{Colour: f.rgba(v.colour), Name: f.name(v.colour), Note: v.note, Bad: v.bad})
	}
	return []still.Exhibit{e}
}
