package isolation

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"sort"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"backporch/patterns/swap"
)

// file is a list of tests as it stands in a TOML or JSON file.
type file struct {
	Tests []fileTest        `toml:"test" json:"test"`
	Parts map[string]string `toml:"parts" json:"parts"`
}

type fileTest struct {
	Name    string            `toml:"name" json:"name"`
	Board   string            `toml:"board" json:"board"`
	Path    string            `toml:"path" json:"path"`
	Verdict string            `toml:"verdict" json:"verdict"`
	BadAt   []string          `toml:"bad_at" json:"bad_at"`
	GoodAt  []string          `toml:"good_at" json:"good_at"`
	Fitted  map[string]string `toml:"fitted" json:"fitted"`
}

var outcomes = map[string]swap.Outcome{"good": swap.Good, "bad": swap.Bad, "unknown": swap.Unknown}

var opinions = map[string]swap.Known{"good": swap.ThoughtGood, "suspect": swap.Suspect, "bad": swap.ThoughtBad, "unknown": swap.NotKnown}

// Parse reads tests (TOML, or JSON where the first character is a brace) and what is thought of
// parts. A test keeps what the last test of its board had fitted, but for the positions that it
// names; a part that it names leaves the place where it was before; "" empties a position.
func Parse(data []byte) ([]swap.Test, map[string]swap.Known, error) {
	var f file
	if trimmed := bytes.TrimSpace(data); len(trimmed) > 0 && trimmed[0] == '{' {
		d := json.NewDecoder(bytes.NewReader(data))
		d.DisallowUnknownFields()
		if err := d.Decode(&f); err != nil {
			return nil, nil, jsonError(err)
		}
	} else {
		d := toml.NewDecoder(bytes.NewReader(data)).DisallowUnknownFields()
		if err := d.Decode(&f); err != nil {
			return nil, nil, tomlError(err)
		}
	}
	if len(f.Tests) == 0 {
		return nil, nil, errors.New("no [[test]] in it")
	}
	parts := map[string]swap.Known{}
	for _, name := range sorted(f.Parts) {
		known, ok := opinions[f.Parts[name]]
		if !ok {
			return nil, nil, fmt.Errorf("parts.%s: %q is not good, bad, suspect or unknown", name, f.Parts[name])
		}
		parts[name] = known
	}
	boards := map[string]map[string]string{}
	var tests []swap.Test
	for i, t := range f.Tests {
		name := t.Name
		if name == "" {
			name = fmt.Sprintf("test %d", i+1)
		}
		outcome, ok := outcomes[t.Verdict]
		if !ok {
			return nil, nil, fmt.Errorf("%s: verdict %q is not good, bad or unknown", name, t.Verdict)
		}
		fitted := maps.Clone(boards[t.Board])
		if fitted == nil {
			fitted = map[string]string{}
		}
		for _, position := range sorted(t.Fitted) {
			part := t.Fitted[position]
			for _, other := range boards {
				for p, sits := range other {
					if sits == part && part != "" {
						delete(other, p)
					}
				}
			}
			for p, sits := range fitted {
				if sits == part && t.Fitted[p] != part {
					delete(fitted, p)
				}
			}
		}
		for position, part := range t.Fitted {
			if fitted[position] = part; part == "" {
				delete(fitted, position)
			}
		}
		boards[t.Board] = fitted
		tests = append(tests, swap.Test{
			Name: name, Board: t.Board, Path: t.Path, Outcome: outcome, BadAt: t.BadAt, GoodAt: t.GoodAt, Fitted: maps.Clone(fitted),
		})
	}
	return tests, parts, nil
}

func sorted[V any](m map[string]V) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	return keys
}

// tomlError says which line or key is wrong, in one line.
func tomlError(err error) error {
	var strict *toml.StrictMissingError
	if errors.As(err, &strict) && len(strict.Errors) > 0 {
		row, _ := strict.Errors[0].Position()
		return fmt.Errorf("line %d: there is no key %q", row, strings.Join(strict.Errors[0].Key(), "."))
	}
	var bad *toml.DecodeError
	if errors.As(err, &bad) {
		row, _ := bad.Position()
		return fmt.Errorf("line %d: %s", row, strings.TrimPrefix(bad.Error(), "toml: "))
	}
	return err
}

func jsonError(err error) error {
	return errors.New(strings.TrimPrefix(err.Error(), "json: "))
}
