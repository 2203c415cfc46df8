package simulator

import "backporch/video/display"

// A Truth is what a scenario really holds. Only tests, practice and
// demonstration may read it.
type Truth struct {
	Faults        []Fault // as given; empty or clean when none
	Visible       bool    // some fault has changed what leaves the output
	Shows         []bool  // by fault: it has, or would have by itself
	Screen        Screen
	Written       []byte // display memory as the program (or power-up) left it
	Read          []byte // as the display read it in the last field
	WrittenColour []byte // Text: colour nibbles
	ReadColour    []byte
	Background    int // Text
	Border        int // palette index as written
	BorderSeen    int // as it leaves the register
	// Geometry in capture samples and field lines: sample i is at x = i.
	OriginX, OriginY float64
	PitchX, PitchY   float64
	NoiseMV          float64 // rms in 5 MHz, machine and device together
	ChromaNs         float64 // that chroma is late against luma
	Pixels           []uint8 // palette indices of the lines of the picture, each from border to border; nil where fields differ
	Chain            Chain
	Device           Device
	Font             display.Font
}
