package waveform

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
)

// Codes of the fmt chunk.
const (
	wavPCM        = 1
	wavFloat      = 3
	wavExtensible = 0xfffe
)

// leastRate is the least rate that shows line sync at all: three samples of 4.7 us.
const leastRate = 0.7e6

func (r *Reader) openWAV(o Options, size int64) error {
	var (
		at       int64 = 12
		format   uint16
		channels int
		rate     uint32
		block    int
		bits     int
		long     uint64 // length of the data by ds64
		head     [8]byte
	)
	for {
		if _, err := r.file.ReadAt(head[:], at); err != nil {
			if errors.Is(err, io.EOF) {
				return errors.New("the WAV ends before its samples")
			}
			return err
		}
		id, length := string(head[:4]), int64(binary.LittleEndian.Uint32(head[4:]))
		at += 8
		switch id {
		case "fmt ", "ds64":
			body := make([]byte, min(length, 64))
			if n, err := r.file.ReadAt(body, at); err != nil && !errors.Is(err, io.EOF) || n < 16 {
				return errors.New("the WAV's header is cut off")
			}
			if id == "ds64" {
				long = binary.LittleEndian.Uint64(body[8:])
				break
			}
			format = binary.LittleEndian.Uint16(body)
			channels = int(binary.LittleEndian.Uint16(body[2:]))
			rate = binary.LittleEndian.Uint32(body[4:])
			block = int(binary.LittleEndian.Uint16(body[12:]))
			bits = int(binary.LittleEndian.Uint16(body[14:]))
			if format == wavExtensible && len(body) >= 26 {
				format = binary.LittleEndian.Uint16(body[24:])
			}
		case "data":
			if channels == 0 {
				return errors.New("the WAV has samples before its header says what they are")
			}
			if length == 0xffffffff && long > 0 && long < 1<<62 {
				length = int64(long)
			}
			return r.wavData(o, format, channels, rate, block, bits, at, length, size-at)
		}
		at += length + length&1
	}
}

func (r *Reader) wavData(o Options, format uint16, channels int, rate uint32, block, bits int, at, length, there int64) error {
	l := layout{bytes: bits / 8, signed: bits > 8, float: format == wavFloat}
	good := format == wavPCM && (bits == 8 || bits == 16 || bits == 24 || bits == 32) || format == wavFloat && (bits == 32 || bits == 64)
	if !good {
		return fmt.Errorf("a WAV of %d bits in coding %d cannot be read: use PCM of 8 or 16 bits", bits, format)
	}
	if block != channels*l.bytes {
		return fmt.Errorf("the WAV's header contradicts itself: %d channels of %d bits in %d bytes", channels, bits, block)
	}
	channel := max(o.Column, 1)
	if channel > channels {
		return fmt.Errorf("channel %d: the WAV has %d", channel, channels)
	}
	if channels > 1 {
		r.note("channel %d of %d; --column reads another", channel, channels)
	}
	r.info.Format, r.info.Bits = fmt.Sprintf("WAV, %d bits", bits), l.bits()
	r.info.Rate = float64(rate)
	switch {
	case o.Rate > 0:
		r.info.Rate = o.Rate
	case rate < leastRate:
		// Audio programs that pass on a fast capture write a rate of their own.
		return fmt.Errorf("the WAV claims %d samples a second, too few for composite video: give --rate with the sampler's own", rate)
	}
	if length == 0 || length >= 0xffffffff && length > there {
		length = there // written while the length was not known
	}
	if length > there {
		r.note("the WAV was cut off: %d of its %d samples are there", there/int64(block), length/int64(block))
		length = there
	}
	r.info.Samples = length / int64(block)
	if r.info.Samples == 0 {
		return errors.New("there is no sample in it")
	}
	if _, err := r.file.Seek(at+int64((channel-1)*l.bytes), io.SeekStart); err != nil {
		return err
	}
	r.block = newPacked(r.file, l, block, r.scale(o), r.info.Samples)
	return nil
}
