package main

import (
	"math"
	"strings"
	"testing"
)

// Newcombe, Statistics in Medicine 17 (1998) 857, Table I, method 3 (the score interval
// without continuity correction), 95 %; figures from memory, confirmed by the formula of
// NIST/SEMATECH e-Handbook 7.2.4.1.
func TestWilson(t *testing.T) {
	for _, tt := range []struct {
		k, n      int
		low, high float64
	}{
		{81, 263, 0.2553, 0.3662},
		{15, 148, 0.0624, 0.1605},
		{0, 20, 0, 0.1611},
		{1, 29, 0.0061, 0.1718},
	} {
		low, high := wilson(tt.k, tt.n)
		if math.Abs(low-tt.low) > 5e-5 || math.Abs(high-tt.high) > 5e-5 {
			t.Errorf("%d of %d: %.4f to %.4f, want %.4f to %.4f", tt.k, tt.n, low, high, tt.low, tt.high)
		}
	}
}

// A kind or display that does not exist ends the run before anything is simulated.
func TestMeasureRefuses(t *testing.T) {
	for _, tt := range []struct{ display, kind, want string }{
		{"attr-256x192-50", "no-such-kind", "no-such-kind"},
		{"no-such-display", "clean", "no-such-display"},
	} {
		_, err := newPlan(tt.display, tt.kind, "", "85", "")
		if err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s, %s: %v", tt.display, tt.kind, err)
		}
	}
}
