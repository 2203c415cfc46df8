package videotest

import (
	"testing"

	"backporch/video"
	"backporch/video/picture"
)

// ThroughJPEG is a frame as a recorder of that quality, 1 to 100, keeps it.
func ThroughJPEG(t testing.TB, f *video.Frame, quality int) *video.Frame {
	t.Helper()
	data, err := picture.EncodeJPEG(nil, f, picture.JPEGOptions{Quality: quality})
	if err != nil {
		t.Fatal(err)
	}
	out, _, err := picture.DecodeJPEG(data, f.Height)
	if err != nil {
		t.Fatal(err)
	}
	out.Index, out.Time = f.Index, f.Time
	return out
}
