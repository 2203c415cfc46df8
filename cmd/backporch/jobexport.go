package main

import (
	"archive/zip"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"backporch/cmd/backporch/internal/job"
	"backporch/cmd/backporch/internal/jobreport"
	"backporch/cmd/backporch/internal/report"
	"backporch/video/keep"
)

func newJobExport(s *invocation) *cobra.Command {
	var store, out string
	var asZip bool
	c := &cobra.Command{
		Use:   "export N",
		Short: "Write a job with all its stills to a folder or a zip",
		Long: `Export writes all of a job to a folder, or a zip: the report as a page, the time line as
text, the stills under names that say when and what, and job.json, from which job import
takes it into another store. It can be read without this program.

` + failHelp,
		Example: `  backporch job export 1
  backporch job export 1 --zip --out exported.zip`,
		Args: exactly("N"),
		RunE: func(c *cobra.Command, args []string) error {
			st, j, err := argJob(c.Context(), store, args[0])
			if err != nil {
				return err
			}
			defer st.Close()
			if out == "" {
				ending := ""
				if asZip {
					ending = ".zip"
				}
				out = free(fmt.Sprintf("job-%d", j.ID), ending) + ending
			}
			if asZip {
				err = exportZip(c.Context(), st, j, out)
			} else {
				err = exportFolder(c.Context(), st, j, out)
			}
			if err != nil {
				return err
			}
			_, err = fmt.Fprintf(s.out, "%s: job %d, %s\n", out, j.ID, j.Name())
			return err
		},
	}
	c.Flags().StringVar(&out, "out", "", "the folder or zip to write, `PATH` (default job-N, or the next free name)")
	c.Flags().BoolVar(&asZip, "zip", false, "a zip instead of a folder")
	addStore(c, &store)
	return c
}

const exportedReadme = `This folder is job %d of a repair bench, %s.

  report.html    what happened, to read first
  timeline.txt   every entry: captures, verdicts, measurements, moves of parts, notes
  stills/        every picture and file that was kept: number of the entry, when it was taken
                 seen from the repair, the beginning of its SHA-256
  job.json       all of it for programs; 'backporch job import' reads it

The pictures are PNG and JPEG and open anywhere.
`

// export gives all files of an exported job.
func export(ctx context.Context, st *job.Store, j job.Job, put func(name string, data []byte) error) error {
	m, err := jobreport.New(ctx, st, j.ID, jobreport.Options{Tool: toolVersion(), Notes: true})
	if err != nil {
		return err
	}
	entries, err := st.Timeline(ctx, j.ID)
	if err != nil {
		return err
	}
	shown := shownJob{Job: j, Entries: entries}
	var page bytes.Buffer
	if err := m.HTML(&page); err != nil {
		return fmt.Errorf("exporting job %d: %w", j.ID, err)
	}
	return errors.Join(
		put("README.txt", fmt.Appendf(nil, exportedReadme, j.ID, j.Name())),
		put("report.html", page.Bytes()),
		put("timeline.txt", []byte(shown.text(report.Style{Width: 100}, nil))),
		st.Export(ctx, j.ID, put),
	)
}

func exportZip(ctx context.Context, st *job.Store, j job.Job, out string) error {
	return keep.Write(out, 0o644, func(w io.Writer) error {
		z := zip.NewWriter(w)
		top := fmt.Sprintf("job-%d/", j.ID)
		err := export(ctx, st, j, func(name string, data []byte) error {
			h := &zip.FileHeader{Name: top + name, Method: zip.Deflate, Modified: j.Changed}
			f, err := z.CreateHeader(h)
			if err == nil {
				_, err = f.Write(data)
			}
			return err
		})
		return errors.Join(err, z.Close())
	})
}

// exportFolder writes beside the folder's name first, so that what bears it is whole.
func exportFolder(ctx context.Context, st *job.Store, j job.Job, out string) error {
	out = filepath.Clean(out)
	if _, err := os.Lstat(out); err == nil {
		return withHint(fmt.Errorf("writing %s: it is there already, and nothing is overwritten", out), "give --out another name")
	}
	dir, err := os.MkdirTemp(filepath.Dir(out), "."+filepath.Base(out)+".*.part")
	if err != nil {
		return fmt.Errorf("writing %s: %w", out, cause(err))
	}
	defer os.RemoveAll(dir) // nothing is left of it when it got its name
	err = export(ctx, st, j, func(name string, data []byte) error {
		path := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
			return err
		}
		return keep.Write(path, 0o644, func(w io.Writer) error {
			_, err := w.Write(data)
			return err
		})
	})
	if err == nil {
		err = os.Chmod(dir, 0o755)
	}
	if err == nil {
		err = os.Rename(dir, out)
	}
	if err != nil {
		return fmt.Errorf("writing %s: %w", out, cause(err))
	}
	return nil
}

func newJobImport(s *invocation) *cobra.Command {
	var store string
	c := &cobra.Command{
		Use:   "import PATH",
		Short: "Take in a job that was exported, from its folder or zip",
		Long: `Import takes in a job from an exported folder or zip under a number of its own. Everything
is checked, each still against its hash; nothing is written outside of the store, however
the archive was made. A job that is here already is not taken in twice.

` + failHelp,
		Example: `  backporch job import job-1.zip`,
		Args:    exactly("PATH"),
		RunE: func(c *cobra.Command, args []string) error {
			st, err := job.Create(storeFolder(store))
			if err != nil {
				return err
			}
			defer st.Close()
			j, err := st.Import(c.Context(), args[0])
			var known *job.Known
			if errors.As(err, &known) {
				return withHint(err, "backporch job show %d shows it", known.Job)
			}
			if err != nil {
				return err
			}
			if err := (&attachment{s: s, store: st, job: j}).parts(c.Context(), job.Opening); err != nil {
				return err
			}
			_, err = fmt.Fprintf(s.out, "job %d: %s, %s\n", j.ID, j.Name(), j.State)
			return err
		},
	}
	addStore(c, &store)
	return c
}
