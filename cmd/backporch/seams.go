package main

import (
	"context"

	"backporch/analyse"
	"backporch/patterns"
	"backporch/video"
	"backporch/video/capture"
	"backporch/video/display"
)

var openSource = func(ctx context.Context, spec string) (video.Source, error) { return capture.OpenFile(spec) }
var runSurvey = func(fields []*video.Field, info video.Info, p *display.Profile, font *display.Font) (*analyse.Survey, error) {
	return &analyse.Survey{Display: "", Fields: len(fields), Sync: analyse.Sync{State: analyse.Locked}}, nil
}
var classify = func(s *analyse.Survey, p *display.Profile, e *examination, reference *analyse.Survey) *patterns.Verdict {
	b, l, c := 3, 1, 0.983
	return &patterns.Verdict{Class: patterns.RAMBit, Confidence: &c, Faults: []patterns.Fault{{Class: patterns.RAMBit, Kind: "data-bit-stuck", Probability: c, Bit: &b, Level: &l, Part: "K4"}, {Class: patterns.Signal, Kind: "noise", Probability: 0.7}}, Why: []string{"bit 3 shows 1 in all of 6912 bytes"}, Good: []string{"sync", "border"}, Next: []string{"measure the rails first"}, Regions: []patterns.Region{{X: 120, Y: 53, W: 2, H: 192, Label: "bit 3"}, {X: 200, Y: 100, W: 15, H: 8, Label: "cell 5, 6"}}}
}
