package capture

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
	"unicode/utf8"
)

// container looks at a file before FFmpeg does: its reader also takes play lists and
// other texts that make it open further files. missing is how many bytes the file lacks
// by its own account, 0 when it says nothing of that.
func container(path string) (missing int64, err error) {
	f, err := os.Open(path)
	if err != nil {
		return 0, err
	}
	defer f.Close()
	st, err := f.Stat()
	if err != nil {
		return 0, err
	}
	switch {
	case st.IsDir():
		return 0, errors.New("it is a folder")
	case !st.Mode().IsRegular():
		return 0, errors.New("it is neither a file nor a capture device")
	case st.Size() == 0:
		return 0, errors.New("the file is empty")
	}
	head := make([]byte, 512)
	n, err := io.ReadFull(f, head)
	if err != nil && !errors.Is(err, io.ErrUnexpectedEOF) {
		return 0, err
	}
	head = head[:n]
	at := func(i int, mark string) bool { return len(head) >= i+len(mark) && string(head[i:i+len(mark)]) == mark }
	switch {
	case at(0, "RIFF") && (at(8, "AVI ") || at(8, "AVIX")):
		end := int64(binary.LittleEndian.Uint32(head[4:])) + 8
		return max(0, end-st.Size()), nil // 8 when it was never closed: no claim
	case at(0, "\x1A\x45\xDF\xA3"):
		return max(0, segmentEnd(head)-st.Size()), nil
	case at(4, "ftyp"), at(4, "moov"), at(4, "mdat"), at(4, "wide"), at(4, "free"), at(4, "skip"):
		return boxesMissing(f, st.Size())
	case at(0, "\x00\x00\x01\xBA"), at(0, "\x00\x00\x01\xB3"), // MPEG program and video streams
		at(0, "\x47") && at(188, "\x47"), at(4, "\x47") && at(196, "\x47"), // transport streams
		at(0, "\x30\x26\xB2\x75\x8E\x66\xCF\x11"), // ASF
		at(0, "FLV\x01"), at(0, "OggS"), at(0, "YUV4MPEG2 "),
		at(0, "\x1F\x07\x00"): // raw DV
		return 0, nil
	}
	if utf8.Valid(head[:max(0, n-3)]) && !bytes.ContainsRune(head, 0) {
		return 0, errors.New("it is text, whatever its name says")
	}
	return 0, errors.New("it is no recording that can be read: use AVI, MKV, MP4, MOV or MPEG")
}

// segmentEnd is where a Matroska file's segment says that it ends, 0 when it does not.
func segmentEnd(head []byte) int64 {
	i := bytes.Index(head, []byte{0x18, 0x53, 0x80, 0x67})
	if i < 0 || i+5 > len(head) {
		return 0
	}
	first := head[i+4]
	if first == 0 {
		return 0
	}
	n := 1
	for first&(0x80>>(n-1)) == 0 {
		n++
	}
	if i+4+n > len(head) {
		return 0
	}
	size, unknown := int64(first)&(0xFF>>n), first&(0xFF>>n) == 0xFF>>n
	for _, b := range head[i+5 : i+4+n] {
		size = size<<8 | int64(b)
		unknown = unknown && b == 0xFF
	}
	if unknown || size < 0 || size > 1<<56 {
		return 0
	}
	return int64(i+4+n) + size
}

// boxesMissing walks the boxes of an ISO media file (ISO/IEC 14496-12 clause 4.2).
func boxesMissing(f io.ReaderAt, size int64) (int64, error) {
	index := false
	head := make([]byte, 16)
	at := int64(0)
	for n := 0; at+8 <= size && n < 10000; n++ {
		if _, err := f.ReadAt(head[:min(16, size-at)], at); err != nil {
			return 0, err
		}
		length := int64(binary.BigEndian.Uint32(head))
		index = index || string(head[4:8]) == "moov"
		switch {
		case length == 0: // to the end of the file
			length = size - at
		case length == 1 && at+16 <= size:
			length = int64(binary.BigEndian.Uint64(head[8:]))
		}
		if length < 8 {
			break
		}
		if length > 1<<56 {
			return 0, errors.New("its boxes do not fit together: it is damaged")
		}
		at += length
	}
	if !index {
		return 0, fmt.Errorf("it was cut off before its index was written, and can't be read without: record again, or use AVI or MKV (%w)", io.ErrUnexpectedEOF)
	}
	return max(0, at-size), nil
}
