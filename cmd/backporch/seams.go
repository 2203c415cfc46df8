package main

import (
	"context"
	"errors"

	"backporch/analyse"
	"backporch/patterns"
	"backporch/video"
	"backporch/video/display"
)

var errSeam = errors.New("not joined yet")

var openSource = func(ctx context.Context, spec string) (video.Source, error) { return nil, errSeam }
var runSurvey = func(fields []*video.Field, info video.Info, p *display.Profile, font *display.Font) (*analyse.Survey, error) {
	return nil, errSeam
}
var classify = func(s *analyse.Survey, p *display.Profile, e *examination, reference *analyse.Survey) *patterns.Verdict {
	return nil
}
var writeStill = func(path string, f *video.Frame, chunks map[string]string) (string, error) { return "", errSeam }
var annotateStill = func(path string, info video.Info, frame *video.Frame, field *video.Field, regions []patterns.Region, caption []string, chunks map[string]string) error {
	return errSeam
}
