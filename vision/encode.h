#ifndef LATCHPROOF_ENCODE_H
#define LATCHPROOF_ENCODE_H

#include "libav.h"

// How chroma with fewer samples is made.
enum {
	LP_BETWEEN = 1,  // sited between luma samples (JPEG), not on the left one
	LP_BY_FIELD = 2, // half the rows: of each field by itself
	LP_FULL = 4,     // range
};

// lp_encoder turns B, G, R pictures into packets.
typedef struct {
	AVCodecContext *ctx;
	AVFrame *frame;
	AVPacket *pkt;
	int how;
} lp_encoder;

int lp_encoder_open(lp_encoder **out, const char *codec, enum AVPixelFormat format, int how, int w, int h, AVRational period,
	int woven, AVDictionary **options);
void lp_encoder_close(lp_encoder **enc);
int lp_encoder_send(lp_encoder *enc, const uint8_t *bgr, int64_t pts);
int lp_encoder_receive(lp_encoder *enc);
int lp_jpeg_tables(AVCodecContext *ctx, int quality);

void lp_from_bgr(const uint8_t *bgr, AVFrame *to, int how);

#endif
