package judge

import (
	"fmt"
	"math"
	"slices"

	"backporch/analyse"
	"backporch/patterns"
	"backporch/patterns/nats"
	"backporch/video/display"
)

// What moves on a screen that stands still otherwise, by kind. Each function gives ln of the likelihood of the movement
// under its kind over that on a good machine, bounded by movedLimit, with the reason; nothing was measured
// where fields were too few, and then nothing is said.
//
// Counts of events have no one rate, neither on a good machine, where what is left of the subcarrier moves here and there, nor on
// a bad one: they are negative binomials, of a Poisson count whose rate is itself a gamma variate.

const movedLimit = 300.0

// anyCount is ln of the probability of n events whose number may be anything up to most: each power alike.
func anyCount(n, most int) float64 {
	return -math.Log(float64(n)+1) - math.Log(1+math.Log(float64(most)+1))
}

func bounded(odds float64) float64 { return math.Max(-8, math.Min(movedLimit, odds)) }

// motion is the survey's, nil where too few fields or bytes were followed to say anything.
func (e *evidence) motion() *analyse.Motion {
	m := e.s.Motion
	if m == nil || m.Fields < 6 || m.Bytes < 40 {
		return nil
	}
	if _, most := lanesMoving(m); most < soleLane && float64(m.Moving) > tooManyMoving*float64(m.Bytes) && (m.Rhythm > inTime && m.Turns >= fastTurns || m.Rhythm > inSlowTime && m.Steps*12 < m.Steps+m.Swings) {
		return nil // it is the subcarrier that moves
	}
	return m
}

// soleLane is the part of all bits' events that one lane takes at the least to be its own doing: the subcarrier moves whatever is drawn. Common practice, no source.
const soleLane = 0.75

// inTime is the part of all movement that is of one frequency from which on it is a beat and no memory's; inSlowTime the same for few turns, of which
// what decays has one. Common practice, no source.
const (
	inTime     = 0.6
	inSlowTime = 0.8
	fastTurns  = 4
)

// beside is what the good machine's capture shows of a count, over as many fields; 0 where nobody knows. The same screen has the same places
// for the subcarrier and for a codec to move.
func (e *evidence) beside(count func(*analyse.Motion) int) float64 {
	if e.good == nil || e.good.Fields < 6 || e.good.Bytes < 40 {
		return 0
	}
	return float64(count(e.good)) * float64(e.s.Motion.Fields) / float64(e.good.Fields)
}

// besideShape is the shape of counts about those of the good machine, whose device has its own noise and codec: they scatter by seven
// tenths. Common practice, no source.
const besideShape = 2

// usual is ln of the probability of a count on a good machine: about the mean, or about what the one beside it shows where that is more.
func (e *evidence) usual(count func(*analyse.Motion) int, mean, shape float64) float64 {
	if is := e.beside(count); is > mean {
		mean, shape = is, besideShape
	}
	return nats.NegativeBinomial(count(e.s.Motion), mean, shape)
}

// amidEven is what events amid even cells say for bytes that are read wrongly anywhere: a good machine's picture moves at edges and changes of hue, by what a decoder
// leaves of the subcarrier. None of them speaks against it, as far as half of those cells would show it.
func (e *evidence) amidEven() float64 {
	m := e.s.Motion
	if m.Evens < fewEvens {
		return 0
	}
	if m.Even == 0 {
		return -math.Log1p(0.5 * float64(m.Events) / float64(m.Bytes) * float64(m.Evens))
	}
	if arrhythmic(m) < 0 { // what is left of the subcarrier of a strong colour moves there as well
		return 0
	}
	return math.Max(0, math.Min(evenLimit, anyCount(m.Even, m.Evens*m.Fields)-e.usual(even, 0.5, 0.3)))
}

// arrhythmic is what the part of the movement that is of one frequency says for bytes that are hit at random, against a beat of the subcarrier. Of white noise the
// greatest of b bins has (ln b + 0.577)/b on the mean, for they are exponential variates (Johnson, Kotz and Balakrishnan, Continuous Univariate Distributions,
// chapter 19, from memory); a beat has seven tenths, as captures show. A beat also turns more often than chance would have it, where several of its turns fall
// between two fields. How far all of these scatter is common practice, no source.
func arrhythmic(m *analyse.Motion) (odds float64) {
	if bins := float64(m.Fields)/2 - 1; m.Rhythm > 0 && bins >= 3 {
		mean := (math.Log(bins) + 0.577) / bins
		odds = logBeta(m.Rhythm, 20*mean, 20*(1-mean)) - logBeta(m.Rhythm, 4.3, 1.7)
	}
	if m.Chance >= nats.LeastTurns && float64(m.Flips) > m.Chance {
		density := func(z, spread float64) float64 { return -z*z/2 - math.Log(spread) }
		turns, chance := math.Log(float64(m.Flips)/m.Chance), math.Hypot(turnsSpread, 1/math.Sqrt(m.Chance))
		odds += math.Max(-nats.LastingLimit, math.Min(0, density(turns/chance, chance)-density((turns-beatTurns)/beatTurns, beatTurns)))
	}
	return odds
}

// How far the turns of what comes by chance scatter about their number, and by how much those of a beat are more, ln. Common practice, no source.
const (
	turnsSpread = 0.015
	beatTurns   = 0.12
)

// fewEvens is of how many bytes in even cells nothing is said: cells of fine patterns may be taken for such. Common practice, no source.
const fewEvens = 600

// evenLimit is the most they say, nats: that something moves, and not what.
const evenLimit = 40.0

func even(m *analyse.Motion) int   { return m.Even }
func events(m *analyse.Motion) int { return m.Events }
func bursts(m *analyse.Motion) int { return m.Bursts }
func moving(m *analyse.Motion) int { return m.Moving }
func steps(m *analyse.Motion) int  { return m.Steps }
func eventsOf(bit int) func(*analyse.Motion) int {
	return func(m *analyse.Motion) int { return m.ByLane[bit] }
}

// unexplained adds to odds that are good what every event costs where nothing that moves is wrong: a byte that shows something
// else must then be written down.
func (e *evidence) unexplained(odds float64) float64 {
	if odds < 12 {
		return odds
	}
	return odds + eachEvent*math.Max(0, float64(e.s.Motion.Events)-e.beside(events))
}

// lanesMoving counts the data bits that take at least a quarter as many events as the one that takes most, and gives
// that one's share.
func lanesMoving(m *analyse.Motion) (lanes int, most float64) {
	total, top := inLanes(m), slices.Max(m.ByLane[:])
	for _, n := range m.ByLane {
		if 4*n >= top && n > 3 {
			lanes++
		}
	}
	return lanes, float64(top) / float64(max(total, 1))
}

// snowing weighs bytes that are wrong in single fields at scattered places.
func (e *evidence) snowing() (odds float64, why string) {
	m := e.motion()
	if m == nil || e.p.Kind != display.Attr {
		return -2, ""
	}
	odds = anyCount(m.Bursts, m.Bytes) - e.usual(bursts, 1.5, 0.4) + nats.Often(nats.OftenIn(m), nats.SnowOften) - math.Max(0, nats.Lasting(m)) + e.amidEven()
	if m.Bursts == 0 {
		odds = -5
	}
	// A byte is hit anew in each field: of those that move, as many move once as a Poisson count of that mean gives.
	rate := float64(m.Events) / float64(m.Bytes)
	once := 1.0 // where hits are seldom
	if rate > 0 {
		once = rate * math.Exp(-rate) / -math.Expm1(-rate)
	}
	if float64(m.Once) < 0.5*once*float64(m.Moving) {
		odds -= 8
	}
	if lanes, most := lanesMoving(m); m.Bursts > 10 && (lanes < 6 || most > 0.35) {
		return -8, "" // whole bytes go wrong in all lanes alike
	}
	return bounded(odds) - uneven(m.Once, m.Moving, once), fmt.Sprintf("%d bytes are wrong in three bits or more for one field of %d each, at scattered places", m.Bursts, m.Fields)
}

// uneven is what it costs, in nats, that more of the bytes that move do so once than the part that is due where all are hit alike: the divergence of the
// two (Kullback and Leibler, Annals of Mathematical Statistics 22, 1951, from memory), a tenth of it, for hits come together. Bounded.
func uneven(once, moving int, due float64) float64 {
	is := float64(once) / math.Max(1, float64(moving))
	if due = math.Max(due, 1e-6); is <= due || is >= 1 {
		return 0
	}
	divergence := is*math.Log(is/due) + (1-is)*math.Log((1-is)/(1-due))
	return math.Min(movedLimit/3, 0.1*float64(moving)*divergence)
}

// allMoving weighs most lanes going wrong all the time.
// explained tells that the movement is between two pictures and a fault makes the one of the other.
func (e *evidence) allMoving(explained bool) (odds float64, why string) {
	m := e.motion()
	if m == nil || e.p.Kind != display.Attr {
		return -1, ""
	}
	lanes, most := lanesMoving(m)
	part := math.Min(nats.MostPart, (float64(m.Moving)+0.5)/(float64(m.Bytes)+1))
	good := logBeta(part, 0.5, 15)
	if is := math.Min(nats.MostPart, e.beside(moving)/float64(m.Bytes)); is > 0.5/15.5 {
		good = logBeta(part, besideShape, besideShape*(1-is)/is)
	}
	odds = logBeta(part, 2, 1) - good + nats.Often(nats.OftenIn(m), nats.SupplyOften) - math.Max(0, nats.Lasting(m)) + e.amidEven() + arrhythmic(m)
	if (lanes < 3 || most > 0.6) && besides(m, busiest(m)) == 0 {
		return -8, ""
	}
	odds -= 4 * math.Max(0, float64(5-lanes)) // lanes that go the way of an empty screen don't show
	if share := float64(m.Once) / float64(max(1, m.Moving)); share > 0.5 {
		odds -= 6
	}
	if m.Steps*4 > m.Steps+m.Swings { // what decays stays so
		odds -= 6
	}
	if e.s.Other != nil { // as a whole, between two pictures, and never all lanes the same way twice
		if odds -= 8; explained {
			odds = math.Min(odds, 0)
		}
	}
	return bounded(odds), fmt.Sprintf("%d of %d bytes change over %d fields, in %d of 8 lanes", m.Moving, m.Bytes, m.Fields, lanes)
}

// laneMoving weighs one lane going wrong all over the screen, now here and now there.
func (e *evidence) laneMoving(bit int) float64 {
	m := e.motion()
	if m == nil || e.p.Kind != display.Attr {
		return 0
	}
	n, second := m.ByLane[bit], 0
	for lane, k := range m.ByLane {
		if lane != bit {
			second = max(second, k)
		}
	}
	least := 2 * second    // blur and a codec's blocks move the pixels beside
	if m.Rhythm > inTime { // and what is left of the subcarrier moves any
		least = 3 * (inLanes(m) - n)
	}
	if n < 20 || n < least || m.Rhythm > inSlowTime {
		return 0
	}
	odds := anyCount(n, 8*m.Bytes) - e.usual(eventsOf(bit), 5, 0.4) - math.Max(0, nats.Lasting(m)) + math.Min(0, arrhythmic(m))
	if m.Steps*4 > m.Steps+m.Swings { // what decays stays so
		odds -= 6
	}
	return math.Max(0, e.unexplained(bounded(odds-e.bunched(bit)))-eachEvent*float64(besides(m, bit)))
}

// eachEvent is what it costs, nats, to write down that a byte shows something else for a field. Common practice, no source.
const eachEvent = 3.0

// inLanes is how many times bits of any lane show another value.
func inLanes(m *analyse.Motion) (total int) {
	for _, n := range m.ByLane {
		total += n
	}
	return total
}

// logBeta is ln of a Beta density.
func logBeta(x, a, b float64) float64 {
	x = math.Min(math.Max(x, 1e-6), 1-1e-6)
	la, _ := math.Lgamma(a)
	lb, _ := math.Lgamma(b)
	lab, _ := math.Lgamma(a + b)
	return lab - la - lb + (a-1)*math.Log(x) + (b-1)*math.Log(1-x)
}

// decaying weighs bits that change once and stay, more and more of them; lane is the one that takes nearly all, or -1.
func (e *evidence) decaying() (odds float64, lane int, why string) {
	m := e.motion()
	if m == nil || e.p.Kind != display.Attr {
		return -1, -1, ""
	}
	lane = -1
	total := inLanes(m)
	for b, n := range m.ByLane {
		if float64(n) > 0.75*float64(total) {
			lane = b
		}
	}
	odds = anyCount(m.Steps, 8*m.Bytes) - e.usual(steps, 4, 0.3)
	share := (float64(m.Steps) + 0.5) / (float64(m.Steps+m.Swings) + 1)
	odds += logBeta(share, 2, 1.5) - logBeta(share, 0.5, 2)
	// Steps are seen where nothing else moves; that bits stay changed for a while is seen anywhere.
	if kept := nats.Lasting(m); kept > 0 {
		odds = math.Max(odds, bounded(anyCount(m.Moving, m.Bytes)-e.usual(moving, 5, 0.4)))
	} else {
		odds += kept
	}
	// Against what most fields show, the first and the last are apart.
	third := len(m.ByField) / 3
	ends, between := 0, 0
	for k, n := range m.ByField {
		if k < third/2 || k >= len(m.ByField)-third/2 {
			ends += n
		} else if k >= third && k < 2*third {
			between += n
		}
	}
	if ends <= between {
		odds -= 6
	}
	if m.Steps == 0 {
		odds = -3
	}
	if e.s.Other != nil {
		odds -= 8
	}
	why = fmt.Sprintf("%d bits change once and stay so, of %d that change within %d fields", m.Steps, m.Steps+m.Swings, m.Fields)
	if m.Steps*4 < m.Swings && odds > 0 {
		why = fmt.Sprintf("%d bytes change within %d fields, and stay so for a while: %d times they turn where chance would have it %.0f times", m.Moving, m.Fields, m.Flips, m.Chance)
	}
	rows := 0.0
	for b := range 8 {
		if lane < 0 && m.ByLane[b]*8 > total || lane == b {
			rows += e.byRows(b)
		}
	}
	if rows > 5 && float64(m.Flips) < 1.1*m.Chance { // else it is what the subcarrier leaves, which goes by what is drawn
		if n := e.rowsMoving(); n > 0 { // and what moves a little in some is no row's decay
			return bounded(odds) + rows, lane, fmt.Sprintf("what changes over time goes by rows of the chips, in %d of %d rows", n, 1<<e.p.RowBits)
		}
	}
	return bounded(odds), lane, why
}

// moving adds what the movement says to the hypotheses: those whose likelihood is as if the screen stood still.
// nothing is the likelihood of the screen on a good machine.
func (e *evidence) moving(list []patterns.Hypothesis, nothing float64) []patterns.Hypothesis {
	if e.p.Kind != display.Attr {
		return list
	}
	extend := func(f *patterns.Fault, odds float64, share float64, why ...string) {
		for i := range list { // as that kind was weighed already
			if h := &list[i]; h.Fault != nil && identity(h.Fault) == identity(f) {
				if odds += math.Max(0, h.Like-nothing); odds+nothing > h.Like {
					h.Like, h.Why = odds+nothing, append(why, h.Why...)
				}
				return
			}
		}
		list = append(list, patterns.Hypothesis{Fault: f, Prior: math.Log(patterns.KindOf(f.Kind).Prior * share), Like: nothing + odds, Why: why})
	}
	named := func(kind string) *patterns.Fault {
		k := patterns.KindOf(kind)
		return &patterns.Fault{Class: k.Class, Kind: k.Name}
	}
	odds, why := e.snowing()
	extend(named("cell-snow"), e.unexplained(odds), 1, why)
	between := e.comesAndGoes()
	odds, why = e.allMoving(len(between) > 0)
	odds = e.unexplained(odds)
	supply := odds
	if e.motion() != nil && odds < 5 { // it is never still
		for i := range list {
			if f := list[i].Fault; f != nil && f.Kind == "supply-or-all-lanes" {
				list[i].Like -= movedLimit
			}
		}
		odds = -movedLimit
	}
	extend(named("supply-or-all-lanes"), odds, 1, why)
	if columns, placed := e.byColumns(); e.motion() != nil && placed > nats.SurelyPlaced {
		m := e.motion()
		fetch := named("cell-fetch")
		fetch.Columns = columns
		// Fetches that fail now and then change bytes as often as a failing supply does, and amid even cells too; but all in these columns.
		often := math.Max(0, nats.Often(nats.OftenIn(m), nats.SupplyOften)+e.amidEven()+arrhythmic(m))
		odds = bounded(anyCount(m.Moving, m.Bytes)-e.usual(moving, 5, 0.4)+often) + placed - math.Max(0, nats.Lasting(m))
		extend(fetch, e.unexplained(odds), 0.25, fmt.Sprintf("%d bytes change over time, in the columns %s alone", m.Moving, columns))
	}
	odds, lane, why := e.decaying()
	refresh := named("refresh-loss")
	refresh.Lanes = []int{0, 1, 2, 3, 4, 5, 6, 7}
	if lane >= 0 {
		refresh.Lanes = []int{lane}
	}
	if lane < 0 {
		odds = e.unexplained(odds)
	} else if odds > 0 { // whatever speaks for the lane speaks for its decay too
		odds = math.Max(e.unexplained(odds), weakest(list, lane, nothing)-nothing+odds)
	}
	extend(refresh, odds, 0.5, why)
	for _, h := range between {
		if h.Fault.Kind == "supply-or-all-lanes" {
			continue
		}
		extend(h.Fault, h.Like, math.Exp(h.Prior)/patterns.KindOf(h.Fault.Kind).Prior, h.Why...)
	}
	if supply > 5 { // what is wrong in most lanes at once is no single lane
		for i := range list {
			if f := list[i].Fault; f != nil && f.Kind == "data-bit-weak" {
				list[i].Like -= supply
			}
		}
	}
	return list
}
