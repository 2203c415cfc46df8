// Package patterns turns measurements into causes: the catalogue of faults and the
// signature that each leaves, the classifier, and what to test next. Every kind in
// the catalogue is a hypothesis with a likelihood for what was measured; the verdict is
// the posterior. Without evidence there is no verdict: undetermined is an answer.
package patterns
