// Package drift watches a picture field by field, cheaply enough for every field of a live
// capture: has anything in this one field changed, is the lock still there, and how do level,
// noise and hue wander.
//
// A Watcher first learns: from two seconds of fields it takes, for each place of 16 samples by 4
// lines, the lowest and highest code that every sample takes, in each of the one or two states
// the place has (flashing cells and cursors have two), for either field of a frame by itself. A
// later field is bad where samples leave their range by more in sum than noise can. The range
// follows slow changes at once when they are small and forgets them in half a minute, so that warming
// up, crawling subcarrier and slow hum bars are no events while a byte that is wrong in one field is.
// A change that stays is told as one and learned anew.
//
// Level and hue are the regression of the field's codes on those learned, so they don't depend
// on what the picture shows. The ranges and thresholds are common practice, no source; each
// stands at its constant with what it costs.
package drift
