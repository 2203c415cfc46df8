// Package monitor shows a live picture in the browser, with what is found in it, for hands that
// are on the board: the verdict and the next test in letters that can be read from two metres, a strip of
// events, and buttons to keep stills and to mark the moment.
//
//	srv, err := monitor.Listen("localhost:0", monitor.Options{Keep: ..., Mark: ...})
//	srv.Show(field)   // never blocks: a slow browser misses pictures, it does not queue them
//	srv.Set(state)
//	defer srv.Close() // returns when every connection has ended
//
// A page fetches its assets from the program alone. One WebSocket carries the state as JSON and the
// pictures as JPEG; a picture is sent only when the browser asks for the next, so that no delay can grow.
//
// # Who may look
//
// It listens on loopback unless another address is given; then every request must bear a token that is
// made anew each time (a link with it is printed, the browser keeps it in a cookie). The Host of a request
// must be one of this computer's own names, which keeps out pages that point a name of theirs at it, and an
// Origin, where there is one, must be that host. Nothing of a request is ever used as a path.
package monitor
