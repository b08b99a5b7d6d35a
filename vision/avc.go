package vision

import (
	"encoding/binary"
	"errors"
)

// avcRecord makes the decoder configuration record of ISO/IEC 14496-15 section
// 5.3.3.1 from parameter sets with lengths of four bytes before them.
func avcRecord(units []byte) ([]byte, error) {
	var sps, pps []byte
	for len(units) > 4 {
		n := binary.BigEndian.Uint32(units)
		if n == 0 || int64(n) > int64(len(units)-4) || n > 0xffff {
			return nil, errors.New("parameter sets are not whole")
		}
		unit := units[4 : 4+n]
		switch unit[0] & 31 {
		case 7:
			sps = unit
		case 8:
			pps = unit
		}
		units = units[4+n:]
	}
	if len(sps) < 4 || pps == nil {
		return nil, errors.New("parameter sets are missing")
	}
	r := []byte{1, sps[1], sps[2], sps[3], 0xff, 0xe1} // lengths of four bytes, one set of the sequence
	r = binary.BigEndian.AppendUint16(r, uint16(len(sps)))
	r = append(r, sps...)
	r = append(r, 1) // one set of the pictures
	r = binary.BigEndian.AppendUint16(r, uint16(len(pps)))
	r = append(r, pps...)
	if sps[1] == 66 || sps[1] == 77 || sps[1] == 88 {
		return r, nil
	}
	// High profiles say chroma and bit depth again; 8 bits here.
	chroma, err := chromaIDC(sps)
	if err != nil {
		return nil, err
	}
	return append(r, 0xfc|chroma, 0xf8, 0xf8, 0), nil
}

// chromaIDC reads chroma_format_idc, which follows seq_parameter_set_id in high
// profiles, Recommendation ITU-T H.264 section 7.3.2.1.1.
func chromaIDC(sps []byte) (byte, error) {
	b := bits{src: sps[4:]}
	b.golomb()
	v := b.golomb()
	if v > 3 {
		return 0, errors.New("unknown kind of chroma")
	}
	return byte(v), nil
}

// bits are read from the front.
type bits struct {
	src []byte
	at  int
}

// next gives a bit. Past the end there are zeros.
func (b *bits) next() uint {
	i := b.at
	b.at++
	if i/8 >= len(b.src) {
		return 0
	}
	return uint(b.src[i/8]>>(7-i%8)) & 1
}

// golomb reads an unsigned Exp-Golomb number, section 9.1.
func (b *bits) golomb() uint {
	zeros := 0
	for zeros < 32 && b.next() == 0 {
		zeros++
	}
	v := uint(1)
	for range zeros {
		v = v<<1 | b.next()
	}
	return v - 1
}
