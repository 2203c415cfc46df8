package characters

import "math"

// levelRuns add up what the cells say of one lane that is read elsewhere. Neighbours with one level of it, and the runs below that begin
// at the same column, as in a block of inverted cells, say together no more than one cell does: that they agree with their sources is
// the block's doing.
type levelRuns struct {
	sum, run   float64
	at, level  int             // of the run: its first column
	above, row map[int]float64 // by first column and level: what a run has said, of the row above and of this one
}

// next ends a run and begins another.
func (b *levelRuns) next(column, level int) {
	key := b.at << 8
	if b.level != 0 {
		key++
	}
	said := b.above[key]
	if now := math.Min(b.run, oneCell); now > said {
		b.sum += now - said
		said = now
	}
	if b.row == nil {
		b.row = map[int]float64{}
	}
	b.row[key] = math.Max(b.row[key], said)
	if column == 0 {
		b.above, b.row = b.row, nil
	}
	b.run, b.at, b.level = 0, column, level
}

// writtenTwice is how seldom, nats, a line of text stands twice, one below the other, where none does elsewhere. Common practice, no source.
const writtenTwice = 3.5

// linesTwice is, in nats, how seldom a good screen has each line of its text twice, where a fold of whole rows shows it; a writer would learn to expect the row above. Patterns
// and tables repeat rows anywhere.
func (p *page) linesTwice(from func(i int) int) float64 {
	rows := len(p.shape) / p.columns
	alike := func(a, b int) bool {
		n := 0
		for k := range p.columns {
			if p.shape[a*p.columns+k] != p.shape[b*p.columns+k] {
				n++
			}
		}
		return n <= strayCells
	}
	text := make([]bool, rows)
	for row := range text {
		sorts := map[int]bool{}
		for _, s := range p.shape[row*p.columns:][:p.columns] {
			sorts[s] = true
		}
		text[row] = len(sorts) >= fewSorts
	}
	twice := 0
	for row := range rows {
		at := from(row * p.columns)
		if !text[row] || at < 0 {
			continue
		}
		if at /= p.columns; at != row && alike(row, at) {
			twice++
		}
		for other := range row {
			if o := from(other * p.columns); o >= 0 && o/p.columns != at && alike(row, other) {
				return 0
			}
		}
	}
	return writtenTwice * float64(twice)
}
