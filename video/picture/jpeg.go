package picture

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"io"

	"backporch/video"
)

// JPEG markers (ITU-T T.81 Table B.1).
const (
	markerDHT = 0xC4
	markerSOI = 0xD8
	markerEOI = 0xD9
	markerSOS = 0xDA
	markerDQT = 0xDB
	markerSOF = 0xC0
	markerAPP = 0xE0
)

// IsJPEG says whether data starts as a JPEG does.
func IsJPEG(data []byte) bool {
	return len(data) > 3 && data[0] == 0xFF && data[1] == markerSOI && data[2] == 0xFF
}

// DecodeJPEG reads a JPEG's planes as they are stored. frameHeight is what the
// container says, 0 when there is none: a packet may hold two JPEGs of half that height,
// one a field, which are woven. rgb says that the JPEG itself holds R, G, B.
func DecodeJPEG(data []byte, frameHeight int) (f *video.Frame, rgb bool, err error) {
	f, rgb, err = decodeOne(data)
	if err != nil || frameHeight == 0 || f.Height*2 != frameHeight {
		return f, rgb, err
	}
	second := secondPicture(data)
	if second == nil {
		return f, rgb, nil
	}
	g, _, err := decodeOne(second)
	if err != nil {
		return nil, rgb, fmt.Errorf("second field: %w", err)
	}
	if g.Width != f.Width || g.Height != f.Height || g.ChromaWidth != f.ChromaWidth || g.ChromaHeight != f.ChromaHeight {
		return nil, rgb, errors.New("the two fields of a packet differ in size")
	}
	// The AVI1 segment's next byte is the field's polarity: 1 odd lines (the top one is
	// line 1 by television's count), 2 even lines.
	if polarity(data) == 2 {
		f, g = g, f
	}
	return weave(f, g), rgb, nil
}

func decodeOne(data []byte) (*video.Frame, bool, error) {
	if !IsJPEG(data) {
		return nil, false, errors.New("not a JPEG")
	}
	data = withTables(data)
	config, err := jpeg.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		return nil, false, err
	}
	if err := CheckSize(config.Width, config.Height); err != nil {
		return nil, false, err
	}
	img, err := jpeg.Decode(bytes.NewReader(data))
	if err != nil {
		if !bytes.Contains(data, []byte{0xFF, markerEOI}) { // the decoder has other words for it
			err = fmt.Errorf("the JPEG was cut off: %w", io.ErrUnexpectedEOF)
		}
		return nil, false, err
	}
	if m, ok := img.(*image.CMYK); ok {
		return nil, false, fmt.Errorf("a JPEG of four inks, %d x %d: save it as RGB", m.Rect.Dx(), m.Rect.Dy())
	}
	return FromImage(img, true)
}

// segments calls yield with each marker segment before the entropy-coded data, SOS
// the last, until it returns false; at is the place of its 0xFF.
func segments(data []byte, yield func(marker uint8, at int, body []byte) bool) {
	for i := 2; i+4 <= len(data); {
		if data[i] != 0xFF {
			return
		}
		if data[i+1] == 0xFF { // fill byte
			i++
			continue
		}
		n := int(data[i+2])<<8 | int(data[i+3])
		if n < 2 || i+2+n > len(data) {
			return
		}
		if !yield(data[i+1], i, data[i+4:i+2+n]) || data[i+1] == markerSOS {
			return
		}
		i += 2 + n
	}
}

// withTables puts the standard Huffman tables in where there are none.
func withTables(data []byte) []byte {
	scan, tables := 0, false
	segments(data, func(marker uint8, at int, _ []byte) bool {
		tables = tables || marker == markerDHT
		if marker == markerSOS {
			scan = at
		}
		return true
	})
	if tables || scan == 0 {
		return data
	}
	out := make([]byte, 0, len(data)+432)
	out = append(out, data[:scan]...)
	out = appendHuffmanTables(out)
	return append(out, data[scan:]...)
}

func appendHuffmanTables(out []byte) []byte {
	n := 2
	for _, t := range huffmanTables {
		n += 17 + len(t.values)
	}
	out = append(out, 0xFF, markerDHT, byte(n>>8), byte(n))
	for _, t := range huffmanTables {
		out = append(out, t.class)
		out = append(out, t.counts[:]...)
		out = append(out, t.values...)
	}
	return out
}

// polarity is the field mark of an AVI1 segment, 0 when there is none.
func polarity(data []byte) uint8 {
	mark := uint8(0)
	segments(data, func(marker uint8, _ int, body []byte) bool {
		if marker == markerAPP && len(body) >= 5 && string(body[:4]) == "AVI1" {
			mark = body[4]
		}
		return true
	})
	return mark
}

// secondPicture is what follows the first picture's end, nil when that is no JPEG. In
// entropy-coded data 0xFF is followed by 0 or a restart marker, so an EOI is an end.
func secondPicture(data []byte) []byte {
	scan := 0
	segments(data, func(marker uint8, at int, _ []byte) bool {
		if marker == markerSOS {
			scan = at
		}
		return true
	})
	end := bytes.Index(data[scan:], []byte{0xFF, markerEOI})
	if scan == 0 || end < 0 {
		return nil
	}
	rest := data[scan+end+2:]
	start := bytes.Index(rest, []byte{0xFF, markerSOI, 0xFF})
	if start < 0 {
		return nil
	}
	return rest[start:]
}

// weave puts top's lines at 0, 2, 4 ... and bottom's between them.
func weave(top, bottom *video.Frame) *video.Frame {
	f := NewFrame(top.Width, 2*top.Height, top.ChromaWidth, 2*top.ChromaHeight)
	for parity, half := range []*video.Frame{top, bottom} {
		lines(f.Y, half.Y, f.Width, parity)
		lines(f.Cb, half.Cb, f.ChromaWidth, parity)
		lines(f.Cr, half.Cr, f.ChromaWidth, parity)
	}
	return f
}

func lines(to, from []uint8, width, parity int) {
	for y := 0; width > 0 && (y+1)*width <= len(from); y++ {
		copy(to[(2*y+parity)*width:(2*y+parity+1)*width], from[y*width:])
	}
}
