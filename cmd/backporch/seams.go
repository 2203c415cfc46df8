package main

import (
	"context"

	"backporch/video"
	"backporch/video/capture"
)

var openSource = func(ctx context.Context, spec string) (video.Source, error) { return capture.OpenFile(spec) }
