package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"backporch/cmd/backporch/internal/jobreport"
	"backporch/video/keep"
)

func newJobReport(s *invocation) *cobra.Command {
	var o options
	var store, paper string
	var notes, post bool
	c := &cobra.Command{
		Use:   "report N",
		Short: "Make a job's report for the machine's owner: a page and a PDF",
		Long: `Report writes what happened to a machine, for its owner: how it stands, the pictures
before and after, what was found, the parts changed, the measurements, how long it was
watched, cautions. The page is one file that opens in any browser and prints on A4 and
Letter; the PDF says the same. Your notes stay out of it unless you ask for them.

With --post a folder is made too that can be posted where others help: a text, the
pictures, the verdicts. It leaves out the machine's tag and the paths of this computer,
but not what people wrote, nor the recording's name on a marked copy: read it before.

` + failHelp,
		Example: `  backporch job report 1
  backporch job report 1 --out reports --paper letter --post`,
		Args: exactly("N"),
		RunE: func(c *cobra.Command, args []string) error {
			size, err := paperSize(paper)
			if err != nil {
				return err
			}
			st, j, err := argJob(c.Context(), store, args[0])
			if err != nil {
				return err
			}
			defer st.Close()
			m, err := jobreport.New(c.Context(), st, j.ID, jobreport.Options{Tool: toolVersion(), Notes: notes})
			if err != nil {
				return err
			}
			for _, u := range m.Unshown {
				fmt.Fprintf(s.err, "backporch: caution: left out of the report: %s\n", u)
			}
			keep, err := openFolder(o.out)
			if err != nil {
				return err
			}
			defer keep.leave()
			written, err := writeReport(c.Context(), m, keep.path, fmt.Sprintf("job-%d", j.ID), size, post)
			if err != nil {
				return err
			}
			if o.json {
				return writeJSON(s.out, written)
			}
			_, err = fmt.Fprintf(s.out, "%s: %s\n%s\n", j.Name(), m.Answer, strings.Join(written.list(), "\n"))
			return err
		},
	}
	o.addOut(c, ".", "the folder `DIR` for the report")
	c.Flags().StringVar(&paper, "paper", "a4", "the PDF's `PAPER`: a4 or letter")
	complete(c, "paper", func() []string { return []string{"a4", "letter"} })
	c.Flags().BoolVar(&notes, "notes", false, "with your notes")
	c.Flags().BoolVar(&post, "post", false, "a folder to post, too")
	addStore(c, &store)
	o.addJSON(c, "what was written, as JSON")
	return c
}

func paperSize(word string) (jobreport.Paper, error) {
	for _, p := range []jobreport.Paper{jobreport.A4, jobreport.Letter} {
		if strings.EqualFold(string(p), word) {
			return p, nil
		}
	}
	return "", fmt.Errorf("reading --paper: %q is neither a4 nor letter", word)
}

// reportFiles is what job report --json says.
type reportFiles struct {
	Page string  `json:"page"`
	PDF  string  `json:"pdf"`
	Post *string `json:"post"` // the folder
}

func (w reportFiles) list() []string {
	list := []string{w.Page, w.PDF}
	if w.Post != nil {
		list = append(list, *w.Post+string(filepath.Separator))
	}
	return list
}

// writeReport writes all renderings under names that are free.
func writeReport(ctx context.Context, m *jobreport.Model, dir, name string, size jobreport.Paper, post bool) (reportFiles, error) {
	base := free(filepath.Join(dir, name+"-report"), ".html", ".pdf")
	w := reportFiles{Page: base + ".html", PDF: base + ".pdf"}
	if err := keep.Write(w.Page, 0o644, m.HTML); err != nil {
		return w, err
	}
	if err := keep.Write(w.PDF, 0o644, func(out io.Writer) error { return m.PDF(out, size) }); err != nil {
		return w, err
	}
	if !post {
		return w, nil
	}
	files, err := m.Post()
	if err != nil {
		return w, err
	}
	folder := free(filepath.Join(dir, name+"-post"), "")
	w.Post = &folder
	if err := os.Mkdir(folder, 0o777); err != nil {
		return w, fmt.Errorf("writing the bundle: %w", plainPath(err))
	}
	for _, f := range files {
		if err := ctx.Err(); err != nil {
			return w, err
		}
		err := keep.Write(filepath.Join(folder, f.Name), 0o644, func(out io.Writer) error {
			_, err := out.Write(f.Data)
			return err
		})
		if err != nil {
			return w, err
		}
	}
	return w, nil
}
