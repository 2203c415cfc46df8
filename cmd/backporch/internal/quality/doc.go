// Package quality is what the signal command says: one model of measures, grades and verdict, as text and as JSON, and what a
// capture device does by itself, kept from one time to the next.
package quality
