// Package judge turns a survey into a verdict. Classify (classify.go) is where to begin. It gathers what cells and memory show
// (evidence.go) and weighs every fault of memory and video logic, without a reference (logic.go) or beside one (reference.go);
// those of a Text display are weighed by characters (lettered.go), those of the path by signalpath. The posterior is the
// verdict: what is known and what to test comes from the workbench (settle.go), the reasons are in explain.go, and what a verdict
// is worth in trust.go. A file is named for what it weighs: folds, dead lines, lost flash, what moves, memory as it wakes.
package judge
