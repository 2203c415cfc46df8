// Package picture turns coded pictures into frames and frames into coded pictures,
// keeping luma and chroma codes as they are stored wherever the coding has them.
//
//	DecodeJPEG   a JPEG, or one Motion JPEG packet, to the very YCbCr codes that it holds
//	EncodeJPEG   a frame to a baseline JPEG, 4:2:2 kept as 4:2:2
//	FromImage    any decoded picture; R, G, B become BT.601 codes
//	FromPacked   raw packets: YUYV, UYVY, planar 4:2:0 and 4:2:2
//	ToRGBA       a frame as a viewer shows it
//
// # Range
//
// JFIF says that a JPEG's codes run from 0 to 255, BT.601 that luma runs from 16 to
// 235. Capture devices put BT.601 codes into JPEG without saying so; cameras and
// editors do as JFIF says. The codes can't tell which, so they are kept as stored
// and analysis infers the range from black and white. R, G, B are
// always turned into BT.601 codes: 0 becomes 16, 255 becomes 235.
//
// Sources: ITU-T T.81 (JPEG) with Annexes F and K; ITU-R BT.601 clause 3.5 for the
// matrix; Y. Arai, T. Agui, M. Nakajima 1988 for the cosine transform.
package picture
