package source

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"image"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"golang.org/x/image/bmp"
	"golang.org/x/image/tiff"

	"backporch/video"
	"backporch/video/picture"
	"backporch/video/still"
)

// format is a still's.
type format string

const (
	notStill format = ""
	formPNG  format = "PNG"
	formJPEG format = "JPEG"
	formBMP  format = "BMP"
	formTIFF format = "TIFF"
)

// maxStill is the largest file that is read as a still.
const maxStill = 64 << 20

var marks = []struct {
	mark string
	is   format
}{
	{"\x89PNG\r\n\x1a\n", formPNG}, {"\xFF\xD8\xFF", formJPEG}, {"BM", formBMP}, {"II*\x00", formTIFF}, {"MM\x00*", formTIFF},
}

// formatOf looks at a file's first bytes; annotated says that they are those of an
// annotated copy.
func formatOf(path string) (is format, annotated bool, err error) {
	f, err := os.Open(path)
	if err != nil {
		return notStill, false, err
	}
	defer f.Close()
	head := make([]byte, 128)
	n, err := io.ReadFull(f, head)
	if err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
		return notStill, false, err
	}
	return formatBy(head[:n]), still.IsAnnotated(head[:n]), nil
}

func formatBy(data []byte) format {
	for _, m := range marks {
		if bytes.HasPrefix(data, []byte(m.mark)) {
			return m.is
		}
	}
	return notStill
}

// A loaded still.
type loaded struct {
	frame *video.Frame
	form  format
	rgb   bool
	text  *still.Text // of our own stills
}

// load reads a still's file.
func load(path string) (*loaded, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, cause(err)
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, maxStill+1))
	if err != nil {
		return nil, cause(err)
	}
	if len(data) > maxStill {
		return nil, fmt.Errorf("it has more than %d MB, no still has", maxStill>>20)
	}
	l, err := decode(data)
	if err != nil {
		return nil, err
	}
	return l, checkSize(l.frame)
}

func decode(data []byte) (*loaded, error) {
	l := &loaded{form: formatBy(data)}
	var config func(io.Reader) (image.Config, error)
	var read func(io.Reader) (image.Image, error)
	switch l.form {
	case notStill:
		if len(data) == 0 {
			return nil, errors.New("the file is empty")
		}
		return nil, errors.New("it is no picture, whatever its name says")
	case formPNG:
		s, err := still.Read(bytes.NewReader(data))
		if err != nil {
			return nil, oneLine(err)
		}
		l.frame, l.rgb = s.Frame, !s.Exact
		if s.Exact {
			l.text = &s.Text
		}
		return l, nil
	case formJPEG:
		f, rgb, err := picture.DecodeJPEG(data, 0)
		if err != nil {
			return nil, oneLine(err)
		}
		l.frame, l.rgb = f, rgb
		return l, nil
	case formBMP:
		config, read = bmp.DecodeConfig, bmp.Decode
	case formTIFF:
		config, read = tiff.DecodeConfig, tiff.Decode
	}
	c, err := config(bytes.NewReader(data))
	if err != nil {
		return nil, oneLine(err)
	}
	if err := picture.CheckSize(c.Width, c.Height); err != nil {
		return nil, err
	}
	img, err := read(bytes.NewReader(data))
	if err != nil {
		return nil, oneLine(err)
	}
	l.frame, l.rgb, err = picture.FromImage(img, false)
	return l, err
}

// oneLine says what an end inside a picture means, and keeps to a line.
func oneLine(err error) error {
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		if strings.Contains(err.Error(), "cut off") {
			return err
		}
		return fmt.Errorf("the picture was cut off: %w", io.ErrUnexpectedEOF)
	}
	return err
}

// stills is one still, or a folder of them.
type stills struct {
	info  video.Info
	paths []string
	next  int
	head  *loaded // the first that could be read,
	at    int     // and its place
	every time.Duration
}

func openStill(path string) (*stills, error) {
	l, err := load(path)
	if err != nil {
		return nil, fmt.Errorf("opening %s: %w", path, err)
	}
	s := &stills{paths: []string{path}, head: l}
	s.describe(path, video.KindStill)
	return s, nil
}

// extensions are those of files that are taken from a folder; what is in them, their
// bytes say.
var extensions = []string{".png", ".jpg", ".jpeg", ".bmp", ".tif", ".tiff"}

func openFolder(ctx context.Context, folder string) (*stills, error) {
	entries, err := os.ReadDir(folder)
	if err != nil {
		return nil, fmt.Errorf("opening %s: %w", folder, cause(err))
	}
	s := &stills{}
	for _, e := range entries {
		if strings.HasPrefix(e.Name(), ".") || e.IsDir() || !slices.Contains(extensions, strings.ToLower(filepath.Ext(e.Name()))) {
			continue
		}
		path := filepath.Join(folder, e.Name())
		// Annotated copies lie beside their stills and are no captures.
		if _, annotated, err := formatOf(path); err == nil && annotated {
			continue
		}
		s.paths = append(s.paths, path)
	}
	slices.SortFunc(s.paths, byName)
	if len(s.paths) == 0 {
		return nil, fmt.Errorf("opening %s: no stills in this folder (PNG, JPEG, BMP, TIFF)", folder)
	}
	// The first that can be read gives the size.
	var first error
	for i, path := range s.paths {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		l, err := load(path)
		if err == nil {
			s.head, s.at = l, i
			break
		}
		if first == nil {
			first = fmt.Errorf("%s: %w", filepath.Base(path), err)
		}
	}
	if s.head == nil {
		return nil, fmt.Errorf("opening %s: no still in this folder can be read; %w", folder, first)
	}
	s.describe(folder, video.KindFolder)
	return s, nil
}

func (s *stills) describe(spec string, kind video.Kind) {
	f := s.head.frame
	i := &s.info
	i.Spec, i.Kind, i.Width, i.Height, i.Frames = spec, kind, f.Width, f.Height, len(s.paths)
	i.Codec, i.RGB = string(s.head.form), s.head.rgb
	i.Order = video.OrderOf(f.Width, f.Height)
	i.Standard = video.StandardOf(f.Width, f.Height, 0)
	if s.head.text != nil {
		i.Order = s.head.text.Order
	}
	if s.head.form == formJPEG {
		i.Block = 8
	}
	if i.RGB {
		i.Notes = append(i.Notes, "the colours came by way of RGB: what is outside its gamut was clipped")
	}
	// Stills say nothing of a rate; their times count as frames of their standard.
	s.every = 40 * time.Millisecond
	if i.Standard == video.Std525 {
		s.every = 1001 * time.Second / 30000
	}
}

func (s *stills) Info() video.Info { return s.info }

func (s *stills) Next(ctx context.Context) (*video.Frame, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	if s.next >= len(s.paths) {
		return nil, io.EOF
	}
	index := s.next
	s.next++
	l := s.head
	var err error
	if index != s.at {
		l, err = load(s.paths[index])
	}
	if err == nil && (l.frame.Width != s.info.Width || l.frame.Height != s.info.Height) {
		err = fmt.Errorf("it is %d x %d, the first is %d x %d", l.frame.Width, l.frame.Height, s.info.Width, s.info.Height)
	}
	if err != nil {
		return nil, &video.BadFrame{Index: index, Err: fmt.Errorf("reading %s: %w", s.paths[index], err)}
	}
	f := *l.frame
	f.Index, f.Time = index, time.Duration(index)*s.every
	if s.info.Kind == video.KindStill && l.text != nil {
		f.Index, f.Time = l.text.Frame, l.text.Time // where it was in its capture
	}
	return &f, nil
}

func (s *stills) Close() error {
	s.next = len(s.paths)
	return nil
}

// byName orders names as people do: runs of digits by their value.
func byName(a, b string) int {
	x, y := a, b
	for x != "" && y != "" {
		dx, dy := digits(x), digits(y)
		if dx > 0 && dy > 0 {
			m, n := strings.TrimLeft(x[:dx], "0"), strings.TrimLeft(y[:dy], "0")
			if len(m) != len(n) {
				return len(m) - len(n)
			}
			if c := strings.Compare(m, n); c != 0 {
				return c
			}
			x, y = x[dx:], y[dy:]
			continue
		}
		if x[0] != y[0] {
			return int(x[0]) - int(y[0])
		}
		x, y = x[1:], y[1:]
	}
	if len(x) != len(y) {
		return len(x) - len(y)
	}
	return strings.Compare(a, b)
}

func digits(s string) int {
	n := 0
	for n < len(s) && s[n] >= '0' && s[n] <= '9' {
		n++
	}
	return n
}
