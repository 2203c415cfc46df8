package stimulus

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"backporch/analyse/rate"
)

func seconds(bad, errored int, seconds float64) rate.Watch {
	return rate.Watch{Fields: int(50 * seconds), Bad: bad, Errored: errored, Seconds: seconds, WholeSeconds: int(seconds)}
}

func TestSaid(t *testing.T) {
	for _, tt := range []struct {
		before, after rate.Watch
		tone          Tone
		text          string
	}{
		{seconds(0, 0, 1), seconds(9, 1, 60), Same, `"cooled U14": too short before or after it to compare`},
		{seconds(0, 0, 60), seconds(0, 0, 30), Same, `0 bad fields in 30 s since "cooled U14", 0 in 60 s before.`},
		{seconds(3, 3, 60), seconds(1, 1, 60), Same, `1 bad field in 60 s since "cooled U14", 3 in 60 s before: no more than chance (P = 6`}, // 2*(1+4)/2^4 = 62.5 %
		{seconds(1, 1, 60), seconds(40, 30, 60), More, `More: 40 bad fields in 60 s since "cooled U14", 1 in 60 s before.`},
		{seconds(40, 30, 60), seconds(0, 0, 60), Fewer, `Fewer: 0 bad fields in 60 s since "cooled U14", 40 in 60 s before.`},
		{seconds(900, 30, 60), seconds(20, 1, 60), Fewer, `Fewer: 1 second with bad fields (they come in bursts) in 60 s since "cooled U14", 30 in 60 s before.`},
	} {
		r := New("cooled U14", time.Now(), tt.before, tt.after)
		if r.Tone != tt.tone || !strings.HasPrefix(r.Text, tt.text) || r.Changed != (tt.tone != Same) {
			t.Errorf("%s, changed %v: %s\nwant %s: %s", r.Tone, r.Changed, r.Text, tt.tone, tt.text)
		}
	}
}

// What was not measured is null.
func TestJSON(t *testing.T) {
	body, err := json.Marshal(New("x", time.Time{}, seconds(0, 0, 60), seconds(6, 6, 60)))
	if err != nil || !strings.Contains(string(body), `"p":0.03125`) || !strings.Contains(string(body), `,"ratio":null,`) || !strings.Contains(string(body), `"ratio_high_95":null`) {
		t.Errorf("%s, %v", body, err)
	}
}
