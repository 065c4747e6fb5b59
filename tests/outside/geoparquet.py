"""Do the big engines read the GeoParquet that trug writes? Asks DuckDB (PyPI `duckdb`) for rows and
columns, and by hand for the metadata of OGC GeoParquet 1.1 and the well-known binary of each point. Of a
folder of parts, one for each year, asks DuckDB and Apache Arrow (PyPI `pyarrow`) for all rows and for those
of one year, which must be read from its part alone.

Gets the path of trug in TRUG and an empty folder in WORK.
"""

import json
import os
import pathlib
import struct
import subprocess
import sys

import duckdb
import pyarrow.compute
import pyarrow.dataset

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


def check_parts(store):
    """A decade in parts: every find once, in the part of its year; rewritten in place."""
    folder = WORK / "years"
    words = ["--format", "geoparquet", "--out", folder, "--by-year"]
    trug("export", "--store", store, *words)
    trug("export", "--store", store, "--format", "geoparquet", "--out", folder)
    years = {}
    for feature in json.loads(trug("finds", "--store", store, "--format", "geojson"))["features"]:
        year = int(feature["properties"]["eventDate"][:4])
        years.setdefault(year, set()).add(feature["id"])
    assert len(years) > 2, years.keys()
    rows = duckdb.sql(f"SELECT year, occurrenceID FROM read_parquet('{folder}/**/*.parquet', hive_partitioning = true)")
    read = {}
    for year, identity in rows.fetchall():
        read.setdefault(int(year), set()).add(identity)
    assert read == years, "DuckDB reads the finds of other years"
    dataset = pyarrow.dataset.dataset(str(folder), format="parquet", partitioning="hive")
    assert dataset.count_rows() == sum(len(finds) for finds in years.values())
    for year, finds in years.items():
        one = pyarrow.compute.field("year") == year
        assert len(list(dataset.get_fragments(filter=one))) == 1, "more than one part is read for a year"
        assert set(dataset.to_table(filter=one, columns=["occurrenceID"])[0].to_pylist()) == finds
    (WORK / "years" / "year=1999").mkdir()
    (WORK / "years" / "year=1999" / "part-0.parquet").write_bytes(b"PAR1 of somebody else PAR1")
    done = subprocess.run([TRUG, "export", "--store", store, *words], capture_output=True, text=True)
    assert done.returncode == 1 and "year=1999" in done.stderr, done.stderr
    print(f"pyarrow {pyarrow.__version__}, DuckDB: {len(years)} parts, one for each year")


def main():
    store, path = WORK / "days.gpkg", WORK / "finds.parquet"
    trug("import", *sorted(pathlib.Path("sample-tracks").glob("2*")), "--store", store)
    words = ["--coordinates", "exact-unless-sensitive", "--format", "geoparquet", "--out", path]
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
    trug("import", "sample-tracks/earlier-years", "--store", store)
    check_parts(store)
    print(f"DuckDB {duckdb.__version__}: {len(rows)} finds, {len(places)} with a point")


if __name__ == "__main__":
    sys.exit(main())
