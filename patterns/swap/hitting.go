package swap

import "math/bits"

// most is how many causes a bench may have.
const most = 512

// A mask is a set of causes by number.
type mask [most / 64]uint64

func (m *mask) add(i int)     { m[i/64] |= 1 << (i % 64) }
func (m mask) has(i int) bool { return m[i/64]>>(i%64)&1 == 1 }

func (m mask) meets(o mask) bool {
	for i := range m {
		if m[i]&o[i] != 0 {
			return true
		}
	}
	return false
}

func (m mask) without(o mask) mask {
	for i := range m {
		m[i] &^= o[i]
	}
	return m
}

func (m mask) with(o mask) mask {
	for i := range m {
		m[i] |= o[i]
	}
	return m
}

func (m mask) and(o mask) mask {
	for i := range m {
		m[i] &= o[i]
	}
	return m
}

func (m mask) within(o mask) bool { return m.without(o) == mask{} }

func (m mask) len() int {
	n := 0
	for _, w := range m {
		n += bits.OnesCount64(w)
	}
	return n
}

func (m mask) list() []int {
	var out []int
	for i, w := range m {
		for ; w != 0; w &= w - 1 {
			out = append(out, i*64+bits.TrailingZeros64(w))
		}
	}
	return out
}

// tooMany bounds the work on tests that leave nearly everything open.
const tooMany = 3000

// hit gives all minimal sets of at most limit elements that meet every conflict. A set that is
// minimal for all conflicts grows from one that is minimal for those before, so the limit loses
// none. It gives up, and says so, when there are too many.
func hit(conflicts []mask, limit int) (sets []mask, whole bool) {
	sets = []mask{{}}
	for _, c := range conflicts {
		var kept, grown []mask
		for _, s := range sets {
			if s.meets(c) {
				kept = append(kept, s)
			} else if s.len() < limit {
				grown = append(grown, s)
			}
		}
		met := len(kept) // those that met it already stay minimal
		for _, s := range grown {
			for _, i := range c.list() {
				larger := s
				larger.add(i)
				if !holdsOne(larger, kept[:met]) {
					kept = append(kept, larger)
				}
				if len(kept) > tooMany {
					return nil, false
				}
			}
		}
		sets = kept
	}
	return sets, true
}

// holdsOne says whether one of the sets lies within s. Grown sets need no look at each other: two of
// them hold one element each of the conflict, and what else they hold was minimal.
func holdsOne(s mask, sets []mask) bool {
	for _, o := range sets {
		if o.within(s) {
			return true
		}
	}
	return false
}
