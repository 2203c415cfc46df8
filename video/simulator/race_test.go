//go:build race

package simulator

// underRace says that the race detector slows every sample down some twentyfold.
const underRace = true
