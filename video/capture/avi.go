package capture

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"

	"backporch/video"
	"backporch/video/keep"
	"backporch/video/picture"
)

// WriterOptions are NewWriter's; zero is a good recording.
type WriterOptions struct {
	Quality   int  // of the JPEGs, 1 to 100; 0 means 90
	NoTables  bool // leave the Huffman tables out of each frame, as many capture devices do
	Overwrite bool // replace a file of that name
}

// A Writer makes a Motion JPEG AVI as a cheap USB capture device records it: woven
// frames, 4:2:2, the codes as they are. OpenCV's own writer takes B, G, R and keeps 4:2:0.
// The file appears under its name with Close.
type Writer struct {
	file          *keep.File
	options       WriterOptions
	width, height int
	rate          float64
	buf           []byte
	at            uint32 // bytes written
	largest       int
	index         []uint32 // offset from "movi" and length of each frame
	err           error    // the first one; the file is given up
	closed        bool
}

// The file's layout: RIFF AVI (Microsoft multimedia data standards update, 1994), one
// RIFF, so at most 2^31 bytes.
const (
	aviHead  = 12 + 8 + 192 + 12 // RIFF, hdrl, movi's own header
	aviMovi  = aviHead - 4       // where "movi" stands
	aviLimit = 1<<31 - 1<<20
)

// NewWriter begins a recording. rate is in frames a second.
func NewWriter(path string, width, height int, rate float64, o WriterOptions) (*Writer, error) {
	if err := picture.CheckSize(width, height); err != nil {
		return nil, fmt.Errorf("writing %s: %w", path, err)
	}
	if !(rate >= 1 && rate <= 300) {
		return nil, fmt.Errorf("writing %s: %v frames a second: use 1 to 300", path, rate)
	}
	if o.Quality < 0 || o.Quality > 100 {
		return nil, fmt.Errorf("writing %s: quality %d: use 1 to 100", path, o.Quality)
	}
	file, err := keep.Create(path, o.Overwrite)
	if err != nil {
		return nil, err
	}
	w := &Writer{file: file, options: o, width: width, height: height, rate: rate}
	return w, w.put(make([]byte, aviHead)) // filled in by Close
}

func (w *Writer) put(p []byte) error {
	if w.err != nil {
		return w.err
	}
	if int64(w.at)+int64(len(p)) > aviLimit {
		w.err = errors.New("writing AVI: the recording is full (2 GB); begin another")
		return w.err
	}
	if _, err := w.file.Write(p); err != nil {
		w.err = fmt.Errorf("writing AVI: %w", err)
		return w.err
	}
	w.at += uint32(len(p))
	return nil
}

// Write adds a frame.
func (w *Writer) Write(f *video.Frame) error {
	if w.closed {
		return errors.New("writing AVI: it is closed")
	}
	if f.Width != w.width || f.Height != w.height {
		return fmt.Errorf("writing AVI: a frame of %d x %d in a recording of %d x %d", f.Width, f.Height, w.width, w.height)
	}
	data, err := picture.EncodeJPEG(w.buf[:0], f, picture.JPEGOptions{Quality: w.options.Quality, NoTables: w.options.NoTables})
	if err != nil {
		return fmt.Errorf("writing AVI: %w", err)
	}
	w.buf = data
	w.largest = max(w.largest, len(data))
	w.index = append(w.index, w.at-aviMovi, uint32(len(data)))
	head := append([]byte("00dc"), binary.LittleEndian.AppendUint32(nil, uint32(len(data)))...)
	if err := w.put(head); err != nil {
		return err
	}
	if len(data)%2 == 1 {
		data = append(data, 0)
	}
	return w.put(data)
}

// Discard gives the recording up: nothing is left. After Close it does nothing.
func (w *Writer) Discard() {
	if !w.closed {
		w.closed = true
		w.file.Discard()
	}
}

// Close writes index and header and gives the file its name. A recording that met an
// error, or has no frame, is discarded.
func (w *Writer) Close() error {
	if w.closed {
		return nil
	}
	if w.err == nil && len(w.index) == 0 {
		w.err = errors.New("writing AVI: no frame was written")
	}
	moviEnd := w.at
	index := []byte("idx1")
	index = binary.LittleEndian.AppendUint32(index, uint32(len(w.index)/2*16))
	for i := 0; i < len(w.index); i += 2 {
		index = append(index, "00dc"...)
		index = binary.LittleEndian.AppendUint32(index, 0x10) // a key frame
		index = binary.LittleEndian.AppendUint32(index, w.index[i])
		index = binary.LittleEndian.AppendUint32(index, w.index[i+1])
	}
	err := w.put(index)
	if err == nil {
		_, err = w.file.WriteAt(w.header(moviEnd), 0)
	}
	if err != nil {
		w.Discard()
		return err
	}
	w.closed = true
	return w.file.Commit(0o644)
}

func (w *Writer) header(moviEnd uint32) []byte {
	le := binary.LittleEndian
	frames := uint32(len(w.index) / 2)
	// 29.97 is 30000/1001 exactly; other rates to a millionth.
	rate, scale := uint32(math.Round(w.rate*1e6)), uint32(1e6)
	if ntsc := w.rate * 1001 / 1000; math.Abs(ntsc-math.Round(ntsc)) < 1e-6 && math.Abs(w.rate-math.Round(w.rate)) > 1e-3 {
		rate, scale = uint32(math.Round(ntsc))*1000, 1001
	}
	var b []byte
	words := func(v ...uint32) {
		for _, x := range v {
			b = le.AppendUint32(b, x)
		}
	}
	b = append(b, "RIFF"...)
	words(w.at - 8)
	b = append(b, "AVI LIST"...)
	words(192)
	b = append(b, "hdrlavih"...)
	words(56, uint32(math.Round(1e6/w.rate)), uint32(float64(w.largest)*w.rate), 0, 0x10, frames, 0, 1, uint32(w.largest),
		uint32(w.width), uint32(w.height), 0, 0, 0, 0)
	b = append(b, "LIST"...)
	words(116)
	b = append(b, "strlstrh"...)
	words(56)
	b = append(b, "vidsMJPG"...)
	words(0, 0, 0, scale, rate, 0, frames, uint32(w.largest), 0xFFFFFFFF, 0)
	b = le.AppendUint16(le.AppendUint16(b, 0), 0)
	b = le.AppendUint16(le.AppendUint16(b, uint16(w.width)), uint16(w.height))
	b = append(b, "strf"...)
	words(40, 40, uint32(w.width), uint32(w.height), 1|24<<16)
	b = append(b, "MJPG"...)
	words(uint32(w.width*w.height*3), 0, 0, 0, 0)
	b = append(b, "LIST"...)
	words(moviEnd - aviMovi)
	return append(b, "movi"...)
}
