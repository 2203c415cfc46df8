package patterns

import (
	"math"

	"backporch/analyse"
)

// How often what moves does so, and whether by chance.

// A byte that snow hits shows it in one field of fifty or so, one that fails with its supply in one of five; each twice as often or half as often, mostly. Common
// practice, no source.
const (
	snowOften   = 0.02
	supplyOften = 0.2
	mostPart    = 0.95 // of the bytes: some can't be followed
)

// often is ln of the density of the part of the fields in which what changes does so, about the usual one.
func often(part, usual float64) float64 {
	z := math.Log(part/usual) / oftenSpread
	return -z * z / 2
}

// oftenIn is that part, of the bytes that change.
func oftenIn(m *analyse.Motion) float64 {
	return (float64(m.Events) + 0.5) / (float64(m.Moving) + 0.5) / float64(m.Fields)
}

// lasting weighs, in nats, that what changes stays so for a while, as what decays does, over its changing by chance in each field: by how many
// turns there are of those that chance would make. It is 0 where that can't be told.
func lasting(m *analyse.Motion) float64 {
	if m == nil || m.Chance < leastTurns {
		return 0
	}
	density := func(z, spread float64) float64 { return -z*z/2 - math.Log(spread) }
	turns := math.Log((float64(m.Flips) + 0.5) / m.Chance)
	byChance := math.Hypot(chanceSpread, 1/math.Sqrt(m.Chance))
	odds := density((turns-math.Log(stayTurns))/staySpread, staySpread) - density(math.Max(-9, math.Min(0, turns))/byChance, byChance)
	return math.Max(-lastingLimit, math.Min(lastingLimit, odds))
}

// Bits that decay turn about a seventh as often as by chance, twice as often or half as often; by chance within a tenth of the expected. Common
// practice, no source.
const (
	leastTurns   = 10
	stayTurns    = 0.15
	staySpread   = 0.7
	chanceSpread = 0.1
	lastingLimit = 60.0
	oftenSpread  = 0.7
)

// byTurns tells whether what changes turns more often than chance has it, as between the two fields of a frame: no fault of the machine, which knows no
// such fields, does that.
func byTurns(m *analyse.Motion) bool {
	return m != nil && m.Chance >= leastTurns && float64(m.Flips) > m.Chance*(1+2*math.Hypot(chanceSpread, 1/math.Sqrt(m.Chance)))
}
