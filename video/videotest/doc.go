// Package videotest has what tests of other packages need: a Source that plays frames
// with chosen failures, and a numeric comparison of pictures.
package videotest
