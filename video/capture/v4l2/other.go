//go:build !(linux && (amd64 || arm64 || riscv64 || loong64))

package v4l2

import (
	"context"

	"backporch/video"
)

// A Listed is one device of List.
type Listed struct {
	Path   string
	Device *Device
	Err    error
}

// List has ErrUnsupported.
func List(context.Context) ([]Listed, error) { return nil, ErrUnsupported }

// Query has ErrUnsupported.
func Query(string) (*Device, error) { return nil, ErrUnsupported }

// Set has ErrUnsupported.
func Set(string, Config) (*Device, video.Standard, []string, error) {
	return nil, 0, nil, ErrUnsupported
}

// ByID gives no name.
func ByID(string) string { return "" }
