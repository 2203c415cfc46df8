// Package signalpath judges the way from the encoder to the capture device. Hypotheses (path.go) weighs what can be wrong with
// it: each kind has a distribution of its figure on good paths and on bad ones (figures.go), what the device itself says is
// heard (reception.go), colours and levels are weighed in colours.go and level.go. Readings gives the measures with their grades
// and the limits' sources (measures.go, grade.go), Assess says whether an output is usable and why not.
package signalpath
