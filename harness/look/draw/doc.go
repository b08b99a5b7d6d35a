// Package draw makes pictures for people out of screens: one screen enlarged, with
// a pixel grid and coordinates, and contact sheets of many.
//
// # Pixels
//
// Screens are enlarged by whole factors only, and every pixel becomes a square of
// scale x scale pixels of its own colour: pixel (x, y) of the raster covers the
// square that begins at origin + scale·((x, y) − crop), where origin is what the
// functions give back and crop is the top left of what is shown, (0, 0) when that
// is all. A grid line lies on the first row or column of the squares of the pixels
// whose coordinate it names, blended so that the picture shows through; all other
// pixels of a square keep the colour of the screen.
//
// # Text
//
// Text is in a font of 5x7 pixels drawn for this package, for the printable ASCII
// characters; any other character is drawn as an empty box.
//
// # Not for
//
// The pictures are for the eye. Templates are cut from screens, not from these.
package draw
