//go:build linux && (amd64 || arm64 || riscv64 || loong64)

package capture

import (
	"testing"
	"time"

	"backporch/video/capture/v4l2"
)

// A driver that counts frames, one that counts fields, one that does not count, and stamps
// that jump: frames are never invented, and those lost are counted by the first two.
func TestStamps(t *testing.T) {
	const period = 40 * time.Millisecond
	for _, c := range []struct {
		name    string
		count   func(n int) uint32
		stamp   func(n int) (time.Duration, bool)
		missing int // of frames 40 to 42, 60 and 61, which do not come
	}{
		{"frames", func(n int) uint32 { return uint32(n) }, func(n int) (time.Duration, bool) { return time.Duration(n) * period, true }, 5},
		{"the count wraps", func(n int) uint32 { return uint32(n) - 50 }, func(n int) (time.Duration, bool) { return time.Duration(n) * period, true }, 5},
		{"fields", func(n int) uint32 { return uint32(2 * n) }, func(n int) (time.Duration, bool) { return time.Duration(n) * period, true }, 5},
		{"no count", func(int) uint32 { return 0 }, func(n int) (time.Duration, bool) { return time.Duration(n) * period, true }, 0},
		{"no stamps", func(n int) uint32 { return uint32(n) }, func(int) (time.Duration, bool) { return 0, false }, 5},
		{"stamps of another clock", func(n int) uint32 { return uint32(n) }, func(n int) (time.Duration, bool) {
			if n > 30 {
				return time.Duration(n)*period + time.Hour, true
			}
			return time.Duration(n) * period, true
		}, 5},
		{"stamps that stand still", func(n int) uint32 { return uint32(n) }, func(n int) (time.Duration, bool) { return time.Duration(min(n, 30)) * period, true }, 5},
		{"stamps that come late", func(n int) uint32 { return uint32(n) }, func(n int) (time.Duration, bool) {
			return time.Duration(n)*period + time.Duration(n%5)*6*time.Millisecond, true
		}, 5},
	} {
		var clock stamps
		begin := time.Unix(1000, 0)
		before, missing, last := uint32(0), 0, time.Duration(-1)
		for n := range 100 {
			if n >= 40 && n <= 42 || n == 60 || n == 61 {
				continue
			}
			b := v4l2.Buffer{Sequence: c.count(n)}
			b.Stamp, b.Stamped = c.stamp(n)
			at, gone := clock.next(b, n > 0, before, 25, begin.Add(time.Duration(n)*period))
			before = b.Sequence
			missing += gone
			if at <= last || at > time.Duration(n)*period+period || at < time.Duration(n)*period-period {
				t.Errorf("%s: frame %d at %v after %v", c.name, n, at, last)
			}
			last = at
		}
		if missing != c.missing {
			t.Errorf("%s: %d missing, want %d", c.name, missing, c.missing)
		}
	}
}
