"""How long do gpxpy and a bare lxml iterparse take for the file that benches/gpx.rs reads?

    .venv/bin/python benches/gpx_in_python.py [points]      (200,000 unless said)
"""

import math
import sys
import tempfile
import time
from pathlib import Path

import gpxpy
from lxml import etree


def write_track(path, points):
    start = 1_777_766_400
    with open(path, "w", encoding="utf-8") as file:
        file.write(
            '<?xml version="1.0" encoding="UTF-8"?>\n<gpx version="1.1" creator="bench" '
            'xmlns="http://www.topografix.com/GPX/1/1" xmlns:x="http://example.org/x">\n <trk><name>walk</name><trkseg>\n'
        )
        for point in range(points):
            angle = point * 1e-4
            instant = time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime(start + point))
            file.write(
                f'  <trkpt lat="{-42.1 + 0.01 * math.sin(angle):.7f}" lon="{146.2 + 0.01 * math.cos(angle):.7f}">\n'
                f"   <ele>{400 + 20 * math.sin(3 * angle):.2f}</ele>\n   <time>{instant}</time>\n"
                f"   <fix>3d</fix><sat>{5 + point % 9}</sat><hdop>{0.8 + point % 13 / 10:.1f}</hdop>"
                "<vdop>1.4</vdop><pdop>1.9</pdop>\n   <extensions><x:Point><x:speed>0.71</x:speed>"
                "<x:course>143.2</x:course></x:Point></extensions>\n  </trkpt>\n"
            )
        file.write(" </trkseg></trk>\n</gpx>\n")


def with_gpxpy(path):
    with open(path, encoding="utf-8") as file:
        return sum(len(s.points) for t in gpxpy.parse(file).tracks for s in t.segments)


def with_lxml(path):
    points = 0
    for _, element in etree.iterparse(str(path)):
        points += element.tag.endswith("trkpt")
        element.clear()
    return points


def main():
    points = int(sys.argv[1]) if len(sys.argv) > 1 else 200_000
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "day.gpx"
        write_track(path, points)
        size = path.stat().st_size / 1e6
        print(f"{points} points, {size:.1f} MB")
        for name, read in (("lxml iterparse", with_lxml), ("gpxpy", with_gpxpy)):
            start = time.perf_counter()
            assert read(path) == points
            taken = time.perf_counter() - start
            print(f"{name:<16} {taken:8.2f} s {size / taken:7.1f} MB/s")


if __name__ == "__main__":
    main()
