package workbench

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"

	"backporch/analyse/rate"
	"backporch/patterns/nats"
)

// A Stimulus is a mark that was made while the picture was watched, such as 'cooled U14', with the bad fields that were
// counted before it and after.
type Stimulus struct {
	Mark          string
	Before, After rate.Watch
}

// How a rate of bad fields behaves. Common practice, no source.
const (
	// stirred is the spread, in nats, of the ratio of rates that a stimulus makes where it does something: a factor of
	// ten one way or the other is usual.
	stirred = 2.3
	// wanders is how often a rate changes by itself as much as one that was stirred: machines warm up, and cables are
	// touched. What is counted can therefore never speak more than 20 to 1 for a change.
	wanders = 0.05
	// cools is how many seconds at least must be watched after a part was cooled before nothing counts as no change.
	cools = 10
)

// MarkFacts reads stimuli as facts: a mark that says that one part was cooled, warmed, pressed, tapped or reseated is that
// bench test, and what was counted says how probable each outcome is. Stimuli of one test at one place are taken together.
// Facts that were stated of the same test go before them. left has a line for each mark that no use was made of.
func MarkFacts(list []Stimulus, b *Board, stated []Fact) (facts []Fact, left []string) {
	for _, s := range list {
		o, err := readMark(s.Mark, b)
		if err == nil {
			o.like, err = s.likelihoods()
		}
		if err == nil && o.test.Hand == warms && s.After.Seconds < cools && o.like[0] > o.like[1] {
			err = fmt.Errorf("%.0f s were watched after it, and a part takes %d s and more to cool or warm", s.After.Seconds, cools)
		}
		if err == nil && stands(stated, o) {
			err = errors.New("what came of that test was stated")
		}
		if err != nil {
			left = append(left, fmt.Sprintf("the mark '%s' is left out: %v", s.Mark, err))
			continue
		}
		text := s.counts()
		if i := slices.IndexFunc(facts, func(f Fact) bool { return f.saw[0].test == o.test && f.saw[0].at == o.at }); i >= 0 {
			// One thing is asked, whether the fault minds it: its answer is the same each time.
			f := &facts[i]
			for n := range o.like {
				o.like[n] *= f.saw[0].like[n]
			}
			text = f.Text + " and " + text
			facts = slices.Delete(facts, i, i+1)
		}
		top := slices.Max(o.like)
		for n := range o.like {
			o.like[n] /= top
			if o.like[n] == 1 {
				o.outcome = n
			}
		}
		facts = append(facts, Fact{Text: text, counted: true, saw: []observation{o}})
	}
	return facts, left
}

// stands tells whether the outcome of an observation's test, at its place, was stated.
func stands(stated []Fact, o observation) bool {
	return slices.ContainsFunc(stated, func(f Fact) bool {
		return slices.ContainsFunc(f.saw, func(g observation) bool {
			return g.test == o.test && (g.at&o.at != 0 || g.at == 0 || o.at == 0)
		})
	})
}

// markWords are the words by which a mark says what the hand did, in any tense.
var markWords = []struct {
	hand  hand
	words *regexp.Regexp
}{
	{warms, regexp.MustCompile(`^(cool(s|ed|ing)?|chill(s|ed|ing)?|fr[eo]ez(e|es|ing)|froze|frozen|spray(s|ed|ing)?|iced?|icing|warm(s|ed|ing)?|heat(s|ed|ing)?|air|hairdryer)$`)},
	{reseats, regexp.MustCompile(`^re-?seat(s|ed|ing)?$`)},
	{presses, regexp.MustCompile(`^(press(es|ed|ing)?|push(es|ed|ing)?|tap(s|ped|ping)?|knock(s|ed|ing)?|wiggl(e|es|ed|ing)|flex(es|ed|ing)?|bend(s|ing)?|bent|twist(s|ed|ing)?)$`)},
}

// word is a word of a mark; designators can hold a dot, a stroke or a hyphen.
var word = regexp.MustCompile(`[\pL\pN][\pL\pN./_+-]*`)

// readMark finds the test that a mark tells of, and where it was done.
func readMark(mark string, b *Board) (observation, error) {
	words := word.FindAllString(mark, -1)
	var did hand
	var unknown string // what looks like a designator and is in no map
	var at []string
	for i, w := range words {
		w = strings.TrimRight(w, ".-/")
		small := strings.ToLower(w)
		next := ""
		if i+1 < len(words) {
			next = strings.ToLower(words[i+1])
		}
		for _, m := range markWords {
			if m.words.MatchString(small) {
				if did != "" && did != m.hand {
					return observation{}, errors.New("it tells of more than one thing that was done")
				}
				did = m.hand
			}
		}
		switch found := b.find(w); {
		case len(found) > 0:
			at = append(at, found...)
		case (small == "bit" || small == "lane") && len(next) == 1 && next[0] >= '0' && next[0] <= '7':
			at = append(at, next)
		case small == "colour" && next == "memory":
			at = append(at, "colour")
		case small == videoPart || small == "video" && next == "logic":
			at = append(at, videoPart)
		case small == generatorPart || small == "generator":
			at = append(at, generatorPart)
		case small == multiplexerPart, small == processorPart:
			at = append(at, small)
		case small == "encoder" || small == outputPart && next == "stage":
			at = append(at, outputPart)
		case designator.MatchString(w):
			unknown = w
		}
	}
	if did == "" {
		return observation{}, errors.New("it tells of no cooling, warming, pressing, flexing or reseating")
	}
	if unknown != "" {
		return observation{}, fmt.Errorf("no board map says what %s is", unknown)
	}
	slices.Sort(at)
	return placed(did, slices.Compact(at))
}

// designator is how parts are called on boards: a letter or two and a number, as U14, IC6, TR1.
var designator = regexp.MustCompile(`^[A-Z]{1,3}[0-9]{1,4}[A-Za-z]?$`)

// placed is the test of a hand at a place; bits of one lane test can be several.
func placed(did hand, at []string) (observation, error) {
	bits, err := parsePlaces(strings.Join(at, ","))
	part := ""
	switch {
	case len(at) == 0:
		bits = 0
	case err == nil:
	case len(at) == 1:
		bits, part = 0, at[0]
	default:
		return observation{}, errors.New("it names parts of more than one kind")
	}
	for i := range tests {
		t := &tests[i]
		if t.Hand == did && t.At == part && t.Lane == (bits != 0) {
			return observation{test: t, at: bits}, nil
		}
	}
	if len(at) == 0 {
		return observation{}, errors.New("it names no part: write its designator, or as in 'cooled bit 3'")
	}
	return observation{}, fmt.Errorf("nothing is known of doing that to the %s", strings.ReplaceAll(part, "-", " "))
}

// likelihoods is how probable the counts are, given their sum, where the stimulus does nothing and where it does
// something. Where it does nothing the share of the bad fields that falls after it is that of the time; where it does
// something, the logarithm of the ratio of the rates is normal with the spread stirred.
func (s *Stimulus) likelihoods() ([]float64, error) {
	c := rate.Counted(s.Before, s.After)
	first, second := c.Counts()
	switch {
	case !(first.Exposure > 0 && second.Exposure > 0) || min(first.Events, second.Events) < 0:
		return nil, errors.New("nothing was watched before it, or after it")
	case first.Events+second.Events == 0:
		return nil, errors.New("no bad field was seen before it or after it")
	}
	logLike := func(logRatio float64) float64 {
		after := second.Exposure * math.Exp(logRatio)
		total := first.Exposure + after
		l := 0.0
		if first.Events > 0 {
			l += float64(first.Events) * math.Log(first.Exposure/total)
		}
		if second.Events > 0 {
			l += float64(second.Events) * math.Log(after/total)
		}
		return l
	}
	// Fine enough for a hundred thousand events, whose ratio is known to a few parts in a thousand.
	const steps, far = 8000, 6
	logs := make([]float64, 0, steps+1)
	for i := range steps + 1 {
		z := far * (2*float64(i)/steps - 1)
		logs = append(logs, logLike(z*stirred)-z*z/2+math.Log(2*far/float64(steps)/math.Sqrt(2*math.Pi)))
	}
	same, changed := logLike(0), nats.LogSum(logs...)
	top := math.Max(same, changed)
	same, changed = math.Exp(same-top), math.Exp(changed-top)
	return []float64{(1-wanders)*same + wanders*changed, changed}, nil
}

// counts says what was counted.
func (s *Stimulus) counts() string {
	c := rate.Counted(s.Before, s.After)
	what := "bad fields"
	if c.Clumped {
		what = "seconds with bad fields"
	}
	first, second := c.Counts()
	return fmt.Sprintf("mark '%s' (%s: %d in %.0f s before it, %d in %.0f s after)", s.Mark, what, first.Events, first.Exposure, second.Events, second.Exposure)
}
