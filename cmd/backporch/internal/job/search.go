package job

import (
	"context"
	"fmt"
	"strings"
)

// A Hit is a job that has the words, with the last of its entries that has them.
type Hit struct {
	Job   Job   `json:"job"`
	Entry Entry `json:"entry"` // without stills and measures
}

// Search finds the jobs of which an entry, together with the machine's name, tag and board, has all the words or words
// that begin so; the last found first, at most so many. More tells whether there are others.
func (s *Store) Search(ctx context.Context, words string, limit int) (hits []Hit, more bool, err error) {
	query := match(words)
	if query == "" {
		return nil, false, nil
	}
	type found struct{ job, entry int64 }
	var list []found
	seen := map[int64]bool{}
	err = func() error {
		rows, err := s.db.QueryContext(ctx, `SELECT entry.job, entry.id FROM words JOIN entry ON entry.id = words.rowid
			WHERE words MATCH ? ORDER BY words.rowid DESC`, query)
		if err != nil {
			return err
		}
		defer rows.Close()
		for rows.Next() && !more {
			var f found
			if err := rows.Scan(&f.job, &f.entry); err != nil {
				return err
			}
			switch {
			case seen[f.job]:
			case len(list) == limit:
				more = true
			default:
				seen[f.job] = true
				list = append(list, f)
			}
		}
		return rows.Err()
	}()
	for _, f := range list {
		if err != nil {
			break
		}
		var h Hit
		if h.Job, err = s.Job(ctx, f.job); err == nil {
			h.Entry, err = s.entry(ctx, f.entry)
			hits = append(hits, h)
		}
	}
	if err != nil {
		return nil, false, fmt.Errorf("searching for %s: %w", words, plain(err))
	}
	return hits, more, nil
}

// match makes a query of words (sqlite.org/fts5.html, 3): each in quotes, so that none is an
// operator, and as a prefix.
func match(words string) string {
	var query []string
	for _, w := range strings.Fields(tidy(words)) {
		if strings.ContainsFunc(w, letter) {
			query = append(query, `"`+strings.ReplaceAll(w, `"`, `""`)+`"*`)
		}
	}
	return strings.Join(query, " ")
}

// entry reads one entry with its verdict and moves.
func (s *Store) entry(ctx context.Context, id int64) (Entry, error) {
	var found Entry
	err := each(ctx, s.db, entryColumns+" WHERE entry.id = ?", id, func(row scanner) (err error) {
		found, err = scanEntry(row)
		return err
	})
	return found, err
}
