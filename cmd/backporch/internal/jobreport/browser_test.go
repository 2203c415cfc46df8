package jobreport

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
)

// browser starts Chromium without a window.
func browser(t *testing.T) context.Context {
	t.Helper()
	path := ""
	for _, name := range []string{"chromium", "chromium-browser"} {
		if found, err := exec.LookPath(name); err == nil {
			path = found
			break
		}
	}
	if path == "" {
		t.Skip("Chromium is not installed (Debian package chromium): the page was not opened in a browser")
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox)
	allocator, stop := chromedp.NewExecAllocator(context.Background(), options...)
	t.Cleanup(stop)
	ctx, stop := chromedp.NewContext(allocator)
	t.Cleanup(stop)
	ctx, stop = context.WithTimeout(ctx, 4*time.Minute)
	t.Cleanup(stop)
	if err := chromedp.Do(ctx); err != nil {
		t.Fatalf("starting %s: %v", path, err)
	}
	return ctx
}

// layout is what a script of the test finds in the page; the page itself has none.
type layout struct {
	Wide   []string // elements that stick out at the side
	Images []string // that are not shown
	Title  string
	Left   float64 // of the pair's pictures
	Right  float64
	Top    [2]float64
}

const lookAround = `(() => {
	const out = {Wide: [], Images: [], Title: document.title, Top: [0, 0]};
	const edge = document.documentElement.clientWidth;
	for (const e of document.body.querySelectorAll('*')) {
		const r = e.getBoundingClientRect();
		if (r.right > edge + 1 && !e.closest('pre')) out.Wide.push(e.tagName + ' ' + Math.round(r.right));
	}
	for (const i of document.images) if (!i.complete || i.naturalWidth == 0) out.Images.push(i.alt);
	const pair = [...document.querySelectorAll('.pair img')].map(i => i.getBoundingClientRect());
	out.Left = pair[0].left; out.Right = pair[1].left; out.Top = [pair[0].top, pair[1].top];
	return out;
})()`

// The page in a real browser: all pictures shown, nothing asked of a network, nothing said on the console,
// nothing that sticks out, on a screen and on a telephone; printed on A4 and Letter.
func TestPageInABrowser(t *testing.T) {
	ctx := browser(t)
	path := filepath.Join(t.TempDir(), "report.html")
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := repaired(t).model(Options{}).HTML(f); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	var mu sync.Mutex
	var asked, said []string
	err = chromedp.Listen(ctx, func(event any) {
		mu.Lock()
		defer mu.Unlock()
		switch e := event.(type) {
		case *network.EventRequestWillBeSent:
			if !strings.HasPrefix(e.Request.URL, "data:") {
				asked = append(asked, e.Request.URL)
			}
		case *log.EventEntryAdded:
			said = append(said, e.Entry.Text)
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	// Asking twice does no harm: the library may have asked already.
	if _, err := chromedp.Call(ctx, network.Enable, network.EnableParams{}); err != nil {
		t.Fatal(err)
	}
	if _, err := chromedp.Call(ctx, log.Enable, cdp.Empty{}); err != nil {
		t.Fatal(err)
	}
	for _, screen := range []struct {
		name  string
		width int64
		pair  bool // the pictures stand side by side
	}{{"screen", 1200, true}, {"tablet", 800, true}, {"telephone", 390, false}} {
		if err := chromedp.Do(ctx, chromedp.EmulateViewport(screen.width, 1400), chromedp.Navigate("file://"+path)); err != nil {
			t.Fatalf("%s: %v", screen.name, err)
		}
		l, err := chromedp.Run(ctx, chromedp.Evaluate[layout](lookAround))
		if err != nil {
			t.Fatalf("%s: %v", screen.name, err)
		}
		shot, err := chromedp.Run(ctx, chromedp.FullScreenshot(100))
		if err != nil {
			t.Fatalf("%s: %v", screen.name, err)
		}
		keepArtifact(t, screen.name+".png", shot)
		if len(l.Images) > 0 || len(l.Wide) > 0 {
			t.Errorf("%s: not shown %q, sticking out %q", screen.name, l.Images, l.Wide)
		}
		if side := l.Right > l.Left+50 && l.Top[0] == l.Top[1]; side != screen.pair {
			t.Errorf("%s: the pictures before and after at %v and %v, tops %v", screen.name, l.Left, l.Right, l.Top)
		}
		if !strings.Contains(l.Title, "Quillmark 16") {
			t.Errorf("%s: title %q", screen.name, l.Title)
		}
	}
	mu.Lock()
	if len(asked) != 3 || len(said) > 0 {
		t.Errorf("the page asked for %q, and the browser said %q", asked, said)
	}
	mu.Unlock()
	for _, sheet := range []struct {
		name          string
		width, height float64 // inches; ISO 216, and 8.5 x 11
	}{{"a4", 210 / 25.4, 297 / 25.4}, {"letter", 8.5, 11}} {
		pdf, err := chromedp.Run(ctx, chromedp.PrintToPDF(chromedp.PDFPaper(chromedp.PaperSize{Width: sheet.width, Height: sheet.height})))
		if err != nil {
			t.Fatalf("%s: %v", sheet.name, err)
		}
		keepArtifact(t, sheet.name+".pdf", pdf)
		printed(t, sheet.name, pdf, sheet.width*72, sheet.height*72)
	}
}

// printed checks the printed pages with Poppler: their size, how many, and where their words lie.
func printed(t *testing.T, name string, pdf []byte, width, height float64) {
	t.Helper()
	if _, err := exec.LookPath("pdftotext"); err != nil {
		t.Logf("pdftotext is not installed (Debian package poppler-utils): %s was printed but not read", name)
		return
	}
	path := filepath.Join(t.TempDir(), name+".pdf")
	if err := os.WriteFile(path, pdf, 0o666); err != nil {
		t.Fatal(err)
	}
	boxes, err := exec.Command("pdftotext", "-bbox", path, "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	pages := regexp.MustCompile(`<page width="([\d.]+)" height="([\d.]+)"`).FindAllStringSubmatch(string(boxes), -1)
	if len(pages) < 1 || len(pages) > 4 {
		t.Errorf("%s: %d pages", name, len(pages))
	}
	for _, p := range pages {
		w, h := number(p[1]), number(p[2])
		if w < width-1 || w > width+1 || h < height-1 || h > height+1 {
			t.Errorf("%s: a page of %v x %v points, want %v x %v", name, w, h, width, height)
		}
	}
	words := regexp.MustCompile(`<word xMin="([\d.-]+)" yMin="([\d.-]+)" xMax="([\d.-]+)" yMax="([\d.-]+)">([^<]*)`).FindAllStringSubmatch(string(boxes), -1)
	if len(words) < 80 {
		t.Errorf("%s: only %d words", name, len(words))
	}
	const margin = 36 // points, half an inch: what printers need at most; common practice, no source
	for _, w := range words {
		if number(w[1]) < margin || number(w[3]) > width-margin || number(w[2]) < margin || number(w[4]) > height-margin {
			t.Errorf("%s: %q lies in the margin: %v", name, w[5], w[1:5])
		}
	}
}

func number(s string) float64 {
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		panic(fmt.Sprintf("%q matched a number and is none", s))
	}
	return v
}

// keepArtifact keeps what a person may want to look at (go test -artifacts).
func keepArtifact(t *testing.T, name string, data []byte) {
	t.Helper()
	if err := os.WriteFile(filepath.Join(t.ArtifactDir(), name), data, 0o666); err != nil {
		t.Error(err)
	}
}
