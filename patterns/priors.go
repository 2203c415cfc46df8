package patterns

// What several rooms take for granted of machines on a bench, of good screens and of dead ones, as probabilities.

// Of good machines' screens, how many have it so. Common practice, no source.
const (
	BorderIsPaper = 0.6  // screens whose border has the paper's colour
	InkIsPaper    = 0.01 // cells whose ink is their paper on purpose
	EmptyScreen   = 0.01 // screens with nothing on them
	FillScreen    = 0.05 // screens that a memory test has filled with one byte
)

// CleanPrior is the probability that a machine's logic is good: half of those on a bench
// are there for their output, or repaired already. Common practice, no source.
const CleanPrior = 0.4

// GoodShown is the part of all captures that show a good machine: a faulty one is looked at time and again until it is repaired. Common practice, no source.
const GoodShown = 0.3

// OtherScreen is how often a capture shows another screen than its reference. Common practice, no source.
const OtherScreen = 0.02

// OtherDead is how often a dead picture has any one colour but black and the border's. Common practice, no source.
const OtherDead = 0.04 / 13

// DeadColour is how often a dead picture is black, and how often it has the border's colour: the rest is of OtherDead. Common practice, no source.
const DeadColour = 0.48

// PlainlyApart is what two pictures must say against a cell's being the good machine's for it to count at its word, nats. Common practice, no source.
const PlainlyApart = 8
