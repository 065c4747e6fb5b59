"""Do pynmea2 and fastkml, which share no code with trug, read the published files as
tests/reference/data/tracks.csv says? tests/reference/tracks.rs holds trug to the same table. To write the table
again:

    .venv/bin/python tests/outside/track_values.py --write
"""

import csv
import gzip
import io
import sys
from datetime import datetime, timezone
from pathlib import Path

import pynmea2
from fastkml import KML, Placemark
from fastkml.utils import find_all
from shapely.geometry import shape

DATA = Path(__file__).resolve().parent.parent / "reference" / "data"
HEADER = """\
# What pynmea2 1.19.0 (Tom Flanagan, MIT, PyPI) and fastkml 1.4.0 (Christian Ledermann, LGPL, PyPI) read from the
# published files in tracks/, whose sources and licences tracks/README.md names. Logs: a fix is a time of day for
# which RMC says that it is valid. Times are UTC.
"""
COLUMNS = "file fixes lines line_points waypoints south north west east first last".split()


def bounds(points):
    if not points:
        return [""] * 4
    latitudes, longitudes = [p[0] for p in points], [p[1] for p in points]
    ends = (min(latitudes), max(latitudes), min(longitudes), max(longitudes))
    return [f"{end:.7f}" for end in ends]


def of_log(text):
    fixes = {}
    for line in text.splitlines():
        try:
            sentence = pynmea2.parse(line[line.index("$"):], check=True)
        except (ValueError, pynmea2.ParseError):
            continue
        if not isinstance(sentence, pynmea2.types.talker.RMC):
            continue
        if sentence.status != "A" or not sentence.datestamp:
            continue
        clock = sentence.timestamp.replace(tzinfo=None)
        time = datetime.combine(sentence.datestamp, clock, timezone.utc)
        fixes.setdefault(time, (sentence.latitude, sentence.longitude))
    times = list(fixes)
    show = lambda time: time.strftime("%Y-%m-%dT%H:%M:%SZ")
    ends = [show(times[0]), show(times[-1])] if times else ["", ""]
    return [len(fixes), 0, 0, 0, *bounds(list(fixes.values())), *ends]


def of_map(text):
    lines, points = [], []
    for mark in find_all(KML.from_string(text.encode()), of_type=Placemark):
        if mark.geometry is None:
            continue
        form = shape(mark.geometry)
        if form.geom_type == "LineString":
            lines.append([(y, x) for x, y, *_ in form.coords])
        elif form.geom_type == "Point":
            points.append((form.y, form.x))
    every = points + [point for line in lines for point in line]
    return [0, len(lines), sum(map(len, lines)), len(points), *bounds(every), "", ""]


def table():
    text = io.StringIO()
    text.write(HEADER)
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(COLUMNS)
    for path in sorted(DATA.glob("tracks/*.gz")):
        content = gzip.decompress(path.read_bytes()).decode("utf-8", "replace")
        read = of_map if ".kml" in path.name else of_log
        writer.writerow([path.name, *read(content)])
    return text.getvalue()


if __name__ == "__main__":
    target = DATA / "tracks.csv"
    if "--write" in sys.argv:
        target.write_text(table(), encoding="utf-8")
    elif table() != target.read_text(encoding="utf-8"):
        sys.exit("pynmea2 or fastkml reads the published files differently from tracks.csv")
