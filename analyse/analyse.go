package analyse

import (
	"math"

	"backporch/video"
)

// SyncState is how well a capture is locked to its source.
type SyncState string

// The states, as in the JSON.
const (
	Locked   SyncState = "locked"
	Unstable SyncState = "unstable"
	NoLock   SyncState = "no-lock"
	NoSignal SyncState = "no-signal"
)

// Weave is how a device makes its frames of fields, each of which is a picture of its own.
type Weave string

// The weaves.
const (
	WeaveUnknown Weave = ""      // the noise does not tell
	WeaveTwo     Weave = "two"   // two successive pictures, line by line
	WeaveOne     Weave = "one"   // one picture twice: every second one is missing
	WeaveMixed   Weave = "mixed" // lines made of both pictures, or of their neighbours
)

// Sync is what the pictures say of lock.
type Sync struct {
	State   SyncState
	Picture string // without signal or lock: what the device shows instead: "fill", "snow", "bars", "frozen", "blank" (faint noise alone: an open input, or black to the edges)
	// EdgesNs is the rms displacement of sync's edges, ns, that a device's flywheel has made JitterNs of, if each line errs by itself; nil: not told.
	EdgesNs       *Estimate
	JitterNs      *float64 // rms of a line's horizontal place about its mean, ns of the standard's line
	RollLinesPerS *float64 // vertical drift of the picture, lines a second, positive downwards
	TearPx        *float64 // greatest horizontal step between bands of lines in one field, samples
	Repeated      int      // frames equal to the one before, bit by bit
	Dropped       int      // frames missing by their time stamps
	SnowShare     *float64 // part of the luma variance that no two fields share, 0 to 1
	Weave         Weave    // how the frames of a still picture are made
	Step          int      // lines by which the picture lies lower in fields of odd parity, as some devices count them
	Device        []string // what the device itself says of the signal: "no signal", "no horizontal lock" ...
	Detects       bool     // the device detects a standard at its input: sync reaches it
}

// A Stack is fields of one still picture added up: the mean of every sample and
// its variance over time.
type Stack struct {
	Width, ChromaWidth, Height int
	N                          int       // fields
	Y, Cb, Cr                  []float32 // means, in codes; Cb, Cr empty in monochrome
	VarY                       []float32 // unbiased variance over time, codes squared; nil when N is 1

	variance float64 // what Variance gives, as Add knows it; 0: not known
}

// Add stacks fields of equal size; nil when there are none.
func Add(fields []*video.Field) *Stack {
	if len(fields) == 0 {
		return nil
	}
	f := fields[0]
	s := &Stack{Width: f.Width, ChromaWidth: f.ChromaWidth, Height: f.Height, N: len(fields)}
	sum, square := make([]uint32, len(f.Y)), make([]uint32, len(f.Y))
	cb, cr := make([]uint32, len(f.Cb)), make([]uint32, len(f.Cr))
	planes := func(of func(*video.Field) []uint8) [][]uint8 {
		out := make([][]uint8, len(fields))
		for k, f := range fields {
			out[k] = of(f)
		}
		return out
	}
	addSquares(sum, square, planes(func(f *video.Field) []uint8 { return f.Y }))
	addUp(cb, planes(func(f *video.Field) []uint8 { return f.Cb }))
	addUp(cr, planes(func(f *video.Field) []uint8 { return f.Cr }))
	n := float64(s.N)
	mean := func(sums []uint32) []float32 {
		out := make([]float32, len(sums))
		for i, v := range sums {
			out[i] = float32(float64(v) / n)
		}
		return out
	}
	s.Y, s.Cb, s.Cr = mean(sum), mean(cb), mean(cr)
	if s.N > 1 {
		s.VarY = make([]float32, len(sum))
		for i := range sum {
			m := float64(sum[i])
			s.VarY[i] = float32((float64(square[i]) - m*m/n) / (n - 1))
		}
		s.variance = s.Variance()
	}
	return s
}

// Variance is the middle of the samples' variances over time, codes squared: what noise
// gives, whatever some of them do. Zero when there is only one field.
func (s *Stack) Variance() float64 {
	if s.VarY == nil || s.variance > 0 {
		return s.variance
	}
	const step = 17 // no line's length is a multiple of it
	sample := make([]float32, 0, len(s.VarY)/step+1)
	for i := 0; i < len(s.VarY); i += step {
		sample = append(sample, s.VarY[i])
	}
	return float64(Select(sample, len(sample)/2))
}

// Registration places the machine's pixels in the capture. Sample i of a line is
// at x = i; pixel k of the picture covers OriginX + k*PitchX to OriginX + (k+1)*PitchX.
// Picture line k is field line OriginY + k*PitchY.
type Registration struct {
	OK         bool
	PitchX     float64 // samples a pixel
	PitchY     float64 // field lines a picture line
	OriginX    float64 // samples
	OriginY    float64 // lines
	ResidualPx float64 // rms distance of the edges seen from the pixel grid, pixels
	Edges      int     // edges that were used
	Reason     string  // when not OK, or not sure: why
	// Shifts are whole-pixel and whole-line displacements that fit nearly as well,
	// with their probability; the first is {0, 0}. Empty when not OK.
	Shifts []Shift
}

// A Shift is another place the picture might have, and how probable that is.
type Shift struct {
	Pixels, Lines int
	Probability   float64
}

// Levels is how this capture's codes stand to the display's colours: code =
// Black + Gain*Y and so on, hue turned by HueDeg, positive from +U towards +V.
type Levels struct {
	Black, White float64 // luma codes of the display's black and white
	Saturation   float64 // measured chroma over that of the profile; NaN when no colour shows
	HueDeg       float64
	Full         bool // the device uses 0 to 255 rather than 16 to 235
	// Components is how the colours seen fit the display's with one colour signal at nothing or at its
	// greatest (Text).
	Components []Component
	Lanes      []HeldLane // the same of the lanes of the memory that holds the colours, by the colours that a good machine shows; nil: not compared
}

// A Component is one colour signal, held at a level: Gain is ln of the likelihood of the colours seen with it so, over
// that with all signals as they should be.
type Component struct {
	Name   string // "luma", "cb", "cr"; "red", "green", "blue" (Attr)
	Level  int
	Gain   float64
	Beside bool // by the colours that a good machine shows, not by the palette alone
}

// A HeldLane is one lane of the memory that holds the colours, held at a level; Gain is as a Component's.
type HeldLane struct {
	Bit, Level int
	Gain       float64
}

// Border is what lies around the picture.
type Border struct {
	Colour    int     // palette index, -1 when not known
	Sure      float64 // ln of its probability over that of the next colour
	Uniform   bool
	Y, Cb, Cr float64 // its mean codes
	Seen      bool    // any border in the capture
}

// A Cell is one 8 x 8 place of the display.
type Cell struct {
	Column, Row int
	Bits        [8]uint8 // pixels, top line first, leftmost in bit 7; 1 is ink
	Ink, Paper  int      // palette index, -1 when not known
	Single      bool     // one colour in the whole cell: Paper; Ink does not show
	Third       bool     // more than two colours, beyond what blur and noise explain
	Flash       bool     // ink and paper change places with the flash period
	Misfit      float32  // rms of luma about the model of two colours, codes
	Sure        float32  // ln of probability of the colour pair over that of the next that looks otherwise
	// Apart is ln of how much likelier a picture makes it that the cell is as it was read than as the good machine's beside it is: below 0 it has been taken
	// for the good machine's, or some of its lines have; 0 where it is read alike, or was not compared.
	Apart float32
}

// Memory is the display memory as the picture shows it, in address order.
type Memory struct {
	Bytes   []uint8   // the most probable value
	Seen    []uint8   // bits that the picture shows; the others are unknown
	Odds    []float32 // [address*8+bit]: ln of P(bit as in Bytes) over P(the other value), 0 to 30
	Changed []uint16  // [address*8+bit]: fields in which the bit showed the other value
	Fields  int       // fields looked at
	// Moves is the rms over time of each lane's mean luma against the other lanes', codes: a lane that goes
	// wrong as a whole in some fields moves, what befalls single bits does not.
	Moves [8]float64
}

// A State is the picture as some of the fields show it, where it goes back and forth between two.
type State struct {
	Cells  []Cell
	Memory *Memory
	Fields int // that show it
}

// Motion is how what memory shows changes from field to field, whatever noise and the subcarrier do. A byte is
// eight pixels of a line (Attr), or a character cell (Text).
type Motion struct {
	Fields  int     // fields compared
	Bytes   int     // bytes that can be followed, or were seen to move
	Moving  int     // bytes that show another value in some field than in most
	Events  int     // how often they do: pairs of a byte and a field
	Once    int     // bytes that do so in one field only
	Colours int     // Attr: events in which a cell changes as a whole, as by its colour byte; they are none of the others
	Bursts  int     // Attr: those of Once that do so in three bits or more
	Lanes   [9]int  // Attr: events, by how many bits of the byte are another
	ByLane  [8]int  // Attr: events in which that bit is another
	Even    int     // Attr: events in cells of one colour amid cells of the same, where there is nothing that a good machine's picture moves by
	Evens   int     // Attr: bytes followed there
	Steps   int     // bits (Attr) or cells (Text) that change once and stay so
	Swings  int     // and those that change back
	Flips   int     // how often bits (Attr) or cells (Text) that change in two fields or more go to another state from one field to the next
	Chance  float64 // how often they would if the fields in which they show the other one came in any order
	ByField []int   // events, by field
	Rhythm  float64 // part of the movement's power that is of one frequency, as the subcarrier's is; 0: not known
	Turns   int     // of that frequency in all of Fields
}

// Hue is how far all hues are turned, degrees from -180 to 180; nil where the colours seen do not tell: turned by more they may be others.
func (s *Signal) Hue() *float64 {
	if s.HueErrorDeg == nil || !s.HueTold {
		return nil
	}
	v := math.Mod(*s.HueErrorDeg+s.HueOff+540, 360) - 180
	return &v
}

// Signal is the quality of the signal. Each value is nil when not measured.
type Signal struct {
	Good *Signal // of a good machine's capture on the same bench; nil: none

	SNRdB         *float64 // 20 log10(white less black, over rms noise in 5 MHz, less what decoder and codec do to it), unweighted
	ChromaSNRdB   *float64 // the same of chroma on the border, over the range of the colour differences
	SNRQuantised  bool     // noise is lost in the steps of the codes or of a codec: SNRdB says 'about, or above'
	OvershootPct  *float64 // of the step
	RiseNs        *float64 // 10 to 90 %
	HumPct        *float64 // peak to peak, of white less black
	FixedBarsPct  *float64 // vertical bars that stand still, peak to peak, of white less black
	HueErrorDeg   *float64
	SaturationPct *float64

	HueTold         bool      // of all turns only one fits the colours seen; else HueErrorDeg may be another's
	HueOff          float64   // degrees, to be added to HueErrorDeg: what all colours say together
	HueSpread       float64   // degrees, one standard deviation of the two
	HueLeast        float64   // degrees, where it is not told: by which hues are turned at the least, one way or the other; 0: they may be right
	HueTurns        []float64 // degrees, where it is not told: the turns that fit, the likeliest first
	SaturationSeen  *Estimate // percent, by all colours together; nil: none show
	WhiteSeen       *Estimate // percent of 219 codes, white less black as all colours together say; nil: none show
	LevelSeen       *Estimate // percent, the picture against its right size, by all colours together; nil: none show
	WeightedDB      *Estimate // signal to noise through the unified weighting network (ITU-R BT.1439)
	Bandwidth       *Estimate // Hz, of one low-pass beside a good chain's; Limit "device": 0.35 over the rise time, no other low-pass shows
	SNR             *Estimate // SNRdB with its uncertainty; where SNRQuantised, the least that it is
	Rise            *Estimate // RiseNs with its uncertainty
	Overshoot       *Estimate // OvershootPct with its uncertainty
	Hum             *Hum
	Cut, Buried     bool   // the border lies at the end of the codes: waves show in part, or not at all
	Steps           *Steps // nil: no codec's steps were seen
	Tones           []Tone // strongest first
	Ringing         *Ringing
	Ghost           *Ghost
	SlowGain        *float64  // ln of the likelihood of an edge's whole shape behind one more low-pass over that of a good chain's
	Tail, TailSigma []float64 // what follows a pixel, by half pixels from two and a half on, parts of its weight, with its uncertainty; nil: not known
	ChromaDelay     *Estimate // ns, positive when chroma is late
	Crawl           *Estimate // % of white, rms: what moves at edges beyond the noise of flat areas
	CrossColour     *Estimate // % of white, rms: chroma at edges between greys
	ClippedPct      *Estimate // part of the samples at the end of the codes
	ColourFits      []ColourFit
	Spots           []Spot
	Curves          Curves
	ChromaDead      bool // no colour difference in the capture is anything but neutral
	ChromaOff       bool // and luma has edges, of which a decoder that is on leaves some in chroma
}

// Text is cells read against a font.
type Text struct {
	Codes   []int     // [row*columns+column]: the code, -1 when no glyph fits
	Odds    []float32 // ln of P(code) over P(the next best glyph)
	Inverse []bool    // ink and paper changed places
	Checked int
	Unknown int
	Lines   []string   // one string a row, the unreadable as U+FFFD
	Glyphs  [][8]uint8 // the font by code, 256 of them; nil without one
	// Changes are the cells that show another picture in some of the fields, in order of cells. Nil when fields
	// were not compared.
	Changes []Change
}

// A Change is what a cell of a Text display shows besides its commonest picture.
type Change struct {
	At       int   // index of the cell
	Other    Cell  // the picture that it shows next most often
	Code     int   // its code, -1 when no glyph fits
	Pictures int   // different ones, its own included
	Turns    int   // times that a field shows another picture than the one before
	Fields   int   // in which it does not show its own picture, of
	Of       int   // fields
	In       []int // the fields that show Other, by index
}

// Flat describes a picture without edges, or all that can be said of one that
// was not registered.
type Flat struct {
	Y, Cb, Cr float64 // median codes inside the blanking edges
	Uniform   bool    // one colour all over
}

// A Survey is everything measured on one capture.
type Survey struct {
	Display      string
	Fields       int
	Seconds      float64
	Sync         Sync
	Straightened bool // lines and fields that did not hold were laid straight before the picture was read
	Registration Registration
	Levels       Levels
	Border       Border
	Cells        []Cell // row by row; empty when not registered
	Memory       *Memory
	Motion       *Motion // nil where fields were not compared
	Other        *State  // what the picture is as a whole in fewer of the fields; nil: it is one picture
	Text         *Text
	Signal       Signal
	Flat         Flat
	Stack        *Stack // the fields added up, of one flash phase
	Worst        int    // index of the field that shows most of what is odd
	Used         int    // fields that the stack holds
}

// Holds tells whether the picture stands still as it was read: by its sync, or laid straight.
func (s *Survey) Holds() bool { return s.Sync.State == Locked || s.Straightened }
