package main

import (
	"bufio"
	"context"
	"io"
	"strings"
	"sync"
)

// readMarks calls mark with each line of in, until it ends or the function that it returns is called, which
// waits for the reading to be over.
func readMarks(ctx context.Context, in io.Reader, mark func(string) error) (stop func()) {
	ctx, cancel := context.WithCancel(ctx)
	var wg sync.WaitGroup
	lines := waiting(ctx, in)
	wg.Go(func() {
		r := bufio.NewReader(lines)
		for {
			line, err := r.ReadString('\n')
			if line = strings.TrimSpace(line); line != "" && ctx.Err() == nil {
				_ = mark(line) // it has words
			}
			if err != nil {
				return
			}
		}
	})
	return func() {
		cancel()
		wg.Wait()
	}
}
