// Package patterns holds what the judgement of a picture is made of: a Fault, the catalogue of its kinds with how often each
// is, a Hypothesis, a Verdict, and what is taken for granted before anything was seen (priors.go). Every kind in the catalogue
// is a hypothesis with a likelihood for what was measured; the verdict is the posterior. Without evidence there is no
// verdict: undetermined is an answer.
//
// The rooms below it weigh them:
//
//	judge       Classify: from a survey to a verdict; begin here
//	characters  what is wrong with a Text display
//	signalpath  what is wrong on the way to the device; measures and grades
//	workbench   bench tests: what is known of them, which comes next
//	nats        what a count, a rate, a place is worth, in nats
//	change      what a repair came to: two verdicts side by side
//	swap        which part: what good and bad tests of parts leave open
package patterns
