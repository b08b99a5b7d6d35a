# Writes fixed.txt: the glyphs of two public-domain bitmap fonts that
# reads_test.go draws numbers with. Needs python3-pil and the unpacked package:
#
#	apt-get download xfonts-base && dpkg -x xfonts-base_*.deb x
#	python3 fixed.py x > fixed.txt
import gzip
import io
import sys

from PIL import PcfFontFile

print("# Glyphs of the fonts 8x13 and 6x10 of Debian 12's package xfonts-base")
print("# 1:1.0.5+nmu1 (upstream font-misc-misc), whose copyright file says:")
print('# "Public domain font. Share and enjoy."')
print("# Made by fixed.py from /usr/share/fonts/X11/misc/NAME.pcf.gz.")
for name, w, h, ascent in (("8x13", 8, 13, 11), ("6x10", 6, 10, 8)):
    data = gzip.open(f"{sys.argv[1]}/usr/share/fonts/X11/misc/{name}-ISO8859-1.pcf.gz").read()
    font = PcfFontFile.PcfFontFile(io.BytesIO(data))
    for c in "0123456789ABCDEF":
        (dx, dy), (x0, y0, x1, y1), src, im = font.glyph[ord(c)]
        print(f"{name} {c}")
        for y in range(h):
            row = ""
            for x in range(w):
                gx, gy = x - x0, y - (ascent + y0)
                row += "#" if 0 <= gx < im.width and 0 <= gy < im.height and im.getpixel((gx, gy)) else "."
            print(row)
