"""Sites against sklearn.cluster.DBSCAN on the same points in one run.

Usage: python3 benches/sites.py   (needs scikit-learn; runs `cargo bench --bench sites`)
DBSCAN is given metres on a plane and eps 15 m, its usual radius for such finds; it builds the index
that it chooses by itself. Best of three for both.
"""
import subprocess
import tempfile
import time

import numpy as np
from sklearn.cluster import DBSCAN

with tempfile.TemporaryDirectory() as folder:
    out = subprocess.run(
        ["cargo", "bench", "--quiet", "--bench", "sites", "--", folder],
        check=True, capture_output=True, text=True,
    ).stdout
    ours = {int(r.split()[0]): float(r.split()[2]) for r in out.splitlines()[1:] if r.strip()}
    print(f"{'finds':>10} {'trug s':>10} {'DBSCAN s':>10} {'ratio':>8}")
    for count, seconds in ours.items():
        lat, lon, _ = np.loadtxt(f"{folder}/points-{count}.csv", delimiter=",").T
        metres = np.column_stack([(lon - 146) * 82850, (lat + 42) * 111080])
        best = np.inf
        for _ in range(3):
            start = time.perf_counter()
            DBSCAN(eps=15, min_samples=1).fit(metres)
            best = min(best, time.perf_counter() - start)
        print(f"{count:>10} {seconds:>10.4f} {best:>10.4f} {best / seconds:>8.1f}")
