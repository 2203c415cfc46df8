package waveform

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"

	"backporch/video/keep"
)

// A Writer writes a WAV of 16 bits.
type Writer struct {
	f     *keep.File
	rate  uint32
	scale float64 // codes a millivolt
	n     int64
	buf   []byte
	done  bool
}

// NewWriter begins a WAV whose greatest code stands for fullScale volts (peak). The rate
// is rounded to whole samples a second, for a WAV knows no others.
func NewWriter(path string, rate, fullScale float64) (*Writer, error) {
	if !(rate >= 1 && rate < math.MaxUint32/2) || !(fullScale > 0) {
		return nil, fmt.Errorf("writing %s: %v samples a second, %v V of full scale: use numbers above 0", path, rate, fullScale)
	}
	f, err := keep.Create(path, false)
	if err != nil {
		return nil, err
	}
	w := &Writer{f: f, rate: uint32(math.Round(rate)), scale: 32768 / (1000 * fullScale)}
	if _, err := f.Write(w.header()); err != nil {
		f.Discard()
		return nil, fmt.Errorf("writing %s: %w", path, cause(err))
	}
	return w, nil
}

func (w *Writer) header() []byte {
	b := []byte("RIFF")
	b = binary.LittleEndian.AppendUint32(b, uint32(36+2*w.n))
	b = append(b, "WAVEfmt "...)
	b = binary.LittleEndian.AppendUint32(b, 16)
	b = binary.LittleEndian.AppendUint16(b, wavPCM)
	b = binary.LittleEndian.AppendUint16(b, 1)
	b = binary.LittleEndian.AppendUint32(b, w.rate)
	b = binary.LittleEndian.AppendUint32(b, 2*w.rate)
	b = binary.LittleEndian.AppendUint16(b, 2)
	b = binary.LittleEndian.AppendUint16(b, 16)
	b = append(b, "data"...)
	return binary.LittleEndian.AppendUint32(b, uint32(2*w.n))
}

// mostSamples is what the length fields of a WAV hold.
const mostSamples = (math.MaxUint32 - 36) / 2

// Write adds samples in mV.
func (w *Writer) Write(x []float32) error {
	if w.n+int64(len(x)) > mostSamples {
		return errors.New("a WAV holds 4 GiB at most: write fewer seconds")
	}
	w.buf = w.buf[:0]
	for _, v := range x {
		code := math.Round(float64(v) * w.scale)
		w.buf = binary.LittleEndian.AppendUint16(w.buf, uint16(int16(min(max(code, -32768), 32767))))
	}
	w.n += int64(len(x))
	_, err := w.f.Write(w.buf)
	return err
}

// Close completes the file.
func (w *Writer) Close() error {
	w.done = true
	if _, err := w.f.Seek(0, io.SeekStart); err != nil {
		return err
	}
	if _, err := w.f.Write(w.header()); err != nil {
		return err
	}
	return w.f.Commit(0o666)
}

// Discard gives it up; nothing after Close.
func (w *Writer) Discard() {
	if !w.done {
		w.f.Discard()
	}
}
