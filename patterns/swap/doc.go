// Package swap reasons over swap tests: which part sat where, on which board, seen over which
// cable, and whether the fault showed. It gives the smallest sets of causes that explain all
// of it, ranked, and the next swap that best splits them.
//
// # How
//
// It is consistency-based diagnosis (Reiter, A theory of diagnosis from first principles,
// Artificial Intelligence 32, 1987; de Kleer and Williams, Diagnosing multiple faults, the
// same volume; both from memory). A bad observation is a conflict: at least one of the things
// that took part in it is at fault. A good one clears all that took part in it, since a hard
// fault would have shown. The diagnoses are the minimal sets that hit every conflict and hold
// nothing that was cleared; they are built conflict by conflict (Berge, Hypergraphs, chapter
// 2, from memory).
//
// A verdict that names a lane is worth more than good or bad: the named place is a conflict
// of its own, and each place that the same picture proves good is cleared. That is how a
// fault is seen to follow a chip from one place to another on a single board.
//
// A bad observation in which everything was cleared has no hard cause: the same configuration was good
// and then bad, or each part is good elsewhere. That is no riddle to be answered with an
// arbitrary part: it says contact or intermittent. A contact is a part in one place, cleared
// only by a good observation of that part in that place; an intermittent is never cleared, but each
// good observation makes it less likely.
//
// # Words
//
// A part is a thing with a name of its own that can be moved. A position is a place on a
// board with all that serves it alone: socket, tracks, the buffer of its lane. The board is
// what all its positions share. The path is cable, supply and capture device.
//
// Priors and costs: common practice, no source.
package swap
