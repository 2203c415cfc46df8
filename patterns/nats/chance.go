package nats

import (
	"math"

	"backporch/analyse"
)

// How often what moves does so, and whether by chance.

// A byte that snow hits shows it in one field of fifty or so, one that fails with its supply in one of five; each twice as often or half as often, mostly. Common
// practice, no source.
const (
	SnowOften   = 0.02
	SupplyOften = 0.2
	MostPart    = 0.95 // of the bytes: some can't be followed
)

// Often is ln of the density of the part of the fields in which what changes does so, about the usual one.
func Often(part, usual float64) float64 {
	z := math.Log(part/usual) / oftenSpread
	return -z * z / 2
}

// OftenIn is that part, of the bytes that change.
func OftenIn(m *analyse.Motion) float64 {
	return (float64(m.Events) + 0.5) / (float64(m.Moving) + 0.5) / float64(m.Fields)
}

// Lasting weighs, in nats, that what changes stays so for a while, as what decays does, over its changing by chance in each field: by how many
// turns there are of those that chance would make. It is 0 where that can't be told.
func Lasting(m *analyse.Motion) float64 {
	if m == nil || m.Chance < LeastTurns {
		return 0
	}
	density := func(z, spread float64) float64 { return -z*z/2 - math.Log(spread) }
	turns := math.Log((float64(m.Flips) + 0.5) / m.Chance)
	byChance := math.Hypot(chanceSpread, 1/math.Sqrt(m.Chance))
	odds := density((turns-math.Log(stayTurns))/staySpread, staySpread) - density(math.Max(-9, math.Min(0, turns))/byChance, byChance)
	return math.Max(-LastingLimit, math.Min(LastingLimit, odds))
}

// Bits that decay turn about a seventh as often as by chance, twice as often or half as often; by chance within a tenth of the expected. Common
// practice, no source.
const (
	LeastTurns   = 10
	stayTurns    = 0.15
	staySpread   = 0.7
	chanceSpread = 0.1
	LastingLimit = 60.0
	oftenSpread  = 0.7
)

// ByTurns tells whether what changes turns more often than chance has it, as between the two fields of a frame: no fault of the machine, which knows no
// such fields, does that.
func ByTurns(m *analyse.Motion) bool {
	return m != nil && m.Chance >= LeastTurns && float64(m.Flips) > m.Chance*(1+2*math.Hypot(chanceSpread, 1/math.Sqrt(m.Chance)))
}
