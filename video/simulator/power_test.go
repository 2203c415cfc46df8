package simulator

import (
	"errors"
	"io"
	"math"
	"testing"
	"time"
)

// A lane's cells decay about its own time: by the definition of the median, half of those that were not at
// rest have changed after it; the signal is gone meanwhile, and the program's screen comes back when it clears.
func TestPower(t *testing.T) {
	p := profiles(t)[0]
	power := Power{On: 8, Cycles: []Cycle{{Off: 500 * time.Millisecond, On: 12}}, Spread: 0.5, Clear: 8, Fickle: 1e-9}
	for lane := range power.Median {
		power.Median[lane] = 2
	}
	power.Median[3] = 0.5
	b, err := New(Scenario{Display: p, Seed: 4, Screen: ScreenBusy, Fields: 44, Power: &power})
	if err != nil {
		t.Fatal(err)
	}
	own := b.s.Power
	var seen []byte
	for n := 0; ; n++ {
		if _, err := b.Next(); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
		if b.ran > 34 && b.ran < 41 {
			seen = append([]byte(nil), b.m.ram...)
		}
	}
	if len(seen) == 0 {
		t.Fatal("the field after switching on was not met")
	}
	for lane := range 8 {
		changed, of := 0, 0
		for a := range seen {
			if (own.truth[a]^own.rest[a])>>lane&1 == 1 {
				of++
				changed += int((seen[a] ^ own.truth[a]) >> lane & 1)
			}
		}
		// Of the medians' definition; the rows' common part widens the share of some thousand cells to a few per cent.
		want := 0.5 * math.Erfc(-math.Log(0.5/power.Median[lane])/math.Hypot(0.5, 0.25)/math.Sqrt2)
		if got := float64(changed) / float64(of); math.Abs(got-want) > 0.05 {
			t.Errorf("lane %d: %.3f have decayed, want %.3f", lane, got, want)
		}
	}
	for a := range own.truth {
		if b.m.ram[a] != own.truth[a] {
			t.Fatal("the program did not write its screen again")
		}
	}
	if _, err := New(Scenario{Display: p, Power: &Power{}}); err == nil {
		t.Error("a machine that keeps nothing passed")
	}
}
