"""Is the searched ground of `trug effort` the area of the union of the strips along the way? Shapely buffers the
smoothed ways out of the store and unites them: for random ways that cross themselves many times, walked so
slowly that all of it is search, and for the sample days an upper limit, since there some of the way is walk.

Gets the path of trug in TRUG and an empty folder in WORK. Needs numpy and shapely.
"""

import json
import math
import os
import pathlib
import sqlite3
import subprocess
from datetime import datetime, timedelta

import numpy as np
from shapely import from_wkb, transform, unary_union

HERE = pathlib.Path(__file__).resolve().parent
DAYS = HERE.parent.parent / "sample-tracks"
TRUG = os.environ["TRUG"]
WORK = pathlib.Path(os.environ["WORK"])
SIGHT = 5.0
# the strips are reckoned on rows an eighth of the sight apart (within 0.5 %) along ways thinned by a
# twentieth of it, which cuts corners: another 0.5 %; a round end of shapely with 32 corners to the quarter
# is exact to 0.01 %
TOLERANCE = 0.01


def trug(*arguments):
    done = subprocess.run([TRUG, "--quiet", *map(str, arguments)], capture_output=True, text=True)
    assert done.returncode in (0, 1), f"trug {arguments}: {done.stderr}"
    return done.stdout


def ways(store):
    """The smoothed ways as lines in metres about their middle."""
    rows = sqlite3.connect(store).execute("SELECT geom FROM tracks").fetchall()
    # behind the head of 8 bytes stands an envelope, whose size the flags tell
    sizes = {0: 0, 1: 32, 2: 48, 3: 48, 4: 64}
    lines = [from_wkb(blob[8 + sizes[(blob[3] >> 1) & 7]:]) for (blob,) in rows]
    _, south, _, north = unary_union(lines).bounds
    middle = math.radians((south + north) / 2)
    # metres of a degree on WGS 84 at that latitude (series of the ellipsoid, good to a millimetre in a hundred)
    north_m = 111132.954 - 559.822 * math.cos(2 * middle) + 1.175 * math.cos(4 * middle)
    east_m = 111412.84 * math.cos(middle) - 93.5 * math.cos(3 * middle) + 0.118 * math.cos(5 * middle)
    return [transform(line, lambda places: places * [east_m, north_m]) for line in lines]


def united(store):
    return unary_union([way.buffer(SIGHT, quad_segs=32) for way in ways(store)]).area / 1e4


def wandering(seed, hours):
    """A slow search that turns at random within a circle, so that it crosses itself often."""
    rng = np.random.default_rng(seed)
    at, heading, began = np.zeros(2), 0.0, datetime(2026, 5, 3, 0, 30)
    points = []
    for second in range(int(hours * 3600)):
        # back towards the middle where it strays
        if np.hypot(*at) > 45:
            heading = math.atan2(-at[1], -at[0]) + rng.normal(0, 0.2)
        heading += rng.normal(0, 0.06)
        at = at + 0.35 * np.array([math.cos(heading), math.sin(heading)])
        if second % 5 == 0:
            lat, lon = -42.6 + at[1] / 111_090, 146.1 + at[0] / 82_080
            time = (began + timedelta(seconds=second)).isoformat()
            points.append(f'<trkpt lat="{lat:.8f}" lon="{lon:.8f}"><time>{time}Z</time></trkpt>')
    return ('<gpx version="1.1" creator="test" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>'
            + "".join(points) + "</trkseg></trk></gpx>")


worst = 0.0
for seed in range(4):
    folder = WORK / f"wandering-{seed}"
    folder.mkdir()
    (folder / "way.gpx").write_text(wandering(seed, 1.5))
    store = WORK / f"wandering-{seed}.gpkg"
    trug("import", folder, "--store", store)
    reported = json.loads(trug("effort", "--format", "json", "--sight", SIGHT, "--store", store))["total"]
    assert reported["searched_s"] > 0.999 * reported["time_s"], f"all of it should be search: {reported}"
    exact = united(store)
    crossings = sum(1 - exact * 1e4 / (2 * SIGHT * way.length) for way in ways(store))
    assert crossings > 0.3, "the way should run over itself"
    off = reported["searched_ha"] / exact - 1
    worst = max(worst, abs(off))
    assert abs(off) < TOLERANCE, f"seed {seed}: {reported['searched_ha']} ha, by shapely {exact:.4f} ha"

store = WORK / "days.gpkg"
for day in ("2026-04-18-wren-gully", "2026-05-02-thimble-spur", "2026-05-16-old-tramway"):
    trug("import", DAYS / day, "--store", store)
total = json.loads(trug("effort", "--format", "json", "--sight", SIGHT, "--store", store))["total"]
whole = united(store)
share = total["searched_length_m"] / total["length_m"]
assert 0.5 * share * whole < total["searched_ha"] < (1 + TOLERANCE) * whole, (total, whole)
print(f"searched: four wandering ways within {100 * worst:.2f} % of shapely; "
      f"of the sample days' {whole:.2f} ha {total['searched_ha']:.2f} ha were searched")
