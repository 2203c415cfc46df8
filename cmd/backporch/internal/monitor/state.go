package monitor

import (
	"encoding/json"
	"fmt"

	"backporch/video"
	"backporch/video/picture"
)

// A State is all that the page shows beside the picture.
type State struct {
	Source   string   `json:"source"`
	Tool     string   `json:"tool"`
	Lock     string   `json:"lock"`      // locked, unstable, no-lock, no-signal, learning, gone
	LockText string   `json:"lock_text"` // in words
	Tone     string   `json:"tone"`      // clean, fault, unsure: of the verdict
	Heading  string   `json:"heading"`   // the class, and how sure
	Sentence string   `json:"sentence"`
	Good     []string `json:"good"`
	Next     []string `json:"next"` // what to test next
	Counts   Counts   `json:"counts"`
	Grid     *Grid    `json:"grid"` // nil: the picture was not placed
	Regions  []Region `json:"regions"`
	Bad      *Region  `json:"bad"`   // around what is wrong in this moment
	Strip    []Event  `json:"strip"` // newest first
	Mark     *Mark    `json:"mark"`  // the last one, and what has changed since
	Job      string   `json:"job"`   // what stills are kept on, "" for the folder
	CanKeep  bool     `json:"can_keep"`
	Ticks    int      `json:"ticks"`   // bad fields so far: the page ticks at each
	Changes  int      `json:"changes"` // events so far: the page chimes at each
}

// Counts is what has been looked at.
type Counts struct {
	Fields int `json:"fields"`
	Bad    int `json:"bad"`
	Lost   int `json:"lost"`
	Events int `json:"events"`
}

// Grid is where the picture's cells lie, in samples and lines of a field.
type Grid struct {
	X       float64 `json:"x"`
	Y       float64 `json:"y"`
	W       float64 `json:"w"`
	H       float64 `json:"h"`
	Columns int     `json:"columns"`
	Rows    int     `json:"rows"`
}

// A Region is a part of a field, with what is found there.
type Region struct {
	X     int    `json:"x"`
	Y     int    `json:"y"`
	W     int    `json:"w"`
	H     int    `json:"h"`
	Label string `json:"label"`
}

// An Event of the strip.
type Event struct {
	Number int    `json:"number"`
	At     string `json:"at"` // clock
	Kind   string `json:"kind"`
	Text   string `json:"text"`
}

// A Mark is a moment that was marked, with the bad fields before and since.
type Mark struct {
	Text   string `json:"text"`
	At     string `json:"at"`
	Result string `json:"result"` // in a sentence
	Tone   string `json:"tone"`   // more, fewer, same
}

// Set makes st what the page shows.
func (s *Server) Set(st State) {
	for _, list := range []*[]string{&st.Good, &st.Next} {
		if *list == nil {
			*list = []string{}
		}
	}
	if st.Regions == nil {
		st.Regions = []Region{}
	}
	if st.Strip == nil {
		st.Strip = []Event{}
	}
	st.CanKeep = s.o.Keep != nil
	data, err := json.Marshal(st)
	if err != nil {
		return // no such state can be written: numbers and words alone are in it
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if string(data) == string(s.state) {
		return
	}
	s.state = data
	s.version++
	s.wake()
}

// Show makes f the picture. Its planes must not be changed afterwards.
func (s *Server) Show(f *video.Field) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.field = f
	s.number++
	s.wake()
}

// Watched says whether anybody looks, so that nobody need draw for nobody.
func (s *Server) Watched() bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.open > 0
}

// wake tells all connections; mu is held.
func (s *Server) wake() {
	close(s.changed)
	s.changed = make(chan struct{})
}

// A shot is the last picture that was encoded, for those that ask for the same.
type shot struct {
	number int
	data   []byte
}

// quality of the pictures on the page, on the common scale; evidence is kept without loss.
const quality = 85

// widen takes BT.601's codes to the full range that JPEG's decoders expect (ITU-T T.871).
var widenY, widenC = func() (y, c [256]uint8) {
	clip := func(v float64) uint8 { return uint8(min(max(v+0.5, 0), 255)) }
	for i := range 256 {
		y[i] = clip((float64(i) - 16) * 255 / 219)
		c[i] = clip((float64(i)-128)*255/224 + 128)
	}
	return y, c
}()

// encode makes the page's picture of a field; connections that ask for the same one share it.
func (s *Server) encode(f *video.Field, number int) ([]byte, error) {
	s.mu.Lock()
	if s.encoded.number == number {
		defer s.mu.Unlock()
		return s.encoded.data, nil
	}
	s.mu.Unlock()
	frame := video.Frame{
		Width: f.Width, Height: f.Height, ChromaWidth: f.ChromaWidth, ChromaHeight: f.Height,
		Y: through(&widenY, f.Y), Cb: through(&widenC, f.Cb), Cr: through(&widenC, f.Cr),
	}
	if f.ChromaWidth == 0 {
		frame.ChromaHeight = 0
	}
	data, err := picture.EncodeJPEG(nil, &frame, picture.JPEGOptions{Quality: quality})
	if err != nil {
		return nil, fmt.Errorf("encoding the picture: %w", err)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if number > s.encoded.number {
		s.encoded = shot{number, data}
	}
	return data, nil
}

func through(table *[256]uint8, in []uint8) []uint8 {
	out := make([]uint8, len(in))
	for i, v := range in {
		out[i] = table[v]
	}
	return out
}
