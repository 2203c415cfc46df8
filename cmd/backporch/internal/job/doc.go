// Package job keeps the jobs of a repair bench: one folder with an index in SQLite and the
// stills as files beside it.
//
//	STORE/jobs.db        the index (write-ahead log beside it while it is open)
//	STORE/stills/ab/abcd….png   a still, named by its SHA-256; read-only
//
// A job belongs to a machine, known by its board: the board keeps its name (the tag on the
// case, else "job-N") when the machine comes back with another job. What happens stands on the
// job's time line as entries, numbered upwards over the whole store; an entry is never changed
// or deleted.
//
// # For commands that capture
//
// A command that takes --job opens the store, and attaches what it found as one Capture when
// it is done:
//
//	s, err := job.Open(folder)
//	entry, err := s.Attach(ctx, 12, job.Capture{
//		Command: "check", Source: spec, Device: byID, Display: profile,
//		Verdict: &job.Verdict{Class: "ram-bit", Confidence: &p, Summary: "…"},
//		Report:  json,                               // as --json prints it, opaque to the store
//		Stills:  []job.NewStill{{Path: kept}, {Path: marked, Marked: true}},
//	})
//
// Every part of a Capture may be left out. A still without a role gets Before while nothing was done to
// the machine yet, then During; After is for the command or the user to say. Measures are
// the named figures of 'signal', Soak is the result of a soak, Comparison that of 'compare'. In
// the program's commands all this is behind jobFlag (cmd/backporch/jobflag.go).
//
// A fingerprint of a machine as a capture device sees it is opaque JSON for each job and device:
// SetFingerprint, Fingerprint, and Fingerprints over all jobs of a device.
//
// # Parts, and the configurations tried
//
// A board has positions, a position holds a part or is empty, a part has a name of its own,
// wherever it sits, and a condition with its reason. A part that sat in its place when the machine came is an original and
// is named by Original(board, position); it is in the ledger from the moment that anybody
// speaks of it, and then counts as having sat there from the beginning. Fit, Pull and Mark are entries on
// the time line, so which part sat where at an entry is known for every entry afterwards:
// Configurations gives each verdict of a job with the parts of its board at that moment, and Related the
// jobs that have shared parts with it, for reasoning over swap tests. Positions of a board that nobody spoke of and no board map
// listed are not in a configuration; they held their originals.
//
// # What is promised
//
//   - An entry is there whole or not at all, its stills included: stills are synced under their own
//     names before the row that names them is committed, and a commit is synced
//     (synchronous=FULL) before the call returns.
//   - What a call returned without error survives the end of the process at any instant; with an honest
//     disk, loss of power too.
//   - Several processes may use a store at once; writers wait for each other. The folder
//     must be on a local disk: SQLite's log needs shared memory (sqlite.org/wal.html).
//   - A full disk is an error, and leaves what was there before.
//   - Verify reads everything again and compares each still with its hash.
package job
