//go:build !race

package composite

const underRace = false
