package monitor

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"time"
	"unicode"

	"github.com/coder/websocket"
)

const (
	mostClients = 16
	mostRequest = 4096 // bytes of a message from the browser
	mostMark    = 120  // letters of a mark
	// pace is the least time between two pictures for one browser: 25 a second.
	pace = 40 * time.Millisecond
	// statePace is the least time between two states.
	statePace = 100 * time.Millisecond
	patience  = 5 * time.Second // for a browser that takes nothing
)

// A request is what the browser sends.
type request struct {
	Do   string `json:"do"`   // picture, keep, mark
	Role string `json:"role"` // keep
	Text string `json:"text"` // mark
}

// An answer to keep and mark.
type answer struct {
	Said  string `json:"said,omitempty"`
	Error string `json:"error,omitempty"`
}

// live is one browser's connection.
func (s *Server) live(w http.ResponseWriter, r *http.Request) {
	s.mu.Lock()
	if s.open >= mostClients {
		s.mu.Unlock()
		http.Error(w, "too many look already", http.StatusServiceUnavailable)
		return
	}
	s.open++
	s.clients.Add(1)
	s.mu.Unlock()
	defer func() {
		s.mu.Lock()
		s.open--
		s.mu.Unlock()
		s.clients.Done()
	}()
	c, err := websocket.Accept(w, r, nil) // the origin was checked, and is again
	if err != nil {
		return
	}
	defer c.CloseNow()
	c.SetReadLimit(mostRequest)
	ctx, cancel := context.WithCancel(s.ctx)
	defer cancel()
	wanted := make(chan struct{}, 1) // the browser has drawn its picture
	answers := make(chan answer, 4)
	written := make(chan struct{})
	go func() {
		defer close(written)
		defer cancel()
		s.write(ctx, c, wanted, answers)
	}()
	for {
		kind, data, err := c.Read(ctx)
		if err != nil {
			break
		}
		var q request
		if kind != websocket.MessageText || json.Unmarshal(data, &q) != nil {
			_ = c.Close(websocket.StatusUnsupportedData, "not a request")
			break
		}
		if q.Do == "picture" {
			select {
			case wanted <- struct{}{}:
			default:
			}
			continue
		}
		select {
		case answers <- s.act(q):
		case <-ctx.Done():
		}
	}
	cancel()
	<-written
}

// act does what a button asks for, one at a time.
func (s *Server) act(q request) answer {
	s.acting.Lock()
	defer s.acting.Unlock()
	switch q.Do {
	case "keep":
		if s.o.Keep == nil {
			return answer{Error: "stills can't be kept: no --out and no --job was given"}
		}
		switch q.Role {
		case "before", "during", "after":
		default:
			return answer{Error: "a still is kept as before, during or after"}
		}
		said, err := s.o.Keep(q.Role)
		if err != nil {
			return answer{Error: err.Error()}
		}
		return answer{Said: said}
	case "mark":
		text := Clean(q.Text)
		if text == "" {
			return answer{Error: "say what you did, such as: cooled U14"}
		}
		if s.o.Mark == nil {
			return answer{Error: "marks can't be set here"}
		}
		if err := s.o.Mark(text); err != nil {
			return answer{Error: err.Error()}
		}
		return answer{Said: "marked: " + text}
	}
	return answer{Error: "not a request"}
}

// Clean makes one line of a mark's text, without control characters and not too long.
func Clean(text string) string {
	text = strings.Join(strings.Fields(strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || !unicode.IsPrint(r) && r != ' ' {
			return ' '
		}
		return r
	}, strings.ToValidUTF8(text, " "))), " ")
	letters := []rune(text)
	return string(letters[:min(len(letters), mostMark)])
}

// write sends state when it changes and pictures as they are asked for. What a slow browser does not ask
// for is never sent.
func (s *Server) write(ctx context.Context, c *websocket.Conn, wanted <-chan struct{}, answers <-chan answer) {
	version, number, asked := 0, 0, false
	var sentState, sentPicture time.Time
	send := func(kind websocket.MessageType, data []byte) bool {
		ctx, cancel := context.WithTimeout(ctx, patience)
		defer cancel()
		return c.Write(ctx, kind, data) == nil
	}
	timer := time.NewTimer(time.Hour)
	defer timer.Stop()
	for {
		s.mu.Lock()
		state, nowVersion, field, nowNumber, changed := s.state, s.version, s.field, s.number, s.changed
		s.mu.Unlock()
		wait := time.Hour
		if nowVersion != version {
			if due := statePace - time.Since(sentState); due > 0 {
				wait = due
			} else {
				version, sentState = nowVersion, time.Now()
				if !send(websocket.MessageText, state) {
					return
				}
			}
		}
		if asked && field != nil && nowNumber != number {
			if due := pace - time.Since(sentPicture); due > 0 {
				wait = min(wait, due)
			} else {
				number, asked, sentPicture = nowNumber, false, time.Now()
				data, err := s.encode(field, nowNumber)
				if err != nil || !send(websocket.MessageBinary, data) {
					return
				}
				continue
			}
		}
		timer.Reset(wait)
		select {
		case <-ctx.Done():
			return
		case <-wanted:
			asked = true
		case a := <-answers:
			data, err := json.Marshal(map[string]answer{"answer": a})
			if err != nil || !send(websocket.MessageText, data) {
				return
			}
		case <-changed:
		case <-timer.C:
		}
	}
}

// String is the first link, for messages.
func (s *Server) String() string { return fmt.Sprint(s.Links()[0]) }
