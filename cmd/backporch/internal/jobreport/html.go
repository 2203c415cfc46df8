package jobreport

import (
	_ "embed"
	"encoding/base64"
	"html/template"
	"io"
	"strings"
	"time"
)

//go:embed report.tmpl
var markup string

var pageTemplate = template.Must(template.New("report").Funcs(template.FuncMap{
	"data": func(p *Picture) template.URL {
		kind := "image/png"
		if p.JPEG {
			kind = "image/jpeg"
		}
		// Our own encoding of a picture that was decoded before: nothing of a stranger's is in it.
		return template.URL("data:" + kind + ";base64," + base64.StdEncoding.EncodeToString(p.Data))
	},
	"date":  on,
	"stamp": stamp,
	"lines": func(s string) []string { return strings.Split(s, "\n") },
	"iso":   func(t time.Time) string { return t.Format(time.RFC3339) },
	"either": func(s, other string) string {
		if s == "" {
			return other
		}
		return s
	},
	"capital": capital, "sentence": sentence,
}).Parse(markup))

// HTML writes the report as one page that needs nothing else: no script, no file, no network.
func (m *Model) HTML(w io.Writer) error { return pageTemplate.Execute(w, m) }
