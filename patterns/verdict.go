package patterns

// Class is a group of faults with the same next steps.
type Class string

// The classes, as in the JSON.
const (
	Clean        Class = "clean"
	RAMBit       Class = "ram-bit"
	VideoLogic   Class = "video-logic"
	Signal       Class = "signal"
	CPUSide      Class = "cpu-side"
	Undetermined Class = "undetermined"
)

// A Fault is one cause with its probability and the particulars of its kind; what
// does not belong to the kind is nil or empty.
type Fault struct {
	Class       Class
	Kind        string
	Probability float64 // as far as verdicts like it have been right
	Weighed     float64 // as the evidence weighs by itself
	Bit         *int
	Level       *int
	Part        string // from the board map
	Lines       []int
	Lanes       []int
	Memory      string
	Row, Column *int
	Component   string
	Expected    *int // palette index
	Seen        *int
	Columns     string
	CounterBit  *int
	Codes       []int
	PeriodPx    *float64
	Degrees     *float64
	FrequencyHz *float64
}

// A Difference is a row of the table that a repairer makes by hand.
type Difference struct {
	Expected, Seen uint8
	Cells          int // how many cells show it
	Where          string
}

// A Lane is one data bit of the display memory against what should be there.
type Lane struct {
	Bit   int
	Wrong *int // bits that differ; nil when there was nothing to compare with
	Of    int  // bits that the picture shows
	Stuck *int // the level it is stuck at; nil when it is not
}

// A Verdict is what a capture says.
type Verdict struct {
	Class      Class
	Confidence *float64 // probability of Class, as far as verdicts like it have been right; nil when undetermined
	Weighed    *float64 // probability of Class as the evidence weighs by itself
	Faults     []Fault  // most probable first
	Good       []string // what the picture proves to work
	Why        []string // the reasons, a line each
	Table      []Difference
	Lanes      []Lane   // what was found of each data bit; empty when memory was not recovered
	Rivals     []Rival  // what can hold the first fault, the likeliest first; empty where the picture says no more
	Next       []string // what to test next, the cheapest good test first, with its caution
	Regions    []Region
}

// A Region is a place in the field worth outlining, in capture samples and field lines.
type Region struct {
	X, Y, W, H int
	Label      string
}

// A Rival is one of the causes that can hold the first fault.
type Rival struct {
	Cause Cause
	Name  string // in words, with the part's designator where the map has it
	Share float64
	Test  string // that splits it from the likeliest one, "" for that one itself
}

// A Cause is a place that can hold a fault. The picture names a lane or a function; what is
// replaced is one of these.
type Cause string

// Of these probabilities on a verdict says a thing: that there is a fault (Named), that there is one of the signal path (NamedPath), of which class
// (LeastClass, as far as two classes that make one picture leave it open), that nothing is wrong (Cleared). What the path does is measured over all of the
// picture, whatever it shows: of 466 captures by simulators that others wrote the path was at fault in all 10 where that had 0.6 to 0.8.
const (
	Named      = 0.80
	NamedPath  = 0.60
	LeastClass = 0.55
	Cleared    = LeastClass
	Listed     = 0.02 // less probable faults are not worth a line
)
