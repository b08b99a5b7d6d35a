#include "resample.h"

#include <libavutil/opt.h>
#include <libswscale/swscale.h>

static int is_full(const AVFrame *f, const AVPixFmtDescriptor *desc)
{
	switch (f->format) {
	case AV_PIX_FMT_YUVJ411P: case AV_PIX_FMT_YUVJ420P: case AV_PIX_FMT_YUVJ422P: case AV_PIX_FMT_YUVJ440P: case AV_PIX_FMT_YUVJ444P:
		return 1;
	}
	if (desc->flags & AV_PIX_FMT_FLAG_RGB)
		return 1;
	if (desc->nb_components < 3)
		return f->color_range != AVCOL_RANGE_MPEG;
	return f->color_range == AVCOL_RANGE_JPEG;
}

// lp_layout_of finds the components of a frame of 8-bit samples; 0 means that
// the frame is of another kind.
int lp_layout_of(const AVFrame *f, lp_layout *out)
{
	const AVPixFmtDescriptor *desc = av_pix_fmt_desc_get(f->format);
	const uint64_t other = AV_PIX_FMT_FLAG_HWACCEL | AV_PIX_FMT_FLAG_BITSTREAM | AV_PIX_FMT_FLAG_PAL |
		AV_PIX_FMT_FLAG_BAYER | AV_PIX_FMT_FLAG_FLOAT;

	if (!desc || desc->flags & other || f->width < 1 || f->height < 1)
		return 0;
	out->planes = desc->nb_components < 3 ? 1 : 3;
	out->rgb = !!(desc->flags & AV_PIX_FMT_FLAG_RGB);
	out->shift_x = desc->log2_chroma_w;
	out->shift_y = desc->log2_chroma_h;
	out->full = is_full(f, desc);
	for (int i = 0; i < out->planes; i++) {
		const AVComponentDescriptor *c = &desc->comp[i];
		int chroma = i > 0 && !out->rgb;
		if (c->depth != 8 || c->shift != 0)
			return 0;
		out->plane[i] = (lp_plane){
			.data = f->data[c->plane] + c->offset, .stride = f->linesize[c->plane], .step = c->step,
			.w = chroma ? AV_CEIL_RSHIFT(f->width, out->shift_x) : f->width,
			.h = chroma ? AV_CEIL_RSHIFT(f->height, out->shift_y) : f->height,
		};
	}
	return 1;
}

// prepare sets up the converter for frames like f.
static int prepare(const AVFrame *f, enum AVPixelFormat to, int to_full, int flags, struct SwsContext **sws)
{
	const AVPixFmtDescriptor *desc = av_pix_fmt_desc_get(f->format);
	*sws = sws_getCachedContext(*sws, f->width, f->height, f->format, f->width, f->height, to,
		flags, NULL, NULL, NULL);
	if (!*sws || !desc)
		return AVERROR(EINVAL);
	const int *matrix = sws_getCoefficients(f->colorspace);
	// -1: this pair of formats has nothing to set.
	sws_setColorspaceDetails(*sws, matrix, is_full(f, desc), matrix, to_full, 0, 1 << 16, 1 << 16);
	return 0;
}

// lp_simplify converts a frame of more than 8 bits, or of another odd kind, to
// 8 bits a sample with the same range, matrix and, mostly, sampling.
int lp_simplify(const AVFrame *f, AVFrame *out, struct SwsContext **sws)
{
	const AVPixFmtDescriptor *desc = av_pix_fmt_desc_get(f->format);
	enum AVPixelFormat to = AV_PIX_FMT_YUV444P;
	int r;

	if (!desc || !sws_isSupportedInput(f->format))
		return AVERROR(ENOSYS);
	if (desc->flags & (AV_PIX_FMT_FLAG_RGB | AV_PIX_FMT_FLAG_PAL | AV_PIX_FMT_FLAG_BAYER) || f->format == AV_PIX_FMT_XYZ12LE || f->format == AV_PIX_FMT_XYZ12BE)
		to = AV_PIX_FMT_BGR24;
	else if (desc->nb_components < 3)
		to = AV_PIX_FMT_GRAY8;
	else if (desc->log2_chroma_w == 1 && desc->log2_chroma_h == 1)
		to = AV_PIX_FMT_YUV420P;
	else if (desc->log2_chroma_w == 1 && desc->log2_chroma_h == 0)
		to = AV_PIX_FMT_YUV422P;
	if (out->format != to || out->width != f->width || out->height != f->height) {
		av_frame_unref(out);
		out->format = to;
		out->width = f->width;
		out->height = f->height;
		if ((r = av_frame_get_buffer(out, 0)) < 0)
			return r;
	}
	out->colorspace = f->colorspace;
	out->color_range = is_full(f, desc) ? AVCOL_RANGE_JPEG : AVCOL_RANGE_MPEG;
	out->chroma_location = f->chroma_location;
	out->interlaced_frame = f->interlaced_frame;
	out->top_field_first = f->top_field_first;
	if ((r = prepare(f, to, out->color_range == AVCOL_RANGE_JPEG,
		SWS_BILINEAR | SWS_ACCURATE_RND | SWS_FULL_CHR_H_INT | SWS_FULL_CHR_H_INP | SWS_BITEXACT, sws)) < 0)
		return r;
	r = sws_scale(*sws, (const uint8_t *const *)f->data, f->linesize, 0, f->height, out->data, out->linesize);
	return r < 0 ? r : 0;
}

// lp_to_bgr converts to width*height*3 bytes, by the fast way: the exact one
// takes ten times as long, and this is for people to look at.
int lp_to_bgr(const AVFrame *f, uint8_t *bgr, struct SwsContext **sws)
{
	int r = prepare(f, AV_PIX_FMT_BGR24, 1, SWS_BICUBIC, sws);
	uint8_t *const to[4] = {bgr};
	const int stride[4] = {3 * f->width};
	if (r < 0)
		return r;
	r = sws_scale(*sws, (const uint8_t *const *)f->data, f->linesize, 0, f->height, to, stride);
	return r < 0 ? r : 0;
}
