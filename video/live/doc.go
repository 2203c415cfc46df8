// Package live reads a source for hours, whatever befalls it. A Reader opens the source,
// drains it in a goroutine of its own, watches that frames come, opens it anew when it has
// gone, and gives frames and events in one order:
//
//	open := func(ctx context.Context) (video.Source, error) { return source.Open(ctx, spec, o) }
//	r, err := live.Open(ctx, open, live.Options{}) // fails when the source can't be opened at first
//	defer r.Close()                                // returns when its goroutines have gone
//	for {
//		item, err := r.Next(ctx) // io.EOF: a recording has ended
//		...
//		if e := item.Event; e != nil { show(e.Text) } else { look(item.Frame) }
//	}
//
// # What is detected, and how soon
//
//	device gone            at once (Gone), then opened anew with growing pauses
//	blocked read           after Options.Stall, 1.5 s (Stalled); the goroutine is given up, it ends
//	                       and frees the device when the driver lets it go
//	held by another        at opening (Busy), tried on
//	standard changed       within a second (StandardChanged): opened anew, so that the source can
//	                       follow; by the device's own detection, see video.Receiver
//	frames lost            with the next frame (Gap), by the device's own count
//	damaged buffers        at once (Damaged)
//	the same picture       after a second of frames equal to the last bit (Frozen): analogue noise
//	                       never repeats, so a device does so of its own (devices only)
//	clock set, suspend     with the next frame (ClockStepped)
//
// Gap and Damaged are told at most once a second, with how many there were.
//
// # Order and time
//
// Frames are numbered through from 0 and share one time line however often the source is
// opened anew: a frame's Time is that of the device's stamps, laid at the moment at which the
// source's first frame came. For a recording it is the recording's own.
//
// Nothing grows: a slow taker misses frames (the oldest go first, Stats.Skipped counts
// them, Index tells where) but no event. With Options.All reading waits for the taker
// instead, which is for recordings.
package live
