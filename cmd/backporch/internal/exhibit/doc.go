// Package exhibit chooses what a marked still shows closely for each kind of fault: the
// offending pixel columns, a frayed edge, the grain, the colours that are missing, and the
// good machine beside it where there is a reference.
package exhibit
