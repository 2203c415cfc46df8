// Package term says what a stream can show, and draws a status line on those that
// are terminals. On a pipe, or when quiet, it draws nothing.
package term

import (
	"fmt"
	"io"
	"os"
	"sync"
	"time"

	"golang.org/x/term"
)

// file is the descriptor of a stream that is a terminal.
func file(w io.Writer) (int, bool) {
	f, ok := w.(*os.File)
	if !ok || !term.IsTerminal(int(f.Fd())) {
		return 0, false
	}
	return int(f.Fd()), true
}

// Colour tells whether w takes colours: a terminal that is not dumb, and no
// NO_COLOR in the environment (no-color.org).
func Colour(w io.Writer) bool {
	_, ok := file(w)
	return ok && os.Getenv("NO_COLOR") == "" && os.Getenv("TERM") != "dumb"
}

// Width is the columns of the terminal w, at most 100 for the eye's sake; 80 when
// w is none.
func Width(w io.Writer) int {
	fd, ok := file(w)
	if !ok {
		return 80
	}
	columns, _, err := term.GetSize(fd)
	if err != nil || columns <= 0 {
		return 80
	}
	return min(columns, 100)
}

// A Status is a line that is drawn over again while work goes on. Its methods may
// be called from several goroutines; a nil Status is silent.
type Status struct {
	w     io.Writer
	width int

	mu    sync.Mutex
	drawn time.Time
}

// NewStatus draws on w, which is nil-silent unless w is a terminal.
func NewStatus(w io.Writer, quiet bool) *Status {
	if _, ok := file(w); !ok || quiet {
		return nil
	}
	return &Status{w: w, width: Width(w)}
}

// interval is the least time between two drawings.
const interval = 100 * time.Millisecond

// Set draws the line; calls that come faster than the eye follows are left out.
func (s *Status) Set(format string, args ...any) {
	if s == nil {
		return
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if time.Since(s.drawn) < interval {
		return
	}
	s.drawn = time.Now()
	line := []rune(fmt.Sprintf(format, args...))
	if len(line) >= s.width {
		line = line[:s.width-1]
	}
	fmt.Fprintf(s.w, "\r\x1b[K%s", string(line))
}

// Done clears the line.
func (s *Status) Done() {
	if s == nil {
		return
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	fmt.Fprint(s.w, "\r\x1b[K")
}
