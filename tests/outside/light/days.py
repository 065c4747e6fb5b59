"""Collecting days of a year at a place: a walk each month past four sites, with a notebook."""

import datetime
import math

DEGREE = 111_200.0
CAR = (0.0, 0.0)
# metres north and east; the last one is the outermost to the north and east
SITES = [(300, 100), (250, 650), (-500, 400), (900, 1_000)]
MONTHS = 12

# latitude, longitude on land, zone; near 0, 30, 45, 60, 66, 70 and 80 degrees to both sides
PLACES = [
    (0.2, 36.2, "Africa/Nairobi"),
    (-0.6, -77.5, "America/Guayaquil"),
    (30.1, 78.3, "Asia/Kolkata"),
    (-30.2, 152.1, "Australia/Sydney"),
    (45.1, -123.2, "America/Los_Angeles"),
    (-45.2, 168.5, "Pacific/Auckland"),
    (60.3, 25.1, "Europe/Helsinki"),
    (-54.7, -68.1, "America/Argentina/Ushuaia"),
    (66.2, 25.6, "Europe/Helsinki"),
    (-66.3, 110.5, "Antarctica/Casey"),
    (70.1, 25.3, "Europe/Oslo"),
    (-69.0, 39.58, "Antarctica/Syowa"),
    (79.6, 20.5, "Arctic/Longyearbyen"),
    (-79.5, 163.0, "Antarctica/McMurdo"),
]


class Place:
    def __init__(self, latitude, longitude, zone, folder):
        self.latitude, self.longitude, self.zone, self.folder = latitude, longitude, zone, folder
        folder.mkdir()
        self.store = folder / "trug.gpkg"

    def __str__(self):
        return f"{self.latitude} {self.longitude}"

    def at(self, place):
        north, east = place
        along = DEGREE * math.cos(math.radians(self.latitude))
        return (round(self.latitude + north / DEGREE, 7), round(self.longitude + east / along, 7))

    def all(self):
        """The car and all sites."""
        return [self.at(place) for place in (CAR, *SITES)]

    def square(self, reach):
        """Middle and corners of a square."""
        return [self.at(place) for place in (CAR, (-reach, -reach), (-reach, reach), (reach, -reach), (reach, reach))]

    def folders(self):
        """Writes the days; their folders."""
        for month in range(1, MONTHS + 1):
            date = datetime.date(2025, month, 12)
            folder = self.folder / str(date)
            folder.mkdir()
            now = datetime.datetime.combine(date, datetime.time(12))
            fixes, rows, here = [], ["Number,Collector,Date,Time,Name,Coordinates,Datum"], CAR
            for number, there in enumerate([*SITES, CAR]):
                steps = max(1, int(math.dist(here, there) / 10))
                for step in range(steps):
                    share = (step + 1) / steps
                    fixes.append((tuple(a + (b - a) * share for a, b in zip(here, there)), now))
                    now += datetime.timedelta(seconds=10)
                if there != CAR:
                    coordinates = "{:.6f}, {:.6f}".format(*self.at(there))
                    find = f"LQ-{month:02}{number}"
                    rows.append(f'{find},Ada Quillfeather,{date},{now:%H:%M},Galerina hypnorum,"{coordinates}",WGS84')
                    for _ in range(18):
                        fixes.append((there, now))
                        now += datetime.timedelta(seconds=10)
                here = there
            points = "".join(
                '<trkpt lat="{:.7f}" lon="{:.7f}"><time>{:%Y-%m-%dT%H:%M:%SZ}</time></trkpt>'.format(*self.at(place), time)
                for place, time in fixes
            )
            track = '<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>'
            (folder / "walk.gpx").write_text(f"{track}{points}</trkseg></trk></gpx>")
            (folder / "notebook.csv").write_text("\n".join(rows) + "\n")
            yield folder
