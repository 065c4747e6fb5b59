"""Reads every output for others without trug: who is where (claims), lines, and all text."""

import base64
import csv
import io
import json
import math
import re
import struct
import zipfile
import zlib
from dataclasses import dataclass, field
from pathlib import Path
from xml.etree import ElementTree

import pyarrow.parquet

KML = "{http://www.opengis.net/kml/2.2}"
GPX = "{http://www.topografix.com/GPX/1/1}"
LEVELS = ["low", "medium", "high", "extreme"]
SIDE = {"low": 100.0, "medium": 1_000.0, "high": 10_000.0, "extreme": math.inf}
STEP = {"low": 0.001, "medium": 0.01, "high": 0.1}


def wide_step(level, latitude):
    """The step in longitude as documented: the least multiple with which no cell of the row is too narrow."""
    poleward = math.radians(min(90.0, abs(latitude) + STEP[level] / 2))
    for multiple in (1, 2, 5, 10, 20, 50, 100, 200, 500):
        if STEP[level] * multiple * 111_319.49 * math.cos(poleward) >= SIDE[level]:
            return STEP[level] * multiple
    return None


def is_on(degrees, step):
    return abs(degrees / step - round(degrees / step)) < 1e-6


def coarsest(latitude, longitude):
    """The step of the coarsest grid that a position without a stated step lies on."""
    for level in ("high", "medium", "low"):
        step = wide_step(level, latitude)
        if step and is_on(latitude, STEP[level]) and is_on(longitude, step):
            return step
    return None


@dataclass
class Claim:
    number: str
    at: tuple | None
    step: float | None
    text: str


@dataclass
class Reading:
    claims: list = field(default_factory=list)
    lines: list = field(default_factory=list)
    text: str = ""
    # positions of paths that a page to carry shows, and their ends
    nodes: list = field(default_factory=list)
    ends: list = field(default_factory=list)
    exact_sites: list = field(default_factory=list)
    # sites in cells: number, centre
    cells: list = field(default_factory=list)


def read(path: Path) -> Reading:
    reading = Reading()
    files = [path] if path.is_file() else sorted(p for p in path.rglob("*") if p.is_file())
    readers = {
        ".geojson": geojson, ".csv": table, ".kml": kml, ".gpx": gpx, ".parquet": parquet, ".zip": archive,
        ".html": page,
    }
    for file in files:
        content = file.read_bytes()
        reading.text += content.decode("utf-8", "replace")
        if file.suffix in readers:
            readers[file.suffix](content, reading)
    return reading


def geojson(content, reading):
    for feature in json.loads(content)["features"]:
        shape, own = feature["geometry"], feature["properties"]
        at = None
        if shape and shape["type"] == "Point":
            at = (shape["coordinates"][1], shape["coordinates"][0])
        elif shape:
            parts = [shape["coordinates"]] if shape["type"] == "LineString" else shape["coordinates"]
            reading.lines += [[(place[1], place[0]) for place in part] for part in parts]
            continue
        claim = Claim(own.get("recordNumber"), at, own.get("coordinatePrecision"), json.dumps(own))
        reading.claims.append(claim)


def table(content, reading):
    for row in csv.DictReader(io.StringIO(content.decode("utf-8-sig"))):
        if "recordNumber" not in row:
            continue
        number = {name: float(row[name]) for name in row if name.startswith(("decimalL", "coordinateP")) and row[name]}
        at = (number["decimalLatitude"], number["decimalLongitude"]) if "decimalLatitude" in number else None
        reading.claims.append(Claim(row["recordNumber"], at, number.get("coordinatePrecision"), json.dumps(row)))


def kml(content, reading):
    for mark in ElementTree.fromstring(content).iter(KML + "Placemark"):
        data = {one.get("name"): one.findtext(KML + "value") for one in mark.iter(KML + "Data")}
        places = [one.text.split() for one in mark.iter(KML + "coordinates")]
        places = [[tuple(map(float, place.split(",")[1::-1])) for place in part] for part in places]
        step = float(data["coordinatePrecision"]) if data.get("coordinatePrecision") else None
        if mark.find(f".//{KML}LineString") is not None:
            reading.lines += places
        else:
            at = places[0][0] if places else None
            reading.claims.append(Claim(data.get("recordNumber"), at, step, "".join(mark.itertext())))


def gpx(content, reading):
    root = ElementTree.fromstring(content)
    place = lambda point: (float(point.get("lat")), float(point.get("lon")))
    for point in root.iter(GPX + "wpt"):
        at = place(point)
        reading.claims.append(Claim(point.findtext(GPX + "name"), at, coarsest(*at), "".join(point.itertext())))
    reading.lines += [[place(point) for point in part.iter(GPX + "trkpt")] for part in root.iter(GPX + "trkseg")]


def parquet(content, reading):
    for row in pyarrow.parquet.read_table(io.BytesIO(content)).to_pylist():
        shape = row.pop("geometry")
        at = struct.unpack("<dd", shape[5:21])[::-1] if shape else None
        reading.text += repr(row)
        reading.claims.append(Claim(row["recordNumber"], at, row.get("coordinatePrecision"), repr(row)))


def archive(content, reading):
    with zipfile.ZipFile(io.BytesIO(content)) as files:
        for name in files.namelist():
            part = files.read(name)
            reading.text += part.decode("utf-8", "replace")
            if name == "occurrence.csv":
                table(part, reading)


def page(content, reading):
    found = re.search(rb'<script[^>]*type="application/json"[^>]*>(.*?)</script>', content, re.S)
    data = json.loads(found.group(1)) if found else {}
    if "paths_withheld" not in data:
        return
    reading.exact_sites = [tuple(site["at"]) for site in data["sites"] if not site["generalised"]]
    reading.cells = [(str(site["id"]), tuple(site["at"])) for site in data["sites"] if site["generalised"]]
    reading.nodes = [tuple(point[:2]) for point in data["track"]]
    if data["paths"]:
        nodes, edges = network(zlib.decompress(base64.b64decode(data["paths"])), data["centre"])
        reading.nodes += nodes
        ends = [end for edge in edges for end in edge]
        reading.ends = [nodes[end] for end in set(ends) if ends.count(end) == 1]


def network(packed, centre):
    """Counts, latitudes and longitudes as differences in ten millionths of a degree, radii, ends of edges."""
    count, edges = struct.unpack_from("<II", packed)
    at = 8
    places = []
    for middle in centre:
        steps = struct.unpack_from(f"<{count}i", packed, at)
        at += 4 * count
        value, column = 0, []
        for step in steps:
            value += step
            column.append(middle + value / 1e7)
        places.append(column)
    at += count
    begins = struct.unpack_from(f"<{edges}I", packed, at)
    lengths = struct.unpack_from(f"<{edges}I", packed, at + 4 * edges)
    begin, pairs = 0, []
    for step, length in zip(begins, lengths):
        begin = (begin + step) % 2**32
        pairs.append((begin, (begin + length) % 2**32))
    return list(zip(*places)), pairs
