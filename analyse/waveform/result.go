package waveform

// A Result is what was measured. What was not is nil, and Missing says why.
type Result struct {
	Standard    *string  `json:"standard"` // "625/50" or "525/60", by its scanning
	Lines       *float64 `json:"lines"`    // a field
	Interlaced  *bool    `json:"interlaced"`
	Scanning    string   `json:"scanning"` // in words
	LineUS      *float64 `json:"line_us"`
	FieldHz     *float64 `json:"field_hz"`
	SyncMV      *float64 `json:"sync_mv"`         // tip below blanking, positive
	BlankingMV  *float64 `json:"blanking_mv"`     // as it stands in the file; nil when not absolute
	WhiteMV     *float64 `json:"white_mv"`        // highest steady luma, above blanking
	PeakToPeak  *float64 `json:"peak_to_peak_mv"` // tip to the highest steady level, chroma included
	SyncUS      *float64 `json:"sync_us"`
	FrontPorch  *float64 `json:"front_porch_us"`
	BackPorch   *float64 `json:"back_porch_us"` // end of sync to the end of blanking
	BurstMVPP   *float64 `json:"burst_mvpp"`
	BurstHz     *float64 `json:"burst_hz"`
	BurstPPM    *float64 `json:"burst_ppm"` // off its nominal frequency, by the file's sample clock
	JitterNS    *float64 `json:"jitter_ns"` // rms of 0H about a steady clock of each field, less what noise makes
	Polarity    string   `json:"polarity"`  // "normal" or "inverted"
	Termination *string  `json:"termination"`
	Limits      []Limit  `json:"limits"`

	Absolute     bool      `json:"absolute"`     // mV are volts of the file; else sync is taken as its nominal height
	SyncRise     *float64  `json:"sync_rise_ns"` // 10 to 90 %, leading edge
	SyncFall     *float64  `json:"sync_fall_ns"` // trailing edge
	BlankingRise *float64  `json:"blanking_rise_ns"`
	BlankingUS   *float64  `json:"line_blanking_us"`
	BurstAt      *float64  `json:"burst_start_us"` // after 0H
	BurstUS      *float64  `json:"burst_us"`
	BurstCycles  *float64  `json:"burst_cycles"`
	Swings       *bool     `json:"burst_swings"` // PAL
	Equalising   *float64  `json:"equalising_us"`
	Broad        *float64  `json:"broad_us"`
	Serration    *float64  `json:"serration_us"`
	NoiseMV      *float64  `json:"noise_mv"` // rms on the sync tips, all the file's bandwidth
	DriftMV      *float64  `json:"drift_mv"` // blanking, lowest to highest
	HumMV        *float64  `json:"hum_mv"`   // blanking's part at the mains or twice it, peak to peak, before any clamp
	HumHz        *float64  `json:"hum_hz"`   // nil where none stands out
	Pulses       Census    `json:"pulses"`
	TestLine     *TestLine `json:"test_line"`

	MeasuredLines int                `json:"measured_lines"`
	Seconds       float64            `json:"seconds"`
	Samples       int64              `json:"samples"`
	Spread        map[string]float64 `json:"uncertainty"` // of the values above, one standard deviation
	Missing       []Missing          `json:"not_measured"`
	Notes         []string           `json:"notes"`

	Mean *MeanLine `json:"-"`
}

// Missing is a measure that could not be taken.
type Missing struct {
	Name string `json:"name"`
	Why  string `json:"why"`
}

// A MeanLine is the averaged line for a picture: mV above blanking, us after 0H.
type MeanLine struct {
	From, Step float64
	Value      []float64
	Low, High  []float32 // of all lines
	Lines      int
}

// A TestLine is a 2T pulse and bar found on a line.
type TestLine struct {
	Line      int     `json:"line"`      // of the field, counted from the line on which field sync begins
	PulseBar  float64 `json:"pulse_bar"` // 2T pulse over bar
	HalfNS    float64 `json:"pulse_ns"`  // half-amplitude duration of the pulse
	BarMV     float64 `json:"bar_mv"`
	KPulseBar float64 `json:"k_pulse_bar_pct"`
	KPulse    float64 `json:"k_pulse_pct"`
	KBar      float64 `json:"k_bar_pct"`
	K         float64 `json:"k_pct"` // the greatest
}
