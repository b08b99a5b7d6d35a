package main

import (
	"fmt"
	"image"
	"strconv"
	"strings"
)

// parseRect reads x,y,w,h.
func parseRect(s string) (image.Rectangle, error) {
	parts := strings.Split(s, ",")
	var v [4]int
	bad := len(parts) != 4
	for i := 0; i < len(parts) && i < 4; i++ {
		n, err := strconv.Atoi(strings.TrimSpace(parts[i]))
		if err != nil || n < 0 || n > 1<<16 {
			bad = true
		}
		v[i] = n
	}
	if bad || v[2] == 0 || v[3] == 0 {
		return image.Rectangle{}, usageError{fmt.Errorf("%q is not x,y,w,h in whole pixels with a width and a height", s)}
	}
	return image.Rect(v[0], v[1], v[0]+v[2], v[1]+v[3]), nil
}
