package patterns

// Cells of a Text display that change once and stay so.

// forGood tells of a cell that goes from one picture to the next and never back, but for fields about the change that were misread.
func (c *changed) forGood() bool {
	if c.Of < enoughTime || c.Pictures > fewPictures || c.Turns > c.Pictures+1 {
		return false
	}
	off := c.offStep()
	return c.Turns == c.Pictures-1 || off*misreadSteps <= c.Of && min(len(c.In), c.Of-len(c.In)) > 3*off
}

// offStep is how many fields go against the step at which they fit best.
func (c *changed) offStep() int {
	before := make([]int, c.Of+1) // fields of the other picture before each
	for _, k := range c.In {
		if k < c.Of {
			before[k+1]++
		}
	}
	for k := range c.Of {
		before[k+1] += before[k]
	}
	all, least := before[c.Of], c.Of
	for k, n := range before {
		late := n + (c.Of - k) - (all - n) // wrong where the other picture is the later one
		least = min(least, late, c.Of-late)
	}
	return least
}

// misreadSteps: of so many fields one may go against a step. Common practice, no source.
const misreadSteps = 16

// fewPictures are as many as the bits of a cell that decay one after the other make in a second or two.
const fewPictures = 5
