// Package grid finds the machine's pixel grid in a capture: registration.
//
// Horizontally the edges between pixels lie on a lattice. Their places are measured
// to a part of a sample, and pitch and phase are those that make the sum of unit
// vectors exp(2 pi i x/pitch) longest: the periodogram of the edge places, as in
// circular statistics (Mardia and Jupp, Directional Statistics, chapter 2; from
// memory). A Gaussian prior on the pitch, line-locked sampling being known, settles what few
// edges leave open. Vertically a captured line is a machine line unless the device
// scaled the picture; then the same is done with lines.
//
// Which lattice point is the picture's corner is a choice among whole pixels and lines.
// Each candidate gets the sum of: content outside the picture (there is none), cells of
// more than two levels (there are none), the number of different cells needed to write the
// screen (least where the cells are cut rightly: minimum description length), the
// place of the blanking edges, and where pictures usually lie. The result says how probable the runners-up are.
package grid
