package judge_test

import (
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"backporch/analyse"
	"backporch/analyse/analysetest"
	"backporch/analyse/survey"
	"backporch/patterns"
	"backporch/patterns/judge"
	"backporch/video"
	"backporch/video/display"
)

// look draws a screen through an ideal chain and surveys it.
func look(t testing.TB, p *display.Profile, s *analysetest.Screen, noise float64, seed uint64) *analyse.Survey {
	t.Helper()
	rng := rand.New(rand.NewPCG(seed, 3))
	fields := make([]*video.Field, 8)
	for i := range fields {
		fields[i] = analysetest.Draw(p, s, analysetest.Capture{Noise: noise}, rng)
		fields[i].Time = time.Duration(i) * 20 * time.Millisecond
		fields[i].Frame, fields[i].Parity = i/2, i%2
	}
	out, _, err := survey.Run(fields, video.Info{Kind: video.KindFile, Standard: p.Standard, Rate: p.FieldHz() / 2}, survey.Options{Display: p})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// screen is a listing on white, seeded.
func screen(p *display.Profile, seed uint64) *analysetest.Screen {
	s := analysetest.New(p)
	analysetest.Listing(p, s, 14, rand.New(rand.NewPCG(seed, 5)))
	return s
}

func force(memory []byte, bit, level int) {
	for i := range memory {
		memory[i] = memory[i]&^(1<<bit) | byte(level)<<bit
	}
}

// Every lane and level is named, with a reference and without one where the screen shows it.
func TestStuckLanes(t *testing.T) {
	for _, name := range []string{"attr-256x192-50", "text-40x25-60"} {
		p := analysetest.Profile(t, name)
		reference := look(t, p, screen(p, 1), 1, 1)
		for bit := range 8 {
			for level := range 2 {
				s := screen(p, 1)
				before := append([]byte(nil), s.Memory...)
				force(s.Memory, bit, level)
				hidden := string(before) == string(s.Memory)
				seen := look(t, p, s, 2, uint64(bit))
				for _, r := range []*analyse.Survey{nil, reference} {
					t.Run(fmt.Sprintf("display=%s/bit=%d/level=%d/reference=%v", name, bit, level, r != nil), func(t *testing.T) {
						v := judge.Classify(seen, p, judge.Options{Reference: r})
						if hidden {
							if v.Class != patterns.Clean && v.Class != patterns.Undetermined {
								t.Errorf("a fault that cannot show was called %s, %+v", v.Class, v.Faults)
							}
							return
						}
						// Letters end at the outer lanes: one that is missing there may be the font's way.
						if r == nil && level == 0 && p.Kind == display.Attr && (bit < 2 || bit > 5) && v.Class == patterns.Clean {
							return
						}
						if r == nil && v.Class == patterns.Undetermined {
							t.Logf("undetermined without a reference: %v", v.Why)
							return
						}
						if v.Class != patterns.RAMBit || len(v.Faults) == 0 || v.Faults[0].Kind != "data-bit-stuck" ||
							*v.Faults[0].Bit != bit || *v.Faults[0].Level != level {
							t.Errorf("said %s %v, why %v", v.Class, describe(v, p), v.Why)
						}
					})
				}
			}
		}
	}
}

func describe(v *patterns.Verdict, p *display.Profile) (out []string) {
	for _, f := range v.Faults {
		out = append(out, fmt.Sprintf("%s %.2f", f.Describe(p), f.Probability))
	}
	return out
}

// Other kinds on the same ideal chain: what shows is named, and a good machine is not accused.
func TestKinds(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	colourful := func() *analysetest.Screen {
		s := screen(p, 2)
		for i := p.ColourBase; i < len(s.Memory); i++ {
			s.Memory[i] = []byte{0x38, 0x07, 0x17, 0x0f, 0x31, 0x28, 0x02, 0x3c}[(i-p.ColourBase)/96]
		}
		return s
	}
	reference := look(t, p, colourful(), 1, 7)
	// A component missing behind the memory: every colour byte and the border lose it.
	green := func(s *analysetest.Screen) {
		for i := p.ColourBase; i < len(s.Memory); i++ {
			s.Memory[i] &^= 0x24
		}
		s.Border &^= 4
	}
	for _, tt := range []struct {
		name      string
		spoil     func(s *analysetest.Screen)
		class     patterns.Class
		kind      string
		reference bool
	}{
		{"good machine", func(*analysetest.Screen) {}, patterns.Clean, "", false},
		{"good machine, reference", func(*analysetest.Screen) {}, patterns.Clean, "", true},
		{"green missing", green, patterns.VideoLogic, "colour-path", false},
		{"green missing, reference", green, patterns.VideoLogic, "colour-path", true},
		{"border latch", func(s *analysetest.Screen) { s.Border ^= 2 }, patterns.VideoLogic, "border-latch", true},
		{"weak lane", func(s *analysetest.Screen) {
			rng := rand.New(rand.NewPCG(9, 9))
			for range 300 {
				s.Memory[rng.IntN(p.ColourBase)] |= 0x10
			}
		}, patterns.RAMBit, "data-bit-weak", false},
		{"weak lane, reference", func(s *analysetest.Screen) {
			rng := rand.New(rand.NewPCG(9, 9))
			for range 300 {
				s.Memory[rng.IntN(p.ColourBase)] |= 0x10
			}
		}, patterns.RAMBit, "data-bit-weak", true},
		{"black picture", func(s *analysetest.Screen) { clear(s.Memory) }, patterns.VideoLogic, "blank-picture", false},
		{"woken memory", func(s *analysetest.Screen) {
			// Rows and columns of each chip, the lanes of different makes, one bit in thirty as it likes.
			rng := rand.New(rand.NewPCG(4, 4))
			for a := range s.Memory {
				var b byte
				for lane := range 8 {
					v := a>>6&1 ^ a>>8&1
					if lane > 4 {
						v = a >> 5 & 1
					}
					if rng.IntN(30) == 0 {
						v = rng.IntN(2)
					}
					b |= byte(v) << lane
				}
				s.Memory[a] = b
			}
		}, patterns.CPUSide, "power-up-pattern", false},
	} {
		t.Run(tt.name, func(t *testing.T) {
			s := colourful()
			tt.spoil(s)
			o := judge.Options{}
			if tt.reference {
				o.Reference = reference
			}
			v := judge.Classify(look(t, p, s, 2, 3), p, o)
			if v.Class != tt.class || tt.kind != "" && (len(v.Faults) == 0 || v.Faults[0].Kind != tt.kind) {
				t.Errorf("said %s %v, why %v", v.Class, describe(v, p), v.Why)
			}
			if len(v.Why) == 0 {
				t.Error("no reason is given")
			}
			if v.Class != patterns.Undetermined && (*v.Weighed < 0.6 || *v.Confidence > *v.Weighed) {
				t.Errorf("weighed %.2f, stated %.2f", *v.Weighed, *v.Confidence)
			}
		})
	}
}

// A stated fill may be of the bitmap alone, the colours left as they were: that is clean, and a lane that breaks it is named.
func TestFillOfTheBitmap(t *testing.T) {
	p := analysetest.Profile(t, "attr-256x192-50")
	fill := byte(0xCC)
	filled := func(stuck byte) *analysetest.Screen {
		s := screen(p, 2)
		for i := range s.Memory {
			s.Memory[i] = fill | stuck
			if i >= p.ColourBase {
				s.Memory[i] = 0x38 | stuck
			}
		}
		return s
	}
	o := judge.Options{Fill: &fill}
	if v := judge.Classify(look(t, p, filled(0), 2, 3), p, o); v.Class != patterns.Clean {
		t.Errorf("said %s %v, why %v", v.Class, describe(v, p), v.Why)
	}
	v := judge.Classify(look(t, p, filled(1<<4), 2, 3), p, o)
	if v.Class != patterns.RAMBit || v.Faults[0].Bit == nil || *v.Faults[0].Bit != 4 {
		t.Errorf("bit 4 at 1: said %s %v, why %v", v.Class, describe(v, p), v.Why)
	}
}
