#include "encode.h"

#include <stdlib.h>
#include <string.h>

// fixed is a factor in 1/2^20.
#define FIXED(x) ((int32_t)((x) * 1048576 + ((x) < 0 ? -0.5 : 0.5)))

static inline uint8_t clip(int32_t v) { return v < 0 ? 0 : v > 255 ? 255 : v; }

// lp_from_bgr fills a frame: BGR0 as it is, or Y, Cb, Cr of BT.601. A chroma
// sample is made of the mean of its pixels: across, two sited between them, or
// a quarter, a half, a quarter sited on the left one; down, two rows, or within
// a field three quarters and one (Recommendation ITU-T H.262, figure 6-2).
void lp_from_bgr(const uint8_t *bgr, AVFrame *to, int how)
{
	int w = to->width, h = to->height;
	if (to->format == AV_PIX_FMT_BGR0) {
		for (int y = 0; y < h; y++) {
			uint8_t *out = to->data[0] + (ptrdiff_t)y * to->linesize[0];
			for (int x = 0; x < w; x++, bgr += 3, out += 4) {
				out[0] = bgr[0];
				out[1] = bgr[1];
				out[2] = bgr[2];
				out[3] = 255;
			}
		}
		return;
	}
	const AVPixFmtDescriptor *desc = av_pix_fmt_desc_get(to->format);
	int sx = desc->log2_chroma_w, sy = desc->log2_chroma_h;
	double ly = how & LP_FULL ? 1 : 219. / 255, lc = how & LP_FULL ? 1 : 224. / 255;
	const int32_t yr = FIXED(0.299 * ly), yg = FIXED(0.587 * ly), yb = FIXED(0.114 * ly);
	const int32_t y0 = (how & LP_FULL ? 0 : 16 << 20) + (1 << 19);
	for (int y = 0; y < h; y++) {
		const uint8_t *row = bgr + (ptrdiff_t)y * w * 3;
		uint8_t *out = to->data[0] + (ptrdiff_t)y * to->linesize[0];
		for (int x = 0; x < w; x++)
			out[x] = (yr * row[3 * x + 2] + yg * row[3 * x + 1] + yb * row[3 * x] + y0) >> 20;
	}
	// Sums of 16 pixels: factors are a sixteenth, in 1/2^20.
	const int32_t br = FIXED(-0.299 / 1.772 * lc / 16), bg = FIXED(-0.587 / 1.772 * lc / 16), bb = FIXED(0.5 * lc / 16);
	const int32_t rr = FIXED(0.5 * lc / 16), rg = FIXED(-0.587 / 1.402 * lc / 16), rb = FIXED(-0.114 / 1.402 * lc / 16);
	const int32_t c0 = (128 << 20) + (1 << 19);
	int cw = AV_CEIL_RSHIFT(w, sx), ch = AV_CEIL_RSHIFT(h, sy);
	for (int j = 0; j < ch; j++) {
		int a = j, b = j, wa = 4, wb = 0;
		if (sy && how & LP_BY_FIELD) {
			a = 4 * (j / 2) + j % 2;
			b = a + 2;
			wa = j % 2 ? 1 : 3;
			wb = 4 - wa;
		} else if (sy) {
			a = 2 * j;
			b = a + 1;
			wa = wb = 2;
		}
		const uint8_t *ra = bgr + (ptrdiff_t)FFMIN(a, h - 1) * w * 3, *rw = bgr + (ptrdiff_t)FFMIN(b, h - 1) * w * 3;
		uint8_t *cb = to->data[1] + (ptrdiff_t)j * to->linesize[1], *cr = to->data[2] + (ptrdiff_t)j * to->linesize[2];
		for (int i = 0; i < cw; i++) {
			int x0 = i, x1 = i, x2 = i, w0 = 0, w1 = 4, w2 = 0;
			if (sx) {
				x0 = FFMAX(2 * i - 1, 0);
				x1 = 2 * i;
				x2 = FFMIN(2 * i + 1, w - 1);
				w0 = how & LP_BETWEEN ? 0 : 1;
				w1 = 2;
				w2 = how & LP_BETWEEN ? 2 : 1;
			}
			int32_t sum[3];
			for (int c = 0; c < 3; c++)
				sum[c] = wa * (w0 * ra[3 * x0 + c] + w1 * ra[3 * x1 + c] + w2 * ra[3 * x2 + c]) +
					wb * (w0 * rw[3 * x0 + c] + w1 * rw[3 * x1 + c] + w2 * rw[3 * x2 + c]);
			cb[i] = clip((bb * sum[0] + bg * sum[1] + br * sum[2] + c0) >> 20);
			cr[i] = clip((rb * sum[0] + rg * sum[1] + rr * sum[2] + c0) >> 20);
		}
	}
}

// lp_encoder_open makes an encoder. woven is 0, or 1 for top and 2 for bottom
// field first.
int lp_encoder_open(lp_encoder **out, const char *name, enum AVPixelFormat format, int how, int w, int h, AVRational period,
	int woven, AVDictionary **options)
{
	const AVCodec *codec = avcodec_find_encoder_by_name(name);
	lp_encoder *enc = av_mallocz(sizeof *enc);
	AVDictionaryEntry *quality = av_dict_get(*options, "jpeg", NULL, 0);
	int r = AVERROR(ENOMEM);

	*out = NULL;
	if (!enc)
		return r;
	r = AVERROR_ENCODER_NOT_FOUND;
	if (!codec)
		goto fail;
	r = AVERROR(ENOMEM);
	if (!(enc->ctx = avcodec_alloc_context3(codec)) || !(enc->frame = av_frame_alloc()) || !(enc->pkt = av_packet_alloc()))
		goto fail;
	enc->how = how;
	enc->ctx->width = w;
	enc->ctx->height = h;
	enc->ctx->pix_fmt = format;
	enc->ctx->time_base = period;
	enc->ctx->framerate = av_inv_q(period);
	enc->ctx->thread_count = 1; // the same pictures make the same bytes
	enc->ctx->flags |= AV_CODEC_FLAG_GLOBAL_HEADER;
	if (format != AV_PIX_FMT_BGR0) {
		enc->ctx->color_range = how & LP_FULL ? AVCOL_RANGE_JPEG : AVCOL_RANGE_MPEG;
		enc->ctx->colorspace = AVCOL_SPC_SMPTE170M;
	}
	if (woven) {
		enc->ctx->flags |= AV_CODEC_FLAG_INTERLACED_DCT;
		enc->ctx->field_order = woven == 1 ? AV_FIELD_TT : AV_FIELD_BB;
	}
	if (quality) {
		if ((r = lp_jpeg_tables(enc->ctx, atoi(quality->value))) < 0)
			goto fail;
		av_dict_set(options, "jpeg", NULL, 0);
	}
	if ((r = avcodec_open2(enc->ctx, codec, options)) < 0)
		goto fail;
	enc->frame->format = format;
	enc->frame->width = w;
	enc->frame->height = h;
	enc->frame->color_range = enc->ctx->color_range;
	enc->frame->colorspace = enc->ctx->colorspace;
	enc->frame->interlaced_frame = !!woven;
	enc->frame->top_field_first = woven == 1;
	enc->frame->quality = enc->ctx->global_quality;
	if ((r = av_frame_get_buffer(enc->frame, 0)) < 0)
		goto fail;
	*out = enc;
	return 0;
fail:
	lp_encoder_close(&enc);
	return r;
}

void lp_encoder_close(lp_encoder **p)
{
	if (!*p)
		return;
	avcodec_free_context(&(*p)->ctx);
	av_frame_free(&(*p)->frame);
	av_packet_free(&(*p)->pkt);
	av_freep(p);
}

// lp_encoder_send gives a picture, or NULL for the end.
int lp_encoder_send(lp_encoder *enc, const uint8_t *bgr, int64_t pts)
{
	int r;
	if (!bgr)
		return avcodec_send_frame(enc->ctx, NULL);
	if ((r = av_frame_make_writable(enc->frame)) < 0)
		return r;
	lp_from_bgr(bgr, enc->frame, enc->how);
	enc->frame->pts = pts;
	return avcodec_send_frame(enc->ctx, enc->frame);
}

int lp_encoder_receive(lp_encoder *enc)
{
	av_packet_unref(enc->pkt);
	return avcodec_receive_packet(enc->ctx, enc->pkt);
}

// The quantisation tables of Recommendation ITU-T T.81, tables K.1 and K.2.
static const uint8_t luma[64] = {
	16, 11, 10, 16, 24, 40, 51, 61, 12, 12, 14, 19, 26, 58, 60, 55,
	14, 13, 16, 24, 40, 57, 69, 56, 14, 17, 22, 29, 51, 87, 80, 62,
	18, 22, 37, 56, 68, 109, 103, 77, 24, 35, 55, 64, 81, 104, 113, 92,
	49, 64, 78, 87, 103, 121, 120, 101, 72, 92, 95, 98, 112, 100, 103, 99,
};
static const uint8_t chroma[64] = {
	17, 18, 24, 47, 99, 99, 99, 99, 18, 21, 26, 66, 99, 99, 99, 99,
	24, 26, 56, 99, 99, 99, 99, 99, 47, 66, 99, 99, 99, 99, 99, 99,
	99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99,
	99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99,
};

// lp_jpeg_tables makes a Motion JPEG encoder use the tables of a quality 1..100
// on libjpeg's scale: 50 is the tables above. The encoder multiplies a table by
// its scale and divides by 8, so the scale is 8; it takes 8 for the first number
// of each table.
int lp_jpeg_tables(AVCodecContext *ctx, int quality)
{
	int percent = quality < 50 ? 5000 / quality : 200 - 2 * quality;
	if (!(ctx->intra_matrix = av_malloc(64 * 2)) || !(ctx->chroma_intra_matrix = av_malloc(64 * 2)))
		return AVERROR(ENOMEM);
	for (int i = 0; i < 64; i++) {
		ctx->intra_matrix[i] = av_clip((luma[i] * percent + 50) / 100, 1, 255);
		ctx->chroma_intra_matrix[i] = av_clip((chroma[i] * percent + 50) / 100, 1, 255);
	}
	ctx->flags |= AV_CODEC_FLAG_QSCALE;
	ctx->qmin = ctx->qmax = 8;
	ctx->global_quality = 8 * FF_QP2LAMBDA;
	return 0;
}
