package main

import (
	"context"

	"backporch/cmd/backporch/internal/job"
	"backporch/patterns/workbench"
)

// marked gives what the job's marks say: those that were made since a part was moved last, for before that it was
// another machine. What can't be used is said on standard error.
func (a *attachment) marked(ctx context.Context, b *workbench.Board, stated []workbench.Fact) ([]workbench.Fact, error) {
	if a == nil {
		return nil, nil
	}
	entries, err := a.store.Timeline(ctx, a.job.ID)
	if err != nil {
		return nil, err
	}
	var list []workbench.Stimulus
	for _, e := range entries {
		if e.Kind == job.KindFit || e.Kind == job.KindPull {
			list = nil
		}
		for _, m := range e.Stimuli {
			list = append(list, workbench.Stimulus{Mark: m.Mark, Before: m.Before, After: m.After})
		}
	}
	facts, left := workbench.MarkFacts(list, b, stated)
	for _, text := range left {
		a.warn("%s", text)
	}
	return facts, nil
}
