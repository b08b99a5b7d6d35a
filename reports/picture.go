package reports

import (
	"bytes"
	"encoding/base64"
	"fmt"
	"html/template"
	"image"
	_ "image/jpeg" // a card's own pictures
	"image/png"
)

// Bounds of what a page embeds, so that a hundred repeats still make a page
// that opens.
const (
	maxPictures  = 240        // pictures in all
	maxBytes     = 3300 << 10 // of their encoded bytes
	maxTroubled  = 16         // results with a picture per checkpoint that did not pass
	maxTemplates = 6          // per checkpoint
	maxParted    = 12         // divergences shown in full per spec
)

// outlineGap is how far from a place its outline is drawn, in pixels of the
// raster, so that the outline hides none of it.
const outlineGap = 3

// maxSide is the longest side of a picture that is decoded, in pixels.
const maxSide = 4096

// budget counts what is embedded and what is left out.
type budget struct{ pictures, bytes, left int }

// take says whether a picture may still be embedded.
func (b *budget) take(p *Picture) bool {
	if p == nil {
		return false
	}
	if b.pictures >= maxPictures || b.bytes+len(p.Data) > maxBytes {
		b.left++
		return false
	}
	b.pictures++
	b.bytes += len(p.Data)
	return true
}

// shown is a picture as the page has it. W and H are its pixels, Scale the
// whole number of page pixels that each of them takes on a wide window.
type shown struct {
	URI         template.URL
	Alt         string
	W, H, Scale int
	Box         *[4]int // place to outline
	Outline     string  // path around Box, clear of its pixels
	Close       *shown  // the place, cut out and larger
}

// show prepares a picture; wide is how many page pixels it may take. It is nil
// when the data are not a PNG or JPEG picture: what the type says is not
// trusted.
func show(p *Picture, wide int) *shown {
	if p == nil {
		return nil
	}
	cfg, format, err := image.DecodeConfig(bytes.NewReader(p.Data))
	if err != nil || cfg.Width < 1 || cfg.Height < 1 || cfg.Width > maxSide || cfg.Height > maxSide {
		return nil
	}
	s := &shown{
		URI: uri(format, p.Data), Alt: named(p.Alt, 300).Short,
		W: cfg.Width, H: cfg.Height, Scale: scale(wide, cfg.Width, cfg.Height),
	}
	if s.Alt == "" {
		s.Alt = "a picture"
	}
	if p.Box != nil {
		box := image.Rect(p.Box[0], p.Box[1], p.Box[0]+p.Box[2], p.Box[1]+p.Box[3]).Intersect(image.Rect(0, 0, s.W, s.H))
		if !box.Empty() {
			s.Box = &[4]int{box.Min.X, box.Min.Y, box.Dx(), box.Dy()}
			out := box.Inset(-outlineGap)
			s.Outline = fmt.Sprintf("M%d %dh%dv%dh%dz", out.Min.X, out.Min.Y, out.Dx(), out.Dy(), -out.Dx())
			s.Alt += "; outlined: " + place(*s.Box)
		}
	}
	return s
}

// uri has nothing in it that ends an attribute: base64 and one of two types.
func uri(format string, data []byte) template.URL {
	kind := "image/png"
	if format == "jpeg" {
		kind = "image/jpeg"
	}
	return template.URL("data:" + kind + ";base64," + base64.StdEncoding.EncodeToString(data))
}

// scale is the largest whole factor, at most 8, with which a picture fits.
func scale(wide, w, h int) int { return max(1, min(8, wide/max(w, h*4/5))) }

// place says a rectangle on the raster in words.
func place(b [4]int) string {
	return fmt.Sprintf("%d × %d pixels at (%d, %d)", b[2], b[3], b[0], b[1])
}

// Sides of what is worth a close-up, in pixels of the raster.
const (
	closeMargin = 8
	closeMost   = 96
)

// closeUp cuts the outlined place and a margin out of a picture. It is nil when
// the place is so large that a close-up shows nothing new, or the picture
// cannot be decoded.
func closeUp(p *Picture, box [4]int, wide int) *shown {
	at := image.Rect(box[0], box[1], box[0]+box[2], box[1]+box[3]).Inset(-closeMargin)
	img, _, err := image.Decode(bytes.NewReader(p.Data))
	if err != nil {
		return nil
	}
	at = at.Add(img.Bounds().Min).Intersect(img.Bounds())
	part, ok := img.(interface {
		SubImage(image.Rectangle) image.Image
	})
	if !ok || at.Empty() || at.Dx() > closeMost || at.Dy() > closeMost {
		return nil
	}
	var b bytes.Buffer
	if err := png.Encode(&b, part.SubImage(at)); err != nil {
		return nil
	}
	return show(&Picture{Data: b.Bytes(), Alt: "Close-up: " + p.Alt}, wide)
}
