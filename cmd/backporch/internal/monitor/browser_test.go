package monitor

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/accessibility"
	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/chromedp"

	"backporch/analyse/analysetest"
	"backporch/video"
	"backporch/video/simulator"
	"backporch/video/simulator/simulatortest"
)

// browser opens a tab in Chromium, or skips.
func browser(t *testing.T, width, height int) context.Context {
	t.Helper()
	path := ""
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if found, err := exec.LookPath(name); err == nil {
			path = found
			break
		}
	}
	if path == "" {
		t.Skip("no Chromium here: the page is not tested in a browser")
	}
	o := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.WindowSize(width, height), chromedp.NoSandbox)
	ctx, cancel := chromedp.NewExecAllocator(context.Background(), o...)
	t.Cleanup(cancel)
	ctx, cancelTab := chromedp.NewContext(ctx)
	t.Cleanup(cancelTab)
	if err := chromedp.Do(ctx); err != nil {
		t.Skipf("Chromium does not start here: %v", err)
	}
	ctx, cancelTime := context.WithTimeout(ctx, 90*time.Second)
	t.Cleanup(cancelTime)
	return ctx
}

// machine is a picture of a simulated machine with a stuck bit.
func machine(t *testing.T) []*video.Field {
	t.Helper()
	p := analysetest.Profile(t, "attr-256x192-50")
	return simulatortest.Fields(t, simulator.Scenario{Display: p, Seed: 11, Screen: simulator.ScreenListing, Fields: 4}, "data-bit-stuck:bit=3,level=1")
}

func sample() State {
	return State{
		Source: "bench grabber", Tool: "backporch", Lock: "locked", LockText: "locked, steady", Tone: "fault",
		Heading: "MEMORY BIT, 98 % sure", Sentence: "Data bit 3 lane stuck at 1 (T14).",
		Next: []string{
			"Put a known good chip over T14 with the power off, then look for a change.",
			"Reseat T14 where it is in a socket.", "Follow data line 3 from the chip to the buffer with an oscilloscope.",
		},
		Good:   []string{"sync and counters", "border", "colours", "the other seven bits"},
		Counts: Counts{Fields: 18250, Bad: 12, Lost: 0, Events: 3},
		Grid:   &Grid{X: 120, Y: 48, W: 494, H: 192, Columns: 32, Rows: 24},
		Strip: []Event{
			{4, "14:02:31", "picture", "part of the picture was wrong for 9 fields (0.2 s)"}, {3, "14:02:19", "mark", "cooled T14"},
			{2, "14:01:02", "picture", "part of the picture was wrong for one field"}, {1, "14:00:40", "verdict", "MEMORY BIT, 98 % sure: Data bit 3 lane stuck at 1 (T14)."},
		},
		Mark: &Mark{Text: "cooled T14", At: "14:02:19", Tone: "fewer", Result: "Fewer: 1 bad field in 60 s since \"cooled T14\", 11 in 60 s before. By chance in 0.63 % of cases; 0.0021 to 0.63 times the rate before."},
	}
}

// What hands and eyes find on the page, on a bench screen and on a tablet.
func TestPage(t *testing.T) {
	if testing.Short() {
		t.Skip("starts a browser")
	}
	fields := machine(t)
	for _, screen := range []struct {
		name          string
		width, height int
		far           float64 // least size of the letters for two metres, CSS pixels of 0.26 mm
	}{{"bench", 1440, 900, 48}, {"tablet", 820, 1180, 40}} {
		t.Run(screen.name, func(t *testing.T) {
			ctx := browser(t, screen.width, screen.height)
			var mu sync.Mutex
			var did []string
			note := func(text string) {
				mu.Lock()
				defer mu.Unlock()
				did = append(did, text)
			}
			s := listen(t, "127.0.0.1:0", Options{
				Keep: func(role string) (string, error) { note("keep " + role); return "kept as " + role, nil },
				Mark: func(text string) error { note("mark " + text); return nil },
			})
			st := sample()
			s.Set(st)
			s.Show(fields[0])
			do(t, ctx,
				chromedp.EmulateViewport(int64(screen.width), int64(screen.height)),
				chromedp.Navigate(s.Links()[0]),
				chromedp.WaitVisible("#overlay .cells"),
				chromedp.Poll[chromedp.Void]("document.getElementById('waiting').hidden"),
			)
			font := value[string](t, ctx, "getComputedStyle(document.getElementById('next')).fontSize")
			title := value[string](t, ctx, "document.getElementById('heading').textContent")
			label := value[string](t, ctx, "document.getElementById('picture').getAttribute('aria-label')")
			cells := value[int](t, ctx, "document.querySelectorAll('#overlay *').length")
			wide := value[int](t, ctx, "document.documentElement.scrollWidth - innerWidth")
			tall := value[int](t, ctx, "Math.round(document.querySelector('#sentence').getBoundingClientRect().bottom) - innerHeight")
			shot, err := chromedp.Run(ctx, chromedp.FullScreenshot(100))
			if err != nil {
				t.Fatal(err)
			}
			// By keys alone: grid off, keep, mark.
			do(t, ctx, chromedp.KeyEvent("g"))
			after := value[int](t, ctx, "document.querySelectorAll('#overlay *').length")
			do(t, ctx,
				chromedp.KeyEvent("b"),
				chromedp.Poll[chromedp.Void]("document.getElementById('answer').textContent == 'kept as before'"),
				chromedp.KeyEvent("m"),
				chromedp.SendKeys("#what", "cooled T14\n"),
				chromedp.Poll[chromedp.Void]("document.getElementById('answer').textContent.startsWith('marked')"),
			)
			answer := value[string](t, ctx, "document.getElementById('answer').textContent")
			save(t, screen.name+".png", shot)
			if size := pixels(font); size < screen.far {
				t.Errorf("what to test next is %v px high, want %v for two metres", size, screen.far)
			}
			if strings.ReplaceAll(title, "\u00a0", " ") != st.Heading || !strings.Contains(label, st.Sentence) || !strings.Contains(answer, "cooled T14") {
				t.Errorf("heading %q, picture %q, answer %q", title, label, answer)
			}
			if cells < 2 || after != 0 {
				t.Errorf("the grid: %d shapes, %d after it was switched off", cells, after)
			}
			if wide > 0 || tall > 0 {
				t.Errorf("it is %d px too wide, the verdict ends %d px below the screen", wide, tall)
			}
			mu.Lock()
			if strings.Join(did, "; ") != "keep before; mark cooled T14" {
				t.Errorf("done: %v", did)
			}
			mu.Unlock()
			named(t, ctx)
			// New pictures and ticks arrive; sound is by choice.
			st.Ticks, st.Changes, st.Tone, st.Heading = 3, 1, "clean", "CLEAN"
			do(t, ctx, chromedp.Evaluate[chromedp.Void]("document.activeElement.blur()"), chromedp.Click("#sound"))
			s.Set(st)
			do(t, ctx, chromedp.Poll[chromedp.Void]("document.body.dataset.heard == '3'"))
			heard := value[string](t, ctx, "document.body.className")
			if heard != "clean" {
				t.Errorf("the tone is %q", heard)
			}
			if err := s.Close(); err != nil {
				t.Error(err)
			}
			if err := chromedp.Do(ctx, chromedp.WaitVisible("#away")); err != nil {
				t.Error("the page does not say that it is cut off:", err)
			}
		})
	}
}

func do(t *testing.T, ctx context.Context, steps ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	if err := chromedp.Do(ctx, steps...); err != nil {
		t.Fatal(err)
	}
}

// value is what an expression has on the page.
func value[T any](t *testing.T, ctx context.Context, expression string) T {
	t.Helper()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[T](expression))
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func pixels(size string) float64 {
	d, err := time.ParseDuration(strings.TrimSuffix(size, "px") + "s")
	if err != nil {
		return 0
	}
	return d.Seconds()
}

// named checks the accessibility tree: every control has a name, and there are a heading, a log and status lines.
func named(t *testing.T, ctx context.Context) {
	t.Helper()
	tree, err := chromedp.Run(ctx, func(ctx context.Context, target *chromedp.Target) (accessibility.GetFullAXTreeResult, error) {
		return cdp.Call(ctx, target, accessibility.GetFullAXTree, accessibility.GetFullAXTreeParams{})
	})
	if err != nil {
		t.Fatal(err)
	}
	roles := map[string]int{}
	for _, n := range tree.Nodes {
		if n.Ignored || n.Role == nil {
			continue
		}
		role := strings.Trim(string(n.Role.Value), `"`)
		roles[role]++
		switch role {
		case "button", "textbox", "image", "log", "region", "group":
			if n.Name == nil || strings.Trim(string(n.Name.Value), `"`) == "" {
				t.Errorf("a %s without a name", role)
			}
		}
	}
	for role, least := range map[string]int{"button": 7, "textbox": 1, "heading": 2, "log": 1, "status": 2, "main": 1} {
		if roles[role] < least {
			t.Errorf("%d of role %s, want %d: %v", roles[role], role, least, roles)
		}
	}
}

// save keeps a screenshot where the test was told to.
func save(t *testing.T, name string, data []byte) {
	t.Helper()
	if err := os.WriteFile(filepath.Join(t.ArtifactDir(), name), data, 0o644); err != nil {
		t.Error(err)
	}
}
