package workbench

import (
	"backporch/patterns"
)

// pathTests are of the signal path and the supply.
var pathTests = []Test{
	{
		Name: "device settings", Do: "check the device's input, standard and picture controls, and whether it says it is locked",
		Minutes: 1,
		Outcomes: []Outcome{
			{"they are right", "device=right", "the capture device's input, standard and controls are right"},
			{"one is wrong", "device=wrong", "one of them is wrong"},
		},
		usual: []float64{.98, .02},
		rows:  []row{{settingKinds, []Cause{Device}, []float64{.3, .7}}},
	},
	{
		Name: "another cable", Do: "use another cable, straight from the machine to the device", Minutes: 2,
		Outcomes: []Outcome{
			{"nothing changes", "cable=swapped", "another cable shows the same"},
			{"the picture changes", "cable=changed", "another cable changes the picture"},
		},
		usual: []float64{.97, .03},
		rows: []row{
			{loadKinds, []Cause{Path}, []float64{.5, .5}}, // as often the termination
			{nil, []Cause{Path}, []float64{.15, .85}},
		},
	},
	{
		Name: "termination", Do: "check that the line ends in 75 ohm once, at its far end", Minutes: 2,
		Outcomes: []Outcome{
			{"it does", "termination=good", "the line ends in 75 ohm once"},
			{"it does not", "termination=wrong", "the termination is missing or there twice"},
		},
		usual: []float64{.96, .04},
		rows: []row{
			{loadKinds, []Cause{Path}, []float64{.35, .65}},
			{nil, []Cause{Path}, []float64{.85, .15}},
		},
	},
	{
		Name: goodMachine, Do: "capture a good machine through the same cable and device", Minutes: 5,
		Outcomes: []Outcome{
			{"it looks right", "monitor=good", "a good machine looks right on the same cable and device"},
			{"it shows the same", "monitor=bad", "a good machine shows the same fault there"},
		},
		usual: []float64{.98, .02},
		rows: []row{
			{nil, []Cause{Path, Device}, []float64{.08, .92}},
			{nil, []Cause{Surroundings}, []float64{.3, .7}},
		},
	},
	{
		Name: "another display", Do: "look at the machine on another display", Minutes: 4,
		Outcomes: []Outcome{
			{"it shows the same", "monitor=same", "another display shows the same picture"},
			{"it looks right there", "monitor=right", "another display shows a right picture"},
		},
		usual: []float64{.96, .04},
		rows:  []row{{nil, []Cause{Device}, []float64{.1, .9}}},
	},
	{
		Name: "surroundings", Do: "switch off what is near: lamps, chargers, radios", Minutes: 2,
		Outcomes: []Outcome{
			{"nothing changes", "nearby=off", "what is near is off and the picture is the same"},
			{"it goes away", "nearby=changed", "it goes with something near switched off"},
		},
		usual: []float64{.98, .02},
		rows:  []row{{nil, []Cause{Surroundings}, []float64{.2, .8}}},
	},
	{
		Name: "supply rails", Do: "measure every supply rail at the chips, under load, with its ripple; switch off at once where one is missing",
		Minutes: 4, Sort: "supply", Risk: 1, Caution: patterns.MainsCaution,
		Outcomes: []Outcome{
			{"all are right", "supply=good", "all rails are right under load"},
			{"one is off", "supply=bad", "a rail is missing, off or has ripple"},
		},
		usual: []float64{.97, .03},
		rows: []row{
			{[]string{"fixed-bars", "interference", "noise"}, []Cause{Rails}, []float64{.35, .65}}, // small and at the chip
			{nil, []Cause{Rails}, []float64{.12, .88}},
		},
	},
	{
		Name: "another supply", Do: "run the machine from another power supply of its type", Minutes: 5, Sort: "supply", Risk: 1, Caution: patterns.MainsCaution,
		Outcomes: []Outcome{
			{"nothing changes", "supply=swapped", "another power supply shows the same"},
			{"the picture changes", "supply=changed", "another power supply changes the picture"},
		},
		usual: []float64{.97, .03},
		rows:  []row{{nil, []Cause{Rails}, []float64{.4, .6}}}, // a regulator or capacitor on the board stays
	},
	{
		Name: "sync at output", Do: "look for sync at the video output with an oscilloscope, 75 ohm connected", Minutes: 8, Risk: 1,
		Outcomes: []Outcome{
			{"it is there in full", "sync=good", "full sync at the output, on an oscilloscope"},
			{"it is small or missing", "sync=bad", "sync at the output is small or missing"},
		},
		usual: []float64{.97, .03},
		rows:  []row{{syncKinds, []Cause{VideoChip, VideoSocket, Output, Rails}, []float64{.08, .92}}},
	},
	{
		Name: "levels at output", Do: "measure white against sync at the output with 75 ohm connected: 700 to 300 mV (625/50), 714 to 286 mV (525/60)",
		Minutes: 8, Risk: 1,
		Outcomes: []Outcome{
			{"they are right", "levels=right", "white and sync at the output are right into 75 ohm"},
			{"they are wrong", "levels=wrong", "white or sync at the output is wrong"},
		},
		usual: []float64{.97, .03},
		rows: []row{
			{[]string{"level-high", "level-low", "clipping"}, []Cause{Output, Rails}, []float64{.08, .92}},
			{[]string{"level-high", "level-low"}, []Cause{Path}, []float64{.9, .1}}, // the load is put right for the measurement
		},
	},
	{
		Name: "output stage", Do: "compare what goes into the output stage with what comes out, with an oscilloscope", Minutes: 12, Risk: 2,
		Outcomes: []Outcome{
			{"both are right", "output=right", "what enters and leaves the output stage is right"},
			{"it enters right and leaves wrong", "output=wrong", "it enters the output stage right and leaves it wrong"},
			{"it enters wrong", "output=before", "it enters the output stage wrong already"},
		},
		usual: []float64{.96, .02, .02},
		rows: []row{
			{nil, []Cause{Output}, []float64{.08, .88, .04}},
			{[]string{"no-signal", "sync-weak", "colour-lost", "colour-path", "hue-shift"}, []Cause{VideoChip, VideoSocket}, []float64{.07, .03, .9}},
			{[]string{"colour-path"}, []Cause{Track}, []float64{.1, .1, .8}},
			{nil, []Cause{Rails}, []float64{.3, .4, .3}},
		},
	},
	{
		Name: "burst", Do: "measure the burst at the output: 300 mV (625/50) or 286 mV (525/60) peak to peak, and its frequency", Minutes: 8, Risk: 1,
		Outcomes: []Outcome{
			{"it is right", "burst=good", "burst is right in size and frequency"},
			{"it is off", "burst=bad", "burst is small, missing or off frequency"},
		},
		usual: []float64{.96, .04},
		rows: []row{
			{[]string{"colour-lost"}, []Cause{Output, VideoChip, VideoSocket}, []float64{.2, .8}},
			{[]string{"hue-shift"}, []Cause{Output}, []float64{.5, .5}},
		},
	},
}
