"""Sites against sklearn.cluster.DBSCAN on the same points in one run.

Usage: python3 benches/sites.py   (needs scikit-learn; runs `cargo bench --bench sites`)
DBSCAN is given metres on a plane and eps 15 m, its usual radius for such finds; it builds the index
that it chooses by itself, on one thread. Runs of both take turns; least and median of all, by the clock
and by processor time, which other programs on the machine do not lengthen much.
"""
import subprocess
import tempfile
import time

import numpy as np
from sklearn.cluster import DBSCAN

ROUNDS = 3
SIZES = (10_000, 100_000, 1_000_000)

ours = {count: [] for count in SIZES}
theirs = {count: [] for count in SIZES}
with tempfile.TemporaryDirectory() as folder:
    for _ in range(ROUNDS):
        subprocess.run(
            ["cargo", "bench", "--quiet", "--bench", "sites", "--", folder],
            check=True, stdout=subprocess.DEVNULL,
        )
        for count in SIZES:
            ours[count] += np.loadtxt(f"{folder}/times-{count}.csv", delimiter=",").tolist()
            lat, lon, _ = np.loadtxt(f"{folder}/points-{count}.csv", delimiter=",").T
            metres = np.column_stack([(lon - 146) * 82850, (lat + 42) * 111080])
            for _ in range(3 if count < 1_000_000 else 1):
                wall, processor = time.perf_counter(), time.process_time()
                DBSCAN(eps=15, min_samples=1).fit(metres)
                theirs[count].append(
                    [time.perf_counter() - wall, time.process_time() - processor]
                )

print(f"{'finds':>10} {'':>22} {'trug s':>10} {'DBSCAN s':>10} {'ratio':>8}")
for count in SIZES:
    for column, clock in enumerate(("clock", "processor")):
        for name, pick in (("least", np.min), ("median", np.median)):
            own = pick([run[column] for run in ours[count]])
            other = pick([run[column] for run in theirs[count]])
            print(f"{count:>10} {clock + ', ' + name:>22} {own:>10.4f} {other:>10.4f} {other / own:>8.1f}")
