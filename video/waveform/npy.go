package waveform

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"
)

const npyMagic = "\x93NUMPY"

var (
	npyDescr = regexp.MustCompile(`'descr'\s*:\s*'([<>|=]?)([a-z])([0-9]+)'`)
	npyOrder = regexp.MustCompile(`'fortran_order'\s*:\s*(True|False)`)
	npyShape = regexp.MustCompile(`'shape'\s*:\s*\(([0-9, ]*)\)`)
)

func (r *Reader) openNPY(head []byte, o Options, size int64) error {
	if len(head) < 12 {
		return errors.New("the NPY header is cut off")
	}
	from, length := 10, int(binary.LittleEndian.Uint16(head[8:]))
	if head[6] >= 2 {
		from, length = 12, int(min(binary.LittleEndian.Uint32(head[8:]), 1<<30))
	}
	if from+length > len(head) {
		return errors.New("the NPY header is cut off")
	}
	text := string(head[from : from+length])
	descr, order, shape := npyDescr.FindStringSubmatch(text), npyOrder.FindStringSubmatch(text), npyShape.FindStringSubmatch(text)
	if descr == nil || order == nil || shape == nil {
		return errors.New("the NPY header cannot be read: it has to be an array of plain numbers")
	}
	width, _ := strconv.Atoi(descr[3])
	l := layout{bytes: width, signed: descr[2] == "i", big: descr[1] == ">", float: descr[2] == "f"}
	switch {
	case descr[2] == "f" && (width == 4 || width == 8):
	case (descr[2] == "i" || descr[2] == "u") && (width == 1 || width == 2 || width == 4):
	default:
		return fmt.Errorf("an NPY array of type %s%s cannot be read: use integers of 8 or 16 bits, or floats", descr[2], descr[3])
	}
	rows, columns := int64(1), int64(1)
	dims := 0
	for _, word := range strings.Split(shape[1], ",") {
		word = strings.TrimSpace(word)
		if word == "" {
			continue
		}
		v, err := strconv.ParseInt(word, 10, 64)
		if err != nil || v > 1<<50 {
			return fmt.Errorf("an NPY array of shape (%s) cannot be read", shape[1])
		}
		dims++
		switch {
		case dims == 1:
			rows = v
		case dims == 2:
			columns = v
		case v != 1:
			return fmt.Errorf("an NPY array of shape (%s) cannot be read: use one row of samples", shape[1])
		}
	}
	if rows == 0 || columns == 0 || dims == 0 {
		return errors.New("there is no sample in it")
	}
	fortran := order[1] == "True"
	if rows == 1 || columns == 1 {
		rows, columns, fortran = rows*columns, 1, false
	}
	if rows == 2 && columns > 2 { // a row of times, a row of volts: as if transposed
		rows, columns, fortran = columns, rows, !fortran
	}
	if columns > 2 {
		return fmt.Errorf("an NPY array of shape (%s) cannot be read: use one row of samples, or time and volts", shape[1])
	}
	data := int64(from + length)
	if have := (size - data) / int64(width) / columns; have < rows {
		if columns > 1 && fortran {
			return errors.New("the NPY array was cut off")
		}
		r.note("the NPY array was cut off: %d of its %d samples are there", have, rows)
		rows = have
	}
	if rows == 0 {
		return errors.New("there is no sample in it")
	}
	r.info.Format = fmt.Sprintf("NPY, %s%d", map[string]string{"f": "float", "i": "int", "u": "uint"}[descr[2]], 8*width)
	r.info.Samples, r.info.Bits = rows, l.bits()
	stride, offset := int64(width)*columns, int64(0)
	if columns == 2 {
		offset = int64(width)
		if fortran {
			stride, offset = int64(width), int64(width)*rows
		}
		if err := r.npyRate(l, data, stride, rows); err != nil && o.Rate == 0 {
			return err
		}
	}
	if o.Rate > 0 {
		r.info.Rate = o.Rate
	}
	if r.info.Rate == 0 {
		return ErrNoRate
	}
	scale := 1000.0 // volts
	if l.float {
		r.info.Absolute = true
		if o.FullScale > 0 {
			scale *= o.FullScale
		} else if r.large(l, data+offset, stride, rows) {
			scale = 1
			r.note("values are taken as millivolts: as volts they would be no composite signal")
		}
	} else {
		scale = r.scale(o)
	}
	if _, err := r.file.Seek(data+offset, io.SeekStart); err != nil {
		return err
	}
	r.block = newPacked(r.file, l, int(stride), scale, rows)
	return nil
}

// npyRate takes the rate from a column of times: its ends.
func (r *Reader) npyRate(l layout, data, stride, rows int64) error {
	if !l.float || rows < 2 {
		return ErrNoRate
	}
	var ends [2]float64
	b := make([]byte, l.bytes)
	for i, at := range []int64{data, data + (rows-1)*stride} {
		if _, err := r.file.ReadAt(b, at); err != nil {
			return err
		}
		ends[i] = l.value(b)
	}
	if !(ends[1] > ends[0]) {
		return errors.New("its times do not rise: give --rate")
	}
	r.info.Rate = float64(rows-1) / (ends[1] - ends[0])
	return nil
}

// mostVolts is more than any composite signal spans, and less than it does in millivolts.
const mostVolts = 20

// large says that values span too much to be volts.
func (r *Reader) large(l layout, at, stride, rows int64) bool {
	n := min(rows, 1<<15)
	b := make([]byte, n*stride)
	got, _ := r.file.ReadAt(b, at)
	low, high := 0.0, 0.0
	for i := int64(0); i*stride+int64(l.bytes) <= int64(got); i++ {
		v := l.value(b[i*stride:])
		if i == 0 {
			low, high = v, v
		}
		low, high = min(low, v), max(high, v)
	}
	return high-low > mostVolts
}
