package patterns

// What several rooms take for granted of machines on a bench, of good screens and of dead ones, as probabilities.

// Of good machines' screens, how many have it so. Common practice, no source.
const (
	borderIsPaper = 0.6  // screens whose border has the paper's colour
	inkIsPaper    = 0.01 // cells whose ink is their paper on purpose
	emptyScreen   = 0.01 // screens with nothing on them
	fillScreen    = 0.05 // screens that a memory test has filled with one byte
)

// cleanPrior is the probability that a machine's logic is good: half of those on a bench
// are there for their output, or repaired already. Common practice, no source.
const cleanPrior = 0.4

// otherScreen is how often a capture shows another screen than its reference. Common practice, no source.
const otherScreen = 0.02

// otherDead is how often a dead picture has any one colour but black and the border's. Common practice, no source.
const otherDead = 0.04 / 13

// plainlyApart is what two pictures must say against a cell's being the good machine's for it to count at its word, nats. Common practice, no source.
const plainlyApart = 8
