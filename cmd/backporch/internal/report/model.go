package report

// Schema is the version of the JSON. Keys may be added, never renamed.
const Schema = 1

// A Report is what one check found. Its JSON names are the contract; a nil
// pointer is a value that was not measured, and stands as null.
type Report struct {
	Schema       int          `json:"schema"`
	Tool         string       `json:"tool"`
	Source       Source       `json:"source"`
	Display      *string      `json:"display"`
	Sync         Sync         `json:"sync"`
	Registration Registration `json:"registration"`
	Border       Border       `json:"border"`
	Cells        Cells        `json:"cells"`
	Grid         Grid         `json:"grid"`
	Memory       Memory       `json:"memory"`
	Signal       Signal       `json:"signal"`
	Verdict      Verdict      `json:"verdict"`
	Evidence     []Evidence   `json:"evidence"`

	board string // name of the board map, for the text
}

// Source is what was read.
type Source struct {
	Spec    string   `json:"spec"`
	Kind    string   `json:"kind"`
	Device  *string  `json:"device"` // its lasting name
	Frames  int      `json:"frames"`
	Fields  int      `json:"fields"`
	Seconds *float64 `json:"seconds"`
	Width   int      `json:"width"`
	Height  int      `json:"height"`
	Bad     int      `json:"bad_frames"` // there, but not readable
	Notes   []string `json:"notes"`
}

// Sync is lock, from the picture and from the device's own flags.
type Sync struct {
	State         string   `json:"state"`
	Picture       *string  `json:"picture"` // what the device shows instead of a picture
	JitterNs      *float64 `json:"jitter_ns"`
	RollLinesPerS *float64 `json:"roll_lines_per_s"`
	Repeated      int      `json:"repeated"`
	Dropped       int      `json:"dropped"`
	FieldStep     int      `json:"field_step_lines"` // lines by which the picture lies lower in fields of odd parity
	Straightened  bool     `json:"straightened"`     // what did not hold was laid straight before the picture was read
	DeviceStatus  []string `json:"device_status"`
}

// Registration is where the machine's pixels lie, in samples and lines of a field.
type Registration struct {
	OK         bool     `json:"ok"`
	PitchX     *float64 `json:"pitch_x"`
	PitchY     *float64 `json:"pitch_y"`
	OriginX    *float64 `json:"origin_x"`
	OriginY    *float64 `json:"origin_y"`
	ResidualPx *float64 `json:"residual_px"`
	Reason     *string  `json:"reason"` // when not ok: why
}

// Border is what lies around the picture.
type Border struct {
	Colour  *int    `json:"colour"`
	Name    *string `json:"name"`
	Uniform *bool   `json:"uniform"`
}

// Cells counts the places of the display and lists the odd ones.
type Cells struct {
	Checked int    `json:"checked"`
	Corrupt *int   `json:"corrupt"`
	List    []Cell `json:"list"`
}

// A Cell that shows what no cell can.
type Cell struct {
	Column int    `json:"col"`
	Row    int    `json:"row"`
	Reason string `json:"reason"`
}

// Grid is the character grid, read against a font.
type Grid struct {
	Checked *int     `json:"checked"`
	Unknown *int     `json:"unknown"`
	Text    []string `json:"text"` // null when nothing was read
}

// Memory is the recovered display memory by its data bits, the highest first.
type Memory struct {
	Lanes []Lane `json:"lanes"`
}

// A Lane is one data bit.
type Lane struct {
	Bit   int  `json:"bit"`
	Wrong *int `json:"wrong"` // bits that differ from what should be there
	Of    int  `json:"of"`    // bits that the picture shows
	Stuck *int `json:"stuck"` // the level it is stuck at
}

// Signal is the quality of the signal.
type Signal struct {
	SNRdB         *float64 `json:"snr_db"`
	OvershootPct  *float64 `json:"overshoot_pct"`
	RiseNs        *float64 `json:"rise_ns"`
	HumPct        *float64 `json:"hum_pct"`
	FixedBarsPct  *float64 `json:"fixed_bars_pct"`
	HueErrorDeg   *float64 `json:"hue_error_deg"`
	SaturationPct *float64 `json:"saturation_pct"`

	WeightedDB   *float64 `json:"snr_weighted_db"`
	BandwidthHz  *float64 `json:"bandwidth_hz"`
	HumHz        *float64 `json:"hum_hz"`
	RingingPct   *float64 `json:"ringing_pct"` // of the step, 600 ns after it
	RingingHz    *float64 `json:"ringing_hz"`
	GhostPct     *float64 `json:"ghost_pct"`
	GhostNs      *float64 `json:"ghost_ns"`
	TonePct      *float64 `json:"tone_pct"` // the strongest single frequency, of white, peak to peak
	ToneHz       *float64 `json:"tone_hz"`
	TonePeriodPx *float64 `json:"tone_period_px"`
	ToneFixed    *bool    `json:"tone_fixed"`
}

// Verdict is what the measurements mean.
type Verdict struct {
	Class      string       `json:"class"`
	Confidence *float64     `json:"confidence"`
	Summary    string       `json:"summary"` // one sentence
	Faults     []Fault      `json:"faults"`
	Good       []string     `json:"good"`
	Why        []string     `json:"why"`
	Table      []Difference `json:"table"`
	Next       []string     `json:"next"`
	Rivals     []Rival      `json:"rivals,omitempty"` // what can hold the first fault, the likeliest first
}

// A Rival is a part, a joint or a supply that can hold a fault; Test tells it from the likeliest.
type Rival struct {
	Cause string  `json:"cause"`
	Name  string  `json:"name"`
	Share float64 `json:"share"`
	Test  string  `json:"test,omitempty"`
}

// A Fault is one cause; only the keys that belong to its kind are there.
type Fault struct {
	Class       string   `json:"class"`
	Kind        string   `json:"kind"`
	Probability float64  `json:"probability"`
	Bit         *int     `json:"bit,omitempty"`
	Level       *int     `json:"level,omitempty"`
	Part        string   `json:"part,omitempty"`
	Line        *int     `json:"line,omitempty"` // the first of Lines
	Lines       []int    `json:"lines,omitempty"`
	Lanes       []int    `json:"lanes,omitempty"`
	Memory      string   `json:"memory,omitempty"`
	Row         *int     `json:"row,omitempty"`
	Column      *int     `json:"column,omitempty"`
	Component   string   `json:"component,omitempty"`
	Expected    *int     `json:"expected,omitempty"`
	Seen        *int     `json:"seen,omitempty"`
	Columns     string   `json:"columns,omitempty"`
	CounterBit  *int     `json:"counter_bit,omitempty"`
	Codes       []int    `json:"codes,omitempty"`
	PeriodPx    *float64 `json:"period_px,omitempty"`
	Degrees     *float64 `json:"degrees,omitempty"`
	FrequencyHz *float64 `json:"frequency_hz,omitempty"`

	say    string // in words, for the text
	stated bool   // by the summary
}

// A Difference is a byte that should be there, the one that is, and how often.
type Difference struct {
	Expected uint8  `json:"expected"`
	Seen     uint8  `json:"seen"`
	XOR      uint8  `json:"xor"`
	Cells    int    `json:"cells"`
	Where    string `json:"where"`
}

// Evidence is the frame that shows the finding best. The paths and the hash are
// null when nothing was kept.
type Evidence struct {
	Still     *string  `json:"still"`
	Annotated *string  `json:"annotated"`
	Frame     int      `json:"frame"`
	Field     int      `json:"field"` // 0: the frame's even lines, 1: its odd ones
	TimeS     *float64 `json:"time_s"`
	SHA256    *string  `json:"sha256"`
	Regions   []Region `json:"regions"`
}

// A Region is a place in the field, in capture samples and lines of the field.
type Region struct {
	X     int    `json:"x"`
	Y     int    `json:"y"`
	W     int    `json:"w"`
	H     int    `json:"h"`
	Label string `json:"label"`
}
