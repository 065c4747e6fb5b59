"""Makes `tests/reference/data/daylight.csv`: for random walks anywhere and at any time of 2026 the lowest height
of the sun on the walk and on the walk with its reserve, by PyEphem (libastro, VSOP87), which shares nothing with trug.

    python daylight.py OUT.csv          40 walks at each 5 degrees of latitude
    python daylight.py OUT.csv --all    one walk at each 5 degrees of latitude and each ten minutes of the year

Heights are those of the sun's centre, geometric (no air). Needs ephem 4.2.1 and numpy.
"""

import pathlib
import sys

import numpy as np

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent.parent))
from light.almanac import START, STEP, check, heights, sun  # noqa: E402

SEED = 20260516


def main():
    sky = sun()
    check(sky)
    whole = "--all" in sys.argv
    random = np.random.default_rng(SEED)
    with open(sys.argv[1], "w", encoding="ascii") as out:
        out.write("# The lowest height of the sun's centre on a walk, and on it and its reserve (a quarter, 20 min at least).\n")
        out.write("# Source: PyEphem 4.2.1 (libastro), made by tests/outside/makers/daylight.py. Sampled each 2 min.\n")
        out.write("latitude,longitude,start_s,walk_min,lowest_deg,lowest_with_reserve_deg\n")
        for latitude in range(-90, 91, 5):
            longitude = round(float(random.uniform(-180, 180)), 3)
            over = heights(latitude, longitude, sky)
            steps = range(0, 365 * 720, 5) if whole else sorted(random.integers(0, 365 * 720, 40))
            for step in steps:
                walk = int(random.choice([10, 30, 60, 120, 240, 480, 900])) // 2 * 2
                reserve = max(20.0, walk * 0.25)
                end, late = step + walk // 2, step + int((walk + reserve) // 2)
                low, lowest = over[step : end + 1].min(), over[step : late + 1].min()
                out.write(f"{latitude},{longitude},{START + step * STEP},{walk},{low:.3f},{lowest:.3f}\n")


main()
