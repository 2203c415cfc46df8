//go:build linux && (amd64 || arm64 || riscv64 || loong64)

package v4l2

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"unsafe"
)

// The numbers of calls, sizes and places of members, and flags against the system's own
// linux/videodev2.h, by its C compiler.
func TestNumbersAgainstTheHeader(t *testing.T) {
	cc, err := exec.LookPath("cc")
	if err != nil {
		t.Skip("no C compiler")
	}
	want := []struct {
		c string
		v uint64
	}{
		{"VIDIOC_QUERYCAP", uint64(vidiocQuerycap)}, {"VIDIOC_ENUM_FMT", uint64(vidiocEnumFmt)}, {"VIDIOC_S_FMT", uint64(vidiocSFmt)},
		{"VIDIOC_REQBUFS", uint64(vidiocReqbufs)}, {"VIDIOC_QUERYBUF", uint64(vidiocQuerybuf)}, {"VIDIOC_QBUF", uint64(vidiocQbuf)},
		{"VIDIOC_DQBUF", uint64(vidiocDqbuf)}, {"VIDIOC_STREAMON", uint64(vidiocStreamon)}, {"VIDIOC_STREAMOFF", uint64(vidiocStreamoff)},
		{"VIDIOC_G_PARM", uint64(vidiocGParm)}, {"VIDIOC_G_STD", uint64(vidiocGStd)}, {"VIDIOC_S_STD", uint64(vidiocSStd)},
		{"VIDIOC_ENUMINPUT", uint64(vidiocEnuminput)}, {"VIDIOC_G_INPUT", uint64(vidiocGInput)}, {"VIDIOC_S_INPUT", uint64(vidiocSInput)},
		{"VIDIOC_QUERYSTD", uint64(vidiocQuerystd)}, {"VIDIOC_ENUM_FRAMESIZES", uint64(vidiocEnumFramesizes)},
		{"VIDIOC_DQEVENT", uint64(vidiocDqevent)}, {"VIDIOC_SUBSCRIBE_EVENT", uint64(vidiocSubscribeEvent)},
		{"V4L2_CAP_VIDEO_CAPTURE", capVideoCapture}, {"V4L2_CAP_VIDEO_CAPTURE_MPLANE", capVideoCaptureMplane}, {"V4L2_CAP_DEVICE_CAPS", capDeviceCaps},
		{"V4L2_INPUT_TYPE_TUNER", inputTuner}, {"V4L2_BUF_TYPE_VIDEO_CAPTURE", typeVideoCapture}, {"V4L2_MEMORY_MMAP", memoryMmap},
		{"V4L2_FRMSIZE_TYPE_DISCRETE", frmsizeDiscrete}, {"V4L2_BUF_FLAG_ERROR", bufFlagError}, {"V4L2_BUF_FLAG_TIMESTAMP_MASK", bufFlagTimestampMask},
		{"V4L2_BUF_FLAG_TIMESTAMP_MONOTONIC", bufFlagTimestampMono}, {"V4L2_EVENT_SOURCE_CHANGE", eventSourceChange},
		{"V4L2_FIELD_INTERLACED", fieldInterlaced}, {"V4L2_FIELD_SEQ_TB", fieldSeqTB}, {"V4L2_FIELD_SEQ_BT", fieldSeqBT},
		{"V4L2_FIELD_INTERLACED_TB", fieldInterlacedTB}, {"V4L2_FIELD_INTERLACED_BT", fieldInterlacedBT},
		{"V4L2_STD_525_60", uint64(lines525)}, {"V4L2_STD_625_50", uint64(lines625)},
		{"V4L2_STD_PAL", uint64(standards[0].set)}, {"V4L2_STD_NTSC", uint64(standards[1].set)}, {"V4L2_STD_SECAM", uint64(standards[2].set)},
		{"V4L2_STD_PAL_60", uint64(standards[3].set)}, {"V4L2_STD_PAL_M", uint64(standards[4].set)},
		{"V4L2_STD_PAL_N|V4L2_STD_PAL_Nc", uint64(standards[5].set)}, {"V4L2_STD_NTSC_443", uint64(standards[6].set)},
		{"V4L2_PIX_FMT_YUYV", uint64(codeOf("YUYV"))}, {"V4L2_PIX_FMT_UYVY", uint64(codeOf("UYVY"))}, {"V4L2_PIX_FMT_YVYU", uint64(codeOf("YVYU"))},
		{"V4L2_PIX_FMT_VYUY", uint64(codeOf("VYUY"))}, {"V4L2_PIX_FMT_YUV422P", uint64(codeOf("422P"))}, {"V4L2_PIX_FMT_NV12", uint64(codeOf("NV12"))},
		{"V4L2_PIX_FMT_YUV420", uint64(codeOf("YU12"))}, {"V4L2_PIX_FMT_YVU420", uint64(codeOf("YV12"))},
		{"V4L2_PIX_FMT_MJPEG", uint64(codeOf("MJPG"))}, {"V4L2_PIX_FMT_JPEG", uint64(codeOf("JPEG"))},
		{"V4L2_IN_ST_NO_POWER", flag("no power")}, {"V4L2_IN_ST_NO_SIGNAL", flag("no signal")}, {"V4L2_IN_ST_NO_COLOR", flag("no colour")},
		{"V4L2_IN_ST_NO_H_LOCK", flag("no horizontal lock")}, {"V4L2_IN_ST_COLOR_KILL", flag("colour killer on")},
		{"V4L2_IN_ST_NO_V_LOCK", flag("no vertical lock")}, {"V4L2_IN_ST_NO_STD_LOCK", flag("no lock to the standard")},
		{"V4L2_IN_ST_NO_SYNC", flag("no sync")}, {"V4L2_IN_ST_NO_EQU", flag("no equaliser lock")}, {"V4L2_IN_ST_NO_CARRIER", flag("no carrier")},
		{"offsetof(struct v4l2_input, status)", uint64(unsafe.Offsetof(input{}.Status))},
		{"offsetof(struct v4l2_input, std)", uint64(unsafe.Offsetof(input{}.Std))},
		{"offsetof(struct v4l2_format, fmt.pix.field)", uint64(unsafe.Offsetof(format{}.Pix) + unsafe.Offsetof(pixFormat{}.Field))},
		{"offsetof(struct v4l2_fmtdesc, pixelformat)", uint64(unsafe.Offsetof(fmtdesc{}.PixelFormat))},
		{"offsetof(struct v4l2_frmsizeenum, discrete.height)", uint64(unsafe.Offsetof(frmsizeenum{}.Height))},
		{"offsetof(struct v4l2_streamparm, parm.capture.timeperframe)", uint64(unsafe.Offsetof(streamparm{}.Numerator))},
		{"offsetof(struct v4l2_buffer, timestamp)", uint64(unsafe.Offsetof(buffer{}.Sec))},
		{"offsetof(struct v4l2_buffer, sequence)", uint64(unsafe.Offsetof(buffer{}.Sequence))},
		{"offsetof(struct v4l2_buffer, m)", uint64(unsafe.Offsetof(buffer{}.Offset))},
		{"offsetof(struct v4l2_buffer, length)", uint64(unsafe.Offsetof(buffer{}.Length))},
		{"offsetof(struct v4l2_event, pending)", uint64(unsafe.Offsetof(event{}.Pending))},
	}
	var b strings.Builder
	b.WriteString("#include <stdio.h>\n#include <stddef.h>\n#include <linux/videodev2.h>\nint main(void) {\n")
	for _, w := range want {
		fmt.Fprintf(&b, "printf(\"%%llu\\n\", (unsigned long long)(unsigned int)(%s));\n", w.c)
	}
	b.WriteString("return 0; }\n")
	dir := t.TempDir()
	source, program := filepath.Join(dir, "a.c"), filepath.Join(dir, "a")
	if err := os.WriteFile(source, []byte(b.String()), 0o644); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command(cc, "-o", program, source).CombinedOutput(); err != nil {
		if strings.Contains(string(out), "videodev2.h: No such file") {
			t.Skip("no linux/videodev2.h")
		}
		// An older header lacks a flag; the others are still worth comparing.
		t.Fatalf("%v\n%s", err, out)
	}
	out, err := exec.Command(program).Output()
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Fields(string(out))
	if len(lines) != len(want) {
		t.Fatalf("%d answers to %d questions", len(lines), len(want))
	}
	for i, w := range want {
		if got := fmt.Sprint(w.v); lines[i] != got {
			t.Errorf("%s is %s in the header, %s here", w.c, lines[i], got)
		}
	}
}

func flag(word string) uint64 {
	for _, w := range statusWords {
		if w.word == word {
			return uint64(w.flag)
		}
	}
	return 0
}
