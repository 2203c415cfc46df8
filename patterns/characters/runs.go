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
