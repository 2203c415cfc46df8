package report

import (
	"fmt"
	"strconv"
	"strings"

	"backporch/patterns"
	"backporch/video/display"
)

// Likely is the probability from which a fault is stated; one below is a rival.
const Likely = 0.5

// worthNaming is the least probability that a rival is shown with.
const worthNaming = 0.03

// Summary says the verdict's first fault in one plain sentence, without how sure it
// is. p names the colours and may be nil.
func Summary(v *patterns.Verdict, p *display.Profile) string {
	switch v.Class {
	case patterns.Clean:
		return "Nothing wrong to be seen."
	case patterns.Undetermined:
		return "The capture does not settle it."
	}
	if len(v.Faults) == 0 {
		return "A fault of the class " + string(v.Class) + "."
	}
	sentence := Phrase(v.Faults[0], p)
	return strings.ToUpper(sentence[:1]) + sentence[1:] + "."
}

// Phrase says one fault in a few words that start in lower case.
func Phrase(f patterns.Fault, p *display.Profile) string {
	say, ok := phrases[f.Kind]
	if !ok {
		return strings.ReplaceAll(f.Kind, "-", " ") + part(f)
	}
	return say(f, p)
}

// phrases are the wordings by kind.
var phrases = map[string]func(patterns.Fault, *display.Profile) string{
	"data-bit-stuck": func(f patterns.Fault, _ *display.Profile) string {
		return lane(f) + " is stuck" + number(" at ", f.Level)
	},
	"data-bit-weak": func(f patterns.Fault, _ *display.Profile) string {
		return lane(f) + " is unreliable"
	},
	"address-line-stuck": func(f patterns.Fault, _ *display.Profile) string {
		where := "in all lanes"
		if n := len(f.Lanes); n > 0 && n < 8 {
			where = "in lane " + numbers(f.Lanes, "")
		}
		return "memory address " + numbers(f.Lines, "A") + " is stuck" + number(" at ", f.Level) + " " + where + part(f)
	},
	"row-dead": func(f patterns.Fault, _ *display.Profile) string {
		return "row" + number(" ", f.Row) + " of the memory chip is dead in " + lane(f)
	},
	"column-dead": func(f patterns.Fault, _ *display.Profile) string {
		return "column" + number(" ", f.Column) + " of the memory chip is dead in " + lane(f)
	},
	"refresh-loss": func(f patterns.Fault, _ *display.Profile) string {
		return "memory bits decay row by row: refresh is lost" + part(f)
	},
	"supply-or-all-lanes": func(f patterns.Fault, _ *display.Profile) string {
		return "most memory lanes are wrong at once: the supply rails or the common control lines"
	},
	"colour-path": func(f patterns.Fault, _ *display.Profile) string {
		state := " is dead or stuck"
		if f.Level != nil {
			state = [2]string{" is missing", " is stuck on"}[min(max(*f.Level, 0), 1)]
		}
		return "the " + f.Component + " component of the colour" + state + ", in picture and border alike" + part(f)
	},
	"border-latch": func(f patterns.Fault, p *display.Profile) string {
		s := "the border has the wrong colour"
		if f.Seen != nil {
			s = "the border is " + colour(*f.Seen, p)
			if f.Expected != nil {
				s += " where it should be " + colour(*f.Expected, p)
			}
		}
		return s + part(f)
	},
	"cell-fetch": func(f patterns.Fault, _ *display.Profile) string {
		return "cells are fetched wrongly by their place on the raster (" + f.Columns + ")" + part(f)
	},
	"line-counter": func(f patterns.Fault, _ *display.Profile) string {
		return "picture lines repeat: bit" + number(" ", f.CounterBit) + " of the line counter" + part(f)
	},
	"cell-snow": func(f patterns.Fault, _ *display.Profile) string {
		return "whole cells are wrong for single fields" + part(f)
	},
	"shift-register": func(f patterns.Fault, _ *display.Profile) string {
		return "the 8 pixels of each cell are shifted out wrongly" + part(f)
	},
	"blank-picture": func(f patterns.Fault, _ *display.Profile) string {
		return "sync and border are good but nothing is drawn in the picture" + part(f)
	},
	"flash-dead": func(f patterns.Fault, _ *display.Profile) string {
		return "nothing flashes though colour bytes say so" + part(f)
	},
	"character-generator": func(f patterns.Fault, _ *display.Profile) string {
		return "the character generator draws codes wrongly" + part(f)
	},
	"no-signal":        plain("there is no signal"),
	"sync-weak":        plain("the picture does not hold its lock"),
	"noise":            plain("the picture is noisy"),
	"hum":              plain("hum runs through the picture"),
	"ringing":          plain("edges ring"),
	"low-bandwidth":    plain("edges are smeared: the bandwidth is low"),
	"ghost":            plain("there is a second, displaced picture"),
	"colour-lost":      plain("there is no colour"),
	"level-high":       plain("the level is too high"),
	"level-low":        plain("the level is too low"),
	"clipping":         plain("the brightest parts are clipped"),
	"power-up-pattern": plain("memory shows as it woke, never written: the display side works, the processor side does not run"),
	"fixed-bars":       figure("fixed vertical bars stand in the picture", "%.4g pixels apart", func(f patterns.Fault) *float64 { return f.PeriodPx }),
	"hue-shift":        figure("all hues are turned", "%.3g degrees", func(f patterns.Fault) *float64 { return f.Degrees }),
	"interference":     figure("a foreign carrier lies on the picture", "%.4g Hz", func(f patterns.Fault) *float64 { return f.FrequencyHz }),
}

func plain(s string) func(patterns.Fault, *display.Profile) string {
	return func(f patterns.Fault, _ *display.Profile) string { return s + part(f) }
}

func figure(s, format string, of func(patterns.Fault) *float64) func(patterns.Fault, *display.Profile) string {
	return func(f patterns.Fault, _ *display.Profile) string {
		if v := of(f); v != nil {
			s := s + ", " + fmt.Sprintf(format, *v)
			return s + part(f)
		}
		return s + part(f)
	}
}

// lane names a memory lane, and its part where a board map gave one.
func lane(f patterns.Fault) string {
	memory := "memory"
	if f.Memory == "colour" {
		memory = "colour memory"
	}
	s := memory + " bit" + number(" ", f.Bit)
	if f.Bit == nil {
		s = "a " + memory + " bit"
	}
	if f.Part != "" {
		s += " (the lane of " + f.Part + ")"
	}
	return s
}

func part(f patterns.Fault) string {
	if f.Part == "" {
		return ""
	}
	return " (" + f.Part + ")"
}

func number(before string, v *int) string {
	if v == nil {
		return ""
	}
	return before + strconv.Itoa(*v)
}

func numbers(all []int, prefix string) string {
	said := make([]string, len(all))
	for i, v := range all {
		said[i] = prefix + strconv.Itoa(v)
	}
	return strings.Join(said, ", ")
}

func colour(index int, p *display.Profile) string {
	if p != nil && index >= 0 && index < len(p.Colours) {
		return p.Colours[index].Name
	}
	return "colour " + strconv.Itoa(index)
}

// Sure says a probability in words: a whole percentage, never 0 or 100.
func Sure(p *float64) string {
	if *p >= 0.995 {
		return "over 99 % sure"
	}
	return fmt.Sprintf("%.0f %% sure", max(*p*100, 1))
}
