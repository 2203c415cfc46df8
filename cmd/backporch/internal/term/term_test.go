package term

import (
	"bytes"
	"os"
	"testing"
)

// On anything but a terminal nothing is drawn and nothing is coloured.
func TestSilentOnPipes(t *testing.T) {
	r, w, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	s := NewStatus(&b, false)
	s.Set("frame %d", 1)
	s.Done()
	p := NewStatus(w, false)
	p.Set("frame %d", 1)
	p.Done()
	if Colour(&b) || Colour(w) || Width(&b) != 80 || Width(w) != 80 {
		t.Error("a buffer or a pipe passes for a terminal")
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	var piped bytes.Buffer
	if _, err := piped.ReadFrom(r); err != nil {
		t.Fatal(err)
	}
	if b.Len() > 0 || piped.Len() > 0 {
		t.Errorf("drawn: %q and %q", b.String(), piped.String())
	}
}

// A status that draws puts one line over another, never longer than the terminal.
func TestStatusLine(t *testing.T) {
	var b bytes.Buffer
	s := &Status{w: &b, width: 10}
	s.Set("frame %d of many more", 1)
	s.Set("too soon after the first to be seen")
	s.Done()
	if got, want := b.String(), "\r\x1b[Kframe 1 o\r\x1b[K"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}
