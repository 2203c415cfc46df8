// Package characters weighs what can be wrong with a Text display: the lanes and address lines of screen and colour memory, the
// character generator, the line counter, the shift register, fetches. Hypotheses (lanes.go) is where to begin: a Screen is read as
// a page of codes and inks (page.go), each fault is weighed by how well it and what people write (model.go) explain the page
// (free.go), or by how well it turns a good machine's into this one (reference.go), and by what changes over time (time.go). The
// other files are named for what they weigh: stuck lanes, folds, dead rows, held lines, letters known by their looks.
//
// Fonts may be at hand or not: where no font fits, characters are told by where they stand and what they become (map.go,
// looks.go).
package characters
