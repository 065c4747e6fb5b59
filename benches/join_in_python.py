"""benches/join.rs against filterpy's filter and smoother in one run: 30,000 fixes of both axes, three
states an axis; the library without any judging of fixes, activities or receivers.

Run: .venv/bin/python benches/join_in_python.py [fixes]   (runs `cargo bench --bench join`)
"""

import subprocess
import sys
import time

import numpy as np
from filterpy.kalman import KalmanFilter

count = int(sys.argv[1]) if len(sys.argv) > 1 else 30_000
rng = np.random.default_rng(1)
keep, lasting = np.exp(-1 / 20), np.exp(-1 / 120)
f = np.array([[1, 20 * (1 - keep), 0], [0, keep, 0], [0, 0, lasting]])
q = np.diag([0.01, 0.42 * (1 - keep**2), 49 * (1 - lasting**2)])
start = time.process_time()
for axis in range(2):
    kalman = KalmanFilter(dim_x=3, dim_z=1)
    kalman.x = np.zeros((3, 1))
    kalman.P = np.diag([1e6, 0.42, 49.0])
    kalman.F, kalman.Q = f, q
    kalman.H = np.array([[1.0, 0.0, 1.0]])
    kalman.R = np.array([[0.25]])
    xs, ps, _, _ = kalman.batch_filter(np.cumsum(rng.normal(0, 0.5, count)))
    kalman.rts_smoother(xs, ps)
took = time.process_time() - start
print(f"filterpy: {count} fixes, both axes, {1e3 * took:.0f} ms of processor time")

report = subprocess.run(
    ["cargo", "bench", "--quiet", "--bench", "join"], check=True, stdout=subprocess.PIPE, text=True
).stdout
rows = [line.strip("| ").split(" | ") for line in report.splitlines() if line.startswith(f"| {count} |")]
if rows:
    own = float(rows[0][2])
    print(f"trug, cleaned, distinguished, smoothed, into track and stands: {own:.0f} ms of processor time")
    print(f"ratio: {1e3 * took / own:.1f}")
