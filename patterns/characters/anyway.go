package characters

// leastAnyway is how many characters past a fold must be compared, and anywayShare the part of them that must repeat as well. Common practice, no source.
const (
	leastAnyway = 60
	anywayShare = 0.9
)

// repeatsAnyway tells whether a screen repeats where a fold has no part in it as well: the next cell as far on as a cell is from the one that it shows is another that is
// read rightly. A chart of a generator's characters, over and over, does; what a held address line doubles is followed by something else.
func (p *page) repeatsAnyway(from func(i int) int) bool {
	alike, of := 0, 0
	for i, s := range p.shape {
		at := from(i)
		if at < 0 || at == i || s < 0 || p.blank[i] {
			continue
		}
		next := i + (i - at)
		if next < 0 || next >= len(p.shape) || from(next) >= 0 && from(next) != next || p.shape[next] < 0 {
			continue
		}
		of++
		if p.shape[next] == s {
			alike++
		}
	}
	return of >= leastAnyway && float64(alike) >= anywayShare*float64(of)
}
