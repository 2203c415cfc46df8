package still

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"image/png"
	"io"
	"strconv"
	"strings"
	"time"

	"backporch/video"
	"backporch/video/picture"
)

// maxFile is the largest still that is read: some ten times a full frame of noise.
const maxFile = 64 << 20

// ErrAnnotated is what Read says of an annotated copy, which is no capture.
var ErrAnnotated = errors.New("it is an annotated copy: give the still that it was made of")

// IsAnnotated says whether a file that begins so is an annotated copy of ours; 128 bytes
// are enough.
func IsAnnotated(head []byte) bool {
	return bytes.HasPrefix(head, []byte(signature)) && len(head) > headLength+8 &&
		bytes.HasPrefix(head[headLength+4:], []byte("iTXt"+keyPrefix+copyKey+"\x00"))
}

// A Still is what Read gives.
type Still struct {
	Frame *video.Frame
	Text  Text
	Exact bool // the planes are the device's own; else they were made of R, G, B
}

// Read reads a still of ours, or any other PNG, whose R, G, B become BT.601 codes.
func Read(r io.Reader) (*Still, error) {
	data, err := io.ReadAll(io.LimitReader(r, maxFile+1))
	if err != nil {
		return nil, err
	}
	if len(data) > maxFile {
		return nil, fmt.Errorf("it has more than %d MB", maxFile>>20)
	}
	config, err := png.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		return nil, shorter(err)
	}
	if err := picture.CheckSize(config.Width, config.Height); err != nil {
		return nil, err
	}
	s := &Still{Text: Text{Field: -1}}
	known := false
	var planes []byte
	err = chunks(data, func(name string, body []byte) error {
		switch name {
		case planeChunk:
			if planes != nil {
				return errors.New("it holds two sets of planes")
			}
			planes = body
		case "iTXt":
			key, value, ok := textOf(body)
			if ok && key == keyPrefix+copyKey {
				return ErrAnnotated
			}
			if ok && strings.HasPrefix(key, keyPrefix) {
				known = known || key == keyPrefix+"order"
				return s.Text.set(strings.TrimPrefix(key, keyPrefix), value)
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	if planes != nil {
		if s.Frame, err = unpackPlanes(planes, config.Width, config.Height); err != nil {
			return nil, err
		}
		s.Exact = true
	} else {
		img, err := png.Decode(bytes.NewReader(data))
		if err != nil {
			return nil, shorter(err)
		}
		if s.Frame, _, err = picture.FromImage(img, false); err != nil {
			return nil, err
		}
	}
	if !known {
		s.Text.Order = video.OrderOf(s.Frame.Width, s.Frame.Height)
	}
	s.Frame.Index, s.Frame.Time = s.Text.Frame, s.Text.Time
	return s, nil
}

// shorter says what io's words mean here.
func shorter(err error) error {
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		return fmt.Errorf("it was cut off: %w", io.ErrUnexpectedEOF)
	}
	return err
}

// chunks walks a PNG's chunks and checks their sums.
func chunks(data []byte, each func(name string, body []byte) error) error {
	for at := len(signature); ; {
		if len(data)-at < 12 {
			return shorter(io.ErrUnexpectedEOF)
		}
		n := int64(binary.BigEndian.Uint32(data[at:]))
		if n > int64(len(data)-at-12) {
			return shorter(io.ErrUnexpectedEOF)
		}
		end := at + 8 + int(n)
		name := string(data[at+4 : at+8])
		if crc32.ChecksumIEEE(data[at+4:end]) != binary.BigEndian.Uint32(data[end:]) {
			return fmt.Errorf("it is damaged: the checksum of its chunk %q is wrong", name)
		}
		if err := each(name, data[at+8:end]); err != nil {
			return err
		}
		if name == "IEND" {
			return nil
		}
		at = end + 4
	}
}

// textOf takes an iTXt chunk apart; compressed ones are none of ours.
func textOf(body []byte) (key, value string, ok bool) {
	parts := bytes.SplitN(body, []byte{0}, 2)
	if len(parts) != 2 || len(parts[1]) < 2 || parts[1][0] != 0 {
		return "", "", false
	}
	rest := bytes.SplitN(parts[1][2:], []byte{0}, 3) // language, translated key, text
	if len(rest) != 3 {
		return "", "", false
	}
	return string(parts[0]), string(rest[2]), true
}

func (t *Text) set(key, value string) error {
	var err error
	switch key {
	case "source":
		t.Source = value
	case "time":
		var us int64
		us, err = strconv.ParseInt(strings.TrimSuffix(value, " us"), 10, 64)
		if us > int64(1<<62)/1000 || us < -int64(1<<62)/1000 {
			err = strconv.ErrRange
		}
		t.Time = time.Duration(us) * time.Microsecond
	case "frame":
		t.Frame, err = strconv.Atoi(value)
	case "field":
		t.Field, err = strconv.Atoi(value)
	case "order":
		for order, name := range orderNames {
			if name == value {
				t.Order = order
				return nil
			}
		}
		err = errors.New("not one that is known")
	case "tool":
		t.Tool = value
	case "display":
		t.Display = value
	case "verdict":
		t.Verdict = value
	case "note":
		t.Note = value
	}
	if err != nil {
		return fmt.Errorf("its text %s%s is %q: %w", keyPrefix, key, value, err)
	}
	return nil
}

// unpackPlanes reads bpYC; the picture beside it has this size.
func unpackPlanes(body []byte, width, height int) (*video.Frame, error) {
	bad := func(why string) (*video.Frame, error) {
		return nil, fmt.Errorf("its planes (chunk %s) can't be read: %s", planeChunk, why)
	}
	if len(body) < 17 {
		return bad("cut off")
	}
	if body[0] != 1 {
		return bad(fmt.Sprintf("version %d; a newer program wrote it", body[0]))
	}
	var size [4]int
	for i := range size {
		v := binary.BigEndian.Uint32(body[1+4*i:])
		if v > picture.MaxSide {
			return bad("too large")
		}
		size[i] = int(v)
	}
	w, h, cw, ch := size[0], size[1], size[2], size[3]
	if w != width || h != height {
		return bad(fmt.Sprintf("they are %d x %d, the picture %d x %d", w, h, width, height))
	}
	if cw > w || ch > h || (cw == 0) != (ch == 0) {
		return bad(fmt.Sprintf("chroma of %d x %d", cw, ch))
	}
	z, err := zlib.NewReader(bytes.NewReader(body[17:]))
	if err != nil {
		return bad(err.Error())
	}
	f := picture.NewFrame(w, h, cw, ch)
	for _, p := range []struct {
		plane []uint8
		width int
	}{{f.Y, w}, {f.Cb, cw}, {f.Cr, cw}} {
		if _, err := io.ReadFull(z, p.plane); err != nil {
			return bad("cut off")
		}
		for at := 0; at < len(p.plane); at += p.width {
			left := uint8(0)
			row := p.plane[at : at+p.width]
			for x, v := range row {
				left += v
				row[x] = left
			}
		}
	}
	if n, err := io.ReadFull(z, make([]byte, 1)); n != 0 || !errors.Is(err, io.EOF) { // reads zlib's own sum too
		return bad("more than its size says, or a wrong sum")
	}
	return f, nil
}
