"""Do the big engines read the GeoParquet that trug writes? Asks DuckDB (PyPI `duckdb`) for rows and
columns, and by hand for the metadata of OGC GeoParquet 1.1 and the well-known binary of each point.

Gets the path of trug in TRUG and an empty folder in WORK.
"""

import json
import os
import pathlib
import struct
import subprocess
import sys

import duckdb

TRUG = os.environ["TRUG"]
WORK = pathlib.Path(os.environ["WORK"])


def trug(*arguments):
    done = subprocess.run([TRUG, *map(str, arguments)], capture_output=True, text=True)
    assert done.returncode in (0, 1), f"trug {arguments}: {done.stderr}"
    return done.stdout


def check_metadata(path, places):
    rows = duckdb.sql(f"SELECT key, value FROM parquet_kv_metadata('{path}')").fetchall()
    geo = json.loads({bytes(key): bytes(value) for key, value in rows}[b"geo"])
    column = geo["columns"][geo["primary_column"]]
    assert geo["version"] == "1.1.0" and column["encoding"] == "WKB", geo
    xs, ys = [x for x, _ in places], [y for _, y in places]
    assert column["bbox"] == [min(xs), min(ys), max(xs), max(ys)], column


def main():
    store, path = WORK / "days.gpkg", WORK / "finds.parquet"
    trug("import", *sorted(pathlib.Path("sample-tracks").glob("2*")), "--store", store)
    words = ["--coordinates", "exact-where-open", "--format", "geoparquet", "--out", path]
    trug("export", "--store", store, *words)
    found = json.loads(trug("finds", "--store", store, "--format", "geojson"))["features"]
    exact = {feature["id"]: feature for feature in found}
    table = duckdb.sql(
        "SELECT occurrenceID, recordNumber, decimalLatitude, decimalLongitude, geometry "
        f"FROM read_parquet('{path}')"
    )
    rows = table.fetchall()
    assert len(rows) == len(found), f"{len(rows)} of {len(found)}"
    places = []
    for identity, number, lat, lon, geometry in rows:
        feature = exact[identity]
        assert number == feature["properties"].get("recordNumber")
        if feature["geometry"] is None:
            assert lat is None and geometry is None
            continue
        assert [lon, lat] == feature["geometry"]["coordinates"]
        places.append((lon, lat))
        if isinstance(geometry, (bytes, bytearray)):
            assert struct.unpack("<BIdd", bytes(geometry)) == (1, 1, lon, lat)
    assert places
    check_metadata(path, places)
    print(f"DuckDB {duckdb.__version__}: {len(rows)} finds, {len(places)} with a point")


if __name__ == "__main__":
    sys.exit(main())
