package picture

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"os/exec"
	"testing"

	"backporch/video"
)

// picturesque is a frame with edges, slopes and fine detail.
func picturesque(width, height, chromaWidth, chromaHeight int, seed uint64) *video.Frame {
	r := rand.New(rand.NewPCG(seed, 1))
	f := NewFrame(width, height, chromaWidth, chromaHeight)
	fill := func(p []uint8, w int, low, high int) {
		for i := range p {
			x, y := i%w, i/w
			v := low + (high-low)*((x/8+y/6)%5)/4
			v += int(4*math.Sin(float64(x)/3)) + r.IntN(3)
			p[i] = uint8(max(low, min(high, v)))
		}
	}
	fill(f.Y, width, 16, 235)
	if chromaWidth > 0 {
		fill(f.Cb, chromaWidth, 60, 190)
		fill(f.Cr, chromaWidth, 70, 200)
	}
	return f
}

func rms(a, b []uint8) float64 {
	sum := 0.0
	for i := range a {
		d := float64(a[i]) - float64(b[i])
		sum += d * d
	}
	return math.Sqrt(sum / float64(max(1, len(a))))
}

// The tables must be those of ITU-T T.81 Annex K; the standard library's encoder,
// written by others, always puts them into its files.
func TestTablesAreTheStandards(t *testing.T) {
	var b bytes.Buffer
	if err := jpeg.Encode(&b, image.NewRGBA(image.Rect(0, 0, 8, 8)), &jpeg.Options{Quality: 50}); err != nil {
		t.Fatal(err)
	}
	var huffman, quant []byte
	segments(b.Bytes(), func(marker uint8, _ int, body []byte) bool {
		switch marker {
		case markerDHT:
			huffman = append(huffman, body...)
		case markerDQT:
			quant = append(quant, body...)
		}
		return true
	})
	if got := appendHuffmanTables(nil)[4:]; !bytes.Equal(got, huffman) {
		t.Error("the Huffman tables differ from the standard library's")
	}
	for i, table := range [][64]uint8{quantLuma, quantChroma} {
		for k, at := range zigzag {
			if quant[65*i+1+k] != table[at] {
				t.Fatalf("quantiser %d, coefficient %d: %d, the standard library has %d", i, k, table[at], quant[65*i+1+k])
			}
		}
	}
}

func TestJPEGKeepsPlanes(t *testing.T) {
	for _, c := range []struct{ w, h, cw, ch int }{
		{720, 576, 360, 576}, {720, 480, 360, 240}, {64, 64, 64, 64}, {64, 48, 0, 0},
		{721, 575, 361, 575}, {33, 17, 17, 9}, {1, 1, 1, 1},
	} {
		for _, bare := range []bool{false, true} {
			name := fmt.Sprintf("%dx%d chroma %dx%d bare %v", c.w, c.h, c.cw, c.ch, bare)
			f := picturesque(c.w, c.h, c.cw, c.ch, 7)
			data, err := EncodeJPEG(nil, f, JPEGOptions{Quality: 97, NoTables: bare})
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			if bare == bytes.Contains(data, []byte{0xFF, markerDHT}) {
				t.Errorf("%s: tables are not as asked", name)
			}
			got, rgb, err := DecodeJPEG(data, c.h)
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			if rgb || got.Width != c.w || got.Height != c.h || got.ChromaWidth != c.cw || got.ChromaHeight != c.ch {
				t.Fatalf("%s: came back as %dx%d, chroma %dx%d, rgb %v", name, got.Width, got.Height, got.ChromaWidth, got.ChromaHeight, rgb)
			}
			// Quality 97 quantises luma in steps of 1 to 7 codes: uniform error of the
			// common step, 4, is 4/sqrt(12) = 1.2 rms. A shift by one sample gives over 10.
			if e := rms(got.Y, f.Y); e > 2 {
				t.Errorf("%s: luma off by %.2f codes rms", name, e)
			}
			if e := max(rms(got.Cb, f.Cb), rms(got.Cr, f.Cr)); e > 2.5 {
				t.Errorf("%s: chroma off by %.2f codes rms", name, e)
			}
		}
	}
}

// FFmpeg's decoder, written by others, must see the same planes in our JPEG as we put in.
func TestFFmpegReadsOurJPEG(t *testing.T) {
	ffmpeg, err := exec.LookPath("ffmpeg")
	if err != nil {
		t.Skip("ffmpeg is not installed")
	}
	f := picturesque(720, 576, 360, 576, 3)
	for _, bare := range []bool{false, true} {
		data, err := EncodeJPEG(nil, f, JPEGOptions{Quality: 97, NoTables: bare})
		if err != nil {
			t.Fatal(err)
		}
		cmd := exec.Command(ffmpeg, "-loglevel", "error", "-f", "mjpeg", "-i", "-", "-f", "rawvideo", "-pix_fmt", "yuvj422p", "-")
		cmd.Stdin = bytes.NewReader(data)
		raw, err := cmd.Output()
		if err != nil {
			t.Fatal(err)
		}
		got, err := FromPacked(raw, "Y42B", 720, 576)
		if err != nil {
			t.Fatal(err)
		}
		ours, _, err := DecodeJPEG(data, 576)
		if err != nil {
			t.Fatal(err)
		}
		// Decoders may round each sample differently by one (T.83).
		for _, p := range []struct {
			name       string
			theirs, in []uint8
			back       []uint8
		}{{"Y", got.Y, f.Y, ours.Y}, {"Cb", got.Cb, f.Cb, ours.Cb}, {"Cr", got.Cr, f.Cr, ours.Cr}} {
			if e := rms(p.theirs, p.in); e > 2.5 {
				t.Errorf("bare %v, %s: FFmpeg reads it %.2f codes rms from what went in", bare, p.name, e)
			}
			for i := range p.back {
				if d := int(p.back[i]) - int(p.theirs[i]); d < -2 || d > 2 {
					t.Fatalf("bare %v, %s, sample %d: we read %d, FFmpeg %d", bare, p.name, i, p.back[i], p.theirs[i])
				}
			}
		}
	}
}

// Capture cards put each field into a JPEG of its own, both in one packet.
func TestTwoFieldsInAPacket(t *testing.T) {
	top, bottom := picturesque(64, 32, 32, 32, 1), NewFrame(64, 32, 32, 32)
	for i := range bottom.Y {
		bottom.Y[i] = 180
	}
	encode := func(f *video.Frame, polarity uint8) []byte {
		data, err := EncodeJPEG(nil, f, JPEGOptions{NoTables: true})
		if err != nil {
			t.Fatal(err)
		}
		data[10] = polarity // after FFD8 FFE0 length AVI1
		return data
	}
	for _, swapped := range []bool{false, true} {
		first, second := encode(top, 1), encode(bottom, 2)
		if swapped {
			first, second = second, first
		}
		packet := append(append(append([]byte{}, first...), 0, 0), second...)
		f, _, err := DecodeJPEG(packet, 64)
		if err != nil {
			t.Fatal(err)
		}
		if f.Height != 64 {
			t.Fatalf("height %d, want 64", f.Height)
		}
		fields := f.Fields(video.TopFirst, 25)
		if e := rms(fields[1].Y, bottom.Y); e > 1 {
			t.Errorf("swapped %v: the bottom field is off by %.1f codes", swapped, e)
		}
		if e := rms(fields[0].Y, top.Y); e > 6 {
			t.Errorf("swapped %v: the top field is off by %.1f codes", swapped, e)
		}
	}
}

func TestDecodeJPEGRefuses(t *testing.T) {
	good, err := EncodeJPEG(nil, picturesque(64, 64, 32, 64, 1), JPEGOptions{})
	if err != nil {
		t.Fatal(err)
	}
	zero := bytes.Clone(good)
	i := bytes.Index(zero, []byte{0xFF, markerSOF})
	zero[i+5], zero[i+6] = 0, 0
	huge := bytes.Clone(good)
	huge[i+5], huge[i+6] = 0xFF, 0xFF
	for name, data := range map[string][]byte{
		"nothing": nil, "text": []byte("hello, world"), "cut": good[:len(good)/2], "no lines": zero, "huge": huge,
	} {
		if f, _, err := DecodeJPEG(data, 0); err == nil {
			t.Errorf("%s: gave a frame of %dx%d", name, f.Width, f.Height)
		}
	}
}

func FuzzDecodeJPEG(f *testing.F) {
	for _, bare := range []bool{false, true} {
		data, err := EncodeJPEG(nil, picturesque(32, 16, 16, 16, 1), JPEGOptions{NoTables: bare})
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
		f.Add(append(bytes.Clone(data), data...))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		if len(data) > 1<<16 {
			return
		}
		if len(data) > 0 { // keep the sizes small: each side's high byte is dropped
			if i := bytes.Index(data, []byte{0xFF, markerSOF}); i >= 0 && i+8 < len(data) {
				data = bytes.Clone(data)
				data[i+5], data[i+7] = 0, 0
			}
		}
		frame, _, err := DecodeJPEG(data, 32)
		if err != nil {
			return
		}
		if len(frame.Y) != frame.Width*frame.Height || len(frame.Cb) != frame.ChromaWidth*frame.ChromaHeight || len(frame.Cr) != len(frame.Cb) {
			t.Fatalf("planes of %d, %d, %d for %dx%d and %dx%d", len(frame.Y), len(frame.Cb), len(frame.Cr), frame.Width, frame.Height, frame.ChromaWidth, frame.ChromaHeight)
		}
	})
}

// The matrix against color.RGBToYCbCr's definition (JFIF), brought to BT.601's range in
// floating point, and against the bar codes that BT.601's equations give.
func TestRGBCodes(t *testing.T) {
	for _, c := range []struct{ r, g, b, y, cb, cr int32 }{
		{255, 255, 255, 235, 128, 128}, {0, 0, 0, 16, 128, 128}, {255, 255, 0, 210, 16, 146},
		{0, 255, 255, 170, 166, 16}, {0, 255, 0, 145, 54, 34}, {255, 0, 255, 106, 202, 222},
		{255, 0, 0, 81, 90, 240}, {0, 0, 255, 41, 240, 110},
	} {
		y, cb, cr := codesOfRGB(c.r, c.g, c.b)
		if int32(y) != c.y || int32(cb) != c.cb || int32(cr) != c.cr {
			t.Errorf("%d %d %d: %d %d %d, BT.601 says %d %d %d", c.r, c.g, c.b, y, cb, cr, c.y, c.cb, c.cr)
		}
		back := rgb3(rgbOfCodes(c.y, (c.cb-128)*256, (c.cr-128)*256))
		for i, want := range [3]int32{c.r, c.g, c.b} {
			if d := back[i] - want; d < -2 || d > 2 { // codes are rounded: 255/219 of half a code, and chroma's
				t.Errorf("%d %d %d came back as %v", c.r, c.g, c.b, back)
			}
		}
	}
	for i := range 4096 {
		r, g, b := uint8(i*37), uint8(i*101), uint8(i*11+i/7)
		y, cb, cr := codesOfRGB(int32(r), int32(g), int32(b))
		fy, fcb, fcr := color.RGBToYCbCr(r, g, b)
		want := [3]float64{16 + float64(fy)*219/255, 128 + (float64(fcb)-128)*224/255, 128 + (float64(fcr)-128)*224/255}
		for k, got := range [3]uint8{y, cb, cr} {
			if math.Abs(float64(got)-want[k]) > 1.01 { // both round
				t.Fatalf("%d %d %d: component %d is %d, JFIF's matrix gives %.2f", r, g, b, k, got, want[k])
			}
		}
	}
}

func rgb3(r, g, b uint8) [3]int32 { return [3]int32{int32(r), int32(g), int32(b)} }

func TestPackedRefusesOtherSizes(t *testing.T) {
	for _, layout := range []string{"YUYV", "UYVY", "I420", "YV12", "Y42B", "NV12"} {
		for _, size := range [][2]int{{720, 576}, {5, 3}, {1, 1}} {
			n := layouts[layout].size(size[0], size[1])
			if f, err := FromPacked(make([]uint8, n), layout, size[0], size[1]); err != nil || len(f.Y) != size[0]*size[1] {
				t.Errorf("%s %v: %v", layout, size, err)
			}
			if _, err := FromPacked(make([]uint8, n-1), layout, size[0], size[1]); err == nil {
				t.Errorf("%s %v: took a frame that is a byte short", layout, size)
			}
		}
	}
	if _, err := FromPacked(nil, "YUYV", -1, 7); err == nil {
		t.Error("took a negative width")
	}
}

func BenchmarkJPEG(b *testing.B) {
	f := picturesque(720, 576, 360, 576, 1)
	data, err := EncodeJPEG(nil, f, JPEGOptions{})
	if err != nil {
		b.Fatal(err)
	}
	b.Run("decode", func(b *testing.B) {
		for b.Loop() {
			if _, _, err := DecodeJPEG(data, 576); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("encode", func(b *testing.B) {
		for b.Loop() {
			if data, err = EncodeJPEG(data[:0], f, JPEGOptions{}); err != nil {
				b.Fatal(err)
			}
		}
	})
}
