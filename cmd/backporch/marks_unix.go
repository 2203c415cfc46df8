//go:build unix

package main

import (
	"context"
	"errors"
	"io"
	"os"

	"golang.org/x/sys/unix"
)

// waiting reads from a file without being held by it: it asks whether there is something to read
// before it reads, and ends with ctx.
func waiting(ctx context.Context, in io.Reader) io.Reader {
	f, ok := in.(*os.File)
	if !ok {
		return in
	}
	return &polled{ctx, f}
}

type polled struct {
	ctx context.Context
	f   *os.File
}

func (p *polled) Read(b []byte) (int, error) {
	const ask = 200 // ms
	for p.ctx.Err() == nil {
		fds := []unix.PollFd{{Fd: int32(p.f.Fd()), Events: unix.POLLIN}}
		n, err := unix.Poll(fds, ask)
		switch {
		case errors.Is(err, unix.EINTR), err == nil && n == 0:
			continue
		case err != nil:
			return 0, err
		}
		return p.f.Read(b)
	}
	return 0, io.EOF
}
