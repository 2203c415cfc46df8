// Package fingerprint tells machines apart by what their pictures show on one capture device, and
// says what it can't tell.
//
// # The two clocks
//
// The best mark is one that nobody looks for. A device samples lock to the line, so pixel pitch says
// nothing of a machine's clocks; time stamps compare the machine with the computer's clock, to a few
// ppm after a minute, and a file has none. But the machine's colour subcarrier is mostly made by a
// crystal of its own. What of it is left in the decoded picture, dots at coloured edges and rainbows
// on fine text, crawls from field to field by the fraction of subcarrier cycles in a field: 1 ppm
// between the two crystals is 0.06 to 0.09 cycles. That is measured in a second to a thousandth of a
// ppm, in files too (crawl.go), and from line to line the phase also tells which of the ratios is
// meant that differ by whole cycles (ratio.go).
//
// Measured on simulated machines with pixel clocks 100 ppm up and down (crawl_test.go,
// rate_test.go):
//
//	capture   ratio, ±ppm   time stamps with 1 ms of jitter, ±ppm   told apart by the stamps
//	0.24 s    0.0007        -                                       -
//	1 s       0.0001        650                                     1 in 4
//	4 s       0.00002       89                                      1 in 3
//	10 s      -             23                                      always
//	60 s      -             1.5                                     always
//
// The ratio told them apart always, from a quarter of a second on. What limits it is not the
// measurement but the crystals: they drift by some ppm as a case warms up, which a comparison allows
// for. By chance 1 pair of machines in 15 is within 6 ppm.
//
// The ratio tells nothing where one crystal makes both clocks, as on many character displays; where
// the picture is even, or a codec or decoder leaves no trace; where it does not stand still; and
// when its crawl is so near to standing, or to changing sides with every field, that the capture is
// too short to tell. On screens with few edges it is known but for steps of 11 to 17 ppm, and says
// so.
//
// # The rest
//
// Place of the picture, levels, noise, hue and fixed bars are compared as well, each with its
// spread, but they change with a repair, a cable or another device, and count for little. A
// comparison is a likelihood ratio: of both prints on one machine, over two machines with such a
// display.
//
// Sources: ITU-R BT.601 and BT.1700 for the figures of lines and subcarrier; the estimators name
// theirs.
package fingerprint
