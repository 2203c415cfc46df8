package workbench

import (
	"backporch/patterns"
)

// A Cause is a place that can hold a fault: what is replaced, put right or set otherwise.
type Cause = patterns.Cause

// The causes.
const (
	Chip            Cause = "chip"             // the lane's memory chip
	ChipSocket      Cause = "chip-socket"      // its socket, or the joint below it
	Track           Cause = "track"            // a track or joint further on
	Buffer          Cause = "buffer"           // the data buffer or latch of the lane
	Multiplexer     Cause = "multiplexer"      // of the memory's address
	Strobes         Cause = "strobes"          // strobes, write line and refresh, with what makes them
	VideoChip       Cause = "video-logic"      // the video-logic chip
	VideoSocket     Cause = "video-socket"     // its socket
	Generator       Cause = "generator"        // the character generator
	GeneratorSocket Cause = "generator-socket" // its socket
	Processor       Cause = "processor"
	Program         Cause = "program"       // the program ROM
	ProcessorSocket Cause = "cpu-socket"    // of processor or program ROM
	Clock           Cause = "clock"         // the processor's clock or reset
	Written         Cause = "written"       // a program wrote it so
	Rails           Cause = "supply"        // supply rails and their decoupling
	Output          Cause = "output"        // encoder, amplifier, what leads to the connector
	Path            Cause = "path"          // cable, connectors, termination
	Device          Cause = "device"        // the capture device, its input and controls
	Surroundings    Cause = "surroundings"  // what is near and couples in
	Nothing         Cause = "nothing-wrong" // no fault
)

// A share is how often a cause holds a fault of a kind.
type share struct {
	cause Cause
	part  float64
}

// causeShares, by kind; "KIND/lanes" holds where all lanes are struck. Common practice, no source: a chip fails more often
// than what carries it; contacts come next; a row, a column or a decoder is inside a chip; a pin behind the multiplexer is its
// output, the track or the bus.
var causeShares = map[string][]share{
	"data-bit-stuck":           {{Chip, .58}, {ChipSocket, .12}, {Track, .10}, {Buffer, .10}, {VideoChip, .05}, {VideoSocket, .03}, {Rails, .02}},
	"data-bit-weak":            {{Chip, .55}, {ChipSocket, .18}, {Track, .08}, {Buffer, .05}, {VideoChip, .03}, {VideoSocket, .04}, {Rails, .07}},
	"address-line-stuck":       {{Chip, .60}, {ChipSocket, .22}, {Track, .18}},
	"address-line-stuck/lanes": {{Multiplexer, .50}, {Track, .16}, {ChipSocket, .04}, {VideoChip, .16}, {VideoSocket, .10}, {Rails, .04}},
	"row-dead":                 {{Chip, .96}, {Rails, .04}},
	"column-dead":              {{Chip, .97}, {Rails, .03}},
	"refresh-loss":             {{Chip, .80}, {ChipSocket, .08}, {Rails, .12}},
	"refresh-loss/lanes":       {{Strobes, .45}, {Multiplexer, .20}, {Rails, .20}, {VideoChip, .10}, {Processor, .05}},
	"supply-or-all-lanes":      {{Rails, .60}, {Strobes, .25}, {Multiplexer, .08}, {VideoChip, .04}, {VideoSocket, .03}},

	"colour-path":         {{VideoChip, .38}, {VideoSocket, .14}, {Track, .18}, {Output, .30}},
	"border-latch":        {{VideoChip, .76}, {VideoSocket, .14}, {Written, .10}},
	"cell-fetch":          {{VideoChip, .58}, {VideoSocket, .17}, {Strobes, .15}, {Rails, .10}},
	"line-counter":        {{VideoChip, .72}, {VideoSocket, .16}, {Track, .12}},
	"cell-snow":           {{VideoChip, .38}, {Written, .20}, {VideoSocket, .15}, {Rails, .15}, {Strobes, .12}},
	"shift-register":      {{VideoChip, .80}, {VideoSocket, .16}, {Rails, .04}},
	"flash-dead":          {{VideoChip, .75}, {VideoSocket, .10}, {Written, .15}},
	"character-generator": {{Generator, .62}, {GeneratorSocket, .20}, {Track, .15}, {Rails, .03}},
	"blank-picture":       {{VideoChip, .42}, {VideoSocket, .12}, {Track, .06}, {Processor, .10}, {Program, .10}, {Clock, .10}, {Rails, .10}},
	"power-up-pattern":    {{Processor, .24}, {Program, .24}, {Clock, .24}, {ProcessorSocket, .14}, {Rails, .08}, {Track, .06}},

	"no-signal":     {{Path, .32}, {Device, .20}, {VideoChip, .14}, {VideoSocket, .06}, {Output, .13}, {Rails, .15}},
	"sync-weak":     {{Output, .38}, {Path, .24}, {Device, .16}, {VideoChip, .12}, {VideoSocket, .04}, {Rails, .06}},
	"noise":         {{Path, .32}, {Output, .26}, {Rails, .28}, {Device, .10}, {Surroundings, .04}},
	"hum":           {{Rails, .58}, {Path, .30}, {Output, .12}},
	"ringing":       {{Path, .50}, {Output, .50}},
	"low-bandwidth": {{Output, .55}, {Path, .35}, {Device, .10}},
	"ghost":         {{Path, .80}, {Output, .20}},
	"fixed-bars":    {{Output, .50}, {Rails, .38}, {Device, .12}},
	"interference":  {{Rails, .34}, {Output, .32}, {Path, .12}, {Surroundings, .22}},
	"colour-lost":   {{Device, .35}, {Output, .38}, {VideoChip, .15}, {VideoSocket, .04}, {Path, .08}},
	"hue-shift":     {{Device, .50}, {Output, .50}},
	"level-high":    {{Path, .50}, {Output, .38}, {Device, .12}},
	"level-low":     {{Output, .48}, {Path, .36}, {Device, .16}},
	"clipping":      {{Output, .60}, {Device, .25}, {Rails, .15}},
}

// causesOf are the causes of a fault with their shares; of no fault, Nothing.
func causesOf(f *patterns.Fault) []share {
	if f == nil {
		return []share{{Nothing, 1}}
	}
	if list, ok := causeShares[f.Kind+"/lanes"]; ok && f.Bit == nil && len(f.Lanes) != 1 {
		return list
	}
	if list, ok := causeShares[f.Kind]; ok {
		return list
	}
	return []share{{Nothing, 1}} // a kind without an entry: no bench test bears on it
}

// places is a set of lanes: bits 0 to 7 of the screen memory, and the colour memory as one.
type places uint16

const (
	colourMemory places = 1 << 8
	screenLanes  places = 0xff
)

// struck are the lanes that a fault of the memory strikes; none for other faults.
func struck(f *patterns.Fault) places {
	switch {
	case f == nil || f.Class != patterns.RAMBit:
		return 0
	case f.Memory == "colour":
		return colourMemory
	case f.Bit != nil:
		return 1 << *f.Bit
	case len(f.Lanes) == 0:
		return screenLanes
	}
	var p places
	for _, bit := range f.Lanes {
		p |= 1 << bit
	}
	return p
}

// say names a cause of a fault, with the part's designator where the map has it.
func say(c Cause, f *patterns.Fault, b *Board) string {
	named := func(what, part string) string {
		if part == "" {
			return what
		}
		return what + " " + part
	}
	if b == nil {
		b = &Board{}
	}
	switch c {
	case Chip:
		return named("the memory chip", b.Part(chipOnly(f)))
	case ChipSocket:
		return "the chip's socket or joint"
	case Track:
		return "a track or joint"
	case Buffer:
		return "the data buffer"
	case Multiplexer:
		return named("the multiplexer", b.Multiplexer)
	case Strobes:
		return "the strobes and refresh"
	case VideoChip:
		return named("the video logic", b.VideoLogic)
	case VideoSocket:
		return "the video logic's socket"
	case Generator:
		return named("the character generator", b.CharacterGenerator)
	case GeneratorSocket:
		return "the generator's socket"
	case Processor:
		return "the processor"
	case Program:
		return "the program ROM"
	case ProcessorSocket:
		return "the socket of processor or ROM"
	case Clock:
		return "clock or reset"
	case Written:
		return "what the program wrote"
	case Rails:
		return "the supply"
	case Output:
		return named("the output stage", b.ColourOutput)
	case Path:
		return "cable or termination"
	case Device:
		return "the capture device"
	case Surroundings:
		return "something near"
	}
	return "nothing wrong"
}

// chipOnly is a fault as one that points at a lane's chip.
func chipOnly(f *patterns.Fault) patterns.Fault {
	if f == nil || struck(f) == screenLanes {
		return patterns.Fault{}
	}
	return patterns.Fault{Class: patterns.RAMBit, Bit: f.Bit, Lanes: f.Lanes, Memory: f.Memory}
}
