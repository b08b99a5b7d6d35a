package vision

import "bytes"

// container names the video container that starts with head, or is "" when
// head starts no video container known here. head should be the first 512
// bytes or more.
//
// Sources of the signatures: RFC 8794 and RFC 9559 (Matroska), ISO/IEC
// 14496-12 (MP4 and relatives), ISO/IEC 13818-1 (MPEG streams), RFC 3533
// (Ogg); the others as in the demuxers of FFmpeg 5.1.
func container(head []byte) string {
	at := func(offset int, sig string) bool {
		return len(head) >= offset && bytes.HasPrefix(head[offset:], []byte(sig))
	}
	switch {
	case at(0, "\x1a\x45\xdf\xa3"):
		return "Matroska"
	case at(4, "ftyp"), at(4, "moov"), at(4, "mdat"), at(4, "wide"), at(4, "free"), at(4, "skip"):
		return "MP4"
	case at(0, "RIFF") && at(8, "AVI "):
		return "AVI"
	case at(0, "OggS"):
		return "Ogg"
	case at(0, "FLV\x01"):
		return "FLV"
	case at(0, "\x30\x26\xb2\x75\x8e\x66\xcf\x11"):
		return "ASF"
	case at(0, "\x06\x0e\x2b\x34"):
		return "MXF"
	case at(0, "nut/multimedia container\x00"):
		return "NUT"
	case at(0, "YUV4MPEG2 "):
		return "YUV4MPEG"
	case at(0, "\x00\x00\x01\xba"):
		return "MPEG program stream"
	case at(0, "G") && at(188, "G") && at(376, "G"), at(4, "G") && at(196, "G") && at(388, "G"):
		return "MPEG transport stream"
	}
	return ""
}

// looksLike says in plain words what a file that is no video seems to be.
func looksLike(head []byte) string {
	for _, k := range []struct{ sig, name string }{
		{"\x89PNG\r\n\x1a\n", "a PNG picture"},
		{"\xff\xd8\xff", "a JPEG picture"},
		{"GIF8", "a GIF picture"},
		{"BM", "a BMP picture"},
		{"PK\x03\x04", "a ZIP archive"},
		{"\x1f\x8b", "gzip data"},
	} {
		if bytes.HasPrefix(head, []byte(k.sig)) {
			return "it is " + k.name
		}
	}
	for _, c := range head {
		if c < ' ' && c != '\n' && c != '\r' && c != '\t' {
			return "its first bytes are those of no video container"
		}
	}
	return "it is text"
}
