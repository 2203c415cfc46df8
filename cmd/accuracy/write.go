package main

import (
	"encoding/json"
	"fmt"
	"image/color"
	"maps"
	"os"
	"path/filepath"
	"slices"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/palette"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// write puts results.json and confusion.png into a folder.
func (s *summary) write(dir string, runs []run) error {
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return err
	}
	data, err := json.MarshalIndent(s.results(runs), "", " ")
	if err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(dir, "results.json"), append(data, '\n'), 0o666); err != nil {
		return err
	}
	return s.confusion().draw(filepath.Join(dir, "confusion.png"))
}

// results is the measure as JSON has it.
func (s *summary) results(runs []run) any {
	type kindRow struct {
		Class Proportion     `json:"class"`
		Kind  Proportion     `json:"kind"`
		Said  map[string]int `json:"said"`
	}
	type exactRow struct {
		All   Proportion `json:"all"`
		Named Proportion `json:"named"`
	}
	type ablationRow struct {
		Without string     `json:"without"`
		Class   Proportion `json:"class"`
		Kind    Proportion `json:"kind"`
		Worse   int        `json:"made_wrong"`
		Better  int        `json:"made_right"`
		Chance  float64    `json:"p_by_chance"`
	}
	kinds, exact, ablations := map[string]kindRow{}, map[string]exactRow{}, []ablationRow{}
	for n, r := range s.rows {
		kinds[n] = kindRow{r.class.proportion(), r.kind.proportion(), r.said}
	}
	for n := range s.exact {
		exact[n] = exactRow{s.exact[n].proportion(), s.exactNamed[n].proportion()}
	}
	for _, a := range s.ablations {
		ablations = append(ablations, ablationRow{joined(a.terms), a.class.proportion(), a.kind.proportion(), a.worse, a.better, mcnemar(a.worse, a.better)})
	}
	captures := make([]Judgement, len(runs))
	for i := range runs {
		captures[i] = runs[i].Judgement
	}
	return struct {
		Captures      int                 `json:"captures"`
		Class         Proportion          `json:"class"`
		NoReference   Proportion          `json:"class_without_reference"`
		WithReference Proportion          `json:"class_with_reference"`
		Kind          Proportion          `json:"kind"`
		Pairs         Proportion          `json:"pairs"`
		FalseAlarms   Proportion          `json:"false_alarms"`
		OpenHidden    Proportion          `json:"undetermined_nothing_shows"`
		OpenShown     Proportion          `json:"undetermined_fault_shows"`
		Kinds         map[string]kindRow  `json:"kinds"`
		Exact         map[string]exactRow `json:"exact"`
		Verdicts      Calibration         `json:"calibration_verdicts"`
		Faults        Calibration         `json:"calibration_faults"`
		Ablations     []ablationRow       `json:"ablations"`
		Judgements    []Judgement         `json:"judgements"`
	}{
		len(runs), s.class.proportion(), s.byReference[0].proportion(), s.byReference[1].proportion(), s.kind.proportion(), s.pairs.proportion(),
		s.alarms.proportion(), s.undetermined[0].proportion(), s.undetermined[1].proportion(), kinds, exact, s.verdicts, s.faults, ablations, captures,
	}
}

// A confusion matrix has a row for what was due and a column for what was said; cells are shares of their row.
type confusion struct {
	due, said []string
	counts    [][]int
}

// confusion keeps kinds by their name and joins pairs that were said by few into "other pairs".
func (s *summary) confusion() *confusion {
	c := &confusion{due: slices.Sorted(maps.Keys(s.rows))}
	columns := map[string]bool{}
	for due, r := range s.rows {
		if due != hidden {
			columns[due] = true
		}
		for said := range r.said {
			columns[column(said, s.rows)] = true
		}
	}
	c.said = slices.Sorted(maps.Keys(columns))
	for _, due := range c.due {
		counts := make([]int, len(c.said))
		for said, n := range s.rows[due].said {
			counts[slices.Index(c.said, column(said, s.rows))] += n
		}
		c.counts = append(c.counts, counts)
	}
	return c
}

const otherPairs = "other pairs"

func column(said string, rows map[string]*row) string {
	if rows[said] == nil && slices.Contains([]rune(said), '+') {
		return otherPairs
	}
	return said
}

// Dims, Z, X and Y make the matrix a plotter.GridXYZ; the first row is at the top.
func (c *confusion) Dims() (columns, rows int) { return len(c.said), len(c.due) }
func (c *confusion) X(column int) float64      { return float64(column) }
func (c *confusion) Y(row int) float64         { return float64(row) }
func (c *confusion) Z(column, row int) float64 {
	counts, sum := c.counts[len(c.due)-1-row], 0
	for _, n := range counts {
		sum += n
	}
	return float64(counts[column]) / float64(sum)
}

// shades goes from white to dark blue.
func shades() palette.Palette {
	const n = 64
	var p ramp
	for i := range n {
		t := float64(i) / (n - 1)
		p = append(p, color.RGBA{uint8(255 - 235*t), uint8(255 - 190*t), uint8(255 - 110*t), 255})
	}
	return p
}

type ramp []color.Color

func (r ramp) Colors() []color.Color { return r }

// draw writes the matrix as a picture, with the count in each cell.
func (c *confusion) draw(path string) error {
	p := plot.New()
	p.Title.Text = "what was said (across) of what was there (down), share of the row"
	heat := plotter.NewHeatMap(c, shades())
	heat.Min, heat.Max = 0, 1
	p.Add(heat)
	small := font.From(plot.DefaultFont, vg.Points(8))
	var light, dark plotter.XYLabels
	for row := range c.due {
		for column := range c.said {
			n := c.counts[len(c.due)-1-row][column]
			if n == 0 {
				continue
			}
			to := &dark
			if c.Z(column, row) > 0.5 {
				to = &light
			}
			to.XYs = append(to.XYs, plotter.XY{X: float64(column), Y: float64(row)})
			to.Labels = append(to.Labels, fmt.Sprint(n))
		}
	}
	for _, set := range []struct {
		labels plotter.XYLabels
		colour color.Color
	}{{dark, color.Black}, {light, color.White}} {
		if len(set.labels.XYs) == 0 {
			continue
		}
		labels, err := plotter.NewLabels(set.labels)
		if err != nil {
			return err
		}
		for i := range labels.TextStyle {
			labels.TextStyle[i] = text.Style{Color: set.colour, Font: small, XAlign: draw.XCenter, YAlign: draw.YCenter, Handler: plot.DefaultTextHandler}
		}
		p.Add(labels)
	}
	p.X.Tick.Marker, p.Y.Tick.Marker = ticks(c.said, false), ticks(c.due, true)
	p.X.Tick.Label.Rotation = 1.0 // radians, so that long names fit
	p.X.Tick.Label.XAlign, p.X.Tick.Label.YAlign = draw.XRight, draw.YCenter
	p.X.Tick.Label.Font, p.Y.Tick.Label.Font = small, small
	p.X.Tick.Length, p.Y.Tick.Length = 0, 0
	w := vg.Length(len(c.said))*vg.Points(22) + vg.Points(220)
	h := vg.Length(len(c.due))*vg.Points(16) + vg.Points(180)
	return p.Save(w, h, path)
}

func ticks(names []string, down bool) plot.ConstantTicks {
	var out plot.ConstantTicks
	for i, n := range names {
		at := float64(i)
		if down {
			at = float64(len(names) - 1 - i)
		}
		out = append(out, plot.Tick{Value: at, Label: n})
	}
	return out
}
