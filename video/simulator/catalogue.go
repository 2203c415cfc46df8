package simulator

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"

	"backporch/video/display"
)

// A kind is an entry of the catalogue.
type kind struct {
	name   string
	keys   []string     // particulars it takes
	usual  Fault        // particulars that are left out
	modes  []string     // the sorts of this kind, the usual one first
	only   display.Kind // the display that can have it; empty: any
	common bool         // drawn when nobody says which
	// random draws particulars for a display; nil: the usual ones.
	random func(p *display.Profile, rng *rand.Rand) Fault
	// act puts the fault in its place in the machine. rng serves the fault alone.
	act func(f Fault, m *machine, rng *rand.Rand) hooks
}

// kinds is the whole catalogue, clean first; set up below, as the table's functions look
// things up in it.
var kinds []kind

func init() {
	clean := kind{name: "clean", common: true, act: func(Fault, *machine, *rand.Rand) hooks { return hooks{} }}
	kinds = slices.Concat([]kind{clean}, ramKinds, videoKinds, signalKinds)
}

// Kinds lists the kinds of fault that the simulator has, clean first.
func Kinds() []string {
	names := make([]string, len(kinds))
	for i, k := range kinds {
		names[i] = k.name
	}
	return names
}

// commonKinds lists those that a random scenario draws from.
func commonKinds() []string {
	var names []string
	for _, k := range kinds {
		if k.common {
			names = append(names, k.name)
		}
	}
	return names
}

func findKind(name string) (*kind, error) {
	for i := range kinds {
		if kinds[i].name == name {
			return &kinds[i], nil
		}
	}
	return nil, fmt.Errorf("no fault kind %q; there are %s", name, strings.Join(Kinds(), ", "))
}

// takes says in words which particulars a kind has.
func (k *kind) takes() string {
	if len(k.keys) == 0 {
		return "no particulars"
	}
	return strings.Join(k.keys, "=, ") + "="
}

// check refuses particulars that the display does not have.
func (f Fault) check(p *display.Profile) error {
	k, err := findKind(f.Kind)
	if err != nil {
		return err
	}
	if k.only != "" && k.only != p.Kind {
		return fmt.Errorf("fault %s: display %s cannot have it", f.Kind, p.Name)
	}
	if f.Component == "" && f.Kind == "colour-path" || f.Component != "" && !slices.Contains(components(p), f.Component) {
		return fmt.Errorf("fault %s: component %q: display %s has %s", f.Kind, f.Component, p.Name, strings.Join(components(p), ", "))
	}
	if k.modes != nil && !slices.Contains(k.modes, f.Mode) {
		return fmt.Errorf("fault %s: mode %q: use %s", f.Kind, f.Mode, strings.Join(k.modes, ", "))
	}
	limit := 8
	switch {
	case f.Memory == "colour" && p.Kind != display.Text:
		return fmt.Errorf("fault %s: display %s has no colour RAM of its own", f.Kind, p.Name)
	case f.Memory == "colour", f.Kind == "border-latch" && p.Kind == display.Text:
		limit = 4
	case f.Kind == "border-latch":
		limit = 3
	}
	if f.Bit < 0 || f.Bit >= limit {
		return fmt.Errorf("fault %s: bit %d: use 0 to %d", f.Kind, f.Bit, limit-1)
	}
	if f.Level != 0 && f.Level != 1 {
		return fmt.Errorf("fault %s: level %d: use 0 or 1", f.Kind, f.Level)
	}
	if f.Number < 0 {
		return fmt.Errorf("fault %s: %d: use 0 or more", f.Kind, f.Number)
	}
	if lines := p.RowBits + p.ColumnBits; f.Lines>>lines != 0 {
		return fmt.Errorf("fault %s: lines %v: display %s has 0 to %d", f.Kind, f.Lines, p.Name, lines-1)
	}
	return nil
}
