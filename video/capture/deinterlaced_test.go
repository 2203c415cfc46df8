package capture

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"

	"backporch/video"
)

// A recording of which a program has made a frame of every field, by FFmpeg's own deinterlacer, gives the fields that it was made of: those that FFmpeg separates.
func TestFramesOfOneField(t *testing.T) {
	const source = "-f lavfi -i testsrc2=size=720x576:rate=50 -frames:v 8 -pix_fmt yuv422p -vf tinterlace=mode=interleave_top,setfield=tff,"
	path, raw := filepath.Join(t.TempDir(), "a.mkv"), filepath.Join(t.TempDir(), "a.raw")
	ffmpeg(t, source+"bwdif=mode=send_field:parity=tff -c:v ffv1", path)
	ffmpeg(t, source+"separatefields -f rawvideo", raw)
	want, err := os.ReadFile(raw)
	if err != nil {
		t.Fatal(err)
	}
	s, err := OpenFile(path)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	frames, bad := readAll(t, s)
	if len(frames) != 8 || len(bad) > 0 || s.Info().Rate != 50 || s.Info().Order != video.Doubled {
		t.Fatalf("%d frames at %v a second, order %d, %v", len(frames), s.Info().Rate, s.Info().Order, bad)
	}
	for i, f := range frames {
		fields := f.Fields(s.Info().Order, s.Info().Rate)
		if len(fields) != 1 || fields[0].Parity != i%2 || fields[0].Time != f.Time {
			t.Fatalf("frame %d: %d fields, the first of parity %d", i, len(fields), fields[0].Parity)
		}
		if y := want[i*720*288*2:][:720*288]; !bytes.Equal(fields[0].Y, y) {
			t.Errorf("frame %d is not the field that it was made of", i)
		}
	}
}
