package analysetest

import (
	"testing"

	"backporch/video/display"
)

// Profile is an embedded display by name.
func Profile(t testing.TB, name string) *display.Profile {
	t.Helper()
	all, err := display.Load("")
	if err != nil {
		t.Fatal(err)
	}
	p, err := display.Find(all, name)
	if err != nil {
		t.Fatal(err)
	}
	return p
}
