"""The verdicts of the library on walks at any latitude and time against an almanac that shares nothing with trug
(PyEphem): never "comfortable" where any of the way or its reserve is not by day, never a way in the dark, no refusal by
day, no latest time to set out that leads into the dark.

Gets the path of trug in TRUG; the program `light_cases` is expected beside it. TABLE_LATITUDES (`-90:90:30`: from, to,
step) and TABLE_DAYS (12 days, evenly over the year; 0 is each day of it) say how much is checked, TABLE_STEP (600) the
seconds between instants, TABLE_LONGITUDE the meridian, TABLE_WALKS the minutes of the walks. The whole of it is
TABLE_LATITUDES=-90:90:1 TABLE_DAYS=0.
"""

import os
import pathlib
import subprocess
import sys

import numpy as np

HERE = pathlib.Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))
from light.almanac import CIVIL, HORIZON, START, STEP, Sky, heights  # noqa: E402

PROGRAM = pathlib.Path(os.environ["TRUG"]).parent / "examples" / "light_cases"
FIRST, LAST, EVERY = (float(part) for part in os.environ.get("TABLE_LATITUDES", "-90:90:30").split(":"))
DAYS = int(os.environ.get("TABLE_DAYS", "12"))
EACH = int(os.environ.get("TABLE_STEP", "600"))
LONGITUDE = float(os.environ.get("TABLE_LONGITUDE", "146.1"))
WALKS = [60 * float(walk) for walk in os.environ.get("TABLE_WALKS", "5 45 180 600 1435").split()]

# degrees: the ephemerides differ by less than 0.01, the almanac is interpolated between two minutes
TOLERANCE = 0.05
# light counts in whole minutes, in which the sun moves up to a quarter of a degree
CLEARLY = 0.3
DAY = 86_400
COMFORTABLE, TIGHT, STAY = 2, 1, 0
AT, ANY_TIME, PASSED, TOO_SHORT, NO_LIGHT, TOO_LONG = range(6)


class Extremes:
    """The lowest and highest height of the sun between two instants, for many pairs at once."""

    def __init__(self, over):
        self.over = over
        self.tables = {np.minimum: [over], np.maximum: [over]}
        for best, tables in self.tables.items():
            while 2 << len(tables) <= len(over):
                half = 1 << (len(tables) - 1)
                last = tables[-1]
                tables.append(best(last[:-half], last[half:]))

    def between(self, best, begin, end):
        at = lambda instant: (np.asarray(instant, dtype=float) - START) / STEP
        first, last = at(begin), at(end)
        grid = np.arange(len(self.over))
        found = best(np.interp(first, grid, self.over), np.interp(last, grid, self.over))
        low, high = np.ceil(first).astype(int), np.floor(last).astype(int)
        inner = high >= low
        level = np.where(inner, np.log2(np.maximum(high - low + 1, 1)).astype(int), 0)
        for one in np.unique(level[inner]):
            chosen = inner & (level == one)
            table = self.tables[best][one]
            both = best(table[low[chosen]], table[high[chosen] + 1 - (1 << one)])
            found[chosen] = best(found[chosen], both)
        return found

    def lowest(self, begin, end):
        return self.between(np.minimum, begin, end)

    def highest(self, begin, end):
        return self.between(np.maximum, begin, end)


def verdicts(latitude, begin, count):
    words = [PROGRAM, f"{latitude}", f"{LONGITUDE}", str(begin), str(EACH), str(count), *map(str, WALKS)]
    done = subprocess.run(words, capture_output=True, check=True)
    return np.array(done.stdout.split(), dtype=float).reshape(-1, 6)


def check(latitude, sun, rows):
    now, walk, advice, kind, by, after = rows.T
    reserve = np.maximum(walk / 4, 1200)
    on_way, with_reserve = sun.lowest(now, now + walk), sun.lowest(now, now + walk + reserve)

    def never(wrong, what, height):
        for index in np.flatnonzero(wrong)[:3]:
            print(f"{latitude}: {what}, the sun at {height[index]:.3f}: {rows[index]}")
        assert not wrong.any(), f"{latitude}: {what}: {int(wrong.sum())} of {len(rows)}"

    never((advice == COMFORTABLE) & (with_reserve < HORIZON - TOLERANCE), "comfortable, though not all by day", with_reserve)
    never((advice != STAY) & (on_way < CIVIL - TOLERANCE), "dark on the way", on_way)
    never((advice == STAY) & (walk < DAY) & (on_way > CIVIL + CLEARLY), "refused without dark", on_way)
    never((advice == TIGHT) & (with_reserve > HORIZON + CLEARLY), "tight by day", with_reserve)
    at = kind == AT
    late = np.where(at, by, now)
    then = sun.lowest(late, late + walk)
    never(at & (then < CIVIL - TOLERANCE), "dark after the latest start", then)
    whole, brightest = sun.lowest(late, late + walk + reserve), sun.highest(now, now + DAY)
    never(at & (brightest > HORIZON + CLEARLY) & (whole < HORIZON - TOLERANCE) & (after == 0) & (advice == COMFORTABLE),
          "the reserve after the latest start is not by day", whole)
    dawn = np.where(at & (after > 0), after, now)
    first = sun.lowest(dawn, dawn)
    never(at & (after > 0) & (first < CIVIL - TOLERANCE), "first light in the dark", first)
    assert not (at & (by < np.maximum(now, after))).any(), f"{latitude}: a latest start before now"
    never((kind == NO_LIGHT) & (brightest > CIVIL + CLEARLY), "no light, though there is", brightest)
    always = sun.lowest(now, now + DAY)
    never((kind == ANY_TIME) & (always < CIVIL - TOLERANCE), "any time, though it gets dark", always)
    return advice


def main():
    sky = Sky()
    counts = np.zeros(3, dtype=int)
    latitudes = np.arange(FIRST, LAST + EVERY / 2, EVERY)
    for latitude in latitudes:
        sun = Extremes(heights(latitude, LONGITUDE, sky.sky))
        begins = [START + DAY] if DAYS == 0 else [START + DAY * (1 + index * 365 // DAYS) for index in range(DAYS)]
        for begin in begins:
            rows = verdicts(latitude, begin, (365 if DAYS == 0 else 1) * DAY // EACH)
            counts += np.bincount(check(latitude, sun, rows).astype(int), minlength=3)
    assert counts.min() > 0, counts
    print(
        f"light by latitude: {counts.sum()} verdicts at {len(latitudes)} latitudes, {counts[COMFORTABLE]} comfortable, "
        f"{counts[TIGHT]} tight, {counts[STAY]} not to set out: none against the almanac"
    )


if __name__ == "__main__":
    main()
