//go:build !race

package simulator

const underRace = false
