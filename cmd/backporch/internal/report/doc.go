// Package report builds what a check found as one model and renders it: as a
// terminal text that is read in ten seconds, and as the JSON of schema 1. Both come
// from the same Report, so that they cannot disagree.
package report
