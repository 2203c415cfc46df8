package characters

// Sorts of screens of a known font, as the characters on them tell.

// A screenSort is how often screens are of a sort, and how probable each code is on them.
type screenSort struct {
	share float64
	of    [256]float64
}

// screenSorts are written screens, such as have any code, and such as are drawn with pictures: any of the set's, or those of one part of it, as they stand together.
var screenSorts = func() []screenSort {
	out := make([]screenSort, pictureScreen+1)
	for _, k := range styles {
		out[k.sort].share += k.share
		for code := range out[k.sort].of {
			out[k.sort].of[code] += k.share * k.code(code)
		}
	}
	for k := range out {
		for code := range out[k].of {
			out[k].of[code] /= out[k].share
		}
	}
	pictures := &out[pictureScreen].share
	each := *pictures / 2 / float64(len(pictureParts))
	*pictures /= 2
	for _, part := range pictureParts {
		s := screenSort{share: each}
		for code := range s.of {
			if s.of[code] = strayPicture / 256; code >= part[0] && code < part[1] {
				s.of[code] += (1 - strayPicture) / float64(part[1]-part[0])
			}
		}
		out = append(out, s)
	}
	for k := range out {
		for code := range out[k].of {
			out[k].of[code] *= 1 - fillerShare
		}
		out[k].of[' '] += fillerShare
	}
	return out
}()

// pictureParts are the parts of a set that pictures stand in, apart from those of writing; strayPicture is how many characters of a screen that is drawn are others. Common practice, no source.
var pictureParts = [][2]int{{0, 32}, {128, 160}, {160, 192}, {192, 224}, {224, 256}, {128, 192}, {192, 256}, {128, 256}}

const strayPicture = 0.05

// inSort finds how probable each glyph is, as any of the codes that show it, as the sort of the screen is known so far.
func (s *scribe) inSort() {
	s.likely = [256]float64{}
	for k, share := range s.sort {
		for code, p := range screenSorts[k].of {
			s.likely[s.font.first[s.font.stands[code]]] += share * p
		}
	}
}

// learn takes a character that was not there before: it tells of which sort the screen is.
func (s *scribe) learn(symbol int) {
	const another = 0.02 // how often a screen goes on as another sort; common practice, no source
	if s.font == nil || symbol > 255 || symbol == s.space || s.zero.of[symbol] > 0 {
		return
	}
	sum := 0.0
	for k := range s.sort {
		p := 0.0
		for code, v := range screenSorts[k].of {
			if s.font.first[s.font.stands[code]] == symbol {
				p += v
			}
		}
		s.sort[k] *= p
		sum += s.sort[k]
	}
	for k := range s.sort {
		s.sort[k] = (1-another)*s.sort[k]/sum + another*screenSorts[k].share
	}
	s.inSort()
}
