package judge

import (
	"math/rand/v2"
	"testing"

	"backporch/analyse/analysetest"
)

// A stage of the shift register that holds a level has all pixels behind it so: on a screen with a few words nearly all cells then show one byte that no program writes. Bytes
// that programs do write, and words on an empty screen, say so of no stage.
func TestHeldStage(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	for _, c := range []struct {
		name  string
		made  func(b uint8) uint8
		lines int
		held  bool
	}{
		{"six pixels at 1", func(b uint8) uint8 { return b | 0x3f }, 2, true},
		{"five pixels at 1", func(b uint8) uint8 { return b | 0x1f }, 2, true},
		{"words", func(b uint8) uint8 { return b }, 2, false},
		{"a test's bytes", func(uint8) uint8 { return 0x55 }, 0, false},
		{"ones", func(uint8) uint8 { return 0xff }, 0, false},
	} {
		screen := analysetest.New(p)
		if c.lines > 0 {
			analysetest.Listing(p, screen, c.lines, rand.New(rand.NewPCG(4, 9)))
		}
		memory := screen.Memory[:p.Size()]
		for a := range p.ColourBase {
			memory[a] = c.made(memory[a])
		}
		best := 0.0
		for _, h := range inLetters(t, p, memory).stages(0) {
			best = h.Like
		}
		if c.held != (best > 3) {
			t.Errorf("%s: %.1f nats", c.name, best)
		}
	}
}
