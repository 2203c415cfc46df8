package v4l2

import (
	"slices"
	"strings"
	"testing"

	"backporch/video"
)

func TestStandards(t *testing.T) {
	for name, want := range map[string]video.Standard{
		"pal": video.Std625, "PAL": video.Std625, "secam": video.Std625, "pal-n": video.Std625, "625": video.Std625, "625/50": video.Std625,
		"ntsc": video.Std525, "pal-60": video.Std525, "pal-m": video.Std525, "ntsc-443": video.Std525, "525": video.Std525,
	} {
		if s, err := ParseStandard(name); err != nil || s.Scan() != want {
			t.Errorf("%s: %v, %v", name, s.Scan(), err)
		}
	}
	for _, name := range []string{"", "palm", "60", "none"} {
		if _, err := ParseStandard(name); err == nil || strings.Contains(err.Error(), "\n") {
			t.Errorf("%q: %v", name, err)
		}
	}
	for s, want := range map[Standard]string{0: "none", 0xFF: "pal", 0x07: "pal", 0x1000: "ntsc", 0xFF06FF: "625/50", 0xF900: "525/60"} {
		if s.String() != want {
			t.Errorf("%#x: %q, want %q", uint64(s), s, want)
		}
	}
	if s := Standard(0xFFFFFF); s.Scan() != video.UnknownStandard { // 'all' is no answer
		t.Errorf("all standards: %v", s.Scan())
	}
}

func TestFindInput(t *testing.T) {
	d := &Device{Inputs: []Input{{Number: 0, Name: "Composite1"}, {Number: 1, Name: "S-Video"}, {Number: 2, Name: "Composite2"}}}
	for word, want := range map[string]int{"0": 0, "2": 2, "s-video": 1, "Composite2": 2, "video": 1} {
		if in, err := d.FindInput(word); err != nil || in.Number != want {
			t.Errorf("%s: %+v, %v", word, in, err)
		}
	}
	for _, word := range []string{"3", "-1", "composite", "", "tuner"} {
		if _, err := d.FindInput(word); err == nil || !strings.Contains(err.Error(), "1 (S-Video)") {
			t.Errorf("%q: %v", word, err)
		}
	}
	if _, err := (&Device{}).FindInput("0"); err == nil {
		t.Error("an input of a device without any")
	}
}

func TestChoose(t *testing.T) {
	of := func(codes ...string) *Device {
		d := &Device{}
		for _, c := range codes {
			d.Formats = append(d.Formats, Format{Code: c})
		}
		return d
	}
	for _, c := range []struct {
		offers []string
		wanted string
		code   string
		ok     bool
	}{
		{[]string{"MJPG", "YUYV"}, "", "YUYV", true}, {[]string{"BGR3", "MJPG"}, "", "MJPG", true}, {[]string{"BGR3", "H264"}, "", "", false},
		{[]string{"MJPG", "YUYV"}, "mjpg", "MJPG", true}, {[]string{"MJPG", "YUYV"}, "YUY2", "YUYV", true}, {[]string{"BGR3", "YUYV"}, "BGR3", "BGR3", false},
	} {
		if code, ok, err := of(c.offers...).Choose(c.wanted); err != nil || code != c.code || ok != c.ok {
			t.Errorf("%v, %q: %q %v %v", c.offers, c.wanted, code, ok, err)
		}
	}
	if _, _, err := of("YUYV").Choose("NV12"); err == nil || !strings.Contains(err.Error(), "YUYV") {
		t.Errorf("a format that is not there: %v", err)
	}
}

// V4L2's rule for interlaced frames: the older field is the bottom one for 525/60.
func TestOrder(t *testing.T) {
	for _, c := range []struct {
		m      Mode
		order  video.FieldOrder
		stated bool
	}{
		{Mode{Field: fieldInterlaced, Height: 576}, video.TopFirst, true}, {Mode{Field: fieldInterlaced, Height: 480}, video.BottomFirst, true},
		{Mode{Field: fieldInterlacedBT, Height: 576}, video.BottomFirst, true}, {Mode{Field: fieldSeqTB, Height: 480}, video.TopFirst, true},
		{Mode{Field: 1, Height: 576}, video.Progressive, false},
	} {
		if order, stated := c.m.Order(); order != c.order || stated != c.stated {
			t.Errorf("%+v: %v %v", c.m, order, stated)
		}
	}
}

func TestWords(t *testing.T) {
	if got := words(0x102); !slices.Equal(got, []string{"no signal", "no horizontal lock"}) {
		t.Errorf("%q", got)
	}
	if got := words(0x10); got != nil { // mirrored is no fault of the signal
		t.Errorf("%q", got)
	}
}
