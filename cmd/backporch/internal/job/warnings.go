package job

import (
	"context"
	"fmt"
)

// A Moment is when warnings are asked for.
type Moment int

// The moments.
const (
	Opening Moment = iota
	Testing
	Closing
)

// Warnings says what of the parts ledger would mislead whoever works on a job now: a suspect or
// bad part that came from elsewhere and sits in its machine, a part of its own that is elsewhere, and a
// donor that still misses a part. On closing also each part that is not the machine's own, and a bad one that is.
func (s *Store) Warnings(ctx context.Context, job int64, m Moment) ([]string, error) {
	j, err := s.Job(ctx, job)
	if err != nil {
		return nil, err
	}
	list, err := s.Parts(ctx)
	if err != nil {
		return nil, err
	}
	var said []string
	say := func(format string, args ...any) { said = append(said, fmt.Sprintf(format, args...)) }
	missing, err := s.missing(ctx)
	if err != nil {
		return nil, err
	}
	lacking := map[string]bool{} // parts that their own boards still miss
	for _, g := range missing {
		lacking[g.part.Name] = true
	}
	for _, p := range list {
		here := p.Where != nil && p.Where.Board == j.Board
		own := p.Home != nil && p.Home.Board == j.Board
		doubtful := p.Condition == Bad || p.Condition == Suspect
		from := "stock"
		if p.Home != nil {
			from = p.Home.Board
		}
		switch {
		case here && !own && doubtful:
			say("%s in %s is marked %s%s and came from %s", p.Name, p.Where.Position, p.Condition, because(p.Reason), from)
		case here && own && doubtful && p.Marked != 0 && p.Marked != job:
			say("%s in %s was marked %s in job %d%s", p.Name, p.Where.Position, p.Condition, p.Marked, because(p.Reason))
		case here && doubtful && m == Closing:
			say("%s in %s is marked %s%s and still sits in the machine", p.Name, p.Where.Position, p.Condition, because(p.Reason))
		case here && own && p.Home.Position != p.Where.Position && m == Closing:
			say("%s of this machine sits in %s, not in %s", p.Name, p.Where.Position, p.Home.Position)
		case here && !own && p.Home != nil && m == Closing && !lacking[p.Name]:
			say("%s in %s belongs to %s", p.Name, p.Where.Position, from)
		}
	}
	for _, g := range missing {
		where := "lies on the bench"
		if g.part.Where != nil {
			where = fmt.Sprintf("sits in %s of %s", g.part.Where.Position, g.part.Where.Board)
		}
		mine := g.board == j.Board
		borrowed := g.part.Where != nil && g.part.Where.Board == j.Board
		switch {
		case mine:
			say("%s is empty: its part %s %s", g.position, g.part.Name, where)
		case borrowed && g.good:
			say("the good machine %s still misses %s, which sits here in %s", g.board, g.part.Name, g.part.Where.Position)
		case borrowed && m != Testing:
			say("%s still misses %s, which sits here in %s", g.board, g.part.Name, g.part.Where.Position)
		case g.good && m != Testing:
			say("the good machine %s still misses %s: it %s", g.board, g.part.Name, where)
		}
	}
	return said, nil
}

func because(reason string) string {
	if reason == "" {
		return ""
	}
	return " (" + reason + ")"
}

// A gap is a position that lost its original and holds nothing.
type gap struct {
	board, position string
	good            bool // the machine is a donor, or was clean when last judged and before
	part            Part // the original
}

// missing lists the gaps of all boards. A machine counts as good when it is a donor, or when
// its last verdict before the part was pulled was clean.
func (s *Store) missing(ctx context.Context) ([]gap, error) {
	list, err := s.Parts(ctx)
	if err != nil {
		return nil, err
	}
	parts := map[string]Part{}
	for _, p := range list {
		parts[p.UID] = p
	}
	var gaps []gap
	err = each(ctx, s.db, `SELECT board.name, part.position, part.uid, board.donor OR coalesce((
			SELECT verdict.class = 'clean' FROM verdict JOIN entry ON entry.id = verdict.entry JOIN job ON job.id = entry.job
			WHERE job.board = board.id AND entry.id < (SELECT min(until) FROM placement AS own WHERE own.part = part.id AND own.board = board.id)
			ORDER BY entry.id DESC LIMIT 1), 0)
		FROM part JOIN board ON board.id = part.board
		WHERE ? AND NOT EXISTS (SELECT 1 FROM placement WHERE placement.board = board.id
			AND placement.position = part.position COLLATE NOCASE AND until IS NULL)
		ORDER BY board.name, part.position`, true, func(row scanner) error {
		var g gap
		var uid string
		if err := row.Scan(&g.board, &g.position, &uid, &g.good); err != nil {
			return err
		}
		g.part = parts[uid]
		gaps = append(gaps, g)
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("reading the parts ledger: %w", plain(err))
	}
	return gaps, nil
}
