package checks

import (
	"bytes"
	"fmt"

	"latchproof/specs"
	"latchproof/vision"
	"latchproof/vision/screen"
)

// readPicture reads a PNG from the spec's folder. fits is asked about the size
// before a pixel is decoded, so that a small file cannot ask for much memory.
func readPicture(folder specs.Folder, name string, fits func(w, h int) error) (pic *screen.Screen, alpha []byte, err error) {
	src, err := folder.Read(name, maxTemplatePNG)
	if err != nil {
		return nil, nil, err
	}
	w, h, err := screen.SizePNG(src)
	if err != nil {
		return nil, nil, err
	}
	if err := fits(w, h); err != nil {
		return nil, nil, err
	}
	return screen.ReadPNG(bytes.NewReader(src))
}

// onto is fits for what must lie on a screen of w by h pixels.
func onto(w, h int) func(int, int) error {
	return func(width, height int) error {
		if width > w || height > h {
			return fmt.Errorf("%w: %dx%d on %dx%d", vision.ErrTooLarge, width, height, w, h)
		}
		return nil
	}
}

// readTemplate reads a PNG of at most w by h pixels as a template.
func readTemplate(folder specs.Folder, name string, w, h int) (*vision.Template, error) {
	pic, alpha, err := readPicture(folder, name, onto(w, h))
	if err != nil {
		return nil, err
	}
	return vision.NewTemplate(pic, alpha)
}
