package waveform

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"strings"
)

// Options are what a file may not say of itself. Zero: what the file says.
type Options struct {
	Rate      float64 // samples a second, in place of the file's
	FullScale float64 // volts that the greatest code stands for (peak), for integer samples
	Format    string  // of bare samples: u8, s8, u16, s16, u16be, s16be; "": found from the samples
	Column    int     // of a CSV, 1 the first: where the volts are; channel of a WAV; 0: found
}

// Info is what is known of an open file.
type Info struct {
	Path     string
	Format   string  // "CSV", "WAV, 16 bits" ...
	Rate     float64 // samples a second
	Samples  int64   // in all, 0 when not known before the end
	Absolute bool    // samples are millivolts
	Bits     int     // of a sample; 0: not integers
	Notes    []string
}

// Seconds is how long the waveform lasts, 0 when not known.
func (i *Info) Seconds() float64 { return float64(i.Samples) / i.Rate }

// A Reader gives a file's samples in order. It is used by one goroutine at a time.
type Reader struct {
	file  *os.File
	info  Info
	block blockReader
	seen  Seen
}

// Seen counts what a Reader met on its way.
type Seen struct {
	Samples int64 // given
	Missing int64 // of them, not in the file: no number, or in a gap of time
	Gaps    int   // gaps in the time column
}

// blockReader fills dst; n < len(dst) only with an error, io.EOF at the clean end.
type blockReader interface {
	read(dst []float32, seen *Seen) (n int, err error)
}

var (
	// ErrNoRate is in the error of a file that does not say its sample rate.
	ErrNoRate = errors.New("it does not say its sample rate: give --rate, in samples a second")
	errEmpty  = errors.New("the file is empty")
	errFewRow = errors.New("one sample is no waveform")
)

// Open opens a waveform file. Its errors are one line: what, where, and what to do.
func Open(path string, o Options) (*Reader, error) {
	r, err := open(path, o)
	if err != nil {
		return nil, fmt.Errorf("opening %s: %w", path, cause(err))
	}
	return r, nil
}

func open(path string, o Options) (*Reader, error) {
	for _, v := range []float64{o.Rate, o.FullScale} {
		if v < 0 || math.IsNaN(v) || math.IsInf(v, 0) {
			return nil, fmt.Errorf("%v is no sample rate and no voltage: use a number above 0", v)
		}
	}
	st, err := os.Stat(path)
	if err != nil {
		return nil, err
	}
	if !st.Mode().IsRegular() {
		return nil, errors.New("this is no file")
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	r := &Reader{file: f, info: Info{Path: path}}
	head := make([]byte, 1<<16)
	n, err := io.ReadFull(f, head)
	if err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
		_ = f.Close()
		return nil, err
	}
	head = head[:n]
	switch kind := kindOf(head, path); {
	case n == 0:
		err = errEmpty
	case o.Format != "":
		err = r.openRaw(o, st.Size())
	case kind == kindWAV:
		err = r.openWAV(o, st.Size())
	case kind == kindNPY:
		err = r.openNPY(head, o, st.Size())
	case kind == kindCSV:
		err = r.openCSV(head, o, st.Size())
	case kind == kindWide:
		err = errors.New("it is text of two bytes a character (UTF-16): save it as plain text (UTF-8)")
	case kind == kindText:
		err = errors.New("it is text, but no table of numbers")
	default:
		err = r.openRaw(o, st.Size())
	}
	if err == nil && r.info.Samples == 1 {
		err = errFewRow
	}
	if err == nil && !(r.info.Rate > 0 && r.info.Rate < 1e12) {
		err = fmt.Errorf("its sample rate of %v a second makes no sense: give --rate", r.info.Rate)
	}
	if err != nil {
		_ = f.Close()
		return nil, err
	}
	return r, nil
}

// Info is what is known of the file.
func (r *Reader) Info() Info { return r.info }

// Seen counts what has been read so far.
func (r *Reader) Seen() Seen { return r.seen }

// Close closes the file.
func (r *Reader) Close() error { return r.file.Close() }

// Read fills dst and returns how many samples it gave, with io.EOF at the end.
func (r *Reader) Read(dst []float32) (int, error) {
	n, err := r.block.read(dst, &r.seen)
	r.seen.Samples += int64(n)
	if err != nil && !errors.Is(err, io.EOF) {
		err = fmt.Errorf("reading %s: %w", r.info.Path, cause(err))
	}
	return n, err
}

func (r *Reader) note(format string, args ...any) {
	r.info.Notes = append(r.info.Notes, fmt.Sprintf(format, args...))
}

// cause takes the path out of an error that has one in front.
func cause(err error) error {
	var p *fs.PathError
	if errors.As(err, &p) {
		return p.Err
	}
	return err
}

type kind int

const (
	kindOther kind = iota
	kindWAV
	kindNPY
	kindCSV
	kindText
	kindWide // text of two bytes a character
)

// kindOf tells a file by its first bytes; its name only parts bare samples from text.
func kindOf(head []byte, path string) kind {
	riff := len(head) >= 12 && (string(head[:4]) == "RIFF" || string(head[:4]) == "RF64" || string(head[:4]) == "BW64")
	switch {
	case riff && string(head[8:12]) == "WAVE":
		return kindWAV
	case bytes.HasPrefix(head, []byte(npyMagic)):
		return kindNPY
	case bytes.HasPrefix(head, []byte("\xff\xfe")) && len(head)%2 == 0 && isText(narrow(head, 0)), bytes.HasPrefix(head, []byte("\xfe\xff")) && len(head)%2 == 0 && isText(narrow(head, 1)):
		return kindWide
	case isText(head):
		if _, ok := dialectOf(head); ok {
			return kindCSV
		}
		return kindText
	}
	return kindOther
}

// narrow takes every second byte behind the mark of byte order.
func narrow(b []byte, from int) []byte {
	out := make([]byte, 0, len(b)/2)
	for i := 2 + from; i < len(b); i += 2 {
		out = append(out, b[i])
	}
	return out
}

// isText says that bytes are text: no control characters but those of lines.
func isText(b []byte) bool {
	b = bytes.TrimPrefix(b, []byte("\xef\xbb\xbf"))
	high := 0
	for _, c := range b {
		if c < 0x20 && c != '\n' && c != '\r' && c != '\t' || c == 0x7f {
			return false
		}
		if c >= 0x80 {
			high++
		}
	}
	return len(b) > 0 && high*20 <= len(b)
}

// rawEndings are names that bare samples have.
var rawEndings = []string{".raw", ".bin", ".u8", ".s8", ".u16", ".s16", ".dat", ".pcm"}

// Is says whether a SOURCE word names a waveform: a WAV, NPY or table of numbers by its
// first bytes, bare samples by the ending of their name.
func Is(path string) bool {
	f, err := os.Open(path)
	if err != nil {
		return false
	}
	defer f.Close()
	head := make([]byte, 1<<16)
	n, _ := io.ReadFull(f, head)
	switch kindOf(head[:n], path) {
	case kindWAV, kindNPY, kindCSV:
		return true
	case kindText, kindWide:
		return false
	}
	for _, e := range rawEndings {
		if strings.HasSuffix(strings.ToLower(path), e) {
			return n > 0
		}
	}
	return false
}
