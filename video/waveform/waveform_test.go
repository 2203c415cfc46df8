package waveform

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

func put(t *testing.T, name string, data []byte) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, data, 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

func readAll(t *testing.T, path string, o Options) (*Reader, []float32) {
	t.Helper()
	r, err := Open(path, o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = r.Close() })
	var out []float32
	buf := make([]float32, 7)
	for {
		n, err := r.Read(buf)
		out = append(out, buf[:n]...)
		if errors.Is(err, io.EOF) {
			return r, out
		}
		if err != nil {
			t.Fatal(err)
		}
	}
}

// The same five samples, 0, 0.3, -0.3, NaN, 0.7 V at 20 million a second, in the styles that
// oscilloscopes export (common practice, no source; written by hand).
func TestHeaderStyles(t *testing.T) {
	times := []string{"-1.00E-07", "-5.00E-08", "0.00E+00", "5.00E-08", "1.00E-07"}
	for name, c := range map[string]struct {
		text string
		o    Options
	}{
		"no header":             {times[0] + ",0\n" + times[1] + ",0.3\n" + times[2] + ",-0.3\n" + times[3] + ",NaN\n" + times[4] + ",0.7\n", Options{}},
		"names":                 {"Time (s),Channel 1 (V)\n-1e-7,0\n-5e-8,0.3\n0,-0.3\n5e-8,\n1e-7,0.7\n", Options{}},
		"names and units":       {"Time,Channel A\n(us),(mV)\n\n-0.10,0.0\n-0.05,300\n0.00,-300\n0.05,∞\n0.10,700\n", Options{}},
		"semicolon, comma":      {"Zeit (µs);Kanal A (V)\n-0,10;0,0\n-0,05;0,3\n0,00;-0,3\n0,05;\n0,10;0,7\n", Options{}},
		"tab, comma, CRLF":      {"x\ty\r\n-1,0E-7\t0,0\r\n-5,0E-8\t0,3\r\n0\t-0,3\r\n5,0E-8\tnan\r\n1,0E-7\t0,7\r\n", Options{}},
		"spaces":                {"# time volt\n -1e-7  0.0\n -5e-8  0.3\n  0     -0.3\n  5e-8  nan\n  1e-7  0.7\n", Options{}},
		"notes beside the rows": {"Record Length,5,,-1e-07,0.0,\nSample Interval,5e-08,,-5e-08,0.3,\nTrigger Point,2,,0,-0.3,\nVertical Units,V,,5e-08,,\n,,,1e-07,0.7,\n", Options{}},
		"notes above the rows":  {"Model,bench\nFirmware Version,1.2\nHorizontal Units,s\nVertical Units,mV\nSample Interval,5e-08\nRecord Length,5\n\nTIME,CH1\n-1e-7,0\n-5e-8,300\n0,-300\n5e-8,--\n1e-7,700\n", Options{}},
		"start and increment":   {"X,CH1,Start,Increment,\nSequence,Volt,-1.0e-07,5.0e-08,\n0,0,,\n1,0.3,,\n2,-0.3,,\n3,nan,,\n4,0.7,,\n", Options{}},
		"one column, header":    {"Sample Rate: 20 MSa/s\nVolts\n0\n0.3\n-0.3\nNaN\n0.7\n", Options{}},
		"one column":            {"0\n0.3\n-0.3\nNaN\n0.7\n", Options{Rate: 20e6}},
		"one column, comma":     {"0,0\n0,3\n-0,3\nNaN\n0,7\n", Options{Rate: 20e6}},
		"index":                 {"0,0\n1,0.3\n2,-0.3\n3,NaN\n4,0.7\n", Options{Rate: 20e6}},
		"quotes":                {"\"Time [s]\",\"CH1 [V]\"\n\"-1e-7\",\"0\"\n\"-5e-8\",\"0.3\"\n\"0\",\"-0.3\"\n\"5e-8\",\"\"\n\"1e-7\",\"0.7\"\n", Options{}},
		"byte order mark":       {"\xef\xbb\xbftime;volt\n-1e-7;0\n-5e-8;0.3\n0;-0.3\n5e-8;nan\n1e-7;0.7\n", Options{}},
		"second channel":        {"s,V,V\n-1e-7,9,0\n-5e-8,9,0.3\n0,9,-0.3\n5e-8,9,nan\n1e-7,9,0.7\n", Options{Column: 3}},
		"a row left out":        {"-1e-7,0\n-5e-8,0.3\n0,-0.3\n1e-7,0.7\n1.5e-7,0\n2e-7,0\n2.5e-7,0\n", Options{}},
	} {
		t.Run(name, func(t *testing.T) {
			r, x := readAll(t, put(t, "a.csv", []byte(c.text)), c.o)
			i := r.Info()
			if math.Abs(i.Rate/20e6-1) > 1e-6 || !i.Absolute || len(x) < 5 {
				t.Fatalf("%+v, %v", i, x)
			}
			for k, want := range []float64{0, 300, -300, math.NaN(), 700} {
				if got := float64(x[k]); math.Abs(got-want) > 1e-4 || math.IsNaN(got) != math.IsNaN(want) {
					t.Errorf("sample %d: %v mV, want %v", k, got, want)
				}
			}
			if r.Seen().Missing != 1 {
				t.Errorf("%+v", r.Seen())
			}
		})
	}
}

// Times that are rounded coarsely give the rate all the same.
func TestRoundedTimes(t *testing.T) {
	const rate = 17734475.0
	var b strings.Builder
	for i := range 60_000 {
		fmt.Fprintf(&b, "%.7f,%d\n", float64(i)/rate, i%3)
	}
	r, x := readAll(t, put(t, "a.csv", []byte(b.String())), Options{})
	if got := r.Info().Rate; math.Abs(got/rate-1) > 1e-6 || len(x) != 60_000 || r.Seen().Gaps != 0 {
		t.Errorf("%v a second, %d samples, %+v", got, len(x), r.Seen())
	}
}

// A table that was cut off within its last number has the rows before it.
func TestCutOffTable(t *testing.T) {
	const whole = "Time (s),V\n0,0.1\n1e-7,0.2\n2e-7,0.3\n3e-7,0.1\n4e-7,0.2\n"
	for _, last := range []string{"5", "0.00", "5e-"} {
		_, x := readAll(t, put(t, "a.csv", []byte(whole+last)), Options{})
		if len(x) < 5 || len(x) > 6 || math.Abs(float64(x[4])-200) > 1e-3 || len(x) == 6 && x[5] == x[5] {
			t.Errorf("cut off behind %q: %v", last, x)
		}
	}
}

func wav(format, channels, bits int, rate uint32, data []byte) []byte {
	var b []byte
	le16 := func(v int) { b = binary.LittleEndian.AppendUint16(b, uint16(v)) }
	le32 := func(v uint32) { b = binary.LittleEndian.AppendUint32(b, v) }
	b = append(b, "RIFF"...)
	le32(uint32(36 + len(data)))
	b = append(b, "WAVEfmt "...)
	le32(16)
	le16(format)
	le16(channels)
	le32(rate)
	le32(rate * uint32(channels*bits/8))
	le16(channels * bits / 8)
	le16(bits)
	b = append(b, "data"...)
	le32(uint32(len(data)))
	return append(b, data...)
}

func npy(descr, shape string, data []byte) []byte {
	h := fmt.Sprintf("{'descr': '%s', 'fortran_order': False, 'shape': %s, }", descr, shape)
	h += strings.Repeat(" ", 64-(10+len(h)+1)%64) + "\n"
	b := append([]byte("\x93NUMPY\x01\x00"), byte(len(h)), byte(len(h)>>8))
	return append(append(b, h...), data...)
}

// Integers of every kind: -1, 0, 0.5 and nearly 1 of full scale.
func TestIntegers(t *testing.T) {
	u8 := []byte{0, 128, 192, 255}
	s8 := []byte{0x80, 0, 0x40, 0x7f}
	s16 := []byte{0, 0x80, 0, 0, 0, 0x40, 0xff, 0x7f}
	u16be := []byte{0, 0, 0x80, 0, 0xc0, 0, 0xff, 0xff}
	for name, c := range map[string]struct {
		file string
		data []byte
		o    Options
		top  float64
	}{
		"wav 8":        {"a.wav", wav(1, 1, 8, 20e6, u8), Options{FullScale: 2}, 127. / 128},
		"wav 16":       {"a.wav", wav(1, 1, 16, 20e6, s16), Options{FullScale: 2}, 32767. / 32768},
		"wav 2nd of 2": {"a.wav", wav(1, 2, 8, 20e6, []byte{9, 0, 9, 128, 9, 192, 9, 255}), Options{FullScale: 2, Column: 2}, 127. / 128},
		"raw s8":       {"a.raw", s8, Options{FullScale: 2, Rate: 20e6, Format: "s8"}, 127. / 128},
		"raw u16be":    {"a.raw", u16be, Options{FullScale: 2, Rate: 20e6, Format: "u16be"}, 32767. / 32768},
		"npy i2":       {"a.npy", npy("<i2", "(4,)", s16), Options{FullScale: 2, Rate: 20e6}, 32767. / 32768},
		"npy u1":       {"a.npy", npy("|u1", "(1, 4)", u8), Options{FullScale: 2, Rate: 20e6}, 127. / 128},
		"npy >u2":      {"a.npy", npy(">u2", "(4, 1)", u16be), Options{FullScale: 2, Rate: 20e6}, 32767. / 32768},
	} {
		r, x := readAll(t, put(t, c.file, c.data), c.o)
		if i := r.Info(); i.Rate != 20e6 || !i.Absolute || i.Samples != 4 {
			t.Errorf("%s: %+v", name, i)
		}
		for k, want := range []float64{-2000, 0, 1000, 2000 * c.top} {
			if len(x) != 4 || math.Abs(float64(x[k])-want) > 0.01 {
				t.Errorf("%s: %v, want %v at %d", name, x, want, k)
			}
		}
	}
	// A float array is in volts, and may bring its times.
	var b []byte
	for i, v := range []float64{0.1, -0.2, 0.3} {
		b = binary.LittleEndian.AppendUint64(b, math.Float64bits(float64(i)*50e-9))
		b = binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
	}
	r, x := readAll(t, put(t, "a.npy", npy("<f8", "(3, 2)", b)), Options{})
	if math.Abs(r.Info().Rate-20e6) > 1 || len(x) != 3 || x[1] != -200 {
		t.Errorf("%+v %v", r.Info(), x)
	}
}

// What bytes mean is found from how smoothly they run.
func TestBareSamples(t *testing.T) {
	shape := func(i int) float64 {
		return 0.5*math.Sin(float64(i)/9) + 0.2*math.Sin(float64(i)*1.57)
	}
	for name, write := range map[string]func(v float64) []byte{
		"u8":    func(v float64) []byte { return []byte{byte(128 + 127*v)} },
		"s8":    func(v float64) []byte { return []byte{byte(int8(127 * v))} },
		"u16":   func(v float64) []byte { return binary.LittleEndian.AppendUint16(nil, uint16(32768+32767*v)) },
		"s16":   func(v float64) []byte { return binary.LittleEndian.AppendUint16(nil, uint16(int16(32767*v))) },
		"s16be": func(v float64) []byte { return binary.BigEndian.AppendUint16(nil, uint16(int16(32767*v))) },
	} {
		var b []byte
		for i := range 50_000 {
			b = append(b, write(shape(i))...)
		}
		r, x := readAll(t, put(t, "a.raw", b), Options{Rate: 17.7e6, FullScale: 1})
		if r.Info().Format != "bare samples, "+name || len(x) != 50_000 || math.Abs(float64(x[777])/1000-shape(777)) > 0.02 {
			t.Errorf("%s: %+v", name, r.Info())
		}
	}
}

func TestOpenRefusesInOneLine(t *testing.T) {
	for _, c := range []struct {
		name string
		data []byte
		o    Options
		want string
	}{
		{"empty.csv", nil, Options{}, "the file is empty"},
		{"words.csv", []byte("hello\nworld\n"), Options{}, "no table of numbers"},
		{"list.txt", []byte("This is a shopping list: 8 chips, 16K x 1.\n"), Options{}, "no table of numbers"},
		{"one.csv", []byte("0.3\n"), Options{Rate: 1e7}, "one sample"},
		{"one.csv", []byte("time,volt\n0,0.3\n"), Options{}, "one sample"},
		{"norate.csv", []byte("0.1\n0.2\n0.3\n0.4\n"), Options{}, "--rate"},
		{"falls.csv", []byte("Time (s),V\n0,1\n-1e-8,1\n-2e-8,1\n-3e-8,2\n"), Options{}, "rise"},
		{"norate.raw", []byte{1, 2, 3, 4, 5, 6, 7, 8, 9}, Options{}, "--rate"},
		{"flat.raw", make([]byte, 100), Options{Rate: 1e7}, "all alike"},
		{"a.raw", []byte{1, 2, 3}, Options{Rate: 1e7, Format: "u12"}, "u12"},
		{"cut.wav", []byte("RIFF\x00\x00\x00\x00WAVE"), Options{}, "ends before its samples"},
		{"deep.wav", wav(1, 1, 12, 20e6, []byte{1, 2}), Options{}, "12 bits"},
		{"slow.wav", wav(1, 1, 8, 48000, []byte{1, 2, 3}), Options{}, "48000"},
		{"none.wav", wav(1, 1, 8, 20e6, nil), Options{}, "no sample"},
		{"a.npy", []byte("\x93NUMPY\x01\x00\xff\xff{}"), Options{Rate: 1e7}, "cut off"},
		{"a.npy", npy("<c8", "(3,)", make([]byte, 24)), Options{Rate: 1e7}, "c8"},
		{"a.npy", npy("<i2", "(3,3,3)", make([]byte, 54)), Options{Rate: 1e7}, "(3,3,3)"},
		{"a.npy", npy("<i2", "(0,)", nil), Options{Rate: 1e7}, "no sample"},
		{"a.npy", npy("<i2", "(30,)", make([]byte, 60)), Options{}, "--rate"},
		{"wide.csv", []byte("\xff\xfet\x00,\x00V\x00\n\x000\x00,\x001\x00\n\x00"), Options{}, "UTF-16"},
		{"minus.raw", []byte{1, 2, 3}, Options{Rate: -4}, "-4"},
	} {
		path := put(t, c.name, c.data)
		r, err := Open(path, c.o)
		if err == nil {
			_ = r.Close()
			t.Errorf("%s %q: opened: %+v", c.name, c.data[:min(20, len(c.data))], r.Info())
			continue
		}
		if got := err.Error(); !strings.Contains(got, c.want) || strings.Count(got, path) != 1 || strings.Contains(got, "\n") {
			t.Errorf("%s: %q, want the name once and %q", c.name, got, c.want)
		}
	}
	// Time that jumps back is told where it does.
	r, err := Open(put(t, "a.csv", []byte("0,1\n1e-7,2\n2e-7,1\n3e-7,1\n0,1\n1e-7,2\n")), Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	if _, err := r.Read(make([]float32, 100)); err == nil || !strings.Contains(err.Error(), "line 5: time goes back") {
		t.Error(err)
	}
}

// What the Writer writes, the Reader reads.
func TestWriter(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.wav")
	w, err := NewWriter(path, 17734475.2, 2)
	if err != nil {
		t.Fatal(err)
	}
	in := []float32{-300, 0, 123.4, 700, 5000}
	if err := errors.Join(w.Write(in[:2]), w.Write(in[2:]), w.Close()); err != nil {
		t.Fatal(err)
	}
	w.Discard()
	r, x := readAll(t, path, Options{FullScale: 2})
	if r.Info().Rate != 17734475 || len(x) != 5 {
		t.Fatalf("%+v %v", r.Info(), x)
	}
	in[4] = 2000 // full scale
	for i, v := range in {
		if math.Abs(float64(x[i]-v)) > 0.07 {
			t.Errorf("sample %d: %v, want %v", i, x[i], v)
		}
	}
	if _, err := NewWriter(path, 1e6, 1); err == nil {
		t.Error("a name that is taken was taken again")
	}
}

// FuzzOpen reads anything at all.
func FuzzOpen(f *testing.F) {
	f.Add([]byte("Time (s),V\n0,1\n1e-8,1\n2e-8,nan\n3e-8,2\n"), uint8(0))
	f.Add(wav(1, 1, 16, 20e6, []byte{1, 2, 3}), uint8(1))
	f.Add(npy("<f4", "(3, 2)", make([]byte, 24)), uint8(2))
	f.Add([]byte{0, 200, 3, 4, 5, 6, 7, 8, 9, 10}, uint8(3))
	dir := f.TempDir()
	f.Fuzz(func(t *testing.T, data []byte, how uint8) {
		path := filepath.Join(dir, "a.raw")
		if err := os.WriteFile(path, data, 0o644); err != nil {
			t.Fatal(err)
		}
		o := Options{}
		if how&1 == 1 {
			o.Rate = 1e7
		}
		if how&2 == 2 {
			o.Format = Formats()[int(how>>2)%len(Formats())]
		}
		_ = Is(path)
		r, err := Open(path, o)
		if err != nil {
			return
		}
		defer r.Close()
		buf := make([]float32, 1000)
		for range 100 {
			if _, err := r.Read(buf); err != nil {
				return
			}
		}
	})
}

// A WAV that FFmpeg writes is read as what it was told to write: half of full scale at 100 kHz,
// 2 million samples a second (aevalsrc; common practice, no source for the rate).
func TestFFmpegWAV(t *testing.T) {
	if _, err := exec.LookPath("ffmpeg"); err != nil {
		t.Skip("no ffmpeg")
	}
	for _, codec := range []string{"pcm_u8", "pcm_s16le"} {
		path := filepath.Join(t.TempDir(), "a.wav")
		out, err := exec.Command("ffmpeg", "-v", "error", "-f", "lavfi", "-i", "aevalsrc=0.5*sin(2*PI*100000*t):s=2000000:d=0.05", "-c:a", codec, path).CombinedOutput()
		if err != nil {
			t.Fatalf("%v: %s", err, out)
		}
		r, x := readAll(t, path, Options{FullScale: 1})
		if r.Info().Rate != 2e6 || len(x) != 100_000 {
			t.Fatalf("%s: %+v, %d samples", codec, r.Info(), len(x))
		}
		for i, v := range x[:1000] {
			if want := 500 * math.Sin(2*math.Pi*float64(i)/20); math.Abs(float64(v)-want) > 8 { // a code of 8 bits
				t.Fatalf("%s: sample %d is %v, want %v", codec, i, v, want)
			}
		}
	}
}
