package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"backporch/cmd/backporch/internal/exhibit"
	"backporch/cmd/backporch/internal/report"
	"backporch/patterns"
	"backporch/video"
	"backporch/video/still"
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
func (f *folder) evidence(r *report.Report, c *footage, found exhibit.Finding) error {
	var frame *video.Frame
	found.Field, frame = c.shown(found.Survey)
	e := report.NewEvidence(found.Field, found.Verdict.Regions)
	if f != nil {
		if err := f.keep(r, &e, c.info, frame, found); err != nil {
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
func (f *folder) keep(r *report.Report, e *report.Evidence, info video.Info, frame *video.Frame, found exhibit.Finding) error {
	base := free(filepath.Join(f.path, fmt.Sprintf("%s-frame%d", stem(info.Spec), frame.Index)), stillEnding, markedEnding)
	text := still.Text{
		Source: info.Spec, Time: frame.Time, Frame: e.Frame, Field: e.Field, Order: info.Order,
		Tool: r.Tool, Verdict: r.Heading() + ": " + r.Sentence(),
	}
	if r.Display != nil {
		text.Display = *r.Display
	}
	kept := base + stillEnding
	sha, err := still.Save(kept, frame, text)
	if err != nil {
		return fmt.Errorf("keeping the evidence: %w", err)
	}
	e.Still, e.SHA256 = &kept, &sha
	marked := base + markedEnding
	if _, err := still.SaveAnnotated(marked, found.Field, annotation(r, e, exhibit.Of(found))); err != nil {
		return fmt.Errorf("keeping the evidence: %w", err)
	}
	e.Annotated = &marked
	return nil
}

// annotation is what the marked copy says: first what a customer reads, then what
// another technician needs.
func annotation(r *report.Report, e *report.Evidence, exhibits []still.Exhibit) still.Annotation {
	a := still.Annotation{Tone: tones[patterns.Class(r.Verdict.Class)], Title: r.Title(), Exhibits: exhibits}
	a.Details = r.Story()
	at := fmt.Sprintf("%d, field %d", e.Frame, e.Field)
	if e.TimeS != nil {
		at += fmt.Sprintf(", at %.2f s", *e.TimeS)
	}
	a.Print = []still.Entry{{Name: "source", Value: r.Source.Spec}, {Name: "frame", Value: at}}
	if r.Display != nil {
		a.Print = append(a.Print, still.Entry{Name: "display", Value: *r.Display})
	}
	a.Print = append(a.Print, still.Entry{Name: "tool", Value: r.Tool})
	if e.SHA256 != nil {
		a.Print = append(a.Print, still.Entry{Name: "SHA-256", Value: *e.SHA256})
	}
	for _, region := range e.Regions {
		if label := r.RegionLabel(); label != "" {
			region.Label = label
		}
		a.Regions = append(a.Regions, still.Region(region))
	}
	return a
}

var tones = map[patterns.Class]still.Tone{
	patterns.Clean: still.ToneClean, patterns.Undetermined: still.ToneUnsure, patterns.RAMBit: still.ToneFault,
	patterns.VideoLogic: still.ToneFault, patterns.Signal: still.ToneFault, patterns.CPUSide: still.ToneFault,
}
