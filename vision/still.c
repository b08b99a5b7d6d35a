#include "still.h"

#include <string.h>

#include <libavutil/imgutils.h>

// lp_still_open makes a decoder for a codec, or, with AV_CODEC_ID_NONE, one
// for pictures of a pixel format with rows and planes without gaps.
int lp_still_open(lp_still **out, enum AVCodecID codec, enum AVPixelFormat format, int w, int h)
{
	lp_still *still = av_mallocz(sizeof *still);
	int r = AVERROR(ENOMEM);

	*out = NULL;
	if (!still)
		return r;
	still->format = format;
	still->w = w;
	still->h = h;
	if (codec != AV_CODEC_ID_NONE) {
		if (!(still->in.fmt = avformat_alloc_context()) || !(still->in.track = avformat_new_stream(still->in.fmt, NULL)))
			goto fail;
		still->in.track->codecpar->codec_type = AVMEDIA_TYPE_VIDEO;
		still->in.track->codecpar->codec_id = codec;
		if ((r = lp_decoder_open(&still->dec, &still->in, 1, 0, 1)) < 0)
			goto fail;
		still->dec->ctx->reordered_opaque = 0;
	}
	*out = still;
	return 0;
fail:
	lp_still_close(&still);
	return r;
}

void lp_still_close(lp_still **p)
{
	if (!*p)
		return;
	lp_decoder_close(&(*p)->dec);
	avformat_free_context((*p)->in.fmt);
	av_freep(p);
}

// lp_still_decode makes a frame of the bytes of one picture. bad says that the
// decoder complained about them.
int lp_still_decode(lp_still *still, const uint8_t *data, int size, AVFrame *frame, int *bad)
{
	int r;

	*bad = 0;
	if (!still->dec) {
		if (size != lp_raw_size(still->format, still->w, still->h))
			return AVERROR(EINVAL);
		frame->format = still->format;
		frame->width = still->w;
		frame->height = still->h;
		if ((r = av_frame_get_buffer(frame, 0)) < 0)
			return r;
		return lp_raw_planes(data, still->format, frame);
	}
	AVCodecContext *ctx = still->dec->ctx;
	AVPacket *pkt = still->dec->pkt;
	lp_decoder_mark(still->dec, 0, 1, 0);
	if ((r = av_new_packet(pkt, size)) < 0)
		return r;
	memcpy(pkt->data, data, size);
	pkt->pts = pkt->dts = 0;
	r = avcodec_send_packet(ctx, pkt);
	av_packet_unref(pkt);
	if (r >= 0)
		r = avcodec_receive_frame(ctx, frame);
	*bad = r < 0 || lp_decoder_bad(still->dec, 0) || frame->decode_error_flags || frame->flags & AV_FRAME_FLAG_CORRUPT;
	return r;
}

// lp_raw_size is how many bytes a picture without gaps has; negative for a
// size or format that is none.
int lp_raw_size(enum AVPixelFormat format, int w, int h) { return av_image_get_buffer_size(format, w, h, 1); }

// lp_raw_planes copies a picture of YUYV, NV12 or any format of the frame's own
// into a frame: of the same format, or for YUYV 4:2:2 planar, for NV12 4:2:0
// planar. Samples are moved, never changed.
int lp_raw_planes(const uint8_t *data, enum AVPixelFormat format, AVFrame *to)
{
	int w = to->width, h = to->height;
	if (to->format == (int)format) {
		uint8_t *src[4];
		int stride[4], r;
		if ((r = av_image_fill_arrays(src, stride, data, format, w, h, 1)) < 0)
			return r;
		av_image_copy(to->data, to->linesize, (const uint8_t **)src, stride, format, w, h);
		return 0;
	}
	if (format == AV_PIX_FMT_YUYV422 && to->format == AV_PIX_FMT_YUV422P) {
		for (int y = 0; y < h; y++, data += 2 * w) {
			uint8_t *l = to->data[0] + (ptrdiff_t)y * to->linesize[0];
			uint8_t *b = to->data[1] + (ptrdiff_t)y * to->linesize[1], *r = to->data[2] + (ptrdiff_t)y * to->linesize[2];
			for (int x = 0; x < w / 2; x++) {
				l[2 * x] = data[4 * x];
				b[x] = data[4 * x + 1];
				l[2 * x + 1] = data[4 * x + 2];
				r[x] = data[4 * x + 3];
			}
		}
		return 0;
	}
	if (format == AV_PIX_FMT_NV12 && to->format == AV_PIX_FMT_YUV420P) {
		for (int y = 0; y < h; y++, data += w)
			memcpy(to->data[0] + (ptrdiff_t)y * to->linesize[0], data, w);
		for (int y = 0; y < h / 2; y++, data += w) {
			uint8_t *b = to->data[1] + (ptrdiff_t)y * to->linesize[1], *r = to->data[2] + (ptrdiff_t)y * to->linesize[2];
			for (int x = 0; x < w / 2; x++) {
				b[x] = data[2 * x];
				r[x] = data[2 * x + 1];
			}
		}
		return 0;
	}
	return AVERROR(ENOSYS);
}
