// Package workbench knows the bench: which part can hold a fault (causes.go), which tests there are, what each costs and what
// may come of it (tests.go; a table each in memory.go, logic.go, path.go, hands.go, swaps.go), what the user knows already
// (known.go, of marks in knownmarks.go), and the board's map of parts (board.go). A Desk puts them together: Weigh moves the
// hypotheses by what is known, Next chooses the test that tells the most for its cost (next.go), Why and Rivals say it in words
// (advice.go).
package workbench
