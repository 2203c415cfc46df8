package jobreport

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"image"
	"image/jpeg"
	"image/png"
	"time"

	"golang.org/x/image/draw"

	"backporch/cmd/backporch/internal/job"
	"backporch/video/still"
)

// A Picture is shown in a report: made anew from the still, so that it is upright, of the shape
// that a display gives it, and says nothing of where it was taken.
type Picture struct {
	Data    []byte // PNG or JPEG
	JPEG    bool
	Width   int
	Height  int
	Caption string
	Name    string // of its file in a bundle, without ending
	SHA256  string // of the still that it was made of
}

// Ending is how the name of its file ends.
func (p *Picture) Ending() string {
	if p.JPEG {
		return ".jpg"
	}
	return ".png"
}

// mostOthers is how many photos and further stills a report shows.
const mostOthers = 6

// choose takes the pictures that tell the story.
func (m *Model) choose(s *job.Store, line []job.Entry, t course) {
	type shot struct {
		entry job.Entry
		at    int
		still job.Still
	}
	var before, after, closer *shot
	var all []shot
	for i, e := range line {
		for _, k := range e.Stills {
			if !k.Picture() {
				continue
			}
			here := shot{e, i, k}
			if k.Marked {
				if i == t.fault {
					closer = &here
				}
				continue
			}
			all = append(all, here)
			if i == t.fault && k.Role != job.After { // the one that shows the fault
				before = &here
			}
			if before == nil && k.Role == job.Before && e.Kind == job.KindCapture && t.fault < 0 {
				before = &here
			}
			// What the last clean verdict was of: a comparison, which may have said it, keeps both pictures in one.
			if k.Role == job.After || t.fault >= 0 && i > t.fault && i <= t.clean && e.Verdict != nil && e.Verdict.Class == "clean" {
				after = &here
			}
		}
	}
	if before == nil {
		for i := range all {
			if all[i].still.Role == job.Before {
				before = &all[i]
				break
			}
		}
	}
	show := func(one *shot, name, caption string) *Picture {
		if one == nil {
			return nil
		}
		p, err := load(s, one.still)
		if err != nil {
			m.Unshown = append(m.Unshown, err.Error())
			return nil
		}
		p.Caption, p.Name = caption, name
		m.pictures = append(m.pictures, p)
		return p
	}
	said := func(what string, one *shot) string {
		if one == nil {
			return ""
		}
		return what + ", " + stamp(one.entry.At)
	}
	m.Before = show(before, "before", said("Before", before))
	m.After = show(after, "after", said("After", after))
	m.Close = show(closer, "marked", "The fault, marked")
	shown := map[string]bool{}
	for _, one := range []*shot{before, after} {
		if one != nil {
			shown[one.still.SHA256] = true
		}
	}
	for i := range all {
		one := &all[i]
		if shown[one.still.SHA256] {
			continue
		}
		shown[one.still.SHA256] = true
		if len(m.Others) == mostOthers {
			m.More++
			continue
		}
		caption := said(capital(string(one.still.Role)), one)
		if one.still.Note != "" {
			caption = capital(one.still.Note) + " (" + string(one.still.Role) + ", " + stamp(one.entry.At) + ")"
		}
		if p := show(one, fmt.Sprintf("%s-%d", one.still.Role, len(m.Others)+1), caption); p != nil {
			m.Others = append(m.Others, p)
		}
	}
}

func stamp(t time.Time) string { return t.Local().Format("2 Jan 2006, 15:04") }

// mostPixels bounds a picture that is decoded: a phone's camera of 2026.
const mostPixels = 120e6

// largest is the longer side, in pixels, at which a photo is shown.
const largest = 1600

// load makes the picture of a still. One that cannot be shown is an error that names it.
func load(s *job.Store, k job.Still) (*Picture, error) {
	data, err := s.Read(k)
	if err != nil {
		return nil, err
	}
	p, err := render(data)
	if err != nil {
		return nil, fmt.Errorf("showing %s: %w", k.Name, err)
	}
	p.SHA256 = k.SHA256
	return p, nil
}

func render(data []byte) (*Picture, error) {
	config, format, err := image.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		return nil, err
	}
	if config.Width < 1 || config.Height < 1 || float64(config.Width)*float64(config.Height) > mostPixels {
		return nil, fmt.Errorf("%d x %d are too many pixels", config.Width, config.Height)
	}
	img, _, err := image.Decode(bytes.NewReader(data))
	if err != nil {
		return nil, err
	}
	p := &Picture{JPEG: format == "jpeg"}
	marked := still.IsAnnotated(data[:min(len(data), 256)])
	if ours, err := still.Read(bytes.NewReader(data)); err == nil && !marked && ours.Text.Tool != "" {
		// A display shows the lines of a frame at 4:3, whatever the samples (BT.601).
		img = scaled(img, config.Height*4/3, config.Height)
	}
	if b := img.Bounds(); max(b.Dx(), b.Dy()) > largest {
		f := float64(largest) / float64(max(b.Dx(), b.Dy()))
		img = scaled(img, max(int(f*float64(b.Dx())), 1), max(int(f*float64(b.Dy())), 1))
	}
	if p.JPEG {
		img = upright(img, orientation(data))
	}
	p.Width, p.Height = img.Bounds().Dx(), img.Bounds().Dy()
	var b bytes.Buffer
	if p.JPEG {
		err = jpeg.Encode(&b, img, &jpeg.Options{Quality: 88})
	} else {
		err = (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(&b, opaque(img))
	}
	p.Data = b.Bytes()
	return p, err
}

func scaled(img image.Image, width, height int) image.Image {
	out := image.NewRGBA(image.Rect(0, 0, width, height))
	draw.CatmullRom.Scale(out, out.Bounds(), img, img.Bounds(), draw.Src, nil)
	return out
}

// opaque lays a picture on white, 8 bits a channel: what every page and PDF can show.
func opaque(img image.Image) image.Image {
	out := image.NewRGBA(image.Rect(0, 0, img.Bounds().Dx(), img.Bounds().Dy()))
	draw.Draw(out, out.Bounds(), image.White, image.Point{}, draw.Src)
	draw.Draw(out, out.Bounds(), img, img.Bounds().Min, draw.Over)
	return out
}

// orientation is how a camera was held: the Orientation tag, 0x0112, of a JPEG's Exif (CIPA
// DC-008, 4.6.4 and annex on APP1; values 1 to 8, from memory). 1 when it says nothing.
func orientation(data []byte) int {
	for at := 2; at+4 <= len(data) && data[at] == 0xff; {
		marker, length := data[at+1], int(binary.BigEndian.Uint16(data[at+2:]))
		if marker == 0xda || length < 2 || at+2+length > len(data) {
			break
		}
		body := data[at+4 : at+2+length]
		if marker == 0xe1 && len(body) > 14 && string(body[:6]) == "Exif\x00\x00" {
			return tiffOrientation(body[6:])
		}
		at += 2 + length
	}
	return 1
}

// tiffOrientation looks for the tag in the first directory of a TIFF (revision 6.0, section 2).
func tiffOrientation(b []byte) int {
	var order binary.ByteOrder = binary.BigEndian
	if string(b[:2]) == "II" {
		order = binary.LittleEndian
	}
	at := int64(order.Uint32(b[4:]))
	if at+2 > int64(len(b)) {
		return 1
	}
	n := int64(order.Uint16(b[at:]))
	for i := range n {
		entry := at + 2 + 12*i
		if entry+12 > int64(len(b)) {
			break
		}
		if order.Uint16(b[entry:]) == 0x0112 {
			if v := order.Uint16(b[entry+8:]); v >= 1 && v <= 8 {
				return int(v)
			}
		}
	}
	return 1
}

// upright turns and mirrors a picture so that its row 0 is its top.
func upright(img image.Image, orientation int) image.Image {
	if orientation < 2 {
		return img
	}
	b := img.Bounds()
	w, h := b.Dx(), b.Dy()
	ow, oh := w, h
	if orientation >= 5 {
		ow, oh = h, w
	}
	out := image.NewRGBA(image.Rect(0, 0, ow, oh))
	for y := range oh {
		for x := range ow {
			sx, sy := x, y
			switch orientation {
			case 2:
				sx = w - 1 - x
			case 3:
				sx, sy = w-1-x, h-1-y
			case 4:
				sy = h - 1 - y
			case 5:
				sx, sy = y, x
			case 6:
				sx, sy = y, h-1-x
			case 7:
				sx, sy = w-1-y, h-1-x
			case 8:
				sx, sy = w-1-y, x
			}
			out.Set(x, y, img.At(b.Min.X+sx, b.Min.Y+sy))
		}
	}
	return out
}
