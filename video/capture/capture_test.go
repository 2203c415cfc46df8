package capture

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"gocv.io/x/gocv"

	"backporch/video"
)

// ffmpeg runs FFmpeg with these words; without it the test is skipped ('make test'
// installs it).
func ffmpeg(t testing.TB, words string, path string) {
	t.Helper()
	program, err := exec.LookPath("ffmpeg")
	if err != nil {
		t.Skip("ffmpeg is not installed")
	}
	args := append(strings.Fields("-loglevel error -y "+words), path)
	if out, err := exec.Command(program, args...).CombinedOutput(); err != nil {
		if strings.Contains(string(out), "Unknown encoder") {
			t.Skipf("this ffmpeg cannot write it: %s", out)
		}
		t.Fatalf("ffmpeg %s: %v\n%s", words, err, out)
	}
}

func readAll(t testing.TB, s video.Source) (frames []*video.Frame, bad []error) {
	t.Helper()
	for {
		f, err := s.Next(context.Background())
		var b *video.BadFrame
		switch {
		case errors.Is(err, io.EOF) && !errors.As(err, &b):
			return frames, bad
		case errors.As(err, &b):
			bad = append(bad, err)
		case err != nil:
			t.Fatal(err)
		default:
			frames = append(frames, f)
		}
	}
}

// mean is the mean of a plane over a part of the picture, in parts of its sides.
func mean(plane []uint8, width, height int, x0, x1, y0, y1 float64) float64 {
	sum, n := 0.0, 0
	for y := int(y0 * float64(height)); y < int(y1*float64(height)); y++ {
		for x := int(x0 * float64(width)); x < int(x1*float64(width)); x++ {
			sum += float64(plane[y*width+x])
			n++
		}
	}
	return sum / float64(n)
}

// barColours are the eight bars' R, G, B at full level, left to right.
var barColours = [8][3]float64{{1, 1, 1}, {1, 1, 0}, {0, 1, 1}, {0, 1, 0}, {1, 0, 1}, {1, 0, 0}, {0, 0, 1}, {0, 0, 0}}

// Colour bars drawn by FFmpeg's test sources, coded by FFmpeg, read by our path, against
// the codes and angles of BT.601's and BT.1700's equations. White of "75 % bars" is at
// 100 % here (100/0/75/0).
func TestBarsAgainstBT601(t *testing.T) {
	for _, c := range []struct {
		name, file, words, codec string
		level                    float64
		rgb                      bool
		block                    int
		tol                      float64 // codes
	}{
		// JPEG at its best quality: flat areas are off by the DC step over 8, less than a code.
		{"mjpeg avi 75", "a.avi", "-f lavfi -i pal75bars=size=720x576:rate=25 -frames:v 3 -c:v mjpeg -strict -1 -pix_fmt yuv422p -q:v 2", "MJPG", 0.75, false, 8, 1},
		{"mjpeg avi 100", "a.avi", "-f lavfi -i pal100bars=size=720x576:rate=25 -frames:v 3 -c:v mjpeg -strict -1 -pix_fmt yuv422p -q:v 2", "MJPG", 1, false, 8, 1},
		{"mjpeg mkv 4:2:0", "a.mkv", "-f lavfi -i pal75bars=size=720x576:rate=25 -frames:v 3 -c:v mjpeg -strict -1 -pix_fmt yuv420p -q:v 2", "MJPG", 0.75, false, 8, 1},
		// Lossless: the equations' rounding alone.
		{"yuyv avi", "a.avi", "-f lavfi -i pal75bars=size=720x576:rate=25 -frames:v 3 -c:v rawvideo -pix_fmt yuyv422", "YUY2", 0.75, false, 0, 1},
		{"uyvy avi", "a.avi", "-f lavfi -i pal100bars=size=720x576:rate=25 -frames:v 3 -c:v rawvideo -pix_fmt uyvy422", "UYVY", 1, false, 0, 1},
		{"4:2:0 avi", "a.avi", "-f lavfi -i pal75bars=size=720x576:rate=25 -frames:v 3 -c:v rawvideo -pix_fmt yuv420p", "I420", 0.75, false, 0, 1},
		{"ffv1 mkv", "a.mkv", "-f lavfi -i pal75bars=size=720x576:rate=25 -frames:v 3 -c:v ffv1 -pix_fmt yuv422p", "FFV1", 0.75, false, 0, 1},
		{"ffv1 mkv 100", "a.mkv", "-f lavfi -i pal100bars=size=720x576:rate=25 -frames:v 3 -c:v ffv1 -pix_fmt yuv422p", "FFV1", 1, false, 0, 1},
		{"h264 mp4", "a.mp4", "-f lavfi -i pal75bars=size=720x576:rate=25 -frames:v 3 -c:v libx264 -qp 4 -pix_fmt yuv420p", "avc1", 0.75, false, 0, 1},
		{"dv avi", "a.avi", "-f lavfi -i pal75bars=size=720x576:rate=25 -frames:v 3 -c:v dvvideo -pix_fmt yuv420p", "dvsd", 0.75, false, 0, 1},
		// Stored as R, G, B: the scaler's fast conversion is off by up to three of 255, which is two of luma's codes and less of chroma's.
		{"rgb ffv1 mkv", "a.mkv", "-f lavfi -i pal75bars=size=720x576:rate=25 -frames:v 3 -c:v ffv1 -pix_fmt bgr0", "FFV1", 0.75, true, 0, 2},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), c.file)
			ffmpeg(t, c.words, path)
			s, err := OpenFile(path)
			if err != nil {
				t.Fatal(err)
			}
			defer s.Close()
			info := s.Info()
			if info.Codec != c.codec || info.RGB != c.rgb || info.Block != c.block || info.Rate != 25 ||
				info.Standard != video.Std625 || info.Order != video.TopFirst || info.Frames != 3 || info.Width != 720 || info.Height != 576 {
				t.Errorf("info %+v", info)
			}
			if (len(info.Notes) > 0) != c.rgb {
				t.Errorf("notes %q", info.Notes)
			}
			frames, bad := readAll(t, s)
			if len(frames) != 3 || len(bad) != 0 {
				t.Fatalf("%d frames, %v", len(frames), bad)
			}
			for i, f := range frames {
				if want := float64(i) * 0.04; math.Abs(f.Time.Seconds()-want) > 0.0015 || f.Index != i {
					t.Errorf("frame %d has index %d, time %v", i, f.Index, f.Time)
				}
			}
			checkBars(t, frames[2], c.level, c.tol)
		})
	}
}

// Every code comes through as FFmpeg's own decoder gives it as raw video, those below black and above white too (BT.601 has them for what overshoots), whatever the
// codec and the order of its samples; those of more than 8 bits are rounded.
func TestAllCodes(t *testing.T) {
	const ramp = "-f lavfi -i nullsrc=size=512x32:rate=25,geq=lum='mod(X,256)':cb='mod(X+3*Y,256)':cr='255-mod(X+Y,256)' -frames:v 2"
	for name, words := range map[string]string{
		"ffv1 4:2:2":     "-c:v ffv1 -pix_fmt yuv422p",
		"ffv1 4:4:4":     "-c:v ffv1 -pix_fmt yuv444p",
		"ffv1 level 3":   "-c:v ffv1 -level 3 -pix_fmt yuv422p",
		"ffv1 10 bits":   "-c:v ffv1 -pix_fmt yuv422p10le",
		"ffv1 grey":      "-c:v ffv1 -pix_fmt gray",
		"huffyuv":        "-c:v huffyuv -pix_fmt yuv422p",
		"ffvhuff 4:2:0":  "-c:v ffvhuff -pix_fmt yuv420p",
		"h264 lossless":  "-c:v libx264 -qp 0 -pix_fmt yuv422p",
		"h264 full flag": "-c:v libx264 -qp 0 -pix_fmt yuvj420p",
	} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "a.mkv")
			ffmpeg(t, ramp+" "+words, path)
			form := words[strings.LastIndex(words, " ")+1:]
			raw := filepath.Join(t.TempDir(), "a.raw")
			ffmpeg(t, "-i "+path+" -f rawvideo -pix_fmt "+form, raw)
			want, err := os.ReadFile(raw)
			if err != nil {
				t.Fatal(err)
			}
			if form == "yuv422p10le" {
				for i := range len(want) / 2 {
					want[i] = uint8(min(255, (int(want[2*i])|int(want[2*i+1])<<8+2)>>2))
				}
				want = want[:len(want)/2]
			}
			s, err := OpenFile(path)
			if err != nil {
				t.Fatal(err)
			}
			defer s.Close()
			frames, bad := readAll(t, s)
			if len(frames) != 2 || len(bad) > 0 {
				t.Fatalf("%d frames, %v", len(frames), bad)
			}
			var got []uint8
			for _, f := range frames {
				got = append(append(append(got, f.Y...), f.Cb...), f.Cr...)
			}
			if !bytes.Equal(got, want) {
				t.Errorf("%d codes, first line %d; want %d, %d", len(got), got[:256], len(want), want[:256])
			}
		})
	}
}

// The same from a file that was kept, for where there is no FFmpeg.
func TestKeptBars(t *testing.T) {
	s, err := OpenFile(filepath.Join("..", "..", "testdata", "captures", "bars75.avi"))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	frames, bad := readAll(t, s)
	if len(frames) != 3 || len(bad) > 0 {
		t.Fatalf("%d frames, %v", len(frames), bad)
	}
	checkBars(t, frames[0], 0.75, 1)
}

// checkBars measures the middle of each bar.
func checkBars(t *testing.T, f *video.Frame, coloured, tol float64) {
	t.Helper()
	for i, rgb := range barColours {
		level := coloured
		if i == 0 {
			level = 1
		}
		want := video.YUVOfRGB(rgb[0]*level, rgb[1]*level, rgb[2]*level)
		wy, wcb, wcr := want.Codes()
		x0, x1 := (float64(i)+0.25)/8, (float64(i)+0.75)/8
		y := mean(f.Y, f.Width, f.Height, x0, x1, 0.1, 0.5)
		cb := mean(f.Cb, f.ChromaWidth, f.ChromaHeight, x0, x1, 0.1, 0.5)
		cr := mean(f.Cr, f.ChromaWidth, f.ChromaHeight, x0, x1, 0.1, 0.5)
		// A code in the test source is rounded: half a code more.
		if tol := tol + 0.5; math.Abs(y-wy) > tol || math.Abs(cb-wcb) > tol || math.Abs(cr-wcr) > tol {
			t.Errorf("bar %d: %.1f %.1f %.1f, the equations give %.1f %.1f %.1f", i, y, cb, cr, wy, wcb, wcr)
		}
		if i > 0 && i < 7 {
			got := video.YUVOfCodes(y, cb, cr).Hue()
			if d := math.Abs(math.Remainder(got-want.Hue(), 360)); d > 1 {
				t.Errorf("bar %d: hue %.2f degrees, %.2f by the equations", i, got, want.Hue())
			}
		}
	}
}

// signalstats asks FFmpeg for the means of a file's planes over all frames.
func signalstats(t testing.TB, path string) (y, u, v float64) {
	t.Helper()
	program, err := exec.LookPath("ffprobe")
	if err != nil {
		t.Skip("ffprobe is not installed")
	}
	out, err := exec.Command(program, "-loglevel", "error", "-f", "lavfi", "-i", "movie="+path+",signalstats",
		"-show_entries", "frame_tags=lavfi.signalstats.YAVG,lavfi.signalstats.UAVG,lavfi.signalstats.VAVG", "-of", "csv=p=0").Output()
	if err != nil {
		t.Fatalf("ffprobe: %v", err)
	}
	n := 0.0
	for _, line := range strings.Fields(string(out)) {
		parts := strings.Split(strings.TrimSuffix(line, ","), ",")
		if len(parts) != 3 {
			t.Fatalf("ffprobe said %q", line)
		}
		for i, to := range []*float64{&y, &u, &v} {
			value, err := strconv.ParseFloat(parts[i], 64)
			if err != nil {
				t.Fatal(err)
			}
			*to += value
		}
		n++
	}
	return y / n, u / n, v / n
}

// The means that we read against those that FFmpeg's signalstats measures.
func TestMeansAgainstSignalstats(t *testing.T) {
	for _, c := range []struct {
		name, file, words string
		tol               float64
	}{
		{"smpte mjpeg", "a.avi", "-f lavfi -i smptebars=size=720x480:rate=30000/1001 -frames:v 4 -c:v mjpeg -q:v 3", 0.5},
		{"moving mjpeg", "a.avi", "-f lavfi -i testsrc2=size=720x576:rate=25 -frames:v 4 -c:v mjpeg -q:v 3 -pix_fmt yuvj422p", 0.5},
		{"smpte yuyv", "a.avi", "-f lavfi -i smptebars=size=720x480:rate=30000/1001 -frames:v 4 -c:v rawvideo -pix_fmt yuyv422", 0.01},
		{"smpte ffv1", "a.mkv", "-f lavfi -i smptebars=size=720x480:rate=30000/1001 -frames:v 4 -c:v ffv1 -pix_fmt yuv422p", 1.5},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), c.file)
			ffmpeg(t, c.words, path)
			s, err := OpenFile(path)
			if err != nil {
				t.Fatal(err)
			}
			defer s.Close()
			frames, bad := readAll(t, s)
			if len(frames) != 4 || len(bad) > 0 {
				t.Fatalf("%d frames, %v", len(frames), bad)
			}
			var got [3]float64
			for _, f := range frames {
				got[0] += mean(f.Y, f.Width, f.Height, 0, 1, 0, 1) / 4
				got[1] += mean(f.Cb, f.ChromaWidth, f.ChromaHeight, 0, 1, 0, 1) / 4
				got[2] += mean(f.Cr, f.ChromaWidth, f.ChromaHeight, 0, 1, 0, 1) / 4
			}
			y, u, v := signalstats(t, path)
			for i, want := range [3]float64{y, u, v} {
				if math.Abs(got[i]-want) > c.tol {
					t.Errorf("plane %d: mean %.3f, signalstats says %.3f", i, got[i], want)
				}
			}
		})
	}
}

func TestBadFiles(t *testing.T) {
	dir := t.TempDir()
	file := func(name string, data []byte) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, data, 0o644); err != nil {
			t.Fatal(err)
		}
		return path
	}
	noise := make([]byte, 4096)
	for i := range noise {
		noise[i] = byte(i * i >> 3)
	}
	list := "#EXTM3U\n#EXT-X-TARGETDURATION:1\n#EXTINF:1,\nother.ts\n"
	for _, c := range []struct{ name, path, want string }{
		{"missing", filepath.Join(dir, "none.avi"), "no such file"},
		{"folder", dir, "it is a folder"},
		{"empty", file("empty.avi", nil), "the file is empty"},
		{"text", file("text.avi", []byte("hello\n")), "it is text"},
		{"play list", file("list.avi", []byte(list)), "it is text"},
		{"noise", file("noise.avi", noise), "no recording that can be read"},
		{"header alone", file("head.avi", []byte("RIFF\x00\x10\x00\x00AVI LIST")), "bytes are missing"},
		{"boxes without index", file("a.mp4", []byte("\x00\x00\x00\x10ftypisom\x00\x00\x00\x00\x00\x00\x00\x20mdatxxxx")), "cut off before its index"},
	} {
		s, err := OpenFile(c.path)
		if err == nil {
			_ = s.Close()
			t.Errorf("%s: opened", c.name)
			continue
		}
		if !strings.Contains(err.Error(), c.want) || strings.Count(err.Error(), "\n") > 0 || !strings.Contains(err.Error(), c.path) {
			t.Errorf("%s: %q, want one line with the path and %q", c.name, err, c.want)
		}
		if strings.Count(err.Error(), c.path) > 1 {
			t.Errorf("%s: %q names the file twice", c.name, err)
		}
	}
}

// A recording that was cut off gives every whole frame, then says what happened.
func TestCutOff(t *testing.T) {
	for _, c := range []struct{ name, file, words string }{
		{"mjpeg avi", "a.avi", "-f lavfi -i testsrc2=size=720x576:rate=25 -frames:v 8 -c:v mjpeg -q:v 3"},
		{"ffv1 mkv", "a.mkv", "-f lavfi -i testsrc2=size=720x576:rate=25 -frames:v 8 -c:v ffv1"},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), c.file)
			ffmpeg(t, c.words, path)
			data, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(path, data[:len(data)*6/10], 0o644); err != nil {
				t.Fatal(err)
			}
			s, err := OpenFile(path)
			if err != nil {
				t.Fatal(err)
			}
			defer s.Close()
			if notes := strings.Join(s.Info().Notes, "\n"); !strings.Contains(notes, "cut off") {
				t.Errorf("notes %q", notes)
			}
			frames, bad := readAll(t, s)
			if len(frames) < 4 || len(frames) > 5 {
				t.Errorf("%d whole frames of 8 in six tenths of the file", len(frames))
			}
			if len(bad) == 0 || !errors.Is(bad[len(bad)-1], io.ErrUnexpectedEOF) {
				t.Errorf("bad frames: %v", bad)
			}
		})
	}
}

func TestOddSizes(t *testing.T) {
	for _, size := range [][2]int{{721, 575}, {17, 9}} {
		for _, c := range []struct{ file, words string }{
			{"a.avi", "-c:v mjpeg -pix_fmt yuvj420p"}, {"a.mkv", "-c:v ffv1 -pix_fmt yuv444p"},
		} {
			path := filepath.Join(t.TempDir(), c.file)
			ffmpeg(t, fmt.Sprintf("-f lavfi -i testsrc=size=%dx%d:rate=25 -frames:v 2 %s", size[0], size[1], c.words), path)
			s, err := OpenFile(path)
			if err != nil {
				t.Fatal(err)
			}
			frames, bad := readAll(t, s)
			if len(frames) != 2 || len(bad) > 0 || frames[0].Width != size[0] || frames[0].Height != size[1] {
				t.Errorf("%v %s: %d frames, %v, %d x %d", size, c.file, len(frames), bad, frames[0].Width, frames[0].Height)
			}
			if err := s.Close(); err != nil {
				t.Error(err)
			}
			if _, err := s.Next(context.Background()); !errors.Is(err, io.EOF) {
				t.Errorf("after Close: %v", err)
			}
		}
	}
}

// Our path against OpenCV's own decode of the same file to B, G, R.
func BenchmarkDecode(b *testing.B) {
	path := filepath.Join(b.TempDir(), "a.avi")
	ffmpeg(b, "-f lavfi -i testsrc2=size=720x576:rate=25 -frames:v 50 -c:v mjpeg -q:v 4 -pix_fmt yuvj422p", path)
	var ours, theirs float64 // ms a frame
	for b.Loop() {
		ours += perFrame(b, func() int {
			s, err := OpenFile(path)
			if err != nil {
				b.Fatal(err)
			}
			defer s.Close()
			frames, _ := readAll(b, s)
			return len(frames)
		})
		theirs += perFrame(b, func() int {
			vc, err := gocv.OpenVideoCaptureWithAPI(path, gocv.VideoCaptureFFmpeg)
			if err != nil {
				b.Fatal(err)
			}
			defer vc.Close()
			m := gocv.NewMat()
			defer m.Close()
			n := 0
			for vc.Read(&m) {
				n++
			}
			return n
		})
	}
	b.ReportMetric(ours/float64(b.N), "ms/frame")
	b.ReportMetric(ours/theirs, "x-opencv-bgr")
}
