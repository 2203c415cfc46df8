package capture

import (
	"errors"
	"fmt"
	"io/fs"

	"gocv.io/x/gocv"

	"backporch/video"
	"backporch/video/picture"
)

// frameOf copies what a Mat holds into a frame; the Mat stays its owner's.
func frameOf(m *gocv.Mat, r route, layout string, width, height int) (*video.Frame, error) {
	if m.Empty() {
		return nil, errors.New("it holds nothing")
	}
	switch r {
	case packets:
		data, err := m.DataPtrUint8()
		if err != nil {
			return nil, err
		}
		f, _, err := picture.DecodeJPEG(data, height)
		return f, err
	case planes:
		data, err := m.DataPtrUint8()
		if err != nil {
			return nil, err
		}
		return picture.FromPacked(data, layout, width, height)
	}
	switch m.Type() {
	case gocv.MatTypeCV8UC3:
		data, err := m.DataPtrUint8()
		if err != nil {
			return nil, err
		}
		return picture.FromRGB(data, m.Cols(), m.Rows(), m.Cols()*3, 3, 2, 1, 0)
	case gocv.MatTypeCV8UC1:
		data, err := m.DataPtrUint8()
		if err != nil {
			return nil, err
		}
		f := picture.NewFrame(m.Cols(), m.Rows(), 0, 0)
		copy(f.Y, data)
		return f, nil
	}
	return nil, fmt.Errorf("OpenCV gives it as type %d, which is not known", m.Type())
}

// plain takes the path out of an error that will have one in front.
func plain(err error) error {
	var p *fs.PathError
	if errors.As(err, &p) {
		return p.Err
	}
	return err
}
