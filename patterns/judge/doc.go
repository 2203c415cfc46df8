// Package judge turns a survey into a verdict. Classify (classify.go) is where to begin: it gathers what cells and memory show
// (evidence.go), weighs every fault of memory and video logic without a reference (logic.go) or beside one (reference.go), and
// has signalpath weigh those of the path, turns all into probabilities, has the workbench say what is known and what to test (settle.go), and says
// why (explain.go). A file is named for what it weighs:
// folds, dead lines, lost flash, what moves, memory as it wakes.
package judge
