package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"backporch/analyse"
	"backporch/cmd/backporch/internal/report"
	"backporch/patterns"
	"backporch/video"
)

// A folder is where results are kept; a nil *folder keeps nothing. It is opened, and
// tried by writing, before the work starts, so that none is lost for a full or read-only disk.
type folder struct {
	path string
	made bool // by us: taken away again if it stays empty
}

// openFolder makes the folder if need be. "" gives nil.
func openFolder(path string) (*folder, error) {
	if path == "" {
		return nil, nil
	}
	_, err := os.Stat(path)
	f := &folder{path: path, made: errors.Is(err, fs.ErrNotExist)}
	if err := os.MkdirAll(path, 0o777); err != nil {
		return nil, withHint(fmt.Errorf("writing to --out: %w", plainPath(err)), "give a folder that you may write to")
	}
	try, err := os.CreateTemp(path, ".try-*")
	if err == nil {
		try.Close()
		err = os.Remove(try.Name())
	}
	if err != nil {
		f.leave()
		return nil, withHint(fmt.Errorf("writing to --out %s: %w", path, cause(err)), "give a folder that you may write to")
	}
	return f, nil
}

// leave takes the folder away if it was made for nothing.
func (f *folder) leave() {
	if f != nil && f.made {
		_ = os.Remove(f.path) // refuses when there is something in it, which is meant
	}
}

// cause is the reason of a file error without the path.
func cause(err error) error {
	var p *fs.PathError
	if errors.As(err, &p) {
		return p.Err
	}
	return err
}

// evidence adds the frame that shows the finding best to the report, and keeps it
// when there is a folder to keep it in.
func (f *folder) evidence(r *report.Report, c *footage, s *analyse.Survey, v *patterns.Verdict) error {
	field, frame := c.worst(s)
	e := report.NewEvidence(field, v.Regions)
	if f != nil {
		if err := f.keep(r, &e, c.info, frame, field, v); err != nil {
			return err
		}
	}
	r.Evidence = append(r.Evidence, e)
	return nil
}

// stem makes a file name from a source: its last part, without what shells dislike.
func stem(spec string) string {
	base := filepath.Base(filepath.Clean(spec))
	base = strings.TrimSuffix(base, filepath.Ext(base))
	clean := strings.Map(func(r rune) rune {
		if r == '-' || r == '_' || r == '.' || r >= '0' && r <= '9' || r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r > 127 {
			return r
		}
		return '-'
	}, base)
	if clean = strings.Trim(clean, ".-"); clean == "" {
		return "capture"
	}
	return clean
}

// free is the first of base, base-2, base-3 ... of which none of the endings exists.
func free(base string, endings ...string) string {
	for n := 1; ; n++ {
		name := base
		if n > 1 {
			name = fmt.Sprintf("%s-%d", base, n)
		}
		taken := false
		for _, ending := range endings {
			if _, err := os.Lstat(name + ending); !errors.Is(err, fs.ErrNotExist) {
				taken = true
			}
		}
		if !taken {
			return name
		}
	}
}

const (
	stillEnding  = ".png"
	markedEnding = "-marked.png"
)

// keep writes the frame as it was captured, and the marked copy.
func (f *folder) keep(r *report.Report, e *report.Evidence, info video.Info, frame *video.Frame, field *video.Field, v *patterns.Verdict) error {
	base := free(filepath.Join(f.path, fmt.Sprintf("%s-frame%d", stem(info.Spec), frame.Index)), stillEnding, markedEnding)
	sha, err := writeStill(base+stillEnding, frame, chunks(r, e))
	if err != nil {
		return fmt.Errorf("keeping the evidence: %w", err)
	}
	still := base + stillEnding
	e.Still, e.SHA256 = &still, &sha
	marked := base + markedEnding
	if err := annotateStill(marked, info, frame, field, v.Regions, caption(r, e), chunks(r, e)); err != nil {
		return fmt.Errorf("keeping the evidence: %w", err)
	}
	e.Annotated = &marked
	return nil
}

// chunks are the text chunks of an evidence still.
func chunks(r *report.Report, e *report.Evidence) map[string]string {
	out := map[string]string{
		"Software": r.Tool,
		"Source":   r.Source.Spec,
		"Frame":    fmt.Sprint(e.Frame),
		"Field":    fmt.Sprint(e.Field),
		"Verdict":  r.Verdict.Summary,
	}
	if e.TimeS != nil {
		out["Time"] = fmt.Sprintf("%.3f s", *e.TimeS)
	}
	if r.Display != nil {
		out["Display"] = *r.Display
	}
	return out
}

// caption is the strip under the marked copy: what a customer reads first, then
// what another technician needs.
func caption(r *report.Report, e *report.Evidence) []string {
	where := fmt.Sprintf("%s, frame %d, field %d", filepath.Base(r.Source.Spec), e.Frame, e.Field)
	if e.TimeS != nil {
		where += fmt.Sprintf(", %.2f s", *e.TimeS)
	}
	if r.Display != nil {
		where += ", " + *r.Display
	}
	lines := []string{r.Heading() + ": " + r.Verdict.Summary}
	if further, _ := r.Also(); len(further) > 0 {
		lines = append(lines, "Also: "+strings.Join(further, "; "))
	}
	origin := r.Tool
	if e.SHA256 != nil {
		origin += ", still SHA-256 " + *e.SHA256
	}
	return append(lines, where, origin)
}
