package timing

import (
	"slices"

	"backporch/analyse"
)

// lostWords are what a device says when nothing reaches it, unlockedWords when it finds no hold in
// what does (the flags of V4L2's ENUMINPUT). One decoder's driver says 'no signal' of whatever does
// not lock, most part the two, and many say nothing at all.
var (
	lostWords     = []string{"no power", "no signal", "no sync", "no carrier"}
	unlockedWords = []string{"no horizontal lock", "no vertical lock", "no lock to the standard"}
)

// Lost says whether the device finds no signal, Unlocked whether it finds one that it can't
// lock to.
func Lost(s *analyse.Sync) bool { return says(s, lostWords) }

// Unlocked says whether the device can't lock.
func Unlocked(s *analyse.Sync) bool { return says(s, unlockedWords) }

func says(s *analyse.Sync, words []string) bool {
	return slices.ContainsFunc(s.Device, func(w string) bool { return slices.Contains(words, w) })
}

// Hear lays what the device says beside what the picture shows. Where the picture is a machine's
// (placed, or not looked at yet) it stands: pictures of 312 or 262 lines make devices say that
// they have no lock, and decode them all the same. Where it is none the device tells no
// signal from no lock, which look alike, as snow or as a colour of the device's own.
func Hear(s *analyse.Sync, machine bool) {
	lost, unlocked := Lost(s), Unlocked(s)
	switch {
	case s.State == analyse.NoSignal && unlocked && !lost:
		s.State = analyse.NoLock
	case s.State == analyse.NoSignal, machine:
	case lost && s.State == analyse.Locked:
		s.State = analyse.NoSignal
	case lost, unlocked:
		s.State = analyse.NoLock
	}
}
