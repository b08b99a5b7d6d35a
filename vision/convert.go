package vision

// #include "resample.h"
// #include <libswscale/swscale.h>
import "C"

import "fmt"

// converters are FFmpeg's colour converters that nobody uses just now. Making
// one takes longer than using it.
var converters = make(chan *C.struct_SwsContext, 4)

func takeConverter() *C.struct_SwsContext {
	select {
	case c := <-converters:
		return c
	default:
		return nil
	}
}

func giveConverter(c *C.struct_SwsContext) {
	if c == nil {
		return
	}
	select {
	case converters <- c:
	default:
		C.sws_freeContext(c)
	}
}

// Image sets dst to the picture in B, G, R, by FFmpeg's converter with the
// matrix and range that the stream says (BT.601 and limited when it does not).
// It gives ErrNoPicture when there are no pixels.
func (p *Picture) Image(dst *Image) error {
	if p.frame == nil {
		return ErrNoPicture
	}
	if err := dst.resize(p.size.X, p.size.Y); err != nil {
		return err
	}
	bgr := dst.Bytes()
	c := takeConverter()
	r := C.lp_to_bgr(p.frame, (*C.uint8_t)(&bgr[0]), &c)
	giveConverter(c)
	if r < 0 {
		return fmt.Errorf("picture cannot be converted: %w", errLibrary(r))
	}
	return nil
}
