package source

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"backporch/video"
	"backporch/video/composite"
	"backporch/video/waveform"
)

// A sampled is a waveform file decoded in software to frames, as a capture device would
// give them: two fields woven, or one where the file holds no two.
type sampled struct {
	info   video.Info
	file   *waveform.Reader
	in     *waveform.Decimator
	d      *composite.Decoder
	scale  float32 // to mV, sync down
	offset float32 // blanking, in the file's own units
	held   float32 // what stands for missing samples: the last that was there
	head   []float32
	buf    []float32
	queue  []*video.Field
	given  int
	end    bool
	halves bool // interlaced
	pushed bool // the decoder's last lines are out
}

// headTime is how much of a file is looked at to find sync: three fields and more.
const headTime = 0.07

func openWaveform(path string, o waveform.Options, standard video.Standard) (*sampled, error) {
	file, err := waveform.Open(path, o)
	guessed := errors.Is(err, waveform.ErrNoRate)
	if guessed {
		if o.Rate = guessRate(path, o); o.Rate == 0 {
			return nil, err
		}
		file, err = waveform.Open(path, o)
	}
	if err != nil {
		return nil, err
	}
	s := &sampled{file: file, in: waveform.NewDecimator(file, file.Info().Rate), buf: make([]float32, 1<<16)}
	if err := s.start(path, standard); err != nil {
		_ = file.Close()
		return nil, fmt.Errorf("opening %s: %w", path, err)
	}
	if guessed {
		s.info.Notes = append(s.info.Notes, fmt.Sprintf("the sample rate was taken from its lines: %.6g million a second", o.Rate/1e6))
	}
	return s, nil
}

// usualRates are those of samplers for video, and the round ones: four times subcarrier, BT.601
// and its double.
var usualRates = []float64{4 * 4433618.75, 4 * 5e6 * 63 / 88, 13.5e6, 27e6, 8 * 5e6 * 63 / 88, 16e6, 20e6, 25e6, 28e6, 30e6, 32e6, 35e6, 40e6, 50e6}

// guessRate takes the sample rate from the length of a line: a picture needs it to some per
// thousand only. Near a usual rate it is that one, since a machine's lines are off the
// standard's by as much. 0 when no rate shows lines.
func guessRate(path string, o waveform.Options) float64 {
	o.Rate = usualRates[0]
	file, err := waveform.Open(path, o)
	if err != nil {
		return 0
	}
	defer file.Close()
	x := make([]float32, 1<<20)
	n, _ := file.Read(x)
	x = x[:n]
	var best *composite.Found
	at := 0.0
	// Line sync is known within a tenth of its width and length.
	for rate := 11e6; rate < 80e6; rate *= 1.12 {
		if f, err := composite.Find(x, rate); err == nil && f.Line > 0 && (best == nil || f.Share > best.Share) {
			best, at = f, rate
		}
	}
	if best == nil || best.Share < 0.4 || best.Standard == video.UnknownStandard {
		return 0
	}
	standard := video.Std625
	if lines := best.FieldLines(at); lines > 0 && lines < 288 {
		standard = video.Std525
	}
	rate := best.Line * standard.Scan().LineHz
	for _, usual := range usualRates {
		if math.Abs(rate/usual-1) < 0.003 {
			return usual
		}
	}
	return rate
}

// start finds sync in the head of the file and prepares the decoder.
func (s *sampled) start(path string, standard video.Standard) error {
	rate := s.in.Rate()
	s.head = make([]float32, int(headTime*rate))
	n := 0
	for n < len(s.head) {
		k, err := s.in.Read(s.head[n:])
		n += k
		if errors.Is(err, io.EOF) {
			s.end = true
			break
		}
		if err != nil {
			return cause(err)
		}
	}
	s.head = s.head[:n]
	found, err := composite.Find(s.head, rate)
	if notes := s.file.Info().Notes; err != nil && len(notes) > 0 { // it may be another column or another sort of samples
		return fmt.Errorf("%s: %w", strings.Join(notes, "; "), err)
	}
	if err != nil {
		return err
	}
	if standard == video.UnknownStandard {
		standard = found.Standard
	}
	scan := standard.Scan()
	if standard == video.UnknownStandard || found.Line == 0 || float64(n) < 0.9*rate/scan.FieldHz {
		return fmt.Errorf("%.3g ms are too short for a picture: a field takes 20; backporch waveform measures what there is", float64(n)/rate*1000)
	}
	o := composite.Options{Standard: standard, Rate: rate, DelayLine: standard == video.Std625, Clamp: 0.5}
	if s.d, err = composite.NewDecoder(o); err != nil {
		return fmt.Errorf("%.3g million samples a second are no rate to decode a picture at: use 12 to 80; backporch waveform measures lines and levels of it", rate/1e6)
	}
	s.scale = float32(scan.SyncMV / (found.Blanking - found.Tip)) // negative when sync points up
	s.offset = float32(found.Blanking)
	s.held = s.offset
	// A first pass over a field and more settles gain and burst lock, so that the file's
	// first field is as good as the others.
	s.feed(s.head[:min(len(s.head), int(1.3*rate/scan.FieldHz))], func(*video.Field) {})
	s.d.Rewind(found)
	s.queue = nil

	file := s.file.Info()
	fields := 2.0 // at least
	if file.Samples > 0 {
		fields = file.Seconds() * scan.FieldHz
	} else if s.end {
		fields = float64(n) / rate * scan.FieldHz
	}
	s.info = video.Info{
		Spec: path, Kind: video.KindWaveform, Width: 720, Height: 2 * scan.FieldLines, Rate: scan.FieldHz / 2,
		Order: video.OrderOf(720, 2*scan.FieldLines), Standard: standard, Notes: file.Notes,
	}
	lines := found.FieldLines(rate)
	s.halves = math.Abs(lines-math.Round(lines)) > 0.3
	// The fields that the file begins and ends in may be lost.
	if fields < 3.2 {
		s.info.Order, s.info.Height, s.info.Rate = video.Progressive, scan.FieldLines, scan.FieldHz
	} else if lines > 0 {
		s.info.Rate = rate / (lines * found.Line) / 2
	}
	if found.Inverted {
		s.info.Notes = append(s.info.Notes, "the waveform is inverted; it was turned")
	}
	s.info.Notes = append(s.info.Notes, fmt.Sprintf("decoded in software from %.4g million samples a second", file.Rate/1e6))
	return nil
}

// feed turns samples to mV and decodes them.
func (s *sampled) feed(x []float32, emit func(*video.Field)) {
	const piece = 1 << 15
	y := make([]float32, 0, min(len(x), piece))
	for len(x) > 0 {
		n := min(len(x), piece)
		y = y[:n]
		for i, v := range x[:n] {
			if v == v {
				s.held = v
			}
			y[i] = (s.held - s.offset) * s.scale
		}
		s.d.Decode(y, emit)
		x = x[n:]
	}
}

func (s *sampled) Info() video.Info { return s.info }

func (s *sampled) Next(ctx context.Context) (*video.Frame, error) {
	step := 2
	if s.info.Order == video.Progressive {
		step = 1
	}
	take := func(f *video.Field) {
		// Of interlaced fields the first of a frame begins.
		if s.halves && step == 2 && len(s.queue) == 0 && s.given == 0 && f.Parity == 1 {
			return
		}
		s.queue = append(s.queue, f)
	}
	for len(s.queue) < step {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if s.head != nil {
			s.feed(s.head, take)
			s.head = nil
			continue
		}
		if s.end {
			if !s.pushed {
				s.pushed = true
				// What the decoder still holds is less than two lines: push it out.
				rest := make([]float32, int(3*64e-6*s.in.Rate()))
				for i := range rest {
					rest[i] = s.held
				}
				s.feed(rest, take)
				continue
			}
			return nil, io.EOF
		}
		n, err := s.in.Read(s.buf)
		s.feed(s.buf[:n], take)
		if errors.Is(err, io.EOF) {
			s.end = true
		} else if err != nil {
			return nil, err
		}
	}
	fields := s.queue[:step]
	f := video.Weave(fields, s.info.Order)
	f.Index = s.given
	f.Time = time.Duration(math.Round(float64(s.given) / s.info.Rate * float64(time.Second)))
	s.given++
	s.queue = append(s.queue[:0], s.queue[step:]...)
	return f, nil
}

func (s *sampled) Close() error { return s.file.Close() }
