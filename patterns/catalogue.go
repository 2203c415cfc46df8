package patterns

// A Kind is an entry of the catalogue: one thing that can be wrong, how often it
// is before anything was seen, and what a repairer does about it. The kinds are identifiers: they stand in JSON.
type Kind struct {
	Name  string
	Class Class
	// Prior is the probability of this kind, all its particulars together, in a
	// machine that somebody put on the bench. Common practice, no source: of faulty machines
	// with a picture, memory comes first, then the signal path, then video logic.
	Prior float64
	Signs string
	// Tests settle it, cheapest first, each with its caution where it needs one.
	Tests []string
}

const (
	swapCaution  = "power off and discharge first; sockets and chips are static-sensitive"
	railsFirst   = "measure the supply rails before any chip is changed: with a missing rail memory is harmed by staying on"
	heatCaution  = "a suspect chip may be hot: touch with care"
	solderLast   = "unsolder only when the cheaper tests agree; hot air and solder fumes need ventilation"
	mainsCaution = "work on mains supplies or picture tubes is for those licensed for it"
)

var catalogue = []Kind{
	{Name: "no-signal", Class: Signal, Prior: 0.04,
		Signs: "the device shows its own picture, or noise: nothing it can lock to arrives",
		Tests: []string{
			"try the cable and the input with another machine or source, and check that the right input and standard are selected",
			"measure the supply rails at the machine before any chip (" + mainsCaution + ")",
			"look for sync at the video output with an oscilloscope: none there means video logic or its clock, sync there means the path to the device",
		}},
	{Name: "sync-weak", Class: Signal, Prior: 0.04,
		Signs: "the picture rolls, tears or jitters while its content is there",
		Tests: []string{
			"look at the lock status with another cable and another display",
			"measure sync at the output with 75 ohm connected: 300 mV (625/50) or 286 mV (525/60) below blanking",
			"check the output stage: coupling capacitor, series resistor, supply of the encoder",
		}},
	{Name: "noise", Class: Signal, Prior: 0.08,
		Signs: "grain everywhere, border and picture alike, different in every field",
		Tests: []string{
			"capture a good machine on the same cable and supply: the same noise there is the path's",
			"try another cable and check ground and the 75 ohm termination",
			"try another power supply (" + mainsCaution + ")",
		}},
	{Name: "data-bit-stuck", Class: RAMBit, Prior: 0.15,
		Signs: "one pixel column in eight wrong in every cell, and the same bit of every colour; border clean",
		Tests: []string{
			railsFirst,
			"feel and look at the lane's chip: wrong temperature, corroded legs; reseat it where it is in a socket (" + swapCaution + "; " + heatCaution + ")",
			"write the other value into the screen memory: a failed write and a stuck read part there",
			"clip a known good chip on top of the lane's: a change of the picture is evidence, none is not",
			"check the lane's track, buffer and multiplexer for continuity",
			"only then change the chip of the lane (" + solderLast + ")",
		}},
	{Name: "data-bit-weak", Class: RAMBit, Prior: 0.08,
		Signs: "one lane wrong at some addresses or some of the time",
		Tests: []string{
			railsFirst,
			"reseat the lane's chip where it is in a socket, and flex the board gently near it (" + swapCaution + ")",
			"cool, then warm the lane's chip alone and watch the count of wrong bits (" + heatCaution + ")",
			"clip a known good chip on top of the lane's: a change of the picture is evidence, none is not",
			"only then change the chip of the lane (" + solderLast + ")",
		}},
	{Name: "colour-path", Class: VideoLogic, Prior: 0.06,
		Signs: "one colour component missing or stuck in picture and border alike",
		Tests: []string{
			"look at the component's output of the video logic with an oscilloscope while the border changes colour",
			"reseat the video-logic chip and the encoder where they are in sockets (" + swapCaution + ")",
			"check the resistors and the track from the video logic to the encoder",
		}},
	{Name: "border-latch", Class: VideoLogic, Prior: 0.01,
		Signs: "the border has the wrong colour, the cells are right",
		Tests: []string{
			"write each border colour in turn and note those that come out wrong: one bit of the latch shows",
			"reseat the video-logic chip where it is in a socket (" + swapCaution + ")",
		}},
	{Name: "address-line-stuck", Class: RAMBit, Prior: 0.05,
		Signs: "memory shows what stands at the address with one line changed: the picture folds, bitmap and colours in different directions",
		Tests: []string{
			railsFirst,
			"write a counting pattern: bytes that are equal in pairs name the line",
			"compare the address lines at the multiplexer's inputs and outputs with an oscilloscope: good before and dead behind is the multiplexer or the track",
			"reseat the memory chips and the multiplexers where they are in sockets (" + swapCaution + ")",
			"one lane alone: check that chip's address pin and socket before the chip is changed (" + solderLast + ")",
		}},
	{Name: "row-dead", Class: RAMBit, Prior: 0.015,
		Signs: "one lane wrong at exactly the addresses that share a row of the chip",
		Tests: []string{
			railsFirst,
			"test that chip with a march test of rows in another machine or a tester; a verdict of 'good' is weak evidence",
			"only then change the chip of the lane (" + solderLast + ")",
		}},
	{Name: "column-dead", Class: RAMBit, Prior: 0.015,
		Signs: "one lane wrong at exactly the addresses that share a column of the chip",
		Tests: []string{
			railsFirst,
			"test that chip with a march test of columns in another machine or a tester; a verdict of 'good' is weak evidence",
			"only then change the chip of the lane (" + solderLast + ")",
		}},
	{Name: "refresh-loss", Class: RAMBit, Prior: 0.02,
		Signs: "bits decay after power-up, row by row",
		Tests: []string{
			railsFirst,
			"look for refresh at the row address strobe with an oscilloscope",
			"all lanes decay: the refresh's source or the multiplexer; one lane: that chip",
		}},
	{Name: "supply-or-all-lanes", Class: RAMBit, Prior: 0.03,
		Signs: "most lanes wrong at once, and not still",
		Tests: []string{
			"measure every supply rail at the memory, under load, before any chip: switch off at once where one is missing",
			"look at the strobes and the write line, which all lanes share, with an oscilloscope",
			"never change all the chips at once: what most lanes share is the cause",
		}},
	{Name: "cell-fetch", Class: VideoLogic, Prior: 0.02,
		Signs: "cells wrong by their place on the raster, all lanes alike, often flickering",
		Tests: []string{
			"reseat the video-logic chip where it is in a socket (" + swapCaution + ")",
			"cool, then warm the video-logic chip and watch (" + heatCaution + ")",
			"compare the strobes of the two fetches of a cell with an oscilloscope",
		}},
	{Name: "line-counter", Class: VideoLogic, Prior: 0.015,
		Signs: "picture lines repeated or missing in the raster's order, bitmap and colours alike",
		Tests: []string{
			"look at the line counter's outputs, or at the address lines during the picture, with an oscilloscope",
			"reseat the video-logic chip where it is in a socket (" + swapCaution + ")",
		}},
	{Name: "cell-snow", Class: VideoLogic, Prior: 0.015,
		Signs: "whole bytes wrong for single fields, at scattered cells",
		Tests: []string{
			railsFirst,
			"stop the processor and look again: snow that ends is the two sides meeting at the memory",
			"reseat the video-logic chip where it is in a socket (" + swapCaution + ")",
		}},
	{Name: "shift-register", Class: VideoLogic, Prior: 0.015,
		Signs: "the pixels of every cell wrong the same way while the colours hold",
		Tests: []string{
			"reseat the video-logic chip where it is in a socket (" + swapCaution + ")",
			"compare the serial output with the byte that was loaded, with an oscilloscope",
		}},
	{Name: "flash-dead", Class: VideoLogic, Prior: 0.005,
		Signs: "cells that should flash stand still",
		Tests: []string{
			"write colour bytes with bit 7 set and look for two seconds",
			"look at the flash counter's output with an oscilloscope",
		}},
	{Name: "character-generator", Class: VideoLogic, Prior: 0.03,
		Signs: "a code wrong wherever it stands, or the same column of every glyph, or two halves of the code table alike",
		Tests: []string{
			"write all codes on one screen and compare them with a good machine's",
			"reseat the character generator where it is in a socket (" + swapCaution + ")",
			"compare its address and data lines with an oscilloscope: good in and wrong out is the generator",
		}},
	{Name: "blank-picture", Class: VideoLogic, Prior: 0.04,
		Signs: "sync and border good, nothing drawn in the picture area",
		Tests: []string{
			"start the machine with a test ROM or type a key that must change the screen: a machine that answers by sound but not by picture has a video fault",
			"look at the video logic's picture enable and its memory request with an oscilloscope",
			"reseat the video-logic chip where it is in a socket (" + swapCaution + ")",
		}},
	{Name: "power-up-pattern", Class: CPUSide, Prior: 0.05,
		Signs: "a still picture of memory as it wakes, never written",
		Tests: []string{
			"look for clock and reset at the processor, then for activity on its address lines",
			"power up again: a pattern that changes each time is unwritten memory, one that stays is a line or a lane",
			"reseat the processor and the program ROM where they are in sockets (" + swapCaution + ")",
			"try a test ROM: it needs less of the machine to run",
		}},
}

// Catalogue lists the kinds of fault that the classifier knows.
func Catalogue() []Kind { return append([]Kind(nil), catalogue...) }

func kindOf(name string) *Kind {
	for i := range catalogue {
		if catalogue[i].Name == name {
			return &catalogue[i]
		}
	}
	return &Kind{Name: name, Class: Undetermined}
}
