package main

import (
	"context"
	"encoding/json"
	"fmt"

	"backporch/analyse"
	"backporch/analyse/fingerprint"
	"backporch/analyse/survey"
	"backporch/video"
	"backporch/video/display"
)

// ofFiles stands for the capture device of recordings, of which nobody says what made them: of
// those only what no device has a part in is compared.
const ofFiles = "files"

// recognise compares a capture that is to be attached with what the job remembers of its machine, and
// warns when it does not fit. The first capture that shows enough is remembered.
func (a *attachment) recognise(ctx context.Context, fields []*video.Field, info video.Info, s *analyse.Survey, p *display.Profile) error {
	if a == nil || s.Sync.State == analyse.NoSignal {
		return nil
	}
	seen := fingerprint.Take(fields, info, s, p)
	device := info.Device
	if device == "" {
		device = ofFiles
		seen = &fingerprint.Print{Display: seen.Display, Seconds: seen.Seconds, Ratio: seen.Ratio}
		if len(seen.Ratio) == 0 {
			return nil
		}
	}
	all, err := a.store.Fingerprints(ctx, device)
	if err != nil {
		return err
	}
	var own *fingerprint.Print
	var like []int64 // other jobs whose machine it may be
	for _, f := range all {
		var known fingerprint.Print
		if json.Unmarshal(f.Body, &known) != nil {
			continue // of another version: nothing can be compared with it
		}
		if f.Job == a.job.ID {
			own = &known
		} else if fingerprint.Compare(&known, seen).Clocks() {
			like = append(like, f.Job)
		}
	}
	other := ""
	if len(like) == 1 {
		other = fmt.Sprintf("; it looks like the machine of job %d", like[0])
	} else if len(like) > 1 {
		other = fmt.Sprintf("; it may be the machine of one of jobs %d", like)
	}
	switch found := (*fingerprint.Comparison)(nil); {
	case own == nil && other != "":
		a.caution("this machine was seen in another job before" + other)
	case own != nil:
		if found = fingerprint.Compare(own, seen); found.Another() {
			a.caution(fmt.Sprintf("this does not look like the machine of job %d: %s%s", a.job.ID, found.Strongest(), other))
			fmt.Fprintf(a.s.err, "backporch: hint: if it is, 'backporch job fingerprint %d --forget' lets the next capture say what it looks like\n", a.job.ID)
			return nil
		}
		if len(seen.Ratio) == 0 || len(own.Ratio) > 0 && own.Ratio[0].Probability >= seen.Ratio[0].Probability {
			return nil // what is remembered says as much
		}
	}
	body, err := json.Marshal(seen)
	if err != nil {
		return fmt.Errorf("remembering the machine: %w", err)
	}
	return a.store.SetFingerprint(ctx, a.job.ID, device, body)
}

// recogniseAny is recognise for a command that surveys nothing; what fits no display can't be compared.
func (a *attachment) recogniseAny(ctx context.Context, c *footage) error {
	if a == nil {
		return nil
	}
	displays, err := profiles()
	if err != nil {
		return err
	}
	s, p, err := survey.Run(c.fields, c.info, survey.Options{Displays: displays})
	if err != nil {
		return nil
	}
	return a.recognise(ctx, c.fields, c.info, s, p)
}

// caution warns now, and on the time line.
func (a *attachment) caution(text string) {
	a.warn("%s", text)
	a.mu.Lock()
	defer a.mu.Unlock()
	a.warnings = append(a.warnings, text)
}

// said gives the cautions that were not asked for yet; they stay on the time line.
func (a *attachment) said() []string {
	a.mu.Lock()
	defer a.mu.Unlock()
	fresh := a.warnings[a.told:]
	a.told = len(a.warnings)
	return fresh
}
