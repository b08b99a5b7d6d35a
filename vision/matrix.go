package vision

// #include "libav.h"
import "C"

import "math"

// The weights of red and blue in luma.
var lumaWeights = map[C.int][2]float64{
	C.AVCOL_SPC_BT709:      {0.2126, 0.0722}, // Recommendation ITU-R BT.709
	C.AVCOL_SPC_FCC:        {0.30, 0.11},     // 47 CFR 73.682
	C.AVCOL_SPC_SMPTE240M:  {0.212, 0.087},   // SMPTE 240M
	C.AVCOL_SPC_BT2020_NCL: {0.2627, 0.0593}, // Recommendation ITU-R BT.2020
	C.AVCOL_SPC_BT2020_CL:  {0.2627, 0.0593},
}

// bt601 are those of the raster, Recommendation ITU-R BT.601, and of streams
// that do not say.
var bt601 = [2]float64{0.299, 0.114}

// colour works out the matrix from the planes to full range BT.601.
func (k *kernel) colour() {
	const one = 256
	var m [9]float64
	switch {
	case k.rgb: // R, G, B
		m = toYCbCr(bt601)
		k.to = [3]int32{0, 128 * one, 128 * one}
	default:
		k.from, k.to = [3]int32{0, 128 * one, 128 * one}, [3]int32{0, 128 * one, 128 * one}
		weights, other := lumaWeights[k.key.matrix]
		m = [9]float64{0: 1, 4: 1, 8: 1}
		if other {
			m = times(toYCbCr(bt601), toRGB(weights))
		}
		if !k.key.full { // 219 steps of luma, 224 of colour difference, BT.601 section 2.5
			k.from[0] = 16 * one
			for i := range 3 {
				m[3*i] *= 255. / 219
				m[3*i+1] *= 255. / 224
				m[3*i+2] *= 255. / 224
			}
		}
	}
	if k.planes == 1 {
		m = [9]float64{0: m[0]}
	}
	for i, v := range m {
		k.matrix[i] = int32(math.Round(v * 16384))
	}
}

// toYCbCr is the matrix from R, G, B to full range Y, Cb−128, Cr−128.
func toYCbCr(w [2]float64) [9]float64 {
	r, b := w[0], w[1]
	g := 1 - r - b
	u, v := 0.5/(1-b), 0.5/(1-r)
	return [9]float64{
		r, g, b,
		-r * u, -g * u, (1 - b) * u,
		(1 - r) * v, -g * v, -b * v,
	}
}

// toRGB is its inverse.
func toRGB(w [2]float64) [9]float64 {
	r, b := w[0], w[1]
	g := 1 - r - b
	return [9]float64{
		1, 0, 2 * (1 - r),
		1, -2 * b * (1 - b) / g, -2 * r * (1 - r) / g,
		1, 2 * (1 - b), 0,
	}
}

// times multiplies 3x3 matrices.
func times(a, b [9]float64) (c [9]float64) {
	for i := range 3 {
		for j := range 3 {
			for k := range 3 {
				c[3*i+j] += a[3*i+k] * b[3*k+j]
			}
		}
	}
	return c
}
