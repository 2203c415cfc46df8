package jobreport

import (
	"fmt"
	"strings"
	"time"

	"backporch/cmd/backporch/internal/job"
)

// names of the classes in a sentence.
var names = map[string]string{
	"clean": "clean", "ram-bit": "memory bit", "video-logic": "video logic", "signal": "signal",
	"cpu-side": "processor side", "undetermined": "undetermined",
}

// Class names a class of verdict.
func Class(class string) string {
	if said := names[class]; said != "" {
		return said
	}
	return class
}

// Heading is a verdict in a few words: its class and how sure it is. "" of none.
func Heading(v *job.Verdict) string {
	if v == nil {
		return ""
	}
	said := Class(v.Class)
	if v.Confidence != nil {
		said += ", " + Sure(*v.Confidence)
	}
	return said
}

// Sure says a probability in words: a whole percentage, never 0 or 100.
func Sure(p float64) string {
	if p >= 0.995 {
		return "over 99 % sure"
	}
	return fmt.Sprintf("%.0f %% sure", max(p*100, 1))
}

// Say is an entry in one line, without its time.
func Say(e job.Entry) string {
	said := ""
	switch m := e.Move; e.Kind {
	case job.KindOpened:
		return "opened"
	case job.KindPull:
		said = fmt.Sprintf("pulled %s from %s", m.Part, m.Position)
	case job.KindFit:
		said = fmt.Sprintf("fitted %s in %s", m.Part, m.Position)
		if m.Condition != job.Unknown {
			said += ", " + string(m.Condition)
		}
	case job.KindMark:
		said = fmt.Sprintf("marked %s %s", m.Part, m.Condition)
	case job.KindState:
		said = string(e.State)
		if e.State == job.StateOpen {
			said = "taken up again"
		}
	case job.KindAttached:
		said = "attached " + files(e.Stills)
	case job.KindImported:
		said = "imported"
	case job.KindCapture:
		said = strings.TrimSpace(e.Command + " " + e.Source)
	default:
		return e.Text
	}
	if v := e.Verdict; v != nil {
		said += ": " + strings.TrimSuffix(Heading(v)+". "+v.Summary, ".")
	}
	if s := e.Soak; s != nil {
		said += ": " + SoakLine(s)
	}
	if c := e.Comparison; c != nil {
		said += ": " + c.Word
		if c.Confidence != nil {
			said += ", " + Sure(*c.Confidence)
		}
	}
	if e.Text != "" {
		said += ": " + e.Text
	}
	return said
}

func files(stills []job.Still) string {
	var list []string
	for _, k := range stills {
		said := k.Name
		if k.Role != "" {
			said += " (" + string(k.Role) + ")"
		}
		list = append(list, said)
	}
	return strings.Join(list, ", ")
}

// SoakLine is a soak in a sentence.
func SoakLine(s *job.Soak) string {
	if s.Summary != "" {
		return strings.TrimSuffix(s.Summary, ".")
	}
	said := fmt.Sprintf("watched for %s, ", Span(time.Duration(s.Seconds*float64(time.Second))))
	switch {
	case s.Events == 0 && s.BadFields == 0:
		said += "without an event"
	case s.Events == 1:
		said += "1 event"
	default:
		said += fmt.Sprintf("%d events", s.Events)
	}
	if s.Fields > 0 {
		said += fmt.Sprintf(", %d of %d fields bad", s.BadFields, s.Fields)
	}
	return said
}

// Span says a length of time, in the one or two units that matter.
func Span(d time.Duration) string {
	switch {
	case d < time.Minute:
		return fmt.Sprintf("%.0f s", d.Seconds())
	case d < time.Hour:
		return fmt.Sprintf("%.0f min", d.Minutes())
	case d < 48*time.Hour:
		h := int(d.Hours())
		if m := int(d.Minutes()) - 60*h; m > 0 && h < 10 {
			return fmt.Sprintf("%d h %d min", h, m)
		}
		return fmt.Sprintf("%d h", h)
	}
	return fmt.Sprintf("%d days", int(d.Hours()/24))
}
