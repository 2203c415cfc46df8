package workbench

// memoryTests are of the memory and what carries it.
var memoryTests = []Test{
	{
		// The processor reads through its own side: a chip's fault fails it, a fault behind the memory on the
		// picture's side does not, and a quick test misses what is weak, slow, or folds alike on write and read.
		Name: "memory test", Do: "run a memory test from the processor side, from a test ROM", Minutes: 5, Sort: "processor reads", Lane: true, Locates: true,
		Outcomes: []Outcome{
			{"it passes", "ram-test=pass", "a memory test from the processor side passes"},
			{"it fails at {bit}", "ram-test=fail", "it fails; :BITS says at which, as in fail:3 or fail:0,3"},
			{"it fails elsewhere", "", ""},
		},
		usual: []float64{.97, .004, .026},
		rows: []row{
			{[]string{"data-bit-stuck"}, []Cause{Chip}, []float64{.05, .92, .03}},
			{[]string{"data-bit-weak"}, []Cause{Chip}, []float64{.4, .57, .03}},
			{[]string{"row-dead", "column-dead"}, []Cause{Chip}, []float64{.15, .82, .03}},
			// A test that reads each byte back before it writes the next sees no fold: address decoder faults need a march
			// (van de Goor, Testing Semiconductor Memories, 1991; from memory).
			{[]string{"address-line-stuck"}, []Cause{Chip, ChipSocket}, []float64{.45, .52, .03}},
			{[]string{"address-line-stuck"}, []Cause{Multiplexer, Track}, []float64{.62, .34, .04}},
			{[]string{"refresh-loss"}, []Cause{Chip, Strobes}, []float64{.5, .46, .04}},
			{nil, []Cause{ChipSocket}, []float64{.12, .85, .03}},
			{nil, []Cause{Track, Buffer}, []float64{.55, .42, .03}},
			{nil, []Cause{Multiplexer, Strobes}, []float64{.4, .55, .05}},
			{laneKinds, []Cause{Rails}, []float64{.6, .35, .05}},
			{[]string{"supply-or-all-lanes", "refresh-loss"}, []Cause{Rails}, []float64{.25, .7, .05}},
		},
	},
	{
		Name: "counting pattern", Do: "write a counting pattern into display memory from the processor, and read it back", Minutes: 6, Sort: "processor reads",
		Outcomes: []Outcome{
			{"it reads back right", "counting=right", "a counting pattern reads back right"},
			{"bytes come back equal in pairs", "counting=pairs", "it reads back equal in pairs: an address line"},
			{"a bit is wrong throughout", "counting=lane", "it reads back with a bit wrong: a lane"},
		},
		usual: []float64{.96, .015, .025},
		rows: []row{
			{[]string{"address-line-stuck"}, []Cause{Chip, ChipSocket}, []float64{.05, .9, .05}},
			{[]string{"address-line-stuck"}, []Cause{Multiplexer, Track}, []float64{.3, .68, .02}}, // the processor may have a multiplexer of its own
			{[]string{"address-line-stuck"}, []Cause{VideoChip, VideoSocket}, []float64{.75, .23, .02}},
			{[]string{"data-bit-stuck"}, []Cause{Chip, ChipSocket}, []float64{.05, .02, .93}},
			{[]string{"data-bit-stuck"}, []Cause{Track, Buffer}, []float64{.55, .02, .43}},
		},
	},
	{
		Name: "address lines", Do: "compare the address lines at the inputs and outputs of {multiplexer} during the picture, with an oscilloscope",
		Minutes: 12, Risk: 2,
		Outcomes: []Outcome{
			{"all of them move", "lines=right", "the memory's address lines move before and behind the multiplexer"},
			{"one stands still behind it only", "lines=behind", "one stands still behind the multiplexer only"},
			{"one stands still before it", "lines=before", "one stands still before the multiplexer: the counters"},
		},
		usual: []float64{.96, .02, .02},
		rows: []row{
			{[]string{"address-line-stuck"}, []Cause{Multiplexer}, []float64{.05, .92, .03}},
			{[]string{"address-line-stuck"}, []Cause{Track}, []float64{.3, .66, .04}},
			{[]string{"address-line-stuck", "line-counter"}, []Cause{VideoChip, VideoSocket}, []float64{.07, .03, .9}},
			{[]string{"line-counter"}, []Cause{Track}, []float64{.2, .2, .6}},
			{[]string{"refresh-loss", "supply-or-all-lanes"}, []Cause{Multiplexer}, []float64{.3, .65, .05}},
		},
	},
	{
		Name: "touch", Do: "let it run for a minute and feel whether {chip} is hotter or colder than its neighbours", Minutes: 2, Sort: "warmth", Risk: .3, Caution: heatCaution, Lane: true,
		Outcomes: []Outcome{
			{"it is like them", "touch=like", "the chip of :BITS is as warm as its neighbours"},
			{"it is not", "touch=odd", "the chip of :BITS is hotter or colder than its neighbours"},
		},
		usual: []float64{.95, .05},
		rows:  []row{{nil, []Cause{Chip}, []float64{.68, .32}}},
	},
	{
		Name: "reseat the chip", Do: "reseat {chip} where it is in a socket, and look again", Minutes: 5, Risk: 2, Caution: swapCaution, Lane: true, Socket: true, Hand: reseats,
		Outcomes: []Outcome{
			{"nothing changes", "socket=reseated", "all chips in sockets, or those of :BITS, were reseated: the same"},
			{"the picture changes", "", ""},
		},
		usual: []float64{.97, .03},
		rows:  []row{{nil, []Cause{ChipSocket}, []float64{.2, .8}}},
	},
	{
		Name: "flex and tap", Do: "flex the board gently and tap the chips with a plastic rod while the picture is watched", Minutes: 3, Risk: 1, Sort: "pressure", Hand: presses,
		Outcomes: []Outcome{
			{"nothing changes", "flex=same", "flexing and tapping change nothing"},
			{"the picture changes", "flex=changed", "flexing or tapping changes the picture"},
		},
		usual: []float64{.96, .04},
		rows:  []row{{nil, []Cause{ChipSocket, VideoSocket, GeneratorSocket, ProcessorSocket, Track}, []float64{.55, .45}}},
	},
	{
		Name: "cool the chip", Do: "cool, then warm {chip} alone and watch the count of wrong bits; then its neighbours", Minutes: 6, Sort: "warmth", Risk: 1, Caution: heatCaution, Lane: true, Hand: warms,
		Outcomes: []Outcome{
			{"nothing changes", "cooled=same", "cooling and warming the chip of :BITS changes nothing"},
			{"the count changes", "cooled=changed", "cooling or warming the chip of :BITS changes the picture"},
		},
		usual: []float64{.96, .04},
		rows: []row{
			{weakKinds, []Cause{Chip}, []float64{.4, .6}},
			{nil, []Cause{Chip}, []float64{.88, .12}},
			{nil, []Cause{ChipSocket}, []float64{.85, .15}},
		},
	},
	{
		// A contact moves with what is pressed on; a bond wire inside the chip seldom does.
		Name: "press the chip", Do: "press on {chip} alone with a plastic rod, then tap it, and watch", Minutes: 2, Sort: "pressure", Risk: 1, Lane: true, Hand: presses,
		Outcomes: []Outcome{
			{"nothing changes", "pressed=same", "pressing and tapping the chip of :BITS changes nothing"},
			{"the picture changes", "pressed=changed", "pressing or tapping the chip of :BITS changes the picture"},
		},
		usual: []float64{.96, .04},
		rows: []row{
			{weakKinds, []Cause{ChipSocket}, []float64{.3, .7}}, // it comes and goes already
			{nil, []Cause{ChipSocket}, []float64{.5, .5}},
			{nil, []Cause{Track}, []float64{.8, .2}}, // as often far from the chip
			{weakKinds, []Cause{Chip}, []float64{.9, .1}},
		},
	},
	{
		// A chip whose output is stuck hard wins against the good one: no change is little evidence.
		Name: "piggy-back", Do: "clip a known good chip on top of {chip}: a change is evidence, none is little", Minutes: 8, Risk: 4, Caution: swapCaution, Lane: true,
		Outcomes: []Outcome{
			{"nothing changes", "piggyback=same", "a good chip clipped on the one of :BITS changes nothing"},
			{"the picture changes", "piggyback=changed", "a good chip clipped on the one of :BITS changes the picture"},
		},
		usual: []float64{.97, .03},
		rows:  []row{{nil, []Cause{Chip}, []float64{.55, .45}}},
	},
	{
		Name: "continuity", Do: "check {chip}'s pins for continuity to the other chips of its lane, power off", Minutes: 10, Risk: .5, Lane: true,
		Outcomes: []Outcome{
			{"all is connected", "continuity=good", "the lane of :BITS is connected throughout"},
			{"one is open", "continuity=open", "the lane of :BITS is open, or shorted to another"},
		},
		usual: []float64{.97, .03},
		rows: []row{
			{nil, []Cause{Track}, []float64{.12, .88}},
			{nil, []Cause{ChipSocket}, []float64{.4, .6}},
		},
	},
	{
		Name: "follow the lane", Do: "follow {bit} from {chip} through its buffer to {video} with an oscilloscope", Minutes: 14, Risk: 2, Lane: true,
		Outcomes: []Outcome{
			{"it is right all the way", "lane=right", "the lane of :BITS is right up to the video logic's pin"},
			{"it is wrong at the chip", "lane=chip", "the lane of :BITS is wrong at the memory chip already"},
			{"it goes wrong further on", "lane=behind", "the lane of :BITS goes wrong behind the chip"},
		},
		usual: []float64{.96, .02, .02},
		rows: []row{
			{nil, []Cause{Chip, ChipSocket}, []float64{.04, .93, .03}},
			{nil, []Cause{Track}, []float64{.1, .4, .5}},
			{nil, []Cause{Buffer}, []float64{.05, .05, .9}},
			{nil, []Cause{VideoChip, VideoSocket}, []float64{.92, .04, .04}},
		},
	},
	{
		Name: "chip tester", Do: "put {chip} into a chip tester, or another machine: a verdict of 'good' is weak evidence", Minutes: 9, Risk: 4, Caution: swapCaution, Lane: true, Socket: true,
		Outcomes: []Outcome{
			{"it is called good", "tester=pass", "a chip tester calls the chip of :BITS good"},
			{"it is called bad", "tester=fail", "a chip tester calls the chip of :BITS bad"},
		},
		usual: []float64{.97, .03},
		rows: []row{
			{weakKinds, []Cause{Chip}, []float64{.45, .55}},
			{nil, []Cause{Chip}, []float64{.15, .85}},
		},
	},
	{
		Name: "exchange with a neighbour", Do: "let {chip} and a neighbour change places where both are in sockets", Minutes: 9, Risk: 5, Caution: swapCaution, Lane: true, Socket: true,
		Outcomes: []Outcome{
			{"the fault stays at its bit", "moved=stayed", "chips of :BITS and a neighbour changed places: the fault stayed"},
			{"it goes with the chip", "moved=followed", "the fault went with the chip, which had been that of :BITS"},
		},
		usual: []float64{.97, .03},
		rows: []row{
			{nil, []Cause{Chip}, []float64{.03, .97}},
			{nil, []Cause{ChipSocket}, []float64{.9, .1}},
		},
	},
	{
		Name: "strobes", Do: "look at the strobes and the write line of the memory, which all lanes share, with an oscilloscope", Minutes: 10, Risk: 2,
		Outcomes: []Outcome{
			{"all are there", "strobes=good", "strobes and write line of the memory are right"},
			{"one is missing or weak", "strobes=bad", "a strobe or the write line is missing or weak"},
		},
		usual: []float64{.97, .03},
		rows: []row{
			{nil, []Cause{Strobes}, []float64{.1, .9}},
			{[]string{"cell-fetch", "supply-or-all-lanes"}, []Cause{VideoChip, VideoSocket}, []float64{.6, .4}},
		},
	},
	{
		Name: "refresh", Do: "look for refresh at the row address strobe, with an oscilloscope", Minutes: 10, Risk: 2,
		Outcomes: []Outcome{
			{"it is there", "refresh=good", "refresh comes at the row address strobe"},
			{"it is missing", "refresh=missing", "no refresh at the row address strobe"},
		},
		usual: []float64{.98, .02},
		rows:  []row{{[]string{"refresh-loss"}, []Cause{Strobes, VideoChip, Processor}, []float64{.08, .92}}},
	},
	{
		Name: socketsTest, Do: "look whether the chips are in sockets", Minutes: 1,
		Outcomes: []Outcome{
			{"they are", "sockets=yes", "memory and video-logic chips are in sockets"},
			{"they are soldered", "sockets=none", "they are soldered"},
		},
		usual: []float64{socketed, 1 - socketed},
		rows: []row{
			{nil, []Cause{ChipSocket, VideoSocket, GeneratorSocket, ProcessorSocket}, []float64{.85, .15}}, // a joint can fail as well
		},
	},
}
