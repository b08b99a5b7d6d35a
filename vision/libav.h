#ifndef LATCHPROOF_LIBAV_H
#define LATCHPROOF_LIBAV_H

#include <stdint.h>

#include <libavcodec/avcodec.h>
#include <libavformat/avformat.h>
#include <libavutil/frame.h>
#include <libavutil/pixdesc.h>

// What a packet is, bits of lp_packet.flags.
enum {
	LP_KEY = 1,        // decoding can start here
	LP_DISCARD = 2,    // decoded, never shown (edit lists, hidden pictures)
	LP_DISPOSABLE = 4, // no other picture is predicted from it
};

// lp_packet is one packet of the video track, in the order of the file.
typedef struct {
	int64_t pts; // in units of the track; AV_NOPTS_VALUE when unknown
	int64_t pos; // place in the file, bytes; -1 when unknown
	int flags;
} lp_packet;

// lp_input is an open file and its video track.
typedef struct {
	AVFormatContext *fmt;
	AVStream *track;
	int faults; // read errors in a row
} lp_input;

// lp_decoder turns packets into frames. bad[k] is set when packet k gave the
// decoder trouble.
typedef struct {
	AVCodecContext *ctx;
	lp_input *in;
	AVPacket *pkt;
	uint8_t *bad;
	int64_t packets; // length of bad
	int64_t fed;     // packets given to the decoder, or skipped
	int held;        // pkt is read already, as the next one
	int draining;
	int faults;
} lp_decoder;

void lp_quiet(int verbose);

int lp_input_open(lp_input **out, const char *url, const char *format);
void lp_input_close(lp_input **in);
int lp_input_read(lp_input *in, AVPacket *pkt);
int lp_scan(lp_input *in, lp_packet **out, int64_t *n);
int lp_input_seek(lp_input *in, int64_t pts);
int64_t lp_nanoseconds(int64_t pts, int64_t start, AVRational base);

int lp_decoder_open(lp_decoder **out, lp_input *in, int64_t packets, int delay, int threads);
void lp_decoder_close(lp_decoder **dec);
int lp_decoder_step(lp_decoder *dec, AVFrame *frame);
int lp_decoder_skip(lp_decoder *dec);
void lp_decoder_flush(lp_decoder *dec);
int lp_decoder_bad(lp_decoder *dec, int64_t k);
void lp_decoder_mark(lp_decoder *dec, int64_t k, int64_t to, int bad);

int lp_same(const AVFrame *a, const AVFrame *b);

#endif
