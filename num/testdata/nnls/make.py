"""Writes nnls.json: non-negative least squares solved by SciPy's
scipy.optimize.nnls (Debian package python3-scipy), to which package num is held.

    /usr/bin/python3 make.py > nnls.json

Weights are put in as roots on both sides, as the routine knows none.
"""
import json
import sys

import numpy
import scipy
from scipy.optimize import nnls

rng = numpy.random.default_rng(20261126)
cases = []


def put(name, a, b, w=None):
    a, b = numpy.asarray(a, float), numpy.asarray(b, float)
    w = numpy.ones(len(b)) if w is None else numpy.asarray(w, float)
    r = numpy.sqrt(w)
    x, length = nnls(a * r[:, None], b * r, maxiter=10000)
    cases.append({"name": name, "columns": a.shape[1], "a": a.ravel().tolist(), "b": b.tolist(),
                  "weight": w.tolist(), "x": x.tolist(), "rss": length ** 2})


# A port of two valves: open, the left masked, the right masked, both masked;
# unknowns left, right, what is left.
two = [[1, 1, 1], [0, 1, 1], [1, 0, 1], [0, 0, 1]]
put("two valves", two, [104, 5.5, 97, 3.1], [1 / 900, 1 / 4, 1 / 800, 1])
put("two valves, one at zero", two, [60, 2, 66, 4], [1 / 324, 1, 1 / 400, 1 / 2])
put("two valves, all at zero", two, [-0.3, 0.2, -0.1, -0.2], [1, 1, 1, 1])
three = [[1, 1, 1, 1], [0, 1, 1, 1], [1, 0, 1, 1], [1, 1, 0, 1], [0, 0, 0, 1]]
put("three valves", three, [150, 140, 30, 150, 6], [1 / 2025, 1 / 1764, 1 / 81, 1 / 2025, 1 / 4])
for n, (rows, columns) in enumerate([(4, 3), (6, 4), (12, 6), (20, 9), (40, 15), (7, 7), (30, 12)]):
    put("random %d x %d, %d" % (rows, columns, n), rng.normal(size=(rows, columns)).round(6),
        rng.normal(size=rows).round(6), rng.uniform(0.1, 3, size=rows).round(6))
for n in range(3):
    a = rng.uniform(0, 1, size=(25, 10)).round(6)
    put("non-negative columns %d" % n, a, (a @ numpy.maximum(0, rng.normal(size=10)) + 0.05 * rng.normal(size=25)).round(6))
# columns that are nearly alike, and lengths six powers of ten apart
a = rng.normal(size=(15, 5))
a[:, 1] = a[:, 0] + 1e-5 * rng.normal(size=15)
put("nearly alike", a, rng.normal(size=15).round(6))
put("lengths far apart", rng.normal(size=(15, 4)) * [1e-9, 1, 1e3, 1e-4], rng.normal(size=15).round(6))
json.dump({"made by": "scipy.optimize.nnls", "scipy": scipy.__version__, "numpy": numpy.__version__, "cases": cases},
          sys.stdout, indent=1)
