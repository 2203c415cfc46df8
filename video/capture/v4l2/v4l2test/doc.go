// Package v4l2test feeds frames to a v4l2loopback device, for tests of what captures from it.
package v4l2test
