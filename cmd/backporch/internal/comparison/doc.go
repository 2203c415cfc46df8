// Package comparison builds what compare found as one model and renders it: as text, as JSON
// (schema 1 of its own), and as the pair of pictures that shows it.
package comparison
