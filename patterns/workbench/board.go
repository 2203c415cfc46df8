package workbench

import (
	"errors"
	"fmt"
	"sort"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"backporch/patterns"
)

// A Board says which part of a board carries what, by the designators printed on
// it, so that a verdict can name a part. What the user did not state is "".
type Board struct {
	Name               string
	Bits               [8]string // the memory chip of each data bit
	ColourBits         [4]string // the colour memory's, of a character display
	VideoLogic         string
	CharacterGenerator string
	Multiplexer        string // of the memory's address
	ColourOutput       string // encoder or amplifier of the composite output
}

// boardFile is a board map as it stands in its file.
type boardFile struct {
	Name               string            `toml:"name"`
	VideoLogic         string            `toml:"video_logic"`
	CharacterGenerator string            `toml:"character_generator"`
	Multiplexer        string            `toml:"multiplexer"`
	ColourOutput       string            `toml:"colour_output"`
	Bits               map[string]string `toml:"bits"`
	ColourBits         map[string]string `toml:"colour_bits"`
}

// ParseBoard reads a board map (TOML). Its errors name the line or the key that is wrong.
func ParseBoard(data []byte) (*Board, error) {
	var f boardFile
	decoder := toml.NewDecoder(strings.NewReader(string(data))).DisallowUnknownFields()
	if err := decoder.Decode(&f); err != nil {
		var strict *toml.StrictMissingError
		if errors.As(err, &strict) && len(strict.Errors) > 0 {
			row, _ := strict.Errors[0].Position()
			return nil, fmt.Errorf("line %d: unknown key %q", row, strings.Join(strict.Errors[0].Key(), "."))
		}
		var syntax *toml.DecodeError
		if errors.As(err, &syntax) {
			row, _ := syntax.Position()
			return nil, fmt.Errorf("line %d: %w", row, err)
		}
		return nil, err
	}
	b := &Board{
		Name: f.Name, VideoLogic: f.VideoLogic, CharacterGenerator: f.CharacterGenerator,
		Multiplexer: f.Multiplexer, ColourOutput: f.ColourOutput,
	}
	if err := fit(b.Bits[:], "bits", f.Bits); err != nil {
		return nil, err
	}
	if err := fit(b.ColourBits[:], "colour_bits", f.ColourBits); err != nil {
		return nil, err
	}
	return b, nil
}

// fit puts the designators of one table where their bits are.
func fit(to []string, table string, parts map[string]string) error {
	keys := make([]string, 0, len(parts))
	for key := range parts {
		keys = append(keys, key)
	}
	sort.Strings(keys) // so that the first error is always the same one
	for _, key := range keys {
		bit, err := strconv.Atoi(key)
		if err != nil || bit < 0 || bit >= len(to) || strconv.Itoa(bit) != key {
			return fmt.Errorf("%s.%s: a bit is 0 to %d", table, key, len(to)-1)
		}
		if strings.TrimSpace(parts[key]) == "" {
			return fmt.Errorf("%s.%s: the designator is empty", table, key)
		}
		to[bit] = parts[key]
	}
	return nil
}

// Part is the designator of the part that a fault points at, "" when the map does
// not say or when the fault points at none. A nil map says nothing.
func (b *Board) Part(f patterns.Fault) string {
	if b == nil {
		return ""
	}
	lane := func(bit int) string {
		chips := b.Bits[:]
		if f.Memory == "colour" {
			chips = b.ColourBits[:]
		}
		if bit < 0 || bit >= len(chips) {
			return ""
		}
		return chips[bit]
	}
	switch {
	case f.Class == patterns.RAMBit && f.Bit != nil:
		return lane(*f.Bit)
	case f.Class == patterns.RAMBit && len(f.Lanes) == 1:
		return lane(f.Lanes[0])
	case f.Kind == "address-line-stuck":
		return b.Multiplexer
	case f.Kind == "character-generator":
		return b.CharacterGenerator
	case f.Class == patterns.VideoLogic:
		return b.VideoLogic
	}
	return ""
}

// bitsFor puts data bits, or the name of another part, in the place of designators that the map has. A nil map
// leaves all as it is.
func (b *Board) bitsFor(where string) string {
	if b == nil {
		return where
	}
	words := strings.Split(where, ",")
	for i, word := range words {
		if bits := b.find(word); len(bits) > 0 {
			words[i] = strings.Join(bits, ",")
		}
	}
	return strings.Join(words, ",")
}

// find gives what a designator carries: data bits, "colour", or the name of another part as facts have it.
func (b *Board) find(designator string) []string {
	var out []string
	if b == nil || designator == "" {
		return nil
	}
	for bit, part := range b.Bits {
		if strings.EqualFold(part, designator) {
			out = append(out, strconv.Itoa(bit))
		}
	}
	for _, part := range b.ColourBits {
		if strings.EqualFold(part, designator) {
			return append(out, "colour")
		}
	}
	for _, p := range []struct{ part, name string }{
		{b.VideoLogic, videoPart}, {b.CharacterGenerator, generatorPart}, {b.Multiplexer, multiplexerPart}, {b.ColourOutput, outputPart},
	} {
		if strings.EqualFold(p.part, designator) {
			return append(out, p.name)
		}
	}
	return out
}
