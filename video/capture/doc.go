// Package capture brings frames in from capture devices and recorded files, and writes
// recordings as a cheap USB capture device makes them. It is the one package that imports
// gocv; no Mat leaves it.
//
// # What OpenCV hands out, and what is made of it
//
// Asked plainly, OpenCV gives B, G, R at 8 bits: colours outside the gamut are clipped,
// black below 16 and white above 235 are lost, and its fast conversion is off by up to
// three codes. So it is asked for what lies before that:
//
//   - A device that is not read from its driver (below) gives YUYV (ConvertRGB off): the
//     4:2:2 planes are its own. One that has only Motion JPEG gives its packets.
//   - A Motion JPEG file gives its packets (CAP_PROP_FORMAT -1, FFmpeg backend), which
//     package picture decodes to the codes that they hold.
//   - A file of raw frames (YUY2, UYVY, 4:2:0, 4:2:2 planar) gives its packets, which are
//     the planes.
//   - Every other codec is decoded by the libraries that OpenCV itself uses (package libav),
//     for OpenCV 4.6's FFmpeg backend ignores ConvertRGB.
//   - What holds red, green and blue, or a palette, comes from OpenCV as B, G, R. It is
//     turned back with BT.601's matrix, and Info.RGB and a note say so.
//
// Codes are never rescaled: a JPEG's are those it stores, of either range (see package
// picture). Those that come by way of R, G, B are in BT.601's range, since the scaler has
// undone the range that the stream is marked with.
//
// # Devices
//
// On Linux a device is read from its driver (package v4l2): input, standard and format are
// set, what it says of the signal is asked twice a second, frames come with the driver's
// own stamps, and those that the driver counts and does not give are Frame.Lost. Raw 4:2:2 and
// 4:2:0 and Motion JPEG are taken apart here; a device that has none of these, and every
// device on other systems, is read through OpenCV.
//
// Nothing that was asked of a device is believed: standard, size and format are read back,
// a frame's size is that of the first one that came, and Info.Notes says what differs. A
// buffer that is not full, or that the driver calls damaged, is a video.BadFrame.
//
// A device's frames are read by a goroutine of its own, which drains the driver's queue, so
// that a frame is never an old one. When no frame comes for a second and a half Next says
// so (video.ErrStalled); a device that is gone is video.ErrGone, one that another program
// holds video.ErrBusy. A goroutine that a driver blocks is given up: it frees what it holds
// when the driver lets it go. Package live opens such a device anew.
package capture
