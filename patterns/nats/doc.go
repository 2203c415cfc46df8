// Package nats holds the arithmetic that hypotheses are weighed with. A likelihood is a natural logarithm, so that evidence
// adds up; its unit is the nat, and one nat is odds of 2.7 to 1. odds.go has the distributions of counts, chance.go how often
// what moves does so and whether by chance, columns.go where on the screen it does, parity.go what bits of a memory follow
// from its address.
package nats
