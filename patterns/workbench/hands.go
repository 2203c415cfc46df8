package workbench

// A hand is what is done to a part while the picture is watched.
type hand string

// The hands.
const (
	warms   hand = "warmth"   // cools or warms one part
	presses hand = "pressure" // presses, taps or flexes
	reseats hand = "reseat"   // takes a part out of its socket and puts it back
)

// The parts that are no lane's chip, as facts name them.
const (
	videoPart       = "video-logic"
	generatorPart   = "character-generator"
	multiplexerPart = "multiplexer"
	outputPart      = "output"
	processorPart   = "processor"
)

// handTests are of parts that serve all lanes; those of a lane's chip are with the memory's.
var handTests = []Test{
	coolOf("{multiplexer}", "the multiplexer", multiplexerPart, Multiplexer, .75, .25),
	coolOf("{generator}", "the character generator", generatorPart, Generator, .88, .12),
	coolOf("the output stage's transistor or encoder", "the output stage", outputPart, Output, .75, .25),
	pressOf("{video}", "the video-logic chip", videoPart, VideoSocket),
	pressOf("{generator}", "the character generator", generatorPart, GeneratorSocket),
	pressOf("the processor", "the processor", processorPart, ProcessorSocket),
}

// coolOf is the test that cools or warms a part: a part that is at fault minds in so many of ten cases.
func coolOf(part, name, at string, c Cause, same, changed float64) Test {
	return Test{
		Name: "cool " + name, Do: "cool, then warm " + part + " alone and watch", Minutes: 6, Risk: 1, Caution: heatCaution, Hand: warms, At: at,
		Outcomes: []Outcome{
			{"nothing changes", "cooled=same:" + at, "cooling and warming " + name + " changes nothing"},
			{"the picture changes", "cooled=changed:" + at, "cooling or warming " + name + " changes the picture"},
		},
		usual: []float64{.96, .04},
		rows:  []row{{nil, []Cause{c}, []float64{same, changed}}},
	}
}

// pressOf is the test that presses on a part in its socket.
func pressOf(part, name, at string, socket Cause) Test {
	return Test{
		Name: "press " + name, Do: "press on " + part + " alone with a plastic rod, then tap it, and watch", Minutes: 2, Risk: 1, Sort: "pressure", Hand: presses, At: at,
		Outcomes: []Outcome{
			{"nothing changes", "pressed=same:" + at, "pressing and tapping " + name + " changes nothing"},
			{"the picture changes", "pressed=changed:" + at, "pressing or tapping " + name + " changes the picture"},
		},
		usual: []float64{.96, .04},
		rows: []row{
			{nil, []Cause{socket}, []float64{.45, .55}},
			{nil, []Cause{Track}, []float64{.85, .15}},
		},
	}
}
