#include "libav.h"

#include <pthread.h>
#include <string.h>

#include <libavutil/imgutils.h>

// max_pixels bounds what a damaged header can make the decoder allocate:
// pictures of up to 8192x4096.
static const int64_t max_pixels = 1 << 25;

// The decoders that are open, so that a message can be traced to its packet.
static pthread_mutex_t open_lock = PTHREAD_MUTEX_INITIALIZER;
static lp_decoder *open_decoders[256];
static int loud;

// mark notes that packet k of a decoder of ours gave trouble.
static void mark(void *opaque, int64_t k)
{
	pthread_mutex_lock(&open_lock);
	for (int i = 0; opaque && i < 256; i++) {
		lp_decoder *dec = open_decoders[i];
		if (dec == opaque && k >= 0 && k < dec->packets)
			__atomic_store_n(&dec->bad[k], 1, __ATOMIC_RELEASE);
	}
	pthread_mutex_unlock(&open_lock);
}

static int enlist(lp_decoder *dec, lp_decoder *as)
{
	int found = 0;
	pthread_mutex_lock(&open_lock);
	for (int i = 0; i < 256 && !found; i++) {
		if (open_decoders[i] == dec) {
			open_decoders[i] = as;
			found = 1;
		}
	}
	pthread_mutex_unlock(&open_lock);
	return found;
}

// on_log hears what the library would print. Many decoders (Motion JPEG, FFV1)
// tell of broken data in no other way, and the error flags of a frame that
// H.264 decodes in another thread may come too late; a message comes in time,
// with the context of the thread, which carries the number of its packet.
static void on_log(void *from, int level, const char *format, va_list args)
{
	// "mmco": H.264 is told to forget a picture that it does not have. After a
	// jump that is so, and otherwise the lost picture itself is noted.
	if (from && (level & 0xff) <= AV_LOG_ERROR && *(const AVClass **)from == avcodec_get_class() && strncmp(format, "mmco", 4)) {
		AVCodecContext *ctx = from;
		mark(ctx->opaque, ctx->reordered_opaque);
	}
	if (loud)
		av_log_default_callback(from, level, format, args);
}

void lp_quiet(int verbose)
{
	loud = verbose;
	av_log_set_callback(on_log);
}

// lp_input_open opens a file in a known format and looks for a video track.
// Nothing but plain files is ever opened.
int lp_input_open(lp_input **out, const char *url, const char *format)
{
	const AVInputFormat *kind = av_find_input_format(format);
	lp_input *in = av_mallocz(sizeof *in);
	AVDictionary *options = NULL;
	int r = AVERROR(ENOMEM);

	*out = NULL;
	if (!in || !(in->fmt = avformat_alloc_context()))
		goto fail;
	r = AVERROR_DEMUXER_NOT_FOUND;
	if (!kind)
		goto fail;
	in->fmt->flags |= AVFMT_FLAG_GENPTS;
	av_dict_set(&options, "protocol_whitelist", "file", 0);
	if ((r = avformat_open_input(&in->fmt, url, kind, &options)) < 0)
		goto fail; // it has freed the context
	if ((r = avformat_find_stream_info(in->fmt, NULL)) < 0)
		goto fail;
	if ((r = av_find_best_stream(in->fmt, AVMEDIA_TYPE_VIDEO, -1, -1, NULL, 0)) < 0)
		goto fail;
	in->track = in->fmt->streams[r];
	r = AVERROR_STREAM_NOT_FOUND;
	if (in->track->disposition & AV_DISPOSITION_ATTACHED_PIC)
		goto fail;
	for (unsigned i = 0; i < in->fmt->nb_streams; i++)
		if (in->fmt->streams[i] != in->track)
			in->fmt->streams[i]->discard = AVDISCARD_ALL;
	av_dict_free(&options);
	*out = in;
	return 0;
fail:
	av_dict_free(&options);
	lp_input_close(&in);
	return r;
}

void lp_input_close(lp_input **in)
{
	if (*in && (*in)->fmt)
		avformat_close_input(&(*in)->fmt);
	av_freep(in);
}

// lp_input_read gives the next packet of the track. A fault in the middle is
// passed over when the demuxer can go on.
int lp_input_read(lp_input *in, AVPacket *pkt)
{
	for (;;) {
		int r = av_read_frame(in->fmt, pkt);
		if (r == AVERROR_EOF || (r < 0 && ++in->faults > 16))
			return AVERROR_EOF;
		if (r < 0)
			continue;
		if (pkt->stream_index == in->track->index) {
			in->faults = 0;
			return 0;
		}
		av_packet_unref(pkt);
	}
}

// disposable says whether the picture of an H.264 packet is used by no other:
// nal_ref_idc is 0, Recommendation ITU-T H.264 section 7.4.1.
static int disposable(const AVCodecParameters *par, const AVPacket *pkt)
{
	const uint8_t *p = pkt->data, *end = p + pkt->size;
	int type;

	if (par->codec_id != AV_CODEC_ID_H264)
		return 0;
	if (par->extradata_size > 6 && par->extradata[0] == 1) { // lengths before the units, ISO/IEC 14496-15
		int bytes = (par->extradata[4] & 3) + 1;
		while (end - p > bytes) {
			uint32_t n = 0;
			for (int i = 0; i < bytes; i++)
				n = n << 8 | *p++;
			type = *p & 31;
			if (type >= 1 && type <= 5)
				return (*p >> 5 & 3) == 0;
			if (n > (uint32_t)(end - p))
				return 0;
			p += n;
		}
		return 0;
	}
	for (; end - p > 3; p++) { // start codes, annex B
		if (p[0] || p[1] || p[2] != 1)
			continue;
		type = p[3] & 31;
		if (type >= 1 && type <= 5)
			return (p[3] >> 5 & 3) == 0;
	}
	return 0;
}

// hidden says whether a packet holds a picture that is never shown: VP8 keeps
// its alternative references in packets of their own, RFC 6386 section 9.1.
static int hidden(const AVCodecParameters *par, const AVPacket *pkt)
{
	return par->codec_id == AV_CODEC_ID_VP8 && pkt->size > 0 && !(pkt->data[0] & 0x10);
}

// lp_scan reads all packets.
int lp_scan(lp_input *in, lp_packet **out, int64_t *n)
{
	AVPacket *pkt = av_packet_alloc();
	size_t room = 0;
	int64_t last = AV_NOPTS_VALUE, step = 1;
	int r = 0;

	*out = NULL;
	*n = 0;
	if (!pkt)
		return AVERROR(ENOMEM);
	if (in->track->avg_frame_rate.num > 0 && in->track->avg_frame_rate.den > 0)
		step = FFMAX(1, av_rescale_q(1, av_inv_q(in->track->avg_frame_rate), in->track->time_base));
	while (lp_input_read(in, pkt) == 0) {
		lp_packet *p;
		if ((size_t)*n == room) {
			size_t more = room ? 2 * room : 1024;
			lp_packet *q = av_realloc_array(*out, more, sizeof *q);
			if (!q) {
				av_freep(out);
				r = AVERROR(ENOMEM);
				break;
			}
			*out = q;
			room = more;
		}
		p = &(*out)[(*n)++];
		p->pts = pkt->pts != AV_NOPTS_VALUE ? pkt->pts : pkt->dts;
		if (p->pts == AV_NOPTS_VALUE)
			p->pts = last == AV_NOPTS_VALUE ? 0 : last + step;
		last = p->pts;
		p->pos = pkt->pos;
		p->flags = (pkt->flags & AV_PKT_FLAG_KEY ? LP_KEY : 0) |
			(pkt->flags & AV_PKT_FLAG_DISCARD || hidden(in->track->codecpar, pkt) ? LP_DISCARD : 0) |
			(disposable(in->track->codecpar, pkt) ? LP_DISPOSABLE : 0);
		av_packet_unref(pkt);
	}
	av_packet_free(&pkt);
	return r;
}

int lp_input_seek(lp_input *in, int64_t pts)
{
	in->faults = 0;
	return av_seek_frame(in->fmt, in->track->index, pts, AVSEEK_FLAG_BACKWARD);
}

// lp_nanoseconds is the time from start to pts, rounded to nearest; what does
// not fit is the nearest that does.
int64_t lp_nanoseconds(int64_t pts, int64_t start, AVRational base)
{
	int64_t d;
	if (__builtin_sub_overflow(pts, start, &d))
		return pts < start ? INT64_MIN : INT64_MAX;
	AVRational ns = {1, 1000000000};
	int64_t t = av_rescale_q(d, base, ns);
	if (t == INT64_MIN) // av_rescale: does not fit
		return d < 0 ? INT64_MIN : INT64_MAX;
	return t;
}

// lp_decoder_open makes a decoder for packets that are read from in, which it
// does not own. delay is how many pictures come between the order of the file
// and that of showing.
int lp_decoder_open(lp_decoder **out, lp_input *in, int64_t packets, int delay, int threads)
{
	const AVCodec *codec = avcodec_find_decoder(in->track->codecpar->codec_id);
	lp_decoder *dec = av_mallocz(sizeof *dec);
	int r = AVERROR(ENOMEM);

	*out = NULL;
	av_log_set_callback(on_log); // another library of the program may have taken it
	if (!dec || !(dec->bad = av_mallocz(packets + 1)) || !(dec->pkt = av_packet_alloc()))
		goto fail;
	dec->in = in;
	dec->packets = packets;
	r = AVERROR_DECODER_NOT_FOUND;
	if (!codec)
		goto fail;
	r = AVERROR(ENOMEM);
	if (!(dec->ctx = avcodec_alloc_context3(codec)))
		goto fail;
	if ((r = avcodec_parameters_to_context(dec->ctx, in->track->codecpar)) < 0)
		goto fail;
	dec->ctx->opaque = dec;
	dec->ctx->reordered_opaque = -1;
	dec->ctx->thread_count = threads;
	dec->ctx->thread_type = FF_THREAD_FRAME | FF_THREAD_SLICE; // by frames where the codec can
	dec->ctx->flags |= AV_CODEC_FLAG_OUTPUT_CORRUPT;
	dec->ctx->err_recognition |= AV_EF_CRCCHECK;
	dec->ctx->max_pixels = max_pixels;
	if (delay > dec->ctx->has_b_frames)
		dec->ctx->has_b_frames = FFMIN(delay, 16);
	r = AVERROR(EMFILE);
	if (!enlist(NULL, dec))
		goto fail;
	if ((r = avcodec_open2(dec->ctx, codec, NULL)) < 0)
		goto fail;
	*out = dec;
	return 0;
fail:
	lp_decoder_close(&dec);
	return r;
}

void lp_decoder_close(lp_decoder **p)
{
	lp_decoder *dec = *p;
	if (!dec)
		return;
	avcodec_free_context(&dec->ctx);
	enlist(dec, NULL);
	av_packet_free(&dec->pkt);
	av_freep(&dec->bad);
	av_freep(p);
}

// lp_decoder_step gives a frame, whose pts is the number of its packet; or
// AVERROR(EAGAIN) after giving the decoder one packet more; or AVERROR_EOF.
int lp_decoder_step(lp_decoder *dec, AVFrame *frame)
{
	int r = avcodec_receive_frame(dec->ctx, frame);
	if (r == 0 || r == AVERROR_EOF) {
		dec->faults = 0;
		return r;
	}
	if (dec->draining || r != AVERROR(EAGAIN)) // a packet that cannot be decoded; others may follow
		return ++dec->faults > 256 ? AVERROR_EOF : AVERROR(EAGAIN);
	if (dec->fed >= dec->packets || (!dec->held && lp_input_read(dec->in, dec->pkt) < 0)) {
		dec->draining = 1;
		dec->ctx->reordered_opaque = -1;
		avcodec_send_packet(dec->ctx, NULL);
		return AVERROR(EAGAIN);
	}
	int64_t k = dec->fed++;
	dec->held = 0;
	if (dec->pkt->flags & AV_PKT_FLAG_CORRUPT)
		lp_decoder_mark(dec, k, k + 1, 1);
	// The decoder gives the time of a packet to its frame and looks at it in
	// no other way, so the number of the packet can take its place.
	dec->pkt->pts = dec->pkt->dts = k;
	dec->ctx->reordered_opaque = k;
	dec->faults = 0;
	avcodec_send_packet(dec->ctx, dec->pkt); // what fails gives no frame
	av_packet_unref(dec->pkt);
	return AVERROR(EAGAIN);
}

// lp_decoder_skip passes over one packet.
int lp_decoder_skip(lp_decoder *dec)
{
	int r = lp_input_read(dec->in, dec->pkt);
	if (r == 0)
		dec->fed++;
	av_packet_unref(dec->pkt);
	return r;
}

void lp_decoder_flush(lp_decoder *dec)
{
	avcodec_flush_buffers(dec->ctx);
	if (dec->held)
		av_packet_unref(dec->pkt);
	dec->held = dec->draining = dec->faults = 0;
}

int lp_decoder_bad(lp_decoder *dec, int64_t k)
{
	return __atomic_load_n(&dec->bad[k], __ATOMIC_ACQUIRE);
}

void lp_decoder_mark(lp_decoder *dec, int64_t k, int64_t to, int bad)
{
	for (; k < to; k++)
		__atomic_store_n(&dec->bad[k], bad, __ATOMIC_RELEASE);
}

// lp_same compares formats, sizes and all bytes of all planes.
int lp_same(const AVFrame *a, const AVFrame *b)
{
	const AVPixFmtDescriptor *desc = av_pix_fmt_desc_get(a->format);
	int planes = av_pix_fmt_count_planes(a->format);

	if (!desc || a->format != b->format || a->width != b->width || a->height != b->height)
		return 0;
	for (int i = 0; i < planes; i++) {
		int bytes = av_image_get_linesize(a->format, a->width, i);
		int rows = i == 1 || i == 2 ? AV_CEIL_RSHIFT(a->height, desc->log2_chroma_h) : a->height;
		if (desc->flags & AV_PIX_FMT_FLAG_PAL && i == 1) {
			if (memcmp(a->data[1], b->data[1], AVPALETTE_SIZE))
				return 0;
			continue;
		}
		for (int y = 0; y < rows; y++)
			if (memcmp(a->data[i] + (int64_t)y * a->linesize[i], b->data[i] + (int64_t)y * b->linesize[i], bytes))
				return 0;
	}
	return 1;
}
