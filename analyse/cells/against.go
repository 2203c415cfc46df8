package cells

import (
	"cmp"
	"math"
	"math/bits"
	"slices"

	"gonum.org/v1/gonum/stat"

	"backporch/analyse"
	"backporch/video"
	"backporch/video/display"
)

// A capture of the same screen on a good machine names every colour: what the path does to all of them is then the map from
// those there to those here, cell by cell. The devices may be two, but are mostly one.
const (
	againstBlack, againstGain = 3.0, 0.045 // codes; of 1
	againstSize, againstHue   = 0.12, 2.5  // of 1; degrees
	otherBlack, otherGain     = 5.0, 0.06  // the same of another device than the good machine's
	otherSize, otherHue       = 0.2, 5.0   // each device's hue to 3.5 degrees
	otherSwitched             = 3.0        // where V changes sides
	otherCost                 = 1.5        // nats: that it is one
	cellY, mixedY             = 0.018, 0.05
	cellC, flatC              = 0.012, 0.008 // scatter of chroma, and that where no stroke and no other colour is near: two codes
	cellSize, flatSize        = 0.12, 0.06   // what of it grows with the colour: of its size
	cellTurn, flatTurn        = 0.06, 0.03   // and of its hue
	besideC                   = 0.015        // where other colours are beside
	manyCells                 = 50           // of which a mean has nothing of strokes or neighbours by chance
	mostGroups                = 24
	likeReference             = 0.5 // of the cells must be as the best of the kinds has them, or it is another screen
)

// Against weighs what is wrong with all colours by a good machine's capture of the same screen; nil where the two cannot be compared. It weighs each
// of the signals that a display makes colour of held as well, and each lane of the memory that holds the colours, set against the path's doings.
func Against(here, good *analyse.Survey, p *display.Profile) (fits []analyse.ColourFit, components []analyse.Component, lanes []analyse.HeldLane) {
	if here == nil || good == nil || !here.Registration.OK || !good.Registration.OK || here.Stack == nil || good.Stack == nil ||
		len(good.Cells) != p.Rows()*p.Columns() || good.Stack.ChromaWidth == 0 {
		return nil, nil, nil
	}
	type pair struct {
		a, b side
		cell *analyse.Cell // the good machine's; nil: of the border
	}
	var own, theirLuma []float64 // luma of the cells
	groups := map[[4]int][]pair{}
	reg := here.Registration
	colour := here.Stack.ChromaWidth > 0
	add := func(a, b side, mixed int, cell *analyse.Cell) {
		k := [4]int{int(math.Round(b.y / 14)), int(math.Round(b.cb / 16)), int(math.Round(b.cr / 16)), mixed}
		groups[k] = append(groups[k], pair{a, b, cell})
	}
	one := mainColours(good)
	means := make([]side, len(good.Cells)) // the good machine's
	known := make([]bool, len(good.Cells))
	for i := range good.Cells {
		means[i], known[i] = cellMean(good.Stack, good.Registration, good.Cells[i].Column, good.Cells[i].Row)
	}
	for i := range good.Cells {
		c := &good.Cells[i]
		a, ok := cellMean(here.Stack, reg, c.Column, c.Row)
		if c.Flash || !ok || !known[i] {
			continue
		}
		own, theirLuma = append(own, a.y), append(theirLuma, means[i].y)
		switch b := means[i]; {
		case c.Single && !calmBeside(means, i, p.Columns()):
			add(a, b, besideOthers, c)
		case c.Single:
			add(a, b, 0, c)
		case fine(c):
			add(a, b, 2, c)
		case c.Paper == one.paper: // together, by their luma
			k := [4]int{int(math.Round(b.y / 14)), 0, 0, oneInk}
			groups[k] = append(groups[k], pair{a, b, c})
		default:
			add(a, b, 1, c)
		}
	}
	if !alikeDrawn(own, theirLuma) {
		return nil, nil, nil
	}
	ours, theirs := borderSides(here.Stack, reg, p), borderSides(good.Stack, good.Registration, p)
	if len(ours) == len(theirs) {
		for i := range ours {
			for range 4 {
				add(ours[i], theirs[i], ofBorder, nil) // by itself: no lane reaches it
			}
		}
	}
	keys := make([][4]int, 0, len(groups))
	for k, list := range groups {
		if len(list) >= 3 {
			keys = append(keys, k)
		}
	}
	slices.SortFunc(keys, func(a, b [4]int) int {
		if (a[3] == ofBorder) != (b[3] == ofBorder) {
			if a[3] == ofBorder {
				return -1
			}
			return 1
		}
		if d := cmp.Compare(len(groups[b]), len(groups[a])); d != 0 {
			return d
		}
		return slices.Compare(a[:], b[:])
	})
	keys = keys[:min(len(keys), mostGroups)]
	// The good machine's own levels are taken off, so that an amount stands to white.
	gain := (good.Levels.White - good.Levels.Black) / 219
	if !(gain > 0.5 && gain < 1.6) {
		return nil, nil, nil
	}
	w := scene{believe: []believed{{transform{16, 1, 1, 0}, againstBlack, againstGain, againstSize, againstHue, 0}}}
	hue := otherHue
	if p.Standard == video.Std625 {
		hue = otherSwitched
	}
	var others []believed // another device, of one range of codes or the other
	for _, full := range [2]bool{false, true} {
		b := believed{transform{16, 1, 1 / gain, 0}, otherBlack, otherGain, otherSize, hue, otherCost}
		if full {
			b.centre = transform{0, 255.0 / 219, 255.0 / 224 / gain, 0}
		}
		if full != good.Levels.Full {
			b.cost += fullCost + 0.5 // two devices of one bench are mostly set alike
		}
		others = append(others, b)
	}
	w.believe = append(w.believe, otherRange(good.Levels, gain))
	for _, b := range setups(others, p) {
		b.centre.black, b.centre.gain = 16+(b.centre.black-good.Levels.Black)/gain, b.centre.gain/gain
		w.believe = append(w.believe, b)
	}
	plain := func(s side) (y, cb, cr float64) {
		return 16 + (s.y-good.Levels.Black)/gain, 128 + (s.cb-128)/gain, 128 + (s.cr-128)/gain
	}
	var cells []float64
	shifted := make([][]video.YUV, 2*colourLanes(p)) // the targets with a lane of the colours held
	primary := make([][]video.YUV, 2*len(primaries)) // and, of displays of colour cells, with a component held
	bright := usualBrightness(good)
	borders := otherBorders(good.Border.Colour, p)
	latched := make([][]video.YUV, len(borders)) // and with another border
	for _, k := range keys {
		list := groups[k]
		middle := func(f func(pair) float64) float64 {
			v := make([]float64, len(list))
			for i, q := range list {
				v[i] = f(q)
			}
			if k[3] == oneInk {
				return stat.Mean(v, nil)
			}
			slices.Sort(v)
			return (v[(len(v)-1)/2] + v[len(v)/2]) / 2
		}
		a := side{middle(func(q pair) float64 { return q.a.y }), middle(func(q pair) float64 { return q.a.cb }), middle(func(q pair) float64 { return q.a.cr })}
		b := side{middle(func(q pair) float64 { return q.b.y }), middle(func(q pair) float64 { return q.b.cb }), middle(func(q pair) float64 { return q.b.cr })}
		var members []*analyse.Cell
		for _, q := range list {
			if q.cell != nil {
				members = append(members, q.cell)
			}
		}
		own := sightOf(a.y, a.cb, a.cr) // which of them are at an end of the codes
		s := sightOf(plain(a))
		s.low, s.high, s.cutU, s.cutV = own.low, own.high, own.cutU, own.cutV
		target := video.YUVOfCodes(plain(b))
		s.chroma, s.target, s.whole = colour, len(w.palette), k[3] == ofBorder
		s.sy, s.sc, s.size, s.turn = cellY, flatC, flatSize, flatTurn
		s.tails = k[3] != ofBorder && len(list) < manyCells
		s.meanY, s.meanC = s.sy, s.sc
		if atGamutsEdge(a) || atGamutsEdge(b) {
			s.sy, s.size, s.turn = s.sy+cutY, s.size+cutSize, s.turn+cutTurn
			s.meanY = s.sy
		}
		switch k[3] {
		case 0, ofBorder:
		case besideOthers:
			s.sc, s.meanC, s.size, s.turn = besideC, besideC, cellSize, cellTurn
		default:
			n := math.Sqrt(float64(drawings(members)))
			s.sy, s.sc, s.size, s.turn = mixedY, cellC, cellSize, cellTurn
			s.meanY, s.meanC = math.Hypot(cellY, mixedY/n), math.Hypot(flatC, cellC/n)
		}
		if k[3] == 2 {
			s.chroma = false
		}
		// Cells that were one colour there and are many here are another fault's.
		apart := func(f func(pair) float64) float64 {
			centre := middle(f)
			d := middle(func(q pair) float64 { return math.Abs(f(q) - centre) }) / 219
			if k[3] == oneInk { // that of their mean
				d *= math.Sqrt(math.Pi / 2 / float64(len(list)))
			}
			return d
		}
		y, c := apart(func(q pair) float64 { return q.a.y }), math.Hypot(apart(func(q pair) float64 { return q.a.cb }), apart(func(q pair) float64 { return q.a.cr }))
		s.sy, s.meanY, s.sc, s.meanC = math.Hypot(s.sy, y), math.Hypot(s.meanY, y), math.Hypot(s.sc, c), math.Hypot(s.meanC, c)
		w.sights = append(w.sights, s)
		w.palette = append(w.palette, target)
		w.common = append(w.common, 0)
		w.blends = append(w.blends, blendOf(members, good, p, gain))
		cells = append(cells, float64(len(list)))
		for i := range shifted {
			t := target
			for _, q := range list {
				if q.cell != nil {
					d := laneShift(q.cell, p, i/2, i%2)
					n := float64(len(list))
					t.Y, t.U, t.V = t.Y+d.Y/n, t.U+d.U/n*good.Levels.Saturation/gain, t.V+d.V/n*good.Levels.Saturation/gain
				}
			}
			shifted[i] = append(shifted[i], t)
		}
		for i := range primary {
			t := target
			for _, q := range list {
				d := componentShift(q.cell, good.Border.Colour, p, i/2, i%2, bright)
				n := float64(len(list))
				t.Y, t.U, t.V = t.Y+d.Y/n, t.U+d.U/n*good.Levels.Saturation/gain, t.V+d.V/n*good.Levels.Saturation/gain
			}
			primary[i] = append(primary[i], t)
		}
		for i, to := range borders {
			t := target
			if k[3] == ofBorder {
				d := shiftTo(&analyse.Cell{Single: true, Paper: good.Border.Colour}, p, 0, to)
				t.Y, t.U, t.V = t.Y+d.Y, t.U+d.U*good.Levels.Saturation/gain, t.V+d.V*good.Levels.Saturation/gain
			}
			latched[i] = append(latched[i], t)
		}
	}
	if code, theirs := blankingCode(here.Stack), blankingCode(good.Stack); p.Standard == video.Std625 && !math.IsNaN(code) && !math.IsNaN(theirs) {
		lists := [][][]video.YUV{shifted, primary, latched}
		w.addBlanking(plain, code, theirs, lists)
		cells = append(cells, 1)
	}
	var logic [][]video.YUV // the colours that each fault of the logic leaves of the targets
	for _, change := range heldMaps(p) {
		held := make([]video.YUV, len(w.palette))
		for j, c := range w.palette {
			held[j] = change(c)
		}
		logic = append(logic, held)
	}
	if p.Kind == display.Attr {
		logic = append(logic, primary...)
	}
	held := len(logic)
	logic = append(append(logic, shifted...), latched...)
	kinds := w.weigh(colour)
	if !w.agree(kinds, logic, cells) {
		return nil, nil, nil
	}
	lane := func(i int) bool { return i >= held && i < held+len(shifted) }
	gains, _, path := w.logicBeside(kinds, logic, lane)
	lanewise := gains[held : held+len(shifted)]
	likeliest := slices.Max(lanewise)
	for i, gain := range gains[:held] {
		name := signals[i/2]
		if p.Kind == display.Attr {
			name = primaries[i/2]
		}
		if gain < likeliest { // a lane of the colours explains them as well: which of both it is only the cells tell, one by one
			gain = math.Min(gain, surelyHeld)
		}
		components = append(components, analyse.Component{Name: name, Level: i % 2, Gain: gain - path, Beside: true})
	}
	for i, gain := range lanewise {
		lanes = append(lanes, analyse.HeldLane{Bit: i / 2, Level: i % 2, Gain: gain - path})
	}
	// The path's doings are like each other in all but their sizes, and told by these: where the captures bear it out, by less than they usually scatter.
	w.finer = finenesses
	kinds = w.weigh(colour)
	_, away, _ := w.logicBeside(kinds, logic, lane)
	for _, k := range kinds {
		fits = append(fits, k.fit)
	}
	grey := !slices.ContainsFunc(w.palette, func(c video.YUV) bool { return c.Saturation() > greyTarget })
	for i := range fits {
		fits[i].Gain -= away
		if fits[i].Kind == "hue-shift" && grey { // what strokes leave of colour has any hue
			fits[i].Gain = math.Min(fits[i].Gain, 0)
		}
		if fits[i].Kind == "colour-lost" && grey { // the good machine shows none either
			fits[i].Gain = math.Min(fits[i].Gain, 0) - deadGain
			continue
		}
		if fits[i].Kind == "colour-lost" && here.Signal.ChromaDead { // the device keeps chroma off for good machines too, or does not
			if good.Signal.ChromaDead {
				fits[i].Gain -= deadGain
			} else {
				fits[i].Gain += deadGain / 2
			}
		}
	}
	return fits, components, lanes
}

// addBlanking adds the level of blanking to the sights, which in 625/50 is black's: it tells the range of codes, and what is added to all of them, where nothing on the
// screen is black. No fault of the logic changes it; lists are the targets under these.
func (w *scene) addBlanking(plain func(side) (y, cb, cr float64), code, good float64, lists [][][]video.YUV) {
	s := sightOf(plain(side{code, 128, 128}))
	s.low, s.high = code < 1.5, false
	s.target, s.sy = len(w.palette), math.Hypot(cellY, blankingSpread/219)
	s.meanY, s.sc, s.size, s.turn, s.meanC = s.sy, flatC, flatSize, flatTurn, flatC
	target := video.YUVOfCodes(plain(side{good, 128, 128}))
	w.sights, w.palette = append(w.sights, s), append(w.palette, target)
	w.common, w.blends = append(w.common, 0), append(w.blends, blend{})
	for _, list := range lists {
		for i := range list {
			list[i] = append(list[i], target)
		}
	}
}

// blankingSpread is how far off black a device's blanking may be, codes. Common practice, no source.
const blankingSpread = 3.0

// logicBeside weighs faults of the logic, of which some are lanes, beside the path's doings. What one of them explains as well is the logic's,
// by away: common practice has it as likely as a tenth of the path's doing.
func (w *scene) logicBeside(kinds []judged, logic [][]video.YUV, lane func(i int) bool) (gains []float64, away, path float64) {
	unchanged, _ := w.like(unaltered)
	for _, k := range kinds {
		path = addLog(path, k.fit.Gain+math.Log(pathShare))
	}
	for i, targets := range logic {
		gain, _ := w.likeShowing(targets)
		gain = math.Max(gain-unchanged, -gainLimit)
		if !lane(i) || gain+math.Log(heldShare) > path { // what a lane does is read off each cell, if the path does not seem likelier
			away = addLog(away, gain+math.Log(heldShare))
		}
		gains = append(gains, gain)
	}
	return gains, away, path
}

// oneInk marks groups of cells that are drawn with mostly one pair of colours. What strokes put into chroma has another hue from one pattern to the
// next, and in another capture another again: cells put together by the hue that they happen to show would lie aside by that, those of a
// pair of colours do so in the mean only.
const oneInk = 3

// ofBorder marks those of the border, besideOthers those of one colour that stand beside another, of which chroma runs into them.
const ofBorder, besideOthers = 4, 5

// deadGain is what a good machine's chroma says of a capture without any, nats.
const deadGain = 5.0

// greyTarget is the chroma, of white, below which a colour is a grey.
const greyTarget = 0.05

// heldShare is how likely each of six held signals is against a path where nothing is wrong.
const heldShare = 0.003

// heldMaps are the maps of a Text display's colours with one signal at nothing or at its greatest; none of displays whose colours have components.
func heldMaps(p *display.Profile) []func(video.YUV) video.YUV {
	var out []func(video.YUV) video.YUV
	if p.Kind != display.Text {
		return nil
	}
	for _, name := range signals {
		for level := range 2 {
			out = append(out, func(c video.YUV) video.YUV { return holding(p, name, level, c) })
		}
	}
	return out
}

// fine tells whether a cell's pixels alternate as fast as the subcarrier does, which a decoder takes for chroma: of any hue, for machine and
// subcarrier run apart.
func fine(c *analyse.Cell) bool {
	turns := 0
	for _, b := range c.Bits {
		turns += bits.OnesCount8((b ^ b<<1) &^ 1)
	}
	return turns > 8*3
}

// unaltered leaves colours as they are.
func unaltered(c video.YUV) video.YUV { return c }

// agree tells whether most cells are what the likeliest of the kinds, a held signal, or a good path, makes of the reference's.
func (w *scene) agree(kinds []judged, held [][]video.YUV, cells []float64) bool {
	best, shown := 0.0, w.palette
	for _, k := range kinds {
		if k.fit.Gain > best {
			best, shown = k.fit.Gain, w.changed(k.best)
		}
	}
	unchanged, _ := w.like(unaltered)
	for _, h := range held {
		if gain, _ := w.likeShowing(h); gain-unchanged > best {
			best, shown = gain-unchanged, h
		}
	}
	_, t := w.likeShowing(shown)
	alike, all := 0.0, 0.0
	for i := range w.sights {
		s := &w.sights[i]
		all += cells[i]
		if s.fits(t.shown(shown[s.target]), unsent{}) > s.odd() {
			alike += cells[i]
		}
	}
	return alike > likeReference*all
}
