// Package rate judges how often something rare happens: bad fields in an hour of
// watching, before and after the board was cooled or flexed. Events are counts over an
// exposure (seconds watched); a Poisson count is assumed, and Clumped says when that
// is not so.
//
// Sources: the limits of one rate are those of F. Garwood, Biometrika 28 (1936) 437.
// Two rates are compared by the conditional test of J. Przyborowski and H. Wilenski,
// Biometrika 31 (1940) 313: given the sum of both counts, one of them is binomial; its
// exact interval is that of C. Clopper and E. Pearson, Biometrika 26 (1934) 404. A second
// with a bad field in it is the errored second of ITU-T G.826.
package rate
