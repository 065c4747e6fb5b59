"""Does gpxpy, which shares no code with trug, read the published GPX files as tests/reference/data/gpx.csv
says? tests/reference/gpx.rs holds trug to the same table. To write the table again:

    .venv/bin/python tests/outside/gpx_values.py --write
"""

import csv
import gzip
import io
import sys
from datetime import timezone
from pathlib import Path

import gpxpy

DATA = Path(__file__).resolve().parent.parent / "reference" / "data"
HEADER = """\
# What gpxpy 1.6.2 (Tomo Krajina, Apache-2.0, PyPI) reads from the published files in gpx/, whose sources and
# licences gpx/README.md names. Bounds and heights are over all track points; times are UTC, whole seconds.
"""
COLUMNS = (
    "file tracks segments points timed waypoints routes route_points south north west east height_sum "
    "first last"
).split()


def row(path):
    data = gpxpy.parse(io.BytesIO(gzip.decompress(path.read_bytes())))
    segments = [s.points for t in data.tracks for s in t.segments if s.points]
    points = [point for segment in segments for point in segment]
    times = [point.time.astimezone(timezone.utc) for point in points if point.time]
    of = lambda function, name: function(getattr(p, name) for p in points) if points else ""
    show = lambda time: time.strftime("%Y-%m-%dT%H:%M:%SZ")
    return [
        f"{path.parent.name}/{path.name}",
        len(data.tracks),
        len(segments),
        len(points),
        len(times),
        len(data.waypoints),
        len(data.routes),
        sum(len(route.points) for route in data.routes),
        of(min, "latitude"),
        of(max, "latitude"),
        of(min, "longitude"),
        of(max, "longitude"),
        round(sum(point.elevation or 0 for point in points), 6),
        show(times[0]) if times else "",
        show(times[-1]) if times else "",
    ]


def table():
    text = io.StringIO()
    text.write(HEADER)
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(COLUMNS)
    for path in sorted(DATA.glob("gpx/*/*.gpx.gz")):
        try:
            writer.writerow(row(path))
        except Exception as fault:
            print(f"{path.name}: gpxpy gives up: {str(fault)[:70]}", file=sys.stderr)
    return text.getvalue()


if __name__ == "__main__":
    target = DATA / "gpx.csv"
    if "--write" in sys.argv:
        target.write_text(table(), encoding="utf-8")
    elif table() != target.read_text(encoding="utf-8"):
        sys.exit("gpxpy reads the published files differently from gpx.csv")
