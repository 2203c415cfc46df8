package signal

import (
	"math"
	"slices"

	"backporch/video/display"
)

// A colourGrid is the distribution of turn, saturation and level, and of the ways that luma may stand.
type colourGrid struct {
	turns, sizes, levels, whites axis
	stands                       []float64
}

// newColourGrid has steps of so many times their size.
func newColourGrid(times float64) *colourGrid {
	return &colourGrid{
		turns: newAxis(-farTurn, farTurn, times*turnStep), sizes: newAxis(math.Log(leastChroma), math.Log(mostChroma), times*chromaStep),
		levels: newAxis(math.Log(leastLevel), math.Log(mostLevel), levelStep),
		whites: newAxis(math.Log(leastLevel/2), math.Log(2*mostLevel), levelStep),
	}
}

// add sums up the likelihoods of all turns, saturations and ways that luma may stand.
func (g *colourGrid) add(seen []tinted, list []stand, p *display.Profile) {
	g.stands = make([]float64, len(list))
	chroma, odd := make([][]float64, len(seen)), make([]float64, len(seen))
	for i := range seen {
		chroma[i], odd[i] = make([]float64, len(p.Colours)), seen[i].oddly()
		for j := range chroma[i] {
			chroma[i][j] = 1 // where luma alone is known
		}
	}
	asked := asked(list, len(seen), len(p.Colours))
	for wide := range asked {
		for a := range g.sizes.p {
			size := g.sizes.at(a)
			by := math.Exp(size)
			if wide == 1 {
				by *= chromaOfFull
			}
			for b := range g.turns.p {
				sin, cos := math.Sincos(g.turns.at(b) * math.Pi / 180)
				for i := range seen {
					for j, c := range p.Colours {
						if seen[i].chroma && asked[wide][i][j] {
							chroma[i][j] = seen[i].colours(by*(c.U*cos-c.V*sin), by*(c.U*sin+c.V*cos))
						}
					}
				}
				turned := turnPrior(g.turns.at(b))
				for k := range list {
					st := &list[k]
					if st.wide != wide {
						continue
					}
					like := st.prior * sizePrior(size, st.level)
					for i, row := range st.like {
						sum := odd[i]
						for _, c := range row {
							sum += c.like * chroma[i][c.colour]
						}
						like *= sum
					}
					g.turns.p[b] += like // wherever it is: nothing is said of hue by what is usual
					like *= turned
					g.sizes.p[a] += like
					g.levels.p[g.levels.index(st.level)] += like
					g.whites.p[g.whites.index(st.white)] += like
					g.stands[k] += like
				}
			}
		}
	}
}

// kept are the ways that are not ruled out.
func (g *colourGrid) kept(list []stand) []stand {
	most := 0.0
	for _, v := range g.stands {
		most = math.Max(most, v)
	}
	var out []stand
	for k, v := range g.stands {
		if v > most*hardly {
			out = append(out, list[k])
		}
	}
	return out
}

// asked tells which colours are asked for, by the range of the codes and by sight.
func asked(list []stand, sights, colours int) (out [2][][]bool) {
	for wide := range out {
		for range sights {
			out[wide] = append(out[wide], make([]bool, colours))
		}
	}
	for _, st := range list {
		for i, row := range st.like {
			for _, c := range row {
				out[st.wide][i][c.colour] = true
			}
		}
	}
	return out
}

// turnPrior is how likely hues are turned by so many degrees, by device and machine together.
func turnPrior(degrees float64) float64 {
	return tintRight*normal(degrees/tintHue)/tintHue + (1-tintRight)*math.Exp(-math.Abs(degrees)/tintFault)/(2*tintFault)
}

// sizePrior is how likely chroma is of a size where the picture is of a level, both by their logarithms.
func sizePrior(size, level float64) float64 {
	with := (1-tintBurst)*normal((size-level)/tintColour) + tintBurst*normal(size/tintColour)
	return tintRight*with/tintColour + (1-tintRight)/math.Log(mostChroma/leastChroma)
}

// An axis is the distribution of one figure over its grid.
type axis struct {
	from, step float64
	p          []float64
}

func newAxis(from, to, step float64) axis {
	n := int(math.Round((to-from)/step)) + 1
	return axis{from, (to - from) / float64(n-1), make([]float64, n)}
}

func (a *axis) at(i int) float64 { return a.from + float64(i)*a.step }

func (a *axis) index(v float64) int {
	return min(max(int(math.Round((v-a.from)/a.step)), 0), len(a.p)-1)
}

// peak is the highest place, and what lies within a reach of it.
func (a *axis) peak(reach float64) Peak {
	at, all, mean := 0, 0.0, 0.0
	for i, v := range a.p {
		if v > a.p[at] {
			at = i
		}
		all += v
		mean += v * a.at(i)
	}
	out := Peak{Mean: mean / all}
	sum, squares, far := 0.0, 0.0, 0.0
	for i, v := range a.p {
		far += v * square(a.at(i)-out.Mean)
		if math.Abs(a.at(i)-a.at(at)) <= reach {
			sum += v
			out.At += v * a.at(i)
		}
	}
	out.At /= sum
	for i, v := range a.p {
		if math.Abs(a.at(i)-a.at(at)) <= reach {
			squares += v * square(a.at(i)-out.At)
		}
	}
	out.Spread, out.Part, out.All = math.Sqrt(squares/sum+square(a.step)/12), sum/all, math.Sqrt(far/all)
	return out
}

// peaks are the places of all that hold so much, the greatest first.
func (a *axis) peaks(reach, part float64) []float64 {
	rest := *a
	rest.p = slices.Clone(a.p)
	all := 0.0
	for _, v := range a.p {
		all += v
	}
	var out []float64
	for left := all; left > part*all; {
		q := rest.peak(reach)
		if q.Part*left < part*all {
			break
		}
		out = append(out, q.At)
		left = 0
		for i := range rest.p {
			if math.Abs(rest.at(i)-q.At) <= reach {
				rest.p[i] = 0
			}
			left += rest.p[i]
		}
	}
	return out
}

// exp turns a peak by logarithms into one by parts.
func (p Peak) exp() Peak {
	p.At, p.Mean = math.Exp(p.At), math.Exp(p.Mean)
	p.Spread, p.All = p.At*p.Spread, p.Mean*p.All
	return p
}

// least is what a figure is off by at the least, one way or the other, but in one case of fifty.
func (a *axis) least() float64 {
	all, sum := 0.0, 0.0
	for _, v := range a.p {
		all += v
	}
	for d := 0.0; ; d += a.step {
		for _, at := range []float64{-d, d} {
			if sum += a.p[a.index(at)]; d == 0 {
				break
			}
		}
		if sum > 0.02*all || d > a.step*float64(len(a.p)) {
			return d
		}
	}
}
