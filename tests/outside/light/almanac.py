"""Heights of the sun over a year by PyEphem (libastro, VSOP87), which shares nothing with trug.

Heights are those of the sun's centre, geometric (no air). Positions of the sun and sidereal time come from ephem each
hour and are interpolated, which is good to 0.0001 degree.
"""

import ephem
import numpy as np

START = 1767225600  # 2026-01-01T00:00:00Z
DAYS = 400
STEP = 120  # seconds between heights

# sunrise and sunset: 34' of refraction and 16' of the sun's radius; civil twilight
HORIZON, CIVIL = -50.0 / 60.0, -6.0


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


class Sky:
    """The height of the sun at instants, seconds since 1970, that of the lowest of several places."""

    def __init__(self):
        self.sky = sun()
        check(self.sky)
        self.kept = {}

    def over(self, places):
        key = tuple(places)
        if key not in self.kept:
            self.kept[key] = np.min([heights(*place, self.sky) for place in key], axis=0)
        return self.kept[key]

    def between(self, places, begin, end):
        """All heights from one instant to another, both ends included."""
        over = self.over(places)
        first, last = (begin - START) / STEP, (end - START) / STEP
        assert 0 <= first <= last <= len(over) - 1, (begin, end)
        inner = over[int(np.ceil(first)) : int(np.floor(last)) + 1]
        ends = np.interp([first, last], np.arange(len(over)), over) if len(inner) < 2 else [
            np.interp(one, [int(one), int(one) + 1], over[int(one) : int(one) + 2]) for one in (first, min(last, len(over) - 1.001))
        ]
        return np.concatenate([inner, ends])

    def lowest(self, places, begin, end):
        return float(self.between(places, begin, end).min())

    def highest(self, places, begin, end):
        return float(self.between(places, begin, end).max())
