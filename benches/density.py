"""Kernel density of a million finds on 1024 x 1024 cells against KDEpy.FFTKDE, in one run.

Usage: python3 benches/density.py [--profile dev]   (needs KDEpy; builds the benchmark with cargo)
Both are given the same points and bandwidths, in cells, in turns, so that both meet the same load of the
machine. The best of nine (trug) and of six (FFTKDE).
"""
import json
import subprocess
import sys
import tempfile
import time

import numpy as np
from KDEpy import FFTKDE

built = subprocess.run(
    ["cargo", "bench", "--no-run", "--bench", "density", "--message-format=json", *sys.argv[1:]],
    check=True, capture_output=True, text=True,
).stdout
messages = [json.loads(line) for line in built.splitlines() if line.startswith("{")]
program = next(m["executable"] for m in messages if m.get("target", {}).get("name") == "density")


def run(*words):
    return subprocess.run([program, *words], check=True, capture_output=True, text=True).stdout


def seconds_of_fftkde(cells):
    start = time.perf_counter()
    FFTKDE(kernel="gaussian", bw=cells).fit(points).evaluate(grid)
    return time.perf_counter() - start


with tempfile.TemporaryDirectory() as folder:
    run(folder)
    points = np.loadtxt(f"{folder}/points.csv", delimiter=",")
axis = np.linspace(-0.5, 1024.5, 1024)
grid = np.stack(np.meshgrid(axis, axis, indexing="ij"), -1).reshape(-1, 2)
print(f"{'cells':>8} {'trug s':>9} {'error':>9} {'FFTKDE s':>9} {'ratio':>7}")
for cells in (0.5, 1.0, 1.3, 1.5, 1.7, 2.0, 3.0, 8.0, 10.0, 30.0, 100.0):
    ours, theirs = np.inf, np.inf
    for _ in range(3):
        theirs = min(theirs, seconds_of_fftkde(cells))
        _, seconds, error = (float(x) for x in run(str(cells)).splitlines()[1].split())
        ours = min(ours, seconds)
        theirs = min(theirs, seconds_of_fftkde(cells))
    print(f"{cells:>8} {ours:>9.4f} {error:>9.1e} {theirs:>9.3f} {theirs / ours:>7.1f}", flush=True)
