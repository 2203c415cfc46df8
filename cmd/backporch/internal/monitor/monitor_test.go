package monitor

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"image/jpeg"
	"io"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/coder/websocket"

	"backporch/video"
)

// field is an even one of a luma code.
func field(code uint8) *video.Field {
	f := &video.Field{Width: 720, ChromaWidth: 360, Height: 288}
	f.Y = bytes.Repeat([]byte{code}, f.Width*f.Height)
	f.Cb = bytes.Repeat([]byte{128}, f.ChromaWidth*f.Height)
	f.Cr = bytes.Clone(f.Cb)
	return f
}

func listen(t testing.TB, address string, o Options) *Server {
	t.Helper()
	s, err := Listen(address, o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return s
}

// asked makes a request with these headers and gives its status.
func asked(t *testing.T, client *http.Client, method, address string, header map[string]string) (int, http.Header, string) {
	t.Helper()
	r, err := http.NewRequest(method, address, nil)
	if err != nil {
		t.Fatal(err)
	}
	for k, v := range header {
		if k == "Host" {
			r.Host = v
		} else {
			r.Header.Set(k, v)
		}
	}
	got, err := client.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer got.Body.Close()
	body, err := io.ReadAll(got.Body)
	if err != nil {
		t.Fatal(err)
	}
	return got.StatusCode, got.Header, string(body)
}

func TestWhoMayLook(t *testing.T) {
	s := listen(t, "127.0.0.1:0", Options{})
	link := s.Links()[0]
	u, err := url.Parse(link)
	if err != nil {
		t.Fatal(err)
	}
	client := &http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	for _, c := range []struct {
		what, path string
		header     map[string]string
		method     string
		want       int
	}{
		{what: "the page", path: "/", want: 200},
		{what: "by name", path: "/", header: map[string]string{"Host": "localhost:" + u.Port()}, want: 200},
		{what: "script", path: "/monitor.js", want: 200},
		{what: "a name that was pointed here", path: "/", header: map[string]string{"Host": "evil.example:" + u.Port()}, want: 421},
		{what: "another port", path: "/", header: map[string]string{"Host": "localhost:1"}, want: 421},
		{what: "no port", path: "/", header: map[string]string{"Host": "localhost"}, want: 421},
		{what: "a foreign page", path: "/", header: map[string]string{"Origin": "http://evil.example"}, want: 403},
		{what: "a page of another port", path: "/live", header: map[string]string{"Origin": "http://127.0.0.1:1"}, want: 403},
		{what: "a page without an origin", path: "/live", header: map[string]string{"Origin": "null"}, want: 403},
		{what: "a foreign page's script", path: "/monitor.js", header: map[string]string{"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "no-cors"}, want: 403},
		{what: "a link elsewhere", path: "/", header: map[string]string{"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate"}, want: 200},
		{what: "writing", path: "/", method: http.MethodPost, want: 405},
		{what: "another file", path: "/assets/monitor.html", want: 404},
		{what: "a path out", path: "/..%2f..%2fserver.go", want: 404},
		{what: "a path out, plain", path: "//etc/passwd", want: 404},
		{what: "a path out, dots", path: "/monitor.js/../../server.go", want: 404},
	} {
		method := c.method
		if method == "" {
			method = http.MethodGet
		}
		got, header, _ := asked(t, client, method, "http://"+u.Host+c.path, c.header)
		if got != c.want {
			t.Errorf("%s: status %d, want %d", c.what, got, c.want)
		}
		if !strings.Contains(header.Get("Content-Security-Policy"), "default-src 'none'") {
			t.Errorf("%s: no policy", c.what)
		}
	}
}

// Every address of the computer: with the token alone.
func TestToken(t *testing.T) {
	s := listen(t, "0.0.0.0:0", Options{})
	_, port, err := net.SplitHostPort(s.listener.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	base := "http://127.0.0.1:" + port
	plain := &http.Client{}
	for _, path := range []string{"/", "/live", "/monitor.js", "/?token=", "/?token=0123456789abcdef0123456789abcdef", "/live?token=" + s.token} {
		if got, _, _ := asked(t, plain, http.MethodGet, base+path, nil); got != http.StatusUnauthorized {
			t.Errorf("%s without the token: status %d", path, got)
		}
	}
	if len(s.token) != 32 {
		t.Errorf("a token of %d digits", len(s.token))
	}
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	client := &http.Client{Jar: jar}
	if got, _, body := asked(t, client, http.MethodGet, base+"/?token="+s.token, nil); got != 200 || !strings.Contains(body, "<title>") {
		t.Errorf("with the token: status %d", got)
	}
	if got, _, _ := asked(t, client, http.MethodGet, base+"/monitor.css", nil); got != 200 {
		t.Errorf("with the cookie: status %d", got)
	}
	if got, _, _ := asked(t, client, http.MethodGet, base+"/", map[string]string{"Host": "evil.example:" + port}); got != 421 {
		t.Errorf("another host with the cookie: status %d", got)
	}
	for _, link := range s.Links() {
		if !strings.Contains(link, "token="+s.token) {
			t.Errorf("the link %s has no token", link)
		}
	}
}

func TestAddresses(t *testing.T) {
	for _, bad := range []string{"", "8093", ":8093", "localhost", "localhost:99999", "no.such.host.invalid:1"} {
		if s, err := Listen(bad, Options{}); err == nil {
			s.Close()
			t.Errorf("%q was taken", bad)
		} else if strings.Contains(err.Error(), "\n") {
			t.Errorf("%q: %v", bad, err)
		}
	}
	s := listen(t, "localhost:0", Options{})
	if again, err := Listen(s.listener.Addr().String(), Options{}); err == nil {
		again.Close()
		t.Error("a port was taken twice")
	}
}

// dial opens the page's socket.
func dial(t testing.TB, s *Server, origin string) (*websocket.Conn, error) {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), 20*time.Second)
	t.Cleanup(cancel)
	o := &websocket.DialOptions{HTTPHeader: http.Header{}}
	if origin != "" {
		o.HTTPHeader.Set("Origin", origin)
	}
	c, _, err := websocket.Dial(ctx, "ws://127.0.0.1:"+s.port+"/live", o)
	if err == nil {
		c.SetReadLimit(1 << 22)
		t.Cleanup(func() { _ = c.CloseNow() })
	}
	return c, err
}

// next reads messages until one of the kind comes.
func next(t testing.TB, c *websocket.Conn, kind websocket.MessageType) []byte {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), 20*time.Second)
	defer cancel()
	for {
		got, data, err := c.Read(ctx)
		if err != nil {
			t.Fatal(err)
		}
		if got == kind {
			return data
		}
	}
}

func say(t testing.TB, c *websocket.Conn, text string) {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	if err := c.Write(ctx, websocket.MessageText, []byte(text)); err != nil {
		t.Fatal(err)
	}
}

// A browser that asks late gets the newest picture, not those between: no delay can grow.
func TestLatestPictureWins(t *testing.T) {
	s := listen(t, "127.0.0.1:0", Options{})
	if _, err := dial(t, s, "http://evil.example"); err == nil {
		t.Error("a foreign page's socket was taken")
	}
	c, err := dial(t, s, "http://127.0.0.1:"+s.port)
	if err != nil {
		t.Fatal(err)
	}
	for code := 30; code <= 200; code++ {
		s.Show(field(uint8(code)))
	}
	say(t, c, `{"do":"picture"}`)
	img, err := jpeg.Decode(bytes.NewReader(next(t, c, websocket.MessageBinary)))
	if err != nil {
		t.Fatal(err)
	}
	// Code 200 of 16 to 235 is 214 of the full range (ITU-R BT.601, ITU-T T.871).
	if r, _, _, _ := img.At(300, 100).RGBA(); r>>8 < 212 || r>>8 > 216 {
		t.Errorf("the picture has %d, want the last one's 214", r>>8)
	}
	// Not asked for, none comes; asked for, the next does.
	s.Show(field(235))
	say(t, c, `{"do":"picture"}`)
	if img, err = jpeg.Decode(bytes.NewReader(next(t, c, websocket.MessageBinary))); err != nil {
		t.Fatal(err)
	}
	if r, _, _, _ := img.At(10, 10).RGBA(); r>>8 < 253 {
		t.Errorf("white is %d", r>>8)
	}
}

func TestActs(t *testing.T) {
	var mu sync.Mutex
	var did []string
	s := listen(t, "127.0.0.1:0", Options{
		Keep: func(role string) (string, error) {
			mu.Lock()
			defer mu.Unlock()
			did = append(did, role)
			if role == "after" {
				return "", errors.New("the disk is full")
			}
			return "kept as " + role, nil
		},
		Mark: func(text string) error {
			mu.Lock()
			defer mu.Unlock()
			did = append(did, text)
			return nil
		},
	})
	c, err := dial(t, s, "")
	if err != nil {
		t.Fatal(err)
	}
	for _, q := range []struct{ ask, said, wrong string }{
		{`{"do":"keep","role":"before"}`, "kept as before", ""},
		{`{"do":"keep","role":"after"}`, "", "the disk is full"},
		{`{"do":"keep","role":"../../evil"}`, "", "a still is kept as before, during or after"},
		{`{"do":"mark","text":" cooled\u0007 \n U14\u202e "}`, "marked: cooled U14", ""},
		{`{"do":"mark","text":"  "}`, "", "say what you did, such as: cooled U14"},
		{`{"do":"format"}`, "", "not a request"},
	} {
		say(t, c, q.ask)
		var got struct{ Answer answer }
		if err := json.Unmarshal(next(t, c, websocket.MessageText), &got); err != nil {
			t.Fatal(err)
		}
		if got.Answer.Said != q.said || got.Answer.Error != q.wrong {
			t.Errorf("%s: %+v", q.ask, got.Answer)
		}
	}
	mu.Lock()
	if fmt.Sprint(did) != "[before after cooled U14]" {
		t.Errorf("done: %q", did)
	}
	mu.Unlock()
	say(t, c, strings.Repeat("x", mostRequest+1))
	if _, _, err := c.Read(context.Background()); err == nil {
		t.Error("a message without end was taken")
	}
}

// Many browsers, states and pictures at once; nothing is left behind.
func TestManyAtOnce(t *testing.T) {
	before := runtime.NumGoroutine()
	s, err := Listen("127.0.0.1:0", Options{Mark: func(string) error { return nil }})
	if err != nil {
		t.Fatal(err)
	}
	var wg sync.WaitGroup
	for range 6 {
		wg.Go(func() {
			c, err := dial(t, s, "")
			if err != nil {
				t.Error(err)
				return
			}
			for range 5 {
				say(t, c, `{"do":"picture"}`)
				next(t, c, websocket.MessageBinary)
				say(t, c, `{"do":"mark","text":"x"}`)
				next(t, c, websocket.MessageText)
			}
			_ = c.CloseNow()
		})
	}
	stop := make(chan struct{})
	var feeding sync.WaitGroup
	feeding.Go(func() {
		for n := 0; ; n++ {
			select {
			case <-stop:
				return
			case <-time.After(5 * time.Millisecond):
				s.Show(field(uint8(n)))
				s.Set(State{Heading: fmt.Sprint(n)})
				s.Watched()
			}
		}
	})
	wg.Wait()
	close(stop)
	feeding.Wait()
	if err := s.Close(); err != nil {
		t.Error(err)
	}
	http.DefaultClient.CloseIdleConnections()
	for range 100 {
		if runtime.NumGoroutine() <= before {
			return
		}
		time.Sleep(20 * time.Millisecond)
	}
	t.Errorf("%d goroutines, %d before", runtime.NumGoroutine(), before)
}

// A page that hangs costs the watching nothing.
func BenchmarkShow(b *testing.B) {
	s := listen(b, "127.0.0.1:0", Options{})
	c, err := dial(b, s, "")
	if err != nil {
		b.Fatal(err)
	}
	say(b, c, `{"do":"picture"}`)
	f := field(100)
	for b.Loop() {
		s.Show(f)
	}
}

// What a picture for the page costs.
func BenchmarkEncode(b *testing.B) {
	s := listen(b, "127.0.0.1:0", Options{})
	f := field(100)
	for i := range f.Y {
		f.Y[i] = uint8(i * 31 % 200)
	}
	n := 0
	for b.Loop() {
		n++
		if _, err := s.encode(f, n); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(b.Elapsed().Seconds()/float64(b.N)*1e3, "ms/picture")
}
