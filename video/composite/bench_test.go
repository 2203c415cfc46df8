package composite

import (
	"testing"

	"backporch/video"
)

func BenchmarkEncode(b *testing.B) {
	r := broadcast(video.Std625)
	e, err := NewEncoder(r, 0)
	if err != nil {
		b.Fatal(err)
	}
	drawBars(e, r, bars(1))
	var x []float32
	for b.Loop() {
		x = e.Encode(x)
	}
	perFrame := b.Elapsed().Seconds() / float64(b.N)
	b.ReportMetric(float64(len(x))/e.Rate()/perFrame, "x-realtime")
}

func BenchmarkDecode(b *testing.B) {
	for _, c := range []struct {
		name string
		o    Options
	}{
		{"standard=625/luma=notch", Options{Standard: video.Std625}},
		{"standard=625/luma=comb", Options{Standard: video.Std625, Comb: true}},
		{"standard=525/luma=notch", Options{Standard: video.Std525}},
	} {
		b.Run(c.name, func(b *testing.B) {
			r := broadcast(c.o.Standard)
			e, err := NewEncoder(r, 0)
			if err != nil {
				b.Fatal(err)
			}
			drawBars(e, r, bars(1))
			o := c.o
			o.Rate = e.Rate()
			d, err := NewDecoder(o)
			if err != nil {
				b.Fatal(err)
			}
			x := e.Encode(nil)
			fields := 0
			for b.Loop() {
				d.Decode(x, func(*video.Field) { fields++ })
			}
			perFrame := b.Elapsed().Seconds() / float64(b.N)
			b.ReportMetric(float64(len(x))/e.Rate()/perFrame, "x-realtime")
			b.ReportMetric(perFrame*1e3/2, "ms/field")
		})
	}
}
