package jobreport

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"
)

// A File is one of a bundle.
type File struct {
	Name string
	Data []byte
}

// Post makes the bundle that can be posted: a text that tells what was seen and done, the
// pictures, the verdicts as JSON. The machine's tag is not in it, nor are paths, but for the
// recording's name in the small print of a marked copy; what people wrote is as they wrote it.
func (m *Model) Post() ([]File, error) {
	var files []File
	var shown strings.Builder
	for i, p := range m.pictures {
		name := fmt.Sprintf("%02d-%s%s", i+1, p.Name, p.Ending())
		files = append(files, File{name, p.Data})
		fmt.Fprintf(&shown, "- %s: %s\n", name, p.Caption)
	}
	if len(m.Verdicts) > 0 {
		var verdicts []map[string]json.RawMessage
		for _, raw := range m.Verdicts {
			var v map[string]json.RawMessage
			if json.Unmarshal(raw, &v) != nil {
				continue // another command's, and no object
			}
			delete(v, "source") // paths of this computer
			delete(v, "evidence")
			verdicts = append(verdicts, v)
		}
		var b bytes.Buffer
		e := json.NewEncoder(&b)
		e.SetIndent("", " ")
		e.SetEscapeHTML(false)
		if err := e.Encode(verdicts); err != nil {
			return nil, err
		}
		files = append(files, File{"verdicts.json", b.Bytes()})
	}
	return append([]File{{"post.txt", []byte(m.post(shown.String()))}}, files...), nil
}

// post is the text, in the plain marks that most forums understand.
func (m *Model) post(pictures string) string {
	var b strings.Builder
	name := m.Job.Machine
	if m.Job.Issue != "" {
		name += ", board issue " + m.Job.Issue
	}
	section := func(title, text string) {
		if text = strings.TrimRight(text, "\n"); text != "" {
			fmt.Fprintf(&b, "\n%s\n\n%s\n", title, text)
		}
	}
	items := func(list []string) string {
		var out strings.Builder
		for _, item := range list {
			out.WriteString("- " + item + "\n")
		}
		return out.String()
	}
	fmt.Fprintf(&b, "%s: %s\n\n%s\n", name, strings.ToLower(m.Answer[:1])+m.Answer[1:], strings.Join(m.Lead, " "))
	section("What it did when it came", m.Job.Complaint)
	if f := m.Found; f != nil {
		text := f.Heading + ". " + f.Summary + "\n" + items(capitals(f.Why))
		if len(f.Good) > 0 {
			text += "- Seen to be good: " + strings.Join(f.Good, "; ") + "\n"
		}
		section("What the picture says", text)
	}
	if len(m.Screen) > 0 {
		section("Text on the screen", "    "+strings.Join(m.Screen, "\n    "))
	}
	var figures []string
	for _, r := range m.Measures {
		value := func(v string) string { return strings.TrimSpace(v + " " + r.Unit) }
		said := capital(r.Name) + ": "
		switch {
		case r.Before != "" && r.After != "":
			said += value(r.Before) + " before, " + value(r.After) + " after"
		case r.After != "":
			said += value(r.After) + " after"
		case m.HasAfter():
			said += value(r.Before) + " before"
		default:
			said += value(r.Before)
		}
		figures = append(figures, said)
	}
	section("Figures", items(figures))
	var changed []string
	for _, c := range m.Changes {
		said := c.Position + ": "
		if c.Out != "" {
			said += m.nameless(c.Out) + reasoned(c.OutSaid) + " taken out"
		}
		if c.In != "" {
			if c.Out != "" {
				said += ", "
			}
			said += m.nameless(c.In) + reasoned(c.InSaid) + " put in"
		}
		changed = append(changed, said)
	}
	if len(changed) == 0 {
		changed = []string{"nothing so far"}
	}
	section("Parts changed", items(changed))
	section("Watched over time", m.Soak)
	section("Compared", m.Compared)
	section("Next, as proposed", items(sentences(m.Next)))
	section("Pictures", pictures)
	fmt.Fprintf(&b, "\nMade with %s.\n", m.Tool)
	return b.String()
}

func reasoned(said string) string {
	if said == "" {
		return ""
	}
	return " (" + said + ")"
}

// nameless calls the machine's own parts 'the original': their names have its tag in them.
func (m *Model) nameless(part string) string {
	if strings.HasPrefix(part, m.Job.Board+"/") {
		return "the original"
	}
	if board, position, found := strings.Cut(part, "/"); found && board != "" {
		return "one from another machine's " + position
	}
	return part
}
