// Package capture brings frames in from capture devices and recorded files, through
// OpenCV, and writes recordings as a cheap USB capture device makes them. It is the one
// package that imports gocv; no Mat leaves it.
//
// # What OpenCV hands out, and what is made of it
//
// Asked plainly, OpenCV gives B, G, R at 8 bits: colours outside the gamut are clipped,
// black below 16 and white above 235 are lost, and its fast conversion is off by up to
// three codes. So it is asked for what lies before that:
//
//   - A device gives YUYV (ConvertRGB off): the 4:2:2 planes are the device's own. One that
//     has only Motion JPEG gives its packets.
//   - A Motion JPEG file gives its packets (CAP_PROP_FORMAT -1, FFmpeg backend), which
//     package picture decodes to the codes that they hold.
//   - A file of raw frames (YUY2, UYVY, 4:2:0, 4:2:2 planar) gives its packets, which are
//     the planes.
//   - Every other codec gives B, G, R: OpenCV 4.6's FFmpeg backend ignores ConvertRGB. It is
//     turned back with BT.601's matrix, the one that FFmpeg's scaler used whatever the file
//     says, and Info.RGB and a note say so.
//
// Codes are never rescaled: a JPEG's are those it stores, of either range (see package
// picture). Those that come by way of R, G, B are in BT.601's range, since the scaler has
// undone the range that the stream is marked with.
//
// # Devices that do not answer
//
// A device's frames are read by a goroutine of its own, which drains the driver's queue, so
// that a frame is never an old one. When no frame comes for two seconds Next says so and the
// goroutine is given up: it frees what it holds when the driver lets it go.
package capture
