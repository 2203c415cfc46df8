package quality

import (
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2"

	"backporch/analyse"
	"backporch/patterns/signalpath"
)

// A Calibration is what a capture device shows of a good source: its own noise, edges, levels. It is kept as a
// TOML file for each device, so that the device is not blamed on the board.
type Calibration struct {
	Device   string             `toml:"device"`
	Taken    time.Time          `toml:"taken"`
	Source   string             `toml:"source"`
	Display  string             `toml:"display"`
	Measures map[string]float64 `toml:"measures"` // by name, in the units of the report
}

// Errors that a caller decides on.
var (
	ErrNoCalibration = errors.New("there is no calibration of this device")
	ErrName          = errors.New("a device's name has letters, digits, dots, dashes and underscores")
)

// Calibrate takes what a survey of a good source shows.
func Calibrate(device, source string, taken time.Time, s *analyse.Survey) *Calibration {
	c := &Calibration{Device: device, Taken: taken.UTC().Truncate(time.Second), Source: source, Display: s.Display, Measures: map[string]float64{}}
	for _, r := range signalpath.Readings(s, nil) {
		if r.Estimate != nil && !math.IsInf(r.Estimate.Value, 0) {
			c.Measures[r.Name] = rounded(r.Estimate.Value, 3)
		}
	}
	return c
}

// file is where a device's calibration lies.
func file(folder, device string) (string, error) {
	for _, r := range device {
		if !(r == '-' || r == '_' || r == '.' || r >= '0' && r <= '9' || r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z') {
			return "", fmt.Errorf("%q: %w", device, ErrName)
		}
	}
	if strings.Trim(device, ".") == "" || len(device) > 120 {
		return "", fmt.Errorf("%q: %w", device, ErrName)
	}
	return filepath.Join(folder, device+".toml"), nil
}

// Save keeps the calibration in the folder, in place of an older one of the device, whole or not at all.
func (c *Calibration) Save(folder string) (path string, err error) {
	path, err = file(folder, c.Device)
	if err != nil {
		return "", err
	}
	data, err := toml.Marshal(c)
	if err != nil {
		return "", fmt.Errorf("writing the calibration: %w", err)
	}
	if err := os.MkdirAll(folder, 0o777); err != nil {
		return "", fmt.Errorf("keeping the calibration: %w", err)
	}
	temporary, err := os.CreateTemp(folder, ".calibration-*")
	if err != nil {
		return "", fmt.Errorf("keeping the calibration: %w", err)
	}
	_, err = temporary.Write(data)
	if err == nil {
		err = temporary.Sync()
	}
	if closing := temporary.Close(); err == nil {
		err = closing
	}
	if err == nil {
		err = os.Rename(temporary.Name(), path)
	}
	if err != nil {
		_ = os.Remove(temporary.Name())
		return "", fmt.Errorf("keeping the calibration: %w", err)
	}
	return path, nil
}

// Load reads a device's calibration: ErrNoCalibration when there is none.
func Load(folder, device string) (*Calibration, error) {
	path, err := file(folder, device)
	if err != nil {
		return nil, err
	}
	info, err := os.Stat(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("%s: %w", device, ErrNoCalibration)
	}
	if err == nil && info.Size() > 1<<16 {
		err = fmt.Errorf("%s: %d bytes are too many for a calibration", path, info.Size())
	}
	if err != nil {
		return nil, err
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	var c Calibration
	if err := toml.Unmarshal(data, &c); err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	for name, v := range c.Measures {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return nil, fmt.Errorf("%s: measure %s is no number", path, name)
		}
	}
	return &c, nil
}
