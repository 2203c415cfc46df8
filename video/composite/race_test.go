//go:build race

package composite

// underRace says that the race detector slows every sample down some twentyfold.
const underRace = true
