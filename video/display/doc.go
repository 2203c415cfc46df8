// Package display says how a machine makes its picture from memory. A profile is data:
// TOML files, four embedded ones named after the structure of the display and any
// that a user adds in a folder. The simulator draws with profiles, the analyser
// reads with them.
//
// Memory here is the display's own: for a bitmap display 6144 bytes of bitmap,
// then 768 colour bytes; for a character display the screen codes and, in a RAM of
// their own, the colour nibbles.
package display
