// Package isolation reads the swap tests that a person wrote down, or that a job holds, and renders
// what follows from them as text and as JSON (schema 1 of its own).
package isolation
