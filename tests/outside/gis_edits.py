"""Are edits by other programs kept as amendments? Moves a point, changes an attribute and deletes a find
through GDAL/OGR and deletes one with the `sqlite3` program; trug must list them in its journal, keep them when a
corrected notebook is imported, and undo them. Then the edits that programs make by chance: no geometry, an empty
point, coordinates of another system, rows that are deleted and inserted again, replaced, or inserted with an update.

Gets the path of trug in TRUG and an empty folder in WORK. Needs Debian's python3-gdal and sqlite3.
"""

import json
import os
import pathlib
import shutil
import sqlite3
import struct
import subprocess
import sys

from osgeo import gdal, ogr

gdal.UseExceptions()

TRUG = os.environ["TRUG"]
WORK = pathlib.Path(os.environ["WORK"])
STORE = WORK / "days.gpkg"


def trug(*arguments, status=(0, 1)):
    done = subprocess.run([TRUG, *map(str, arguments)], capture_output=True, text=True)
    assert done.returncode in status, f"trug {arguments}: {done.returncode} {done.stderr}"
    return done.stdout


def finds():
    found = json.loads(trug("finds", "--store", STORE, "--format", "geojson"))
    return {feature["properties"]["recordNumber"]: feature for feature in found["features"]}


def changes():
    return json.loads(trug("history", "--store", STORE, "--json"))


def edit_with_ogr(moved, renamed, deleted):
    store = gdal.OpenEx(str(STORE), gdal.OF_VECTOR | gdal.OF_UPDATE)
    layer = store.GetLayerByName("finds")
    for row in list(layer):
        if row["record_number"] == moved:
            point = ogr.Geometry(ogr.wkbPoint)
            point.AddPoint_2D(146.25, -42.5)
            row.SetGeometry(point)
            layer.SetFeature(row)
        elif row["record_number"] == renamed:
            row["host"] = "Edited host"
            layer.SetFeature(row)
        elif row["record_number"] == deleted:
            layer.DeleteFeature(row.GetFID())
    store = layer = None


def odd_geometries(located):
    """No geometry, an empty point and metres of another system are no position; the find stays otherwise."""
    store = gdal.OpenEx(str(STORE), gdal.OF_VECTOR | gdal.OF_UPDATE)
    layer = store.GetLayerByName("finds")
    metres = ogr.Geometry(ogr.wkbPoint)
    metres.AddPoint_2D(16280000.0, -5200000.0)
    shapes = dict(zip(located, [None, ogr.Geometry(ogr.wkbPoint), metres]))
    for row in list(layer):
        if row["record_number"] in shapes:
            row.SetGeometry(shapes[row["record_number"]])
            layer.SetFeature(row)
    store = layer = None
    last = changes()[-1]
    assert last["kind"] == "gis", last
    lines = {(line["number"], line["property"], line["after"]) for line in last["amendments"]}
    assert lines == {(number, "position", "not located") for number in located}, lines
    now = finds()
    assert all(now[number]["geometry"] is None for number in located)
    trug("undo", "--store", STORE)


def inserted_again(number):
    """With the same identifier: an edit, not a new find and not a withdrawn one."""
    store = gdal.OpenEx(str(STORE), gdal.OF_VECTOR | gdal.OF_UPDATE)
    layer = store.GetLayerByName("finds")
    row = next(row for row in layer if row["record_number"] == number)
    again = row.Clone()
    again["host"] = "Inserted again"
    layer.DeleteFeature(row.GetFID())
    layer.CreateFeature(again)
    store = layer = row = again = None
    expect_host(number, "Inserted again")


def replaced(number, statement):
    """By a program that brings the functions of the spatial index, as every GIS does."""
    connection = sqlite3.connect(STORE)
    connection.create_function("ST_IsEmpty", 1, lambda blob: blob is None)
    for name, axis in (("ST_MinX", 0), ("ST_MaxX", 0), ("ST_MinY", 1), ("ST_MaxY", 1)):
        place = lambda blob, axis=axis: struct.unpack("<dd", blob[-16:])[axis]
        connection.create_function(name, 1, place)
    columns = [row[1] for row in connection.execute("PRAGMA table_info(finds)")]
    values = [f"'{statement}'" if name == "host" else name for name in columns]
    chosen = f"SELECT {', '.join(values)} FROM finds WHERE record_number = '{number}'"
    if statement == "Replaced":
        connection.execute(f"REPLACE INTO finds ({', '.join(columns)}) {chosen}")
    else:
        connection.execute(
            f"INSERT INTO finds ({', '.join(columns)}) {chosen} "
            "ON CONFLICT (id) DO UPDATE SET host = excluded.host"
        )
    connection.commit()
    connection.close()
    expect_host(number, statement)


def expect_host(number, host):
    last = changes()[-1]
    lines = [(line["number"], line["property"], line["after"]) for line in last["amendments"]]
    assert lines == [(number, "host", host)], lines
    found = finds()[number]
    assert host in found["properties"]["associatedTaxa"], found
    trug("verify", "--store", STORE, status=(0,))
    trug("undo", "--store", STORE)


def main():
    day = WORK / "day"
    shutil.copytree("sample-tracks/2026-04-18-wren-gully", day)
    trug("import", day, "--store", STORE)
    before = finds()
    located = [number for number, feature in before.items() if feature["geometry"]]
    moved, renamed, deleted, other = located[:4]
    edit_with_ogr(moved, renamed, deleted)
    command = f"DELETE FROM finds WHERE record_number = '{other}'"
    subprocess.run(["sqlite3", str(STORE), command], check=True)

    made = changes()
    assert [change["kind"] for change in made] == ["import", "gis"], made
    lines = {(line["number"], line["property"]) for line in made[-1]["amendments"]}
    expected = {
        (moved, "position"),
        (renamed, "host"),
        (deleted, "withdrawn"),
        (other, "withdrawn"),
    }
    assert lines == expected, f"{lines} instead of {expected}"

    notebook = day / "notebook.csv"
    text = notebook.read_text(encoding="utf-8").replace("Lantern Flat", "Lantern Hill")
    notebook.write_text(text, encoding="utf-8")
    trug("import", day, "--store", STORE)
    now = finds()
    assert now[moved]["geometry"]["coordinates"][:2] == [146.25, -42.5], now[moved]
    assert "Edited host" in now[renamed]["properties"]["associatedTaxa"]
    assert deleted not in now and other not in now
    assert any(f["properties"].get("locality") == "Lantern Hill" for f in now.values())

    trug("undo", made[-1]["id"], "--store", STORE)
    now = finds()
    assert set(now) == set(before)
    assert now[moved]["geometry"] == before[moved]["geometry"]
    trug("verify", "--store", STORE, status=(0,))

    odd_geometries(located[:3])
    inserted_again(located[3])
    replaced(located[3], "Replaced")
    replaced(located[3], "Inserted with an update")
    again = finds()
    assert {number: again[number]["properties"] for number in again} == {
        number: now[number]["properties"] for number in now
    }

    store = gdal.OpenEx(str(STORE), gdal.OF_VECTOR | gdal.OF_UPDATE)
    try:
        store.ExecuteSQL("DELETE FROM outings")
        refused = False
    except RuntimeError as error:
        refused = "trug remove" in str(error)
    assert refused, "an outing was deleted"
    print(f"GDAL {gdal.__version__}: 2 edits and 2 deletions kept, undone; 3 odd geometries and 3 rows inserted again, too")


if __name__ == "__main__":
    sys.exit(main())
