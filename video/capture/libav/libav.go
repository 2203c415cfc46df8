// Package libav decodes recordings with FFmpeg's libraries, which OpenCV's development package brings along, to the codes that a
// stream holds. OpenCV itself makes B, G, R of them: black below 16 and white above 235 are cut off on the way (ITU-R BT.601), and with them what a picture
// that is too large, or a device that gives codes from 0 to 255, shows.
//
// It takes luma and colour differences of 8 to 16 bits in any order; what is stored as red, green and blue, or by a palette, is left to others
// (ErrNoCodes). No memory of the libraries' leaves it.
package libav

/*
#cgo pkg-config: libavformat libavcodec libavutil
#include <stdlib.h>
#include <libavcodec/avcodec.h>
#include <libavformat/avformat.h>
#include <libavutil/pixdesc.h>

typedef struct { AVFormatContext *format; AVCodecContext *codec; AVPacket *packet; AVFrame *frame; int stream; int flushing; } recording;

static void quiet(void) { av_log_set_level(AV_LOG_QUIET); }

static void end(recording *r) {
	av_frame_free(&r->frame);
	av_packet_free(&r->packet);
	avcodec_free_context(&r->codec);
	avformat_close_input(&r->format);
}

static int begin(recording *r, const char *url) {
	int err;
	if ((err = avformat_open_input(&r->format, url, NULL, NULL)) < 0) return err;
	if ((err = avformat_find_stream_info(r->format, NULL)) < 0) return err;
	if ((err = av_find_best_stream(r->format, AVMEDIA_TYPE_VIDEO, -1, -1, NULL, 0)) < 0) return err;
	r->stream = err;
	AVCodecParameters *p = r->format->streams[r->stream]->codecpar;
	const AVCodec *codec = avcodec_find_decoder(p->codec_id);
	if (!codec) return AVERROR_DECODER_NOT_FOUND;
	r->codec = avcodec_alloc_context3(codec);
	r->packet = av_packet_alloc();
	r->frame = av_frame_alloc();
	if (!r->codec || !r->packet || !r->frame) return AVERROR(ENOMEM);
	if ((err = avcodec_parameters_to_context(r->codec, p)) < 0) return err;
	r->codec->thread_count = 1; // frames come as they are asked for, and none is held back by a thread
	return avcodec_open2(r->codec, codec, NULL);
}

// next decodes a frame: 0, AVERROR_EOF, or what went wrong with this one.
static int next(recording *r) {
	for (;;) {
		int err = avcodec_receive_frame(r->codec, r->frame);
		if (err != AVERROR(EAGAIN)) return err;
		if (r->flushing) return AVERROR_EOF;
		err = av_read_frame(r->format, r->packet);
		if (err < 0) { // the end, or what is taken for it
			r->flushing = 1;
			avcodec_send_packet(r->codec, NULL);
			continue;
		}
		if (r->packet->stream_index != r->stream) {
			av_packet_unref(r->packet);
			continue;
		}
		err = avcodec_send_packet(r->codec, r->packet);
		av_packet_unref(r->packet);
		if (err < 0 && err != AVERROR(EAGAIN)) return err;
	}
}

// codes is 1 for a frame of luma and colour differences, or of luma alone.
static int codes(const AVPixFmtDescriptor *d) {
	if (!d || d->flags & (AV_PIX_FMT_FLAG_RGB | AV_PIX_FMT_FLAG_PAL | AV_PIX_FMT_FLAG_HWACCEL | AV_PIX_FMT_FLAG_BITSTREAM | AV_PIX_FMT_FLAG_BE)) return 0;
	return d->nb_components >= 1 && d->comp[0].depth >= 8 && d->comp[0].depth <= 16 && d->log2_chroma_w <= 2 && d->log2_chroma_h <= 1;
}

// plane copies a component's codes, rounded to 8 bits, each so many times along the line.
static void plane(const AVFrame *f, const AVPixFmtDescriptor *d, int c, int width, int height, int times, uint8_t *to) {
	const AVComponentDescriptor *k = &d->comp[c];
	int less = k->depth - 8, half = less > 0 ? 1 << (less - 1) : 0, most = (1 << k->depth) - 1;
	for (int y = 0; y < height; y++) {
		const uint8_t *from = f->data[k->plane] + (ptrdiff_t)y * f->linesize[k->plane] + k->offset;
		for (int x = 0; x < width; x++) {
			const uint8_t *p = from + (x / times) * k->step;
			int v = k->depth > 8 ? p[0] | p[1] << 8 : p[0];
			v = ((v >> k->shift) & most) + half;
			v >>= less;
			*to++ = v > 255 ? 255 : v;
		}
	}
}
*/
import "C"

import (
	"errors"
	"fmt"
	"io"
	"time"
	"unsafe"

	"backporch/video"
	"backporch/video/picture"
)

// ErrNoCodes is what Next gives of frames that hold no luma codes.
var ErrNoCodes = errors.New("its frames are stored as red, green and blue, or by a palette")

// A Recording is a file that is being read. It is not safe for use by more than one goroutine.
type Recording struct {
	r     *C.recording
	start int64
	begun bool
}

// Quiet keeps the libraries' own lines off standard error: what they say is in the errors.
func Quiet() { C.quiet() }

// Open opens a file by its path. What is not readable is an error.
func Open(path string) (*Recording, error) {
	url := C.CString("file:" + path)
	defer C.free(unsafe.Pointer(url))
	r := &Recording{r: (*C.recording)(C.calloc(1, C.sizeof_recording))}
	if err := C.begin(r.r, url); err < 0 {
		r.Close()
		return nil, fmt.Errorf("it can't be decoded: %w", message(err))
	}
	return r, nil
}

// message is the libraries' text for an error.
func message(code C.int) error {
	var text [C.AV_ERROR_MAX_STRING_SIZE]C.char
	C.av_strerror(code, &text[0], C.AV_ERROR_MAX_STRING_SIZE)
	return errors.New(C.GoString(&text[0]))
}

// Next decodes the next frame, codes as the stream holds them, with the time since the first one; Time is below 0 where the file
// does not say it. io.EOF ends it; after any other error the next frame may be good.
func (r *Recording) Next() (*video.Frame, error) {
	if r.r == nil {
		return nil, io.EOF
	}
	switch err := C.next(r.r); {
	case err == C.AVERROR_EOF:
		return nil, io.EOF
	case err < 0:
		return nil, message(err)
	}
	in := r.r.frame
	d := C.av_pix_fmt_desc_get(int32(in.format))
	if C.codes(d) == 0 {
		return nil, ErrNoCodes
	}
	w, h := int(in.width), int(in.height)
	if err := picture.CheckSize(w, h); err != nil {
		return nil, err
	}
	var f *video.Frame
	if d.nb_components < 3 {
		f = picture.NewFrame(w, h, 0, 0)
	} else {
		cw, times := w, C.int(1)
		if d.log2_chroma_w > 0 {
			cw, times = (w+1)/2, 1<<(d.log2_chroma_w-1) // of 4:1:1 each sample is taken twice
		}
		f = picture.NewFrame(w, h, cw, (h+(1<<d.log2_chroma_h)-1)>>d.log2_chroma_h)
		C.plane(in, d, 1, C.int(cw), C.int(f.ChromaHeight), times, (*C.uint8_t)(&f.Cb[0]))
		C.plane(in, d, 2, C.int(cw), C.int(f.ChromaHeight), times, (*C.uint8_t)(&f.Cr[0]))
	}
	C.plane(in, d, 0, C.int(w), C.int(h), 1, (*C.uint8_t)(&f.Y[0]))
	f.Time = r.time(int64(in.best_effort_timestamp))
	return f, nil
}

// time is a stamp since the first frame's, below 0 where there is none.
func (r *Recording) time(stamp int64) time.Duration {
	if stamp == -1<<63 { // AV_NOPTS_VALUE
		return -1
	}
	if !r.begun {
		r.begun, r.start = true, stamp
	}
	stream := unsafe.Slice(r.r.format.streams, r.r.format.nb_streams)[r.r.stream]
	return time.Duration(float64(stamp-r.start) * float64(stream.time_base.num) / float64(stream.time_base.den) * float64(time.Second))
}

// Close frees what the recording holds.
func (r *Recording) Close() {
	if r.r != nil {
		C.end(r.r)
		C.free(unsafe.Pointer(r.r))
		r.r = nil
	}
}
