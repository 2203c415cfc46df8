package source

import (
	"context"
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"testing"

	"backporch/video"
	"backporch/video/composite"
	"backporch/video/waveform"
)

// broadcast makes interlaced bars, white, yellow, cyan, green, magenta, red, blue, black at
// part of full amplitude, on the grid of ITU-R BT.601: eight of 87 samples about the middle.
func broadcast(t testing.TB, s video.Standard, part float64, rate float64) (x []float32, exact float64) {
	t.Helper()
	r := composite.Raster{Standard: s, PixelHz: 13.5e6, LinePixels: s.Scan().LineSamples, Lines: 625, Interlaced: true, FieldSync: composite.Equalised}
	if s == video.Std525 {
		r.Lines = 525
	}
	e, err := composite.NewEncoder(r, rate)
	if err != nil {
		t.Fatal(err)
	}
	pixels := make([]uint8, 8*87)
	for i := range pixels {
		pixels[i] = uint8(i / 87)
	}
	for n := range r.Lines {
		if half := r.Lines / 2; n%half > 16 && n%half < half-4 {
			e.SetLine(n, s.Scan().FirstSample+360-4*87, pixels, colours(part))
		}
	}
	for range 3 {
		x = append(x, e.Encode(nil)...)
	}
	return x, e.Rate()
}

func colours(part float64) []video.YUV {
	out := make([]video.YUV, 8)
	for i := range out {
		g, r, b := float64(1-i>>2), float64(1-i>>1&1), float64(1-i&1)
		if i > 0 {
			g, r, b = g*part, r*part, b*part
		}
		out[i] = video.YUVOfRGB(r, g, b)
	}
	return out
}

// Bars of 75 and 100 % come out within 2 codes and 1 degree of the codes of ITU-R BT.601 and
// the levels of BT.471, whatever was done to the waveform on its way into the file: codes
// 162, 44, 142 for 75 % yellow and so on, by the equations of BT.601, 3.5.
func TestWaveformBars(t *testing.T) {
	dir := t.TempDir()
	for i, c := range []struct {
		name   string
		s      video.Standard
		part   float64
		rate   float64
		change func(v float64, i int) float64
	}{
		{"625, 75 %", video.Std625, 0.75, 0, nil},
		{"625, 100 %", video.Std625, 1, 0, nil},
		{"525, 75 %", video.Std525, 0.75, 0, nil},
		{"525, 100 %", video.Std525, 1, 0, nil},
		{"625, inverted, offset, half", video.Std625, 0.75, 0, func(v float64, _ int) float64 { return 800 - v/2 }},
		{"625, 30 MS/s", video.Std625, 1, 30e6, nil},
		{"625, hum", video.Std625, 0.75, 0, func(v float64, i int) float64 { return v + 200*math.Sin(float64(i)*2*math.Pi*50/17734475) }},
	} {
		x, rate := broadcast(t, c.s, c.part, c.rate)
		if c.change != nil {
			for k, v := range x {
				x[k] = float32(c.change(float64(v), k))
			}
		}
		path := filepath.Join(dir, fmt.Sprintf("%d.wav", i))
		w, err := waveform.NewWriter(path, rate, 2)
		if err != nil {
			t.Fatal(err)
		}
		if err := w.Write(x); err != nil {
			t.Fatal(err)
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		src, err := Open(context.Background(), path, Options{})
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		info := src.Info()
		frames, bad := all(t, src)
		if err := src.Close(); err != nil {
			t.Error(err)
		}
		if info.Kind != video.KindWaveform || info.Standard != c.s || len(frames) < 2 || len(bad) > 0 || math.Abs(info.Rate*2/c.s.Scan().FieldHz-1) > 1e-3 {
			t.Errorf("%s: %+v, %d frames, %v", c.name, info, len(frames), bad)
			continue
		}
		for _, f := range []*video.Frame{frames[0], frames[len(frames)-1]} {
			nearBars(t, c.name, f, c.part)
		}
	}
}

func nearBars(t *testing.T, name string, f *video.Frame, part float64) {
	t.Helper()
	for i, colour := range colours(part) {
		want := [3]float64{}
		want[0], want[1], want[2] = colour.Codes()
		var got [3]float64
		n := 0.0
		for y := 60; y < f.Height-60; y++ {
			for x := 360 - 4*87 + i*87 + 30; x < 360-4*87+i*87+56; x += 2 {
				got[0] += float64(f.Y[y*f.Width+x])
				got[1] += float64(f.Cb[y*f.ChromaWidth+x/2])
				got[2] += float64(f.Cr[y*f.ChromaWidth+x/2])
				n++
			}
		}
		for k := range got {
			if got[k] /= n; math.Abs(got[k]-want[k]) > 2 {
				t.Errorf("%s, frame %d, bar %d: %.1f, want %.1f (Y, Cb, Cr: number %d)", name, f.Index, i, got[k], want[k], k)
			}
		}
		if colour.Saturation() > 0.01 {
			if d := math.Remainder(video.YUVOfCodes(got[0], got[1], got[2]).Hue()-colour.Hue(), 360); math.Abs(d) > 1 {
				t.Errorf("%s, frame %d, bar %d: hue off by %.2f degrees", name, f.Index, i, d)
			}
		}
	}
}

// Every form of file gives the same picture; a single field gives one frame of its own.
func TestWaveformForms(t *testing.T) {
	dir := t.TempDir()
	x, rate := broadcast(t, video.Std625, 1, 0)
	field := int(rate / 50)
	short := x[field*9/10 : field*26/10]
	var csv strings.Builder
	csv.WriteString("Time (s);Channel 1 (V)\n")
	for i, v := range short {
		fmt.Fprintf(&csv, "%s;%s\n", strings.Replace(fmt.Sprintf("%.10e", float64(i)/rate), ".", ",", 1), strings.Replace(fmt.Sprintf("%.4f", v/1000), ".", ",", 1))
	}
	var raw []byte
	rng := rand.New(rand.NewPCG(7, 7))
	for _, v := range x {
		// Noise of a code or so, as every sampler has: without it rounding alone moves levels by half a code.
		raw = append(raw, byte(min(max(math.Round(float64(v)/5.5+0.7*rng.NormFloat64())+64, 0), 255)))
	}
	head := "{'descr': '<f4', 'fortran_order': False, 'shape': (" + fmt.Sprint(len(x)) + ",), }"
	head += strings.Repeat(" ", 117-len(head)) + "\n"
	npy := append([]byte("\x93NUMPY\x01\x00"), byte(len(head)), 0)
	npy = append(npy, head...)
	for _, v := range x {
		npy = binary.LittleEndian.AppendUint32(npy, math.Float32bits(v/1000))
	}
	for _, c := range []struct {
		file   string
		data   []byte
		o      waveform.Options
		height int
		frames int
	}{
		{"a.csv", []byte(csv.String()), waveform.Options{}, 288, 1},
		{"a.raw", raw, waveform.Options{}, 576, 2},
		{"once.raw", raw[int(rate*64e-6*8):int(rate*64e-6*330)], waveform.Options{Rate: rate}, 288, 1}, // one field sync, at its end
		{"a.u8", raw, waveform.Options{Rate: rate, Format: "u8"}, 576, 2},
		{"a.npy", npy, waveform.Options{Rate: rate}, 576, 2},
	} {
		src, err := Open(context.Background(), bytesFile(t, filepath.Join(dir, c.file), c.data), Options{Waveform: c.o})
		if err != nil {
			t.Errorf("%s: %v", c.file, err)
			continue
		}
		frames, bad := all(t, src)
		if len(frames) < c.frames || len(bad) > 0 || frames[0].Height != c.height {
			t.Errorf("%s: %d frames, %v, %+v", c.file, len(frames), bad, src.Info())
		} else {
			nearBars(t, c.file, frames[0], 1)
		}
		_ = src.Close()
	}
}

func TestWaveformRefusesInOneLine(t *testing.T) {
	dir := t.TempDir()
	x, rate := broadcast(t, video.Std625, 1, 0)
	save := func(name string, x []float32, rate float64) string {
		path := filepath.Join(dir, name)
		w, err := waveform.NewWriter(path, rate, 2)
		if err != nil {
			t.Fatal(err)
		}
		if err := w.Write(x); err != nil {
			t.Fatal(err)
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		return path
	}
	slow := make([]float32, len(x)/4)
	for i := range slow {
		slow[i] = x[4*i]
	}
	for _, c := range []struct{ name, path, want string }{
		{"a line", save("line.wav", x[200_000:203_000], rate), "too short for a picture"},
		{"silence", save("zero.wav", make([]float32, 1_000_000), rate), "no line sync"},
		{"one sample", save("one.wav", x[:1], rate), "one sample"},
		{"slow", save("slow.wav", slow, rate/4), "no rate to decode a picture at"},
		{"text", bytesFile(t, filepath.Join(dir, "a.csv"), []byte("hello\n")), "text"},
	} {
		src, err := Open(context.Background(), c.path, Options{})
		if err == nil {
			_ = src.Close()
			t.Errorf("%s: opened", c.name)
			continue
		}
		if got := err.Error(); !strings.Contains(got, c.want) || strings.Count(got, c.path) != 1 || strings.Contains(got, "\n") {
			t.Errorf("%s: %q", c.name, got)
		}
	}
}

// BenchmarkWaveform decodes a file at four times the PAL subcarrier, 17.7 million samples a second,
// on one goroutine: how many times as fast as it was sampled.
func BenchmarkWaveform(b *testing.B) {
	x, rate := broadcast(b, video.Std625, 1, 0)
	path := filepath.Join(b.TempDir(), "a.wav")
	w, err := waveform.NewWriter(path, rate, 2)
	if err != nil {
		b.Fatal(err)
	}
	for range 4 {
		if err := w.Write(x); err != nil {
			b.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		src, err := Open(context.Background(), path, Options{})
		if err != nil {
			b.Fatal(err)
		}
		for {
			if _, err := src.Next(context.Background()); err != nil {
				break
			}
		}
		_ = src.Close()
	}
	b.ReportMetric(4*float64(len(x))/rate/(b.Elapsed().Seconds()/float64(b.N)), "x-realtime")
}
