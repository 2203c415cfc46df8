package comparison

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"strings"

	"backporch/analyse/fingerprint"
	"backporch/cmd/backporch/internal/report"
	"backporch/patterns"
	"backporch/patterns/change"
	"backporch/video/still"
)

// Schema is the version of the JSON. Keys may be added, never renamed.
const Schema = 1

// A Comparison is what compare found. A nil pointer is what was not measured, and stands as null.
type Comparison struct {
	Schema     int                `json:"schema"`
	Tool       string             `json:"tool"`
	Word       string             `json:"word"`       // fixed, better, same, worse, another fault, undetermined
	Confidence *float64           `json:"confidence"` // of the word
	Words      map[string]float64 `json:"words"`      // each word's probability, the machine taken as the same
	Summary    string             `json:"summary"`
	Gone       []string           `json:"gone"` // faults that were there before
	Kept       []string           `json:"kept"` // that are there still
	New        []string           `json:"new"`  // that were not there before
	Why        []string           `json:"why"`
	Warnings   []string           `json:"warnings"`
	Display    *string            `json:"display"`
	Before     Side               `json:"before"`
	After      Side               `json:"after"`
	SameScreen *bool              `json:"same_screen"`
	Agreement  *float64           `json:"screen_agreement"` // Cohen's kappa of the edges
	Cells      *int               `json:"cells"`
	Different  []Cell             `json:"different"` // cells; null when the pictures were not placed
	Measures   []Measure          `json:"measures"`
	Machine    *Machine           `json:"machine"`
	Still      *string            `json:"still"` // the pair of pictures
	SHA256     *string            `json:"sha256"`

	next []string
}

// A Side is one capture.
type Side struct {
	Source  report.Source  `json:"source"`
	Sync    report.Sync    `json:"sync"`
	Verdict report.Verdict `json:"verdict"`
}

// A Cell looks different in so many of its pixels.
type Cell struct {
	Column int `json:"col"`
	Row    int `json:"row"`
	Pixels int `json:"pixels"`
}

// A Measure is a figure before and after.
type Measure struct {
	Name   string   `json:"name"`
	Unit   string   `json:"unit"`
	Before *float64 `json:"before"`
	After  *float64 `json:"after"`
	Spread *float64 `json:"spread"` // of the difference on an unchanged machine
	Better *float64 `json:"better"` // the improvement, in spreads
	Word   *string  `json:"word"`   // better, same, worse
}

// Machine is whether both captures come from one machine.
type Machine struct {
	Same        *bool                  `json:"same"` // null: not settled
	Log10       float64                `json:"log10"`
	Probability float64                `json:"probability"` // where it was said to be one, 95 in 100
	Evidence    []fingerprint.Evidence `json:"evidence"`
	Limits      []string               `json:"limits"`
	Before      *fingerprint.Print     `json:"before"`
	After       *fingerprint.Print     `json:"after"`
}

// Prior is the probability that two captures given as of one machine are.
const Prior = 0.95

// New builds the model; before and after are the reports of both captures.
func New(tool string, before, after *report.Report, j *change.Judgement, prints [2]*fingerprint.Print) *Comparison {
	c := &Comparison{
		Schema: Schema, Tool: tool, Word: string(j.Word), Words: map[string]float64{}, Gone: texts(j.Gone), Kept: texts(j.Kept), New: texts(j.New), Why: texts(j.Why), Warnings: texts(j.Warnings),
		Display: after.Display, SameScreen: j.SameScreen, Agreement: round(j.Agreement, 3), Measures: []Measure{}, next: after.Verdict.Next,
		Before: Side{before.Source, before.Sync, before.Verdict}, After: Side{after.Source, after.Sync, after.Verdict},
		Confidence: round(j.Confidence, 3),
	}
	for w, p := range j.Words {
		c.Words[string(w)] = math.Round(p*1e4) / 1e4
	}
	if j.Cells > 0 {
		c.Cells = &j.Cells
		c.Different = []Cell{}
		for _, d := range j.Differences {
			c.Different = append(c.Different, Cell(d))
		}
	}
	for _, m := range j.Measures {
		v := Measure{Name: m.Name, Unit: m.Unit, Before: round(m.Before, 2), After: round(m.After, 2), Better: round(m.Better, 2)}
		if m.Better != nil {
			word := m.Word()
			v.Word, v.Spread = &word, round(&m.Spread, 3)
		}
		c.Measures = append(c.Measures, v)
	}
	if m := j.Machine; m != nil {
		c.Machine = &Machine{
			Log10: math.Round(m.Log10*100) / 100, Probability: math.Round(m.Probability(Prior)*1e4) / 1e4,
			Evidence: m.Evidence, Limits: texts(m.Limits), Before: prints[0], After: prints[1],
		}
		if m.Same() || m.Another() {
			same := m.Same()
			c.Machine.Same = &same
		}
	}
	c.Summary = c.sentence()
	return c
}

func texts(s []string) []string {
	if s == nil {
		return []string{}
	}
	return s
}

func round(v *float64, digits int) *float64 {
	if v == nil || math.IsNaN(*v) || math.IsInf(*v, 0) {
		return nil
	}
	f := math.Pow(10, float64(digits))
	r := math.Round(*v*f) / f
	return &r
}

// sentence says the word in a sentence.
func (c *Comparison) sentence() string {
	good := c.Before.Verdict.Class == string(patterns.Clean) && c.After.Verdict.Class == string(patterns.Clean)
	switch change.Word(c.Word) {
	case change.Fixed:
		return "The fault is gone and nothing else is wrong. One capture does not prove it: a soak finds what comes and goes."
	case change.Better:
		if good {
			return "Nothing was wrong, and the signal has improved."
		}
		if len(c.Gone) > 0 {
			return fmt.Sprintf("Gone: %s. Still there: %s.", strings.Join(c.Gone, ", "), strings.Join(c.Kept, ", "))
		}
		return "The fault is still there, but less bad than before."
	case change.Worse:
		if good {
			return "No fault is seen in either, but the signal has become worse."
		}
		if len(c.New) > 0 {
			return fmt.Sprintf("New: %s.", strings.Join(c.New, ", "))
		}
		return "The fault has become worse."
	case change.Same:
		if good {
			return "Nothing is wrong in either."
		}
		return "What was wrong is as wrong as before."
	case change.Another:
		if len(c.Gone) > 0 && len(c.New) > 0 {
			return fmt.Sprintf("Gone: %s. There now: %s.", strings.Join(c.Gone, ", "), strings.Join(c.New, ", "))
		}
		return "The fault that was there is gone; a different one is there now."
	}
	return "The two captures do not settle what became of it."
}

// Sure says the confidence in words, "" without one.
func (c *Comparison) Sure() string {
	switch {
	case c.Confidence == nil:
		return ""
	case *c.Confidence >= 0.995:
		return "over 99 % sure"
	}
	return fmt.Sprintf("%.0f %% sure", math.Max(1, math.Floor(*c.Confidence*100)))
}

// Tone is how good or bad the word is.
func (c *Comparison) Tone() still.Tone {
	switch change.Word(c.Word) {
	case change.Fixed:
		return still.ToneClean
	case change.Same, change.Better:
		if c.After.Verdict.Class == string(patterns.Clean) {
			return still.ToneClean
		}
		return still.ToneFault
	case change.Worse, change.Another:
		return still.ToneFault
	}
	return still.ToneUnsure
}

// JSON writes the comparison as one object.
func (c *Comparison) JSON(w io.Writer) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", " ")
	return e.Encode(c)
}

// Raw is the JSON as a job keeps it: the still goes by its name, since the folder may be gone.
func (c *Comparison) Raw() (json.RawMessage, error) {
	kept := *c
	if c.Still != nil {
		base := filepath.Base(*c.Still)
		kept.Still = &base
	}
	raw, err := json.Marshal(&kept)
	if err != nil {
		return nil, fmt.Errorf("keeping the comparison: %w", err)
	}
	return raw, nil
}
