package workbench

// logicTests are of video logic, character generator and processor side.
var logicTests = []Test{
	{
		Name: "component output", Do: "look at the component's output of {video} with an oscilloscope while the border changes colour", Minutes: 8, Risk: 2,
		Outcomes: []Outcome{
			{"it changes", "component=there", "the colour component leaves the video logic"},
			{"it does not", "component=missing", "the colour component does not leave the video logic"},
		},
		usual: []float64{.97, .03},
		rows:  []row{{[]string{"colour-path"}, []Cause{VideoChip, VideoSocket}, []float64{.05, .95}}},
	},
	{
		Name: "border colours", Do: "write each border colour in turn", Minutes: 3,
		Outcomes: []Outcome{
			{"all are right", "border=right", "each border colour comes out right"},
			{"some are wrong, by one component", "border=one-wrong", "some border colours are wrong, by one component"},
			{"all are turned alike", "border=turned", "all border colours but greys are turned alike"},
		},
		usual: []float64{.96, .02, .02},
		rows: []row{
			{[]string{"border-latch"}, []Cause{Written}, []float64{.95, .03, .02}},
			{[]string{"border-latch", "colour-path"}, nil, []float64{.03, .93, .04}},
			{[]string{"hue-shift"}, nil, []float64{.02, .04, .94}},
		},
	},
	{
		Name: "reseat the video logic", Do: "reseat {video} where it is in a socket, and look again", Minutes: 6, Risk: 3, Caution: swapCaution, Socket: true, Hand: reseats, At: videoPart,
		Outcomes: []Outcome{
			{"nothing changes", "socket=reseated:video-logic", "the video-logic chip was reseated: the same"},
			{"the picture changes", "", ""},
		},
		usual: []float64{.97, .03},
		rows:  []row{{nil, []Cause{VideoSocket}, []float64{.2, .8}}},
	},
	{
		Name: "reseat the generator", Do: "reseat {generator} where it is in a socket, and look again", Minutes: 5, Risk: 2, Caution: swapCaution, Socket: true, Hand: reseats, At: generatorPart,
		Outcomes: []Outcome{
			{"nothing changes", "socket=reseated:character-generator", "the character generator was reseated: the same"},
			{"the picture changes", "", ""},
		},
		usual: []float64{.97, .03},
		rows:  []row{{nil, []Cause{GeneratorSocket}, []float64{.2, .8}}},
	},
	{
		Name: "reseat the processor", Do: "reseat processor and program ROM where they are in sockets, and look again", Minutes: 6, Risk: 3, Caution: swapCaution, Socket: true, Hand: reseats, At: processorPart,
		Outcomes: []Outcome{
			{"nothing changes", "socket=reseated:processor", "processor and program ROM were reseated: the same"},
			{"it starts", "", ""},
		},
		usual: []float64{.97, .03},
		rows:  []row{{nil, []Cause{ProcessorSocket}, []float64{.2, .8}}},
	},
	{
		Name: "cool the video logic", Do: "cool, then warm {video} alone and watch", Minutes: 6, Risk: 1, Caution: heatCaution, Hand: warms, At: videoPart,
		Outcomes: []Outcome{
			{"nothing changes", "cooled=same:video-logic", "cooling and warming the video-logic chip changes nothing"},
			{"the picture changes", "cooled=changed:video-logic", "cooling or warming the video-logic chip changes the picture"},
		},
		usual: []float64{.96, .04},
		rows: []row{
			{[]string{"cell-fetch", "cell-snow", "sync-weak"}, []Cause{VideoChip}, []float64{.5, .5}},
			{nil, []Cause{VideoChip}, []float64{.88, .12}},
		},
	},
	{
		Name: "stop the processor", Do: "hold the processor in reset and look again", Minutes: 4, Risk: 1,
		Outcomes: []Outcome{
			{"nothing changes", "halted=same", "the picture is the same with the processor stopped"},
			{"it ends", "halted=clean", "the fault ends with the processor stopped: the two sides meet at the memory"},
		},
		usual: []float64{.97, .03},
		rows:  []row{{[]string{"cell-snow"}, []Cause{Written}, []float64{.05, .95}}},
	},
	{
		Name: "does it answer", Do: "type or start what must make a sound or move something", Minutes: 2,
		Outcomes: []Outcome{
			{"it answers", "keys=answer", "the machine answers to keys, by sound or otherwise"},
			{"it does not", "keys=dead", "the machine answers to nothing"},
		},
		usual: []float64{.9, .1},
		rows: []row{
			{nil, coreCauses, []float64{.03, .97}},
			{[]string{"power-up-pattern"}, nil, []float64{.05, .95}},
			{startKinds, []Cause{Rails}, []float64{.3, .7}},
		},
	},
	{
		Name: "power up again", Do: "power up several times, with a minute between", Minutes: 4,
		Outcomes: []Outcome{
			{"the pattern is the same each time", "power-up=same", "each power-up shows the same"},
			{"it changes", "power-up=differs", "each power-up shows another pattern"},
		},
		usual: []float64{.93, .07},
		rows: []row{
			{[]string{"power-up-pattern"}, nil, []float64{.15, .85}},
			{[]string{"supply-or-all-lanes", "data-bit-weak", "refresh-loss"}, nil, []float64{.4, .6}},
		},
	},
	{
		Name: "clock and reset", Do: "look for clock and reset at the processor with an oscilloscope", Minutes: 7, Risk: 1,
		Outcomes: []Outcome{
			{"both are right", "clock=good", "clock and reset arrive at the processor"},
			{"one is not", "clock=bad", "the processor's clock or reset is wrong"},
		},
		usual: []float64{.97, .03},
		rows: []row{
			{nil, []Cause{Clock}, []float64{.06, .94}},
			{[]string{"power-up-pattern"}, []Cause{Rails}, []float64{.6, .4}},
		},
	},
	{
		Name: "processor's bus", Do: "look for activity on the processor's address lines", Minutes: 7, Risk: 1,
		Outcomes: []Outcome{
			{"they move", "bus=active", "the processor's address lines move"},
			{"they stand still", "bus=still", "the processor's address lines stand still"},
		},
		usual: []float64{.97, .03},
		rows: []row{
			{nil, []Cause{Processor, ProcessorSocket}, []float64{.45, .55}},
			{nil, []Cause{Program}, []float64{.8, .2}},
			{nil, []Cause{Clock}, []float64{.05, .95}},
		},
	},
	{
		Name: "test ROM", Do: "start from a test ROM, which needs less of the machine to run", Minutes: 6, Risk: 2, Caution: swapCaution,
		Outcomes: []Outcome{
			{"it runs", "test-rom=runs", "a test ROM runs"},
			{"it does not", "test-rom=dead", "a test ROM does not run either"},
		},
		usual: []float64{.93, .07},
		rows: []row{
			{nil, []Cause{Program}, []float64{.88, .12}},
			{nil, []Cause{Processor, Clock}, []float64{.04, .96}},
			{nil, []Cause{ProcessorSocket}, []float64{.4, .6}},
			{[]string{"power-up-pattern"}, nil, []float64{.25, .75}},
		},
	},
	{
		Name: "all codes", Do: "write all codes on one screen and compare them with a good machine's", Minutes: 5, Codes: true,
		Outcomes: []Outcome{
			{"all are right", "codes=right", "every code shows its glyph"},
			{"glyphs are damaged", "codes=damaged", "glyphs are damaged, the same wherever a code stands"},
			{"whole glyphs stand for others", "codes=exchanged", "whole glyphs stand in the place of others"},
		},
		usual: []float64{.96, .02, .02},
		rows: []row{
			{[]string{"character-generator"}, nil, []float64{.02, .78, .2}},
			{[]string{"shift-register"}, nil, []float64{.02, .95, .03}},
			{laneKinds, []Cause{Chip, ChipSocket, Track, Buffer, VideoChip, VideoSocket}, []float64{.06, .02, .92}},
		},
	},
	{
		Name: "generator's lines", Do: "compare address and data lines of {generator} with an oscilloscope", Minutes: 12, Risk: 2,
		Outcomes: []Outcome{
			{"both are right", "generator=right", "address and data lines of the character generator are right"},
			{"it is right in and wrong out", "generator=wrong", "the generator's address is right, its data wrong"},
			{"the address is wrong", "generator=before", "the generator's address is wrong already"},
		},
		usual: []float64{.96, .02, .02},
		rows: []row{
			{nil, []Cause{Generator}, []float64{.04, .93, .03}},
			{nil, []Cause{GeneratorSocket}, []float64{.3, .6, .1}},
			{[]string{"character-generator"}, []Cause{Track}, []float64{.3, .2, .5}},
		},
	},
	{
		Name: "write flash", Do: "write colour bytes with bit 7 set and look for two seconds", Minutes: 2,
		Outcomes: []Outcome{
			{"they stand still", "flash=still", "cells written to flash stand still"},
			{"they flash", "flash=works", "cells written to flash do so"},
		},
		usual: []float64{.05, .95},
		rows: []row{
			{[]string{"flash-dead"}, []Cause{VideoChip, VideoSocket}, []float64{.97, .03}},
		},
	},
}
