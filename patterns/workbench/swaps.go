package workbench

const (
	chipRisk  = 30 // minutes: one board in twenty loses a pad or a track, and that takes ten hours. Common practice, no source
	logicRisk = 12 // a part that is hard to come by, in a socket
)

// swapTests change a part for a known good one; those that need soldering come last of all (choose).
var swapTests = []Test{
	swapOf("{chip}", "chip", "ram", "the memory chips of :BITS, or all,", 40, chipRisk, Chip, true, screenLanes),
	swapOf("the colour memory's chip", "colour chip", "colour-ram", "the colour memory's chip", 40, chipRisk, Chip, true, colourMemory),
	swapOf("{multiplexer}", "multiplexer", "multiplexer", "the multiplexers", 35, chipRisk, Multiplexer, true, 0),
	swapOf("the buffer of {bit}", "buffer", "buffer", "the buffer of :BITS", 35, chipRisk, Buffer, true, screenLanes),
	swapOf("the output stage's transistor or encoder", "output stage", "output", "the output stage's parts", 30, chipRisk, Output, true, 0),
	swapOf("{video}", "video logic", "video-logic", "the video-logic chip", 12, logicRisk, VideoChip, false, 0),
	swapOf("{generator}", "generator", "character-generator", "the character generator", 10, 6, Generator, false, 0),
	swapOf("the processor", "processor", "processor", "the processor", 10, 6, Processor, false, 0),
	swapOf("the program ROM", "program ROM", "rom", "the program ROM", 10, 6, Program, false, 0),
}

// swapOf is the test that changes a part. A part with a fault is hardly ever replaced by another with the same.
func swapOf(part, name, value, help string, minutes, risk float64, c Cause, solder bool, of places) Test {
	t := Test{
		Name: "change the " + name, Do: "change " + part + " for a known good one, where it is in a socket", Minutes: minutes, Risk: risk, Caution: swapCaution + "; " + railsFirst,
		Solder: solder, Lane: of != 0, Of: of, Socket: !solder,
		Outcomes: []Outcome{
			{"nothing changes", "swapped=" + value, help + " changed for a known good one: the same picture"},
			{"the fault goes", "", ""},
		},
		usual: []float64{.97, .03},
		rows:  []row{{nil, []Cause{c}, []float64{.04, .96}}},
	}
	if solder {
		t.Do, t.Caution = "unsolder "+part+" and change it", solderLast+"; "+railsFirst
	}
	return t
}
