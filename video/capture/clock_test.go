package capture

import (
	"testing"
	"time"
)

// perFrame is the milliseconds that each of the frames took that read counts.
func perFrame(b *testing.B, read func() int) float64 {
	b.Helper()
	begin := time.Now()
	n := read()
	if n == 0 {
		b.Fatal("no frames")
	}
	return time.Since(begin).Seconds() * 1000 / float64(n)
}
