package characters

import (
	"math"
	"testing"
)

// A test's line of all characters goes by the letters where the font has them in another order of codes (common practice, no source): it is
// written as easily as one in the order of the codes is, and where it passes from one block of codes to another no lane looks wrong.
func TestCharactersInTheOrderOfTheirLetters(t *testing.T) {
	font := &glyphs{order: &order{}}
	for code := range 256 {
		font.rows[code] = uint64(code)
		font.means[code] = []int{0x40, 0x20, 0x60, 0x00}[code%128/32] + code%32 + code&128
		font.stands[font.means[code]] = code
	}
	font.index()
	const columns = 40
	p := &page{columns: columns, font: font, fits: true, space: font.space()}
	for i := range 25 * columns {
		code := p.space
		if row := i/columns - 20; row >= 0 && row < 2 {
			code = font.stands['!'+i%columns+32*row]
		}
		p.shape, p.code, p.blank = append(p.shape, code), append(p.code, code), append(p.blank, code == p.space)
		p.rows, p.ink = append(p.rows, font.rows[code]), append(p.ink, 1)
	}
	passes := 20*columns + '@' - '!'
	_, lost := p.gains()
	if most := lost[passes][6]; most > math.Ln2 {
		t.Errorf("where @ follows ? bit 6 looks wrong by %.1f nats", most)
	}
	if costs := written(p.shape, columns, font, nil); costs[passes] < -1 {
		t.Errorf("@ after ? costs %.1f nats", -costs[passes])
	}
}
