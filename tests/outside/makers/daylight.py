"""Makes `tests/reference/data/daylight.csv`: for random walks anywhere and at any time of 2026 the lowest height
of the sun on the walk and on the walk with its reserve, by PyEphem (libastro, VSOP87), which shares nothing with trug.

    python daylight.py OUT.csv          40 walks at each 5 degrees of latitude
    python daylight.py OUT.csv --all    one walk at each 5 degrees of latitude and each ten minutes of the year

Heights are those of the sun's centre, geometric (no air). Needs ephem 4.2.1 and numpy. Positions of the sun
and sidereal time come from ephem each hour and are interpolated, which is good to 0.0001 degree.
"""

import sys

import ephem
import numpy as np

START = 1767225600  # 2026-01-01T00:00:00Z
DAYS = 367
STEP = 120  # seconds between heights
SEED = 20260516


def sun():
    """Right ascension, declination and sidereal time at Greenwich for each step, radians."""
    hours = np.arange(0, DAYS * 24 + 1)
    ascension, declination, sidereal = [], [], []
    greenwich = ephem.Observer()
    greenwich.lon, greenwich.lat, greenwich.pressure = "0", "0", 0
    for hour in hours:
        greenwich.date = ephem.Date("2026/1/1 00:00:00") + hour / 24.0
        body = ephem.Sun(greenwich)
        ascension.append(float(body.g_ra))
        declination.append(float(body.g_dec))
        sidereal.append(float(greenwich.sidereal_time()))
    at = np.arange(0, DAYS * 86400, STEP) / 3600.0
    even = [np.interp(at, hours, np.unwrap(value)) for value in (ascension, sidereal)]
    return even[0], np.interp(at, hours, declination), even[1]


def heights(latitude, longitude, sky):
    ascension, declination, sidereal = sky
    hour_angle = sidereal + np.radians(longitude) - ascension
    latitude = np.radians(latitude)
    sine = np.sin(latitude) * np.sin(declination) + np.cos(latitude) * np.cos(declination) * np.cos(hour_angle)
    return np.degrees(np.arcsin(np.clip(sine, -1, 1)))


def check(sky):
    """The interpolated heights are those that ephem gives itself."""
    for latitude, longitude, step in ((-42.6, 146.1, 1000), (69.6, 18.9, 90000), (0.0, -75.0, 200000)):
        place = ephem.Observer()
        place.lat, place.lon, place.pressure = str(latitude), str(longitude), 0
        place.date = ephem.Date("2026/1/1 00:00:00") + step * STEP / 86400.0
        off = np.degrees(float(ephem.Sun(place).alt)) - heights(latitude, longitude, sky)[step]
        assert abs(off) < 0.005, (latitude, off)  # parallax is 0.0024 degree


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
