"""Scores of scikit-image for the template tests.

  /usr/bin/python3 vision/testdata/score_skimage.py record > vision/testdata/score_skimage.json
  /usr/bin/python3 vision/testdata/score_skimage.py match PICTURE.png TEMPLATE.png

skimage.feature.match_template is a zero-mean normalised cross-correlation and
shares no code with OpenCV. The pictures of `record` are integer formulas that
the Go test computes too.
"""
import json
import sys

import numpy as np
import skimage
from skimage.feature import match_template


def formula(w, h):
    r, c = np.mgrid[0:h, 0:w]
    return ((r * 7919 + c * 104729 + r * c * 31) % 1009) % 256


def scores(picture, template):
    m = match_template(picture.astype(float), template.astype(float))
    return [[round(float(v), 12) for v in row] for row in m]


def record():
    cases = []
    for w, h, x, y, tw, th in ((40, 32, 11, 9, 7, 5), (40, 32, 20, 3, 16, 16), (33, 20, 0, 18, 9, 2)):
        picture = formula(w, h)
        cases.append({"w": w, "h": h, "x": x, "y": y, "tw": tw, "th": th,
                      "scores": scores(picture, picture[y:y + th, x:x + tw])})
    json.dump({"tool": "scikit-image", "version": skimage.__version__, "numpy": np.__version__,
               "cases": cases}, sys.stdout)
    print()


def match(picture, template):
    from skimage.io import imread

    def luma(path):
        return imread(path)[..., 0]

    json.dump({"tool": "scikit-image", "version": skimage.__version__,
               "scores": scores(luma(picture), luma(template))}, sys.stdout)


if __name__ == "__main__":
    {"record": record, "match": match}[sys.argv[1]](*sys.argv[2:])
