package still

import (
	"bytes"
	"compress/zlib"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"hash/crc32"
	"image/png"
	"io"
	"io/fs"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"backporch/video"
	"backporch/video/keep"
	"backporch/video/picture"
)

// Text is what a still says of itself. Empty strings are left out.
type Text struct {
	Source  string        // the word that named the source
	Time    time.Duration // since the capture began
	Frame   int           // its number, from 0
	Field   int           // the field that shows the fault, 0 or 1; -1: the frame as a whole
	Order   video.FieldOrder
	Tool    string // name and version of the program
	Display string // display profile
	Verdict string
	Note    string
}

const (
	keyPrefix  = "backporch:"
	planeChunk = "bpYC"
	copyKey    = "copy" // its text says how a PNG of ours was made of a still
	signature  = "\x89PNG\r\n\x1a\n"
	headLength = len(signature) + 25 // signature and IHDR, which has 13 bytes
)

var orderNames = map[video.FieldOrder]string{
	video.TopFirst: "top-first", video.BottomFirst: "bottom-first", video.Progressive: "progressive", video.Doubled: "doubled",
}

// entries are the text chunks, in the order in which they are written.
func (t Text) entries() [][2]string {
	all := [][2]string{
		{"source", t.Source},
		{"time", strconv.FormatInt(t.Time.Microseconds(), 10) + " us"},
		{"frame", strconv.Itoa(t.Frame)},
		{"field", strconv.Itoa(t.Field)},
		{"order", orderNames[t.Order]},
		{"tool", t.Tool},
		{"display", t.Display},
		{"verdict", t.Verdict},
		{"note", t.Note},
	}
	kept := all[:0]
	for _, e := range all {
		// PNG text is UTF-8 without NUL; a file name on disk may be neither.
		e[1] = strings.ReplaceAll(strings.ToValidUTF8(e[1], "\uFFFD"), "\x00", "\uFFFD")
		if e[1] != "" {
			kept = append(kept, e)
		}
	}
	return kept
}

// Write writes a still.
func Write(w io.Writer, f *video.Frame, t Text) error {
	if err := sound(f); err != nil {
		return err
	}
	var shown bytes.Buffer
	if err := png.Encode(&shown, picture.ToRGBA(f)); err != nil {
		return err
	}
	data := shown.Bytes()
	out := bytes.NewBuffer(make([]byte, 0, len(data)+len(f.Y)))
	out.Write(data[:headLength])
	for _, e := range t.entries() {
		writeText(out, e[0], e[1])
	}
	planes, err := packPlanes(f)
	if err != nil {
		return err
	}
	writeChunk(out, planeChunk, planes)
	out.Write(data[headLength:])
	_, err = w.Write(out.Bytes())
	return err
}

// sound checks that a frame's planes are as large as it says.
func sound(f *video.Frame) error {
	if err := picture.CheckSize(f.Width, f.Height); err != nil {
		return err
	}
	chroma := 0
	if len(f.Cb) > 0 {
		if f.ChromaWidth < 1 || f.ChromaHeight < 1 || f.ChromaWidth > f.Width || f.ChromaHeight > f.Height {
			return fmt.Errorf("chroma of %d x %d in a frame of %d x %d", f.ChromaWidth, f.ChromaHeight, f.Width, f.Height)
		}
		chroma = f.ChromaWidth * f.ChromaHeight
	}
	if len(f.Y) != f.Width*f.Height || len(f.Cb) != chroma || len(f.Cr) != chroma {
		return errors.New("the frame's planes do not have the size that it says")
	}
	return nil
}

// writeText writes an iTXt chunk: key, NUL, not compressed, no language, no translated key.
func writeText(out *bytes.Buffer, key, value string) {
	writeChunk(out, "iTXt", []byte(keyPrefix+key+"\x00\x00\x00\x00\x00"+value))
}

func writeChunk(out *bytes.Buffer, name string, body []byte) {
	var word [4]byte
	binary.BigEndian.PutUint32(word[:], uint32(len(body)))
	out.Write(word[:])
	sum := crc32.NewIEEE()
	_, _ = io.MultiWriter(out, sum).Write(append([]byte(name), body...)) // neither can fail
	binary.BigEndian.PutUint32(word[:], sum.Sum32())
	out.Write(word[:])
}

func packPlanes(f *video.Frame) ([]byte, error) {
	var out bytes.Buffer
	cw, ch := f.ChromaWidth, f.ChromaHeight
	if len(f.Cb) == 0 {
		cw, ch = 0, 0
	}
	out.WriteByte(1)
	for _, v := range []int{f.Width, f.Height, cw, ch} {
		var word [4]byte
		binary.BigEndian.PutUint32(word[:], uint32(v))
		out.Write(word[:])
	}
	z := zlib.NewWriter(&out)
	for _, p := range []struct {
		plane []uint8
		width int
	}{{f.Y, f.Width}, {f.Cb, cw}, {f.Cr, cw}} {
		row := make([]byte, p.width)
		for at := 0; at < len(p.plane); at += p.width {
			left := uint8(0)
			for x, v := range p.plane[at : at+p.width] {
				row[x] = v - left
				left = v
			}
			if _, err := z.Write(row); err != nil {
				return nil, err
			}
		}
	}
	if err := z.Close(); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}

// Save keeps a still in a file of that name, read-only, and gives the file's SHA-256 in
// hexadecimal. A name that is taken is an error that wraps fs.ErrExist.
func Save(path string, f *video.Frame, t Text) (sum string, err error) {
	return save(path, func(w io.Writer) error { return Write(w, f, t) })
}

func save(path string, write func(io.Writer) error) (sum string, err error) {
	hash := sha256.New()
	err = keep.Write(path, 0o444, func(w io.Writer) error { return write(io.MultiWriter(w, hash)) })
	if err != nil {
		return "", err
	}
	return hex.EncodeToString(hash.Sum(nil)), nil
}

// SaveNext keeps a still as name.png in a folder, or as name-2.png, name-3.png ... where
// that is taken.
func SaveNext(folder, name string, f *video.Frame, t Text) (path, sum string, err error) {
	for n := 1; n < 100000; n++ {
		path = filepath.Join(folder, name+".png")
		if n > 1 {
			path = filepath.Join(folder, fmt.Sprintf("%s-%d.png", name, n))
		}
		sum, err = Save(path, f, t)
		if !errors.Is(err, fs.ErrExist) {
			return path, sum, err
		}
	}
	return "", "", err
}
