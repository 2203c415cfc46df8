// Package retention compares the display memory before and after a time without power.
//
// Dynamic RAM keeps its contents for a moment when the power goes: each cell's charge leaks at a
// rate of its own, most hold far longer than the 2 ms of refresh, some for seconds, and leakage about doubles
// for every 10 degrees. Then a cell reads as it does at rest. Switched off and on quickly the old picture is
// partly there, and how much of each data bit's lane has decayed tells how long that lane's cells last. A lane
// that decays well before the others is the one to suspect.
//
// The times of a lane's cells are taken for log-normal, the same spread in all lanes, as the distributions of
// the literature look over the part that a picture can show (common practice, no source). Cells of one row have
// much in common, so the intervals come from resampling whole rows (bootstrap: B. Efron, Annals of Statistics 7
// (1979) 1), not from counting bits as if each were independent.
package retention
