package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync"

	"github.com/adrg/xdg"
	"github.com/spf13/cobra"

	"backporch/cmd/backporch/internal/job"
	"backporch/cmd/backporch/internal/term"
)

// A jobFlag is --job, --store and --role: what a command captures goes on the time line of a job.
//
//	a, err := o.job.open(ctx, s)          // before the work: the job must be there; warns of its parts
//	if err != nil { return err }
//	defer a.close()
//	...
//	err = a.attach(ctx, job.Capture{...}) // when the work is done
//
// Without --job the *attachment is nil, and its methods do nothing.
type jobFlag struct {
	id    int64
	store string
	role  string
}

func (j *jobFlag) add(c *cobra.Command) {
	c.Flags().Int64Var(&j.id, "job", 0, "keep it on the time line of job `N`")
	c.Flags().StringVar(&j.role, "role", "", "`WHEN` its stills were taken: before, during or after the repair (default: by the job's part moves)")
	complete(c, "role", func() []string { return []string{"before", "during", "after"} })
	addStore(c, &j.store)
}

func addStore(c *cobra.Command, store *string) {
	c.Flags().StringVar(store, "store", "", "the job store's folder `DIR` (default: backporch/jobs in your data folder)")
}

// storeFolder is where jobs are kept: as said, else in the user's data folder.
func storeFolder(given string) string {
	if given != "" {
		return given
	}
	xdg.Reload() // the environment as it is now
	return filepath.Join(xdg.DataHome, "backporch", "jobs")
}

// openStore opens a store that must be there.
func openStore(given string) (*job.Store, error) {
	s, err := job.Open(storeFolder(given))
	if errors.Is(err, job.ErrNoStore) {
		return nil, withHint(err, "backporch job new begins one; --store DIR names another")
	}
	return s, err
}

// openJob opens a store and reads a job in it.
func openJob(ctx context.Context, given string, id int64) (*job.Store, job.Job, error) {
	s, err := openStore(given)
	if err != nil {
		return nil, job.Job{}, err
	}
	j, err := s.Job(ctx, id)
	if err != nil {
		s.Close()
		if errors.Is(err, job.ErrNoJob) {
			err = withHint(err, "backporch job list --all shows them")
		}
		return nil, job.Job{}, err
	}
	return s, j, nil
}

// An attachment is a job that is being added to; nil is none.
type attachment struct {
	s     *invocation
	store *job.Store
	job   job.Job
	role  job.Role

	scratch string       // folder that goes away with close, "" when there is none
	status  *term.Status // that is cleared before something is said; nil: none is drawn

	mu       sync.Mutex
	warnings []string // that were given of the capture
	told     int      // of them, to the monitor
}

// under takes the line that is drawn while the command works.
func (a *attachment) under(status *term.Status) {
	if a != nil {
		a.status = status
	}
}

// open looks the job up before the work begins, and warns on standard error of what in it would
// mislead a test.
func (j *jobFlag) open(ctx context.Context, s *invocation) (*attachment, error) {
	switch job.Role(j.role) {
	case "", job.Before, job.During, job.After:
	default:
		return nil, fmt.Errorf("reading --role: %q is not before, during or after", j.role)
	}
	if j.id == 0 {
		switch {
		case j.store != "":
			return nil, withHint(errors.New("reading --store: there is no --job to keep in it"), "--job N says which")
		case j.role != "":
			return nil, withHint(errors.New("reading --role: there is no --job to keep stills in"), "--job N says which")
		}
		return nil, nil
	}
	store, found, err := openJob(ctx, j.store, j.id)
	if err != nil {
		return nil, fmt.Errorf("reading --job: %w", err)
	}
	a := &attachment{s: s, store: store, job: found, role: job.Role(j.role)}
	if found.State == job.StateClosed {
		a.warn("job %d is closed; backporch job reopen %d takes it up again", found.ID, found.ID)
	}
	if err := a.parts(ctx, job.Testing); err != nil {
		a.close()
		return nil, err
	}
	return a, nil
}

func (a *attachment) warn(format string, args ...any) {
	a.status.Done()
	fmt.Fprintf(a.s.err, "backporch: caution: %s\n", fmt.Sprintf(format, args...))
}

// parts warns of parts that are not where they belong.
func (a *attachment) parts(ctx context.Context, m job.Moment) error {
	said, err := a.store.Warnings(ctx, a.job.ID, m)
	for _, w := range said {
		a.warn("%s", w)
	}
	return err
}

// attach keeps a capture, and says so on standard error.
func (a *attachment) attach(ctx context.Context, c job.Capture) (job.Entry, error) {
	if a == nil {
		return job.Entry{}, nil
	}
	for i := range c.Stills {
		if c.Stills[i].Role == "" {
			c.Stills[i].Role = a.role
		}
	}
	a.mu.Lock()
	c.Warnings = append(c.Warnings, a.warnings...)
	a.mu.Unlock()
	e, err := a.store.Attach(ctx, a.job.ID, c)
	if err != nil {
		return e, err
	}
	kept := ""
	switch n := len(e.Stills); {
	case n == 1:
		kept = ", with 1 still"
	case n > 1:
		kept = fmt.Sprintf(", with %d stills", n)
	}
	a.status.Done()
	fmt.Fprintf(a.s.err, "backporch: kept as entry %d of job %d%s\n", e.ID, e.Job, kept)
	return e, nil
}

// close closes the store.
func (a *attachment) close() {
	if a == nil {
		return
	}
	_ = a.store.Close() // every entry is on the disk already
	if a.scratch != "" {
		_ = os.RemoveAll(a.scratch)
	}
}
