package vision

import (
	"image"
	"math"

	"gocv.io/x/gocv"

	"latchproof/vision/screen"
)

// searchMargin is how far a score of search may be from the exact one
// (search_test.go measures it). Scores are computed again exactly for all
// places that could be the best within it.
const searchMargin = 0.002

// search computes the scores of all places with OpenCV.
func (t *Template) search(s *screen.Screen, at image.Rectangle) ([]float64, error) {
	pic, err := gocv.NewMatFromBytes(s.H, s.W, gocv.MatTypeCV8UC1, s.Y)
	if err != nil {
		return nil, err
	}
	defer pic.Close()
	part := pic.Region(image.Rectangle{Min: at.Min, Max: at.Max.Add(image.Pt(t.w-1, t.h-1))})
	defer part.Close()
	if t.mask != nil {
		return t.searchMasked(part)
	}
	tpl, err := gocv.NewMatFromBytes(t.h, t.w, gocv.MatTypeCV8UC1, t.luma)
	if err != nil {
		return nil, err
	}
	defer tpl.Close()
	return correlate(part, tpl, gocv.TmCcoeffNormed)
}

// searchMasked puts the score together from three plain correlations. OpenCV's
// own masked score subtracts large rounded sums, and over a flat patch what is
// left is noise divided by noise; here the sums over the picture are whole
// numbers that survive rounding, for up to 1024 used pixels exactly, and a
// flat patch is seen to be flat.
func (t *Template) searchMasked(part gocv.Mat) ([]float64, error) {
	// Levels around zero keep the squares small: at most 128² each.
	pic := gocv.NewMat()
	defer pic.Close()
	part.ConvertToWithParams(&pic, gocv.MatTypeCV32FC1, 1, -128)
	squares := gocv.NewMat()
	defer squares.Close()
	gocv.Multiply(pic, pic, &squares)

	mask := make([]float32, len(t.mask))
	shape := make([]float32, len(t.mask)) // the template with mean zero under the mask
	mean := float64(t.sum) / float64(t.n)
	for i, m := range t.mask {
		if m == 1 {
			mask[i], shape[i] = 1, float32(float64(t.luma[i])-mean)
		}
	}
	maskMat, err := matOfFloats(t.h, t.w, mask)
	if err != nil {
		return nil, err
	}
	defer maskMat.Close()
	shapeMat, err := matOfFloats(t.h, t.w, shape)
	if err != nil {
		return nil, err
	}
	defer shapeMat.Close()

	product, err := correlate(pic, shapeMat, gocv.TmCcorr)
	if err != nil {
		return nil, err
	}
	sum, err := correlate(pic, maskMat, gocv.TmCcorr)
	if err != nil {
		return nil, err
	}
	square, err := correlate(squares, maskMat, gocv.TmCcorr)
	if err != nil {
		return nil, err
	}
	n := float64(t.n)
	for i := range product {
		si := math.Round(sum[i])
		variance := n*math.Round(square[i]) - si*si
		if variance <= 0 {
			product[i] = 0
			continue
		}
		// product·n is the numerator of the score.
		r := product[i] * n / math.Sqrt(float64(t.variance)*variance)
		product[i] = min(max(r, -1), 1)
	}
	return product, nil
}

// correlate runs OpenCV's search. What is not a number over a flat patch
// becomes 0.
func correlate(pic, tpl gocv.Mat, method gocv.TemplateMatchMode) ([]float64, error) {
	none, out := gocv.NewMat(), gocv.NewMat()
	defer none.Close()
	defer out.Close()
	gocv.MatchTemplate(pic, tpl, &out, method, none)
	raw, err := out.DataPtrFloat32()
	if err != nil {
		return nil, err
	}
	scores := make([]float64, len(raw))
	for i, v := range raw {
		x := float64(v)
		if math.IsNaN(x) || math.IsInf(x, 0) {
			x = 0
		}
		scores[i] = x
	}
	return scores, nil
}

func matOfFloats(rows, cols int, v []float32) (gocv.Mat, error) {
	m := gocv.NewMatWithSize(rows, cols, gocv.MatTypeCV32FC1)
	p, err := m.DataPtrFloat32()
	if err != nil {
		m.Close()
		return gocv.Mat{}, err
	}
	copy(p, v)
	return m, nil
}
