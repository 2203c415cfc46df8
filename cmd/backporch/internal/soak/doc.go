// Package soak watches a machine unattended for hours and keeps what happened.
//
//	DIR/soak.log             a record a line, only ever appended to
//	DIR/event-NNNN-*.png     the frames before, at and after an event
//	DIR/certificate.txt      what the hours prove
//	DIR/certificate.json     the same, as 'soak --json' prints it
//	DIR/drift.png            level, noise, hue and field rate over time
//
// # The log
//
// Each line is eight hexadecimal digits of CRC-32 (IEEE), a space, and a JSON object whose "t" says
// what it is: begin, beat, event, still, note, mark, end. A beat is written every second with all counts so
// far, so that a process that is killed loses at most the second after the last one, and a gap in the beats
// shows when nobody watched. A line that was cut off by a crash fails its check and is left out; Resume goes on
// behind it. The summary and the certificate are made from the log alone.
//
// # What it says
//
// The number of events in so many hours is taken for a Poisson count; its upper limit is that of
// analyse/rate. It holds for the machine as it ran then: warm, on that supply, showing that screen.
package soak
