// Package timing tells the sync state from pictures alone: whether a signal is there,
// whether it stands still, and how exactly its lines lie one below the other.
//
// No registration is needed, since fields are compared with each other. What a device
// makes by itself has no analogue noise: a fill is one code everywhere, its bars are
// lines that are all the same. Snow is noise that no two fields share, in amounts at
// which no sync separator works. Roll shows in the line means of successive fields,
// tear and jitter in the horizontal place of each line against the mean of the fields.
//
// The bounds behind the states are stated where they are used. Lock bounds follow
// EBU Tech. 3209 (sync separators work down to a signal-to-noise ratio of 23 dB); the
// others are physics, or common practice, no source.
package timing
