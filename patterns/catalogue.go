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
	// Tests of a fault of the signal path, cheapest first, each with its caution where it needs one; what to do about the
	// others is chosen from the bench tests.
	Tests []string
}

// MainsCaution goes with every test at a supply or a picture tube.
const MainsCaution = "work on mains supplies or picture tubes is for those licensed for it"

var catalogue = []Kind{
	{Name: "no-signal", Class: Signal, Prior: 0.04,
		Signs: "the device shows its own picture, or noise: nothing it can lock to arrives",
		Tests: []string{
			"try the cable and the input with another machine or source, and check that the right input and standard are selected",
			"measure the supply rails at the machine before any chip (" + MainsCaution + ")",
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
			"try another power supply (" + MainsCaution + ")",
		}},
	{Name: "data-bit-stuck", Class: RAMBit, Prior: 0.15,
		Signs: "one pixel column in eight wrong in every cell, and the same bit of every colour; border clean"},
	{Name: "data-bit-weak", Class: RAMBit, Prior: 0.08,
		Signs: "one lane wrong at some addresses or some of the time"},
	{Name: "colour-path", Class: VideoLogic, Prior: 0.06,
		Signs: "one colour component missing or stuck in picture and border alike"},
	{Name: "border-latch", Class: VideoLogic, Prior: 0.01,
		Signs: "the border has the wrong colour, the cells are right"},
	{Name: "address-line-stuck", Class: RAMBit, Prior: 0.05,
		Signs: "memory shows what stands at the address with one line changed: the picture folds, bitmap and colours in different directions"},
	{Name: "row-dead", Class: RAMBit, Prior: 0.015,
		Signs: "one lane wrong at exactly the addresses that share a row of the chip"},
	{Name: "column-dead", Class: RAMBit, Prior: 0.015,
		Signs: "one lane wrong at exactly the addresses that share a column of the chip"},
	{Name: "refresh-loss", Class: RAMBit, Prior: 0.02,
		Signs: "bits decay after power-up, row by row"},
	{Name: "supply-or-all-lanes", Class: RAMBit, Prior: 0.03,
		Signs: "most lanes wrong at once, and not still"},
	{Name: "cell-fetch", Class: VideoLogic, Prior: 0.02,
		Signs: "cells wrong by their place on the raster, all lanes alike, often flickering"},
	{Name: "line-counter", Class: VideoLogic, Prior: 0.015,
		Signs: "picture lines repeated or missing in the raster's order, bitmap and colours alike"},
	{Name: "cell-snow", Class: VideoLogic, Prior: 0.015,
		Signs: "whole bytes wrong for single fields, at scattered cells"},
	{Name: "shift-register", Class: VideoLogic, Prior: 0.015,
		Signs: "the pixels of every cell wrong the same way while the colours hold"},
	{Name: "flash-dead", Class: VideoLogic, Prior: 0.015,
		Signs: "cells that should flash stand still"},
	{Name: "character-generator", Class: VideoLogic, Prior: 0.03,
		Signs: "a code wrong wherever it stands, or the same column of every glyph, or two halves of the code table alike"},
	{Name: "blank-picture", Class: VideoLogic, Prior: 0.04,
		Signs: "sync and border good, nothing drawn in the picture area"},
	{Name: "power-up-pattern", Class: CPUSide, Prior: 0.05,
		Signs: "a still picture of memory as it wakes, never written"},
}

// Catalogue lists the kinds of fault that the classifier knows.
func Catalogue() []Kind { return append([]Kind(nil), catalogue...) }

// KindOf is the catalogue's entry of a name; of another name, one of class Undetermined.
func KindOf(name string) *Kind {
	for i := range catalogue {
		if catalogue[i].Name == name {
			return &catalogue[i]
		}
	}
	return &Kind{Name: name, Class: Undetermined}
}
