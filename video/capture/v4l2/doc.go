// Package v4l2 speaks to Linux's capture drivers: which devices there are, their inputs,
// standards and formats, what they say of the signal, and their frames with the driver's
// own count and stamps. OpenCV has no call for the standard, for an input's status or for
// events, waits without an end for a frame, and a signal to the process breaks its wait;
// here nothing waits in the kernel: the device is opened non-blocking and polled.
//
// Other systems, and machines whose C structures are laid out otherwise, have
// ErrUnsupported.
//
// Source: the Linux kernel's userspace-api/media/v4l and linux/videodev2.h (6.1), against
// which the numbers here are tested.
package v4l2
