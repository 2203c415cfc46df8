package monitor

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"embed"
	"encoding/hex"
	"errors"
	"fmt"
	"net"
	"net/http"
	"net/url"
	"os"
	"strings"
	"sync"
	"time"

	"backporch/video"
)

//go:embed assets
var assets embed.FS

// Options are Listen's. The callbacks are called from several goroutines, one at a time each.
type Options struct {
	Keep  func(role string) (said string, err error) // keep a still: before, during, after; nil: it can't
	Mark  func(text string) error                    // put a mark on the time line; nil: it can't
	Token string                                     // instead of one made by chance, for tests; loopback needs none
}

// A Server serves one monitor.
type Server struct {
	o        Options
	listener net.Listener
	http     *http.Server
	hosts    map[string]bool
	token    string // "" on loopback
	port     string
	done     chan struct{}
	ctx      context.Context
	stop     context.CancelFunc
	clients  sync.WaitGroup
	acting   sync.Mutex // one act at a time

	mu      sync.Mutex
	changed chan struct{} // closed and made anew with every change
	field   *video.Field
	number  int // of field
	state   []byte
	version int // of state
	open    int // connections
	encoded shot
}

// ErrAddress is an address that can't be listened on as given.
var ErrAddress = errors.New("write HOST:PORT, such as localhost:8093; port 0 takes any that is free")

// Listen starts a monitor at HOST:PORT.
func Listen(address string, o Options) (*Server, error) {
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return nil, fmt.Errorf("%q: %w", address, ErrAddress)
	}
	if host == "" { // ':8093' would mean everybody: that is to be said
		return nil, fmt.Errorf("%q: %w; 0.0.0.0:PORT is every address of this computer", address, ErrAddress)
	}
	l, err := net.Listen("tcp", address)
	if err != nil {
		return nil, plainNet(address, err)
	}
	s := &Server{o: o, listener: l, done: make(chan struct{}), changed: make(chan struct{}), hosts: map[string]bool{}}
	s.ctx, s.stop = context.WithCancel(context.Background())
	at := l.Addr().(*net.TCPAddr)
	s.port = fmt.Sprint(at.Port)
	for _, name := range []string{"localhost", "127.0.0.1", "::1"} {
		s.hosts[name] = true
	}
	if !at.IP.IsLoopback() {
		s.token = o.Token
		if s.token == "" {
			var b [16]byte
			if _, err := rand.Read(b[:]); err != nil {
				l.Close()
				return nil, fmt.Errorf("making a token: %w", err)
			}
			s.token = hex.EncodeToString(b[:])
		}
		s.own(at.IP)
	}
	s.http = &http.Server{
		Handler: s.guard(s.routes()), ReadHeaderTimeout: 5 * time.Second, IdleTimeout: time.Minute,
		MaxHeaderBytes: 1 << 14, BaseContext: func(net.Listener) context.Context { return s.ctx },
	}
	go func() {
		defer close(s.done)
		_ = s.http.Serve(l) // ends with Close
	}()
	return s, nil
}

// own adds the names by which others reach this computer.
func (s *Server) own(ip net.IP) {
	if !ip.IsUnspecified() {
		s.hosts[ip.String()] = true
		return
	}
	addresses, err := net.InterfaceAddrs()
	if err == nil {
		for _, a := range addresses {
			if n, ok := a.(*net.IPNet); ok {
				s.hosts[n.IP.String()] = true
			}
		}
	}
	if name, err := os.Hostname(); err == nil && name != "" {
		name = strings.ToLower(name)
		s.hosts[name], s.hosts[name+".local"] = true, true
	}
}

// plainNet says why an address can't be had without the library's words.
func plainNet(address string, err error) error {
	var op *net.OpError
	if errors.As(err, &op) {
		err = op.Err
		var sys *os.SyscallError
		if errors.As(err, &sys) {
			err = sys.Err
		}
	}
	return fmt.Errorf("listening on %s: %w", address, err)
}

// Links are the addresses to open, with the token where one is needed.
func (s *Server) Links() []string {
	at := s.listener.Addr().(*net.TCPAddr)
	names := []string{at.IP.String()}
	if at.IP.IsUnspecified() {
		names = nil
		for name := range s.hosts {
			if ip := net.ParseIP(name); ip != nil && !ip.IsLoopback() && ip.To4() != nil {
				names = append(names, name)
			}
		}
		if len(names) == 0 {
			names = []string{"127.0.0.1"}
		}
	}
	var out []string
	for _, name := range names {
		u := url.URL{Scheme: "http", Host: net.JoinHostPort(name, s.port), Path: "/"}
		if s.token != "" {
			u.RawQuery = "token=" + s.token
		}
		out = append(out, u.String())
	}
	return out
}

// cookie holds the token in the browser.
const cookie = "monitor"

// guard lets only those in who may look.
func (s *Server) guard(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; connect-src 'self' ws://"+r.Host+"; base-uri 'none'; form-action 'none'; frame-ancestors 'none'")
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		if !s.ours(r.Host) {
			http.Error(w, "this host is not known here; open the link that was printed", http.StatusMisdirectedRequest)
			return
		}
		if origin := r.Header.Get("Origin"); origin != "" {
			u, err := url.Parse(origin)
			if err != nil || u.Host != r.Host || u.Scheme != "http" {
				http.Error(w, "a page of another origin asked", http.StatusForbidden)
				return
			}
		}
		if site := r.Header.Get("Sec-Fetch-Site"); site == "cross-site" && r.Header.Get("Sec-Fetch-Mode") != "navigate" {
			http.Error(w, "a page of another site asked", http.StatusForbidden)
			return
		}
		if r.Method != http.MethodGet && r.Method != http.MethodHead {
			http.Error(w, "it can only be read", http.StatusMethodNotAllowed)
			return
		}
		if s.token != "" && !s.allowed(w, r) {
			return
		}
		next.ServeHTTP(w, r)
	})
}

// ours tells whether a Host header names this computer and port.
func (s *Server) ours(host string) bool {
	name, port, err := net.SplitHostPort(host)
	if err != nil || port != s.port {
		return false
	}
	return s.hosts[strings.ToLower(name)]
}

// allowed checks the token. One in the link is put into a cookie and taken out of the address.
func (s *Server) allowed(w http.ResponseWriter, r *http.Request) bool {
	is := func(given string) bool { return subtle.ConstantTimeCompare([]byte(given), []byte(s.token)) == 1 }
	if given := r.URL.Query().Get("token"); given != "" && is(given) && r.URL.Path == "/" {
		http.SetCookie(w, &http.Cookie{Name: cookie, Value: s.token, Path: "/", HttpOnly: true, SameSite: http.SameSiteStrictMode})
		http.Redirect(w, r, "/", http.StatusSeeOther)
		return false
	}
	if c, err := r.Cookie(cookie); err == nil && is(c.Value) {
		return true
	}
	http.Error(w, "open the link with the token that was printed where the program runs", http.StatusUnauthorized)
	return false
}

// served are the files of the page; nothing else is.
var served = map[string]struct{ file, kind string }{
	"/":            {"assets/monitor.html", "text/html; charset=utf-8"},
	"/monitor.css": {"assets/monitor.css", "text/css; charset=utf-8"},
	"/monitor.js":  {"assets/monitor.js", "text/javascript; charset=utf-8"},
}

func (s *Server) routes() http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path == "/live" {
			s.live(w, r)
			return
		}
		file, ok := served[r.URL.Path]
		if !ok {
			http.NotFound(w, r)
			return
		}
		data, err := assets.ReadFile(file.file)
		if err != nil {
			http.Error(w, "it is missing", http.StatusInternalServerError)
			return
		}
		w.Header().Set("Content-Type", file.kind)
		_, _ = w.Write(data) // the browser has gone if it fails
	})
}

// Close ends all connections and returns when they have gone.
func (s *Server) Close() error {
	s.stop()
	err := s.http.Close()
	<-s.done
	s.clients.Wait()
	if errors.Is(err, net.ErrClosed) {
		return nil
	}
	return err
}
