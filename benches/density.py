"""Kernel density of a million finds on 1024 x 1024 cells against KDEpy.FFTKDE, in one run.

Usage: python3 benches/density.py   (needs KDEpy; runs `cargo bench --bench density`)
Both are given the same points and bandwidths, in cells. Best of three for both.
"""
import subprocess
import tempfile
import time

import numpy as np
from KDEpy import FFTKDE

with tempfile.TemporaryDirectory() as folder:
    out = subprocess.run(
        ["cargo", "bench", "--quiet", "--bench", "density", "--", folder],
        check=True, capture_output=True, text=True,
    ).stdout
    points = np.loadtxt(f"{folder}/points.csv", delimiter=",")
axis = np.linspace(-0.5, 1024.5, 1024)
grid = np.stack(np.meshgrid(axis, axis, indexing="ij"), -1).reshape(-1, 2)
print(f"{'cells':>8} {'trug s':>9} {'error':>9} {'FFTKDE s':>9} {'ratio':>7}")
for row in out.splitlines()[1:]:
    cells, seconds, error = (float(x) for x in row.split())
    best = np.inf
    for _ in range(3):
        start = time.perf_counter()
        FFTKDE(kernel="gaussian", bw=cells).fit(points).evaluate(grid)
        best = min(best, time.perf_counter() - start)
    print(f"{cells:>8} {seconds:>9.4f} {error:>9.1e} {best:>9.3f} {best / seconds:>7.1f}")
