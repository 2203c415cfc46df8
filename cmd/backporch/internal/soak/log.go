package soak

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"time"
)

// logName is the log's name in the soak's folder.
const logName = "soak.log"

// A Record is one line of the log; what does not belong to its type is left out.
type Record struct {
	Type  string    `json:"t"`
	At    time.Time `json:"at"`
	Begin *Begin    `json:"begin,omitempty"`
	Beat  *Beat     `json:"beat,omitempty"`
	Event *Event    `json:"event,omitempty"`
	Still *Still    `json:"still,omitempty"`
	Text  string    `json:"text,omitempty"` // note, mark
	Gap   float64   `json:"gap,omitempty"`  // note: seconds without a picture
}

// The types of record.
const (
	typeBegin = "begin"
	typeBeat  = "beat"
	typeEvent = "event"
	typeStill = "still"
	typeNote  = "note"
	typeMark  = "mark"
	typeEnd   = "end"
)

// Begin opens a session; a resumed soak has several.
type Begin struct {
	Tool    string  `json:"tool"`
	Source  string  `json:"source"`
	Display string  `json:"display,omitempty"`
	Rate    float64 `json:"rate"` // fields a second, nominal
	Resumed bool    `json:"resumed,omitempty"`
	Verdict string  `json:"verdict,omitempty"`
}

// Beat is what has been seen since the soak began, over all sessions.
type Beat struct {
	Seconds  float64  `json:"seconds"` // of fields checked
	Fields   int      `json:"fields"`  // checked
	Bad      int      `json:"bad"`     // of these
	Lost     int      `json:"lost"`    // that should have come and did not, or could not be read
	Repeated int      `json:"repeated"`
	Events   int      `json:"events"`
	Errored  int      `json:"errored"` // seconds with a bad field in them
	Time     float64  `json:"time"`    // on the session's time line, s
	Index    int      `json:"index"`   // number of the last field on that line, those that were lost included
	Gain     *float64 `json:"gain,omitempty"`
	Black    *float64 `json:"black,omitempty"`
	Noise    *float64 `json:"noise,omitempty"`
	Hue      *float64 `json:"hue,omitempty"`
	Colour   *float64 `json:"colour,omitempty"`
	Memory   int64    `json:"memory,omitempty"` // of the process, bytes
	Open     *Event   `json:"open,omitempty"`   // the event that goes on
}

// Event is something that happened to the picture.
type Event struct {
	Number int     `json:"number"` // from 1
	Kind   string  `json:"kind"`
	Start  float64 `json:"start"`  // seconds of soak
	Length float64 `json:"length"` // seconds
	Fields int     `json:"fields"` // bad ones
	Places int     `json:"places,omitempty"`
	X      int     `json:"x"`
	Y      int     `json:"y"`
	W      int     `json:"w"`
	H      int     `json:"h"`
	Shift  int     `json:"shift,omitempty"`
	Excess int     `json:"excess"`
	Text   string  `json:"text"`
	Cut    bool    `json:"cut,omitempty"` // it still went on when the session ended
}

// Still is a frame that was kept of an event.
type Still struct {
	Event  int    `json:"event"`
	Role   string `json:"role"` // before, at, after
	File   string `json:"file"` // in the soak's folder
	SHA256 string `json:"sha256"`
	Bytes  int64  `json:"bytes"`
}

// A journal appends records to a log.
type journal struct {
	file *os.File
	err  error
}

func encode(r Record) ([]byte, error) {
	body, err := json.Marshal(r)
	if err != nil {
		return nil, err
	}
	line := fmt.Appendf(nil, "%08x ", crc32.ChecksumIEEE(body))
	return append(append(line, body...), '\n'), nil
}

// add writes a record with one write, so that a crash leaves it out or cuts it off.
func (j *journal) add(r Record) error {
	if j.err != nil {
		return j.err
	}
	line, err := encode(r)
	if err == nil {
		_, err = j.file.Write(line)
	}
	if err != nil {
		j.err = fmt.Errorf("writing %s: %w", logName, plain(err))
	}
	return j.err
}

// create begins the log of a new soak.
func create(dir string) (*journal, error) {
	f, err := os.OpenFile(filepath.Join(dir, logName), os.O_WRONLY|os.O_CREATE|os.O_EXCL|os.O_APPEND, 0o644)
	if errors.Is(err, fs.ErrExist) {
		return nil, fmt.Errorf("%s: a soak is kept here already", dir)
	}
	if err != nil {
		return nil, fmt.Errorf("writing to %s: %w", dir, plain(err))
	}
	return &journal{file: f}, nil
}

// reopen opens a log to be gone on with; what a crash has cut off is taken away.
func reopen(dir string) (*journal, []Record, error) {
	f, err := os.OpenFile(filepath.Join(dir, logName), os.O_RDWR, 0)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil, fmt.Errorf("%s: no soak was begun here", dir)
	}
	if err != nil {
		return nil, nil, fmt.Errorf("reading the log in %s: %w", dir, plain(err))
	}
	records, good, err := scan(f)
	if err == nil {
		err = f.Truncate(good)
	}
	if err == nil {
		_, err = f.Seek(good, io.SeekStart)
	}
	if err != nil {
		_ = f.Close()
		return nil, nil, fmt.Errorf("reading the log in %s: %w", dir, plain(err))
	}
	return &journal{file: f}, records, nil
}

// Read reads the log of a soak.
func Read(dir string) ([]Record, error) {
	f, err := os.Open(filepath.Join(dir, logName))
	if err != nil {
		return nil, fmt.Errorf("reading the log in %s: %w", dir, plain(err))
	}
	defer f.Close()
	records, _, err := scan(f)
	return records, err
}

// longest is the most that a line can have; nothing that is written comes near it.
const longest = 1 << 20

// scan reads records. good is where the last whole one ends: a damaged line at the end is not counted, one in
// between is left out.
func scan(r io.Reader) (records []Record, good int64, err error) {
	in := bufio.NewReaderSize(r, 1<<16)
	at := int64(0)
	for {
		line, err := in.ReadSlice('\n')
		if errors.Is(err, bufio.ErrBufferFull) {
			var rest []byte
			line = bytes.Clone(line)
			for errors.Is(err, bufio.ErrBufferFull) && len(line) < longest {
				rest, err = in.ReadSlice('\n')
				line = append(line, rest...)
			}
		}
		at += int64(len(line))
		if err == nil {
			if rec, ok := decode(line); ok {
				records, good = append(records, rec), at
			}
			continue
		}
		if errors.Is(err, io.EOF) {
			return records, good, nil
		}
		return records, good, err
	}
}

func decode(line []byte) (Record, bool) {
	var r Record
	line = bytes.TrimSuffix(line, []byte("\n"))
	if len(line) < 10 || line[8] != ' ' {
		return r, false
	}
	sum, err := strconv.ParseUint(string(line[:8]), 16, 32)
	if err != nil || uint32(sum) != crc32.ChecksumIEEE(line[9:]) {
		return r, false
	}
	return r, json.Unmarshal(line[9:], &r) == nil
}

// plain takes the path out of an error that has one in front.
func plain(err error) error {
	var p *fs.PathError
	if errors.As(err, &p) {
		return p.Err
	}
	return err
}
