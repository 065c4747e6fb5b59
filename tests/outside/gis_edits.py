"""Are edits by other programs kept as amendments? Moves a point, changes an attribute and deletes a find
through GDAL/OGR and deletes one with the `sqlite3` program; trug must list them in its journal, keep them when a
corrected notebook is imported, and undo them. Then the edits that programs make by chance: no geometry, an empty
point, rows that are deleted and inserted again, replaced, or inserted with an update. Values that no find can have,
such as latitude and longitude exchanged, are refused and listed, and what was there stays in force.

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


def point_at(longitude, latitude):
    point = ogr.Geometry(ogr.wkbPoint)
    point.AddPoint_2D(longitude, latitude)
    return point


def beside(row):
    """Some 40 m off."""
    was = row.GetGeometryRef()
    return point_at(was.GetX() + 0.0005, was.GetY())


def edit_with_ogr(moved, renamed, deleted):
    store = gdal.OpenEx(str(STORE), gdal.OF_VECTOR | gdal.OF_UPDATE)
    layer = store.GetLayerByName("finds")
    for row in list(layer):
        if row["record_number"] == moved:
            row.SetGeometry(beside(row))
            layer.SetFeature(row)
        elif row["record_number"] == renamed:
            row["host"] = "Edited host"
            layer.SetFeature(row)
        elif row["record_number"] == deleted:
            layer.DeleteFeature(row.GetFID())
    store = layer = None


def listed(status):
    """What a command says of edits that it takes in."""
    done = subprocess.run([TRUG, "finds", "--store", str(STORE)], capture_output=True, text=True)
    assert done.returncode == status, f"{done.returncode} instead of {status}: {done.stderr}"
    return done.stderr


def no_geometries(located):
    """No geometry and an empty point are no position; the find stays otherwise, and both are reported as doubtful."""
    store = gdal.OpenEx(str(STORE), gdal.OF_VECTOR | gdal.OF_UPDATE)
    layer = store.GetLayerByName("finds")
    shapes = dict(zip(located, [None, ogr.Geometry(ogr.wkbPoint)]))
    for row in list(layer):
        if row["record_number"] in shapes:
            row.SetGeometry(shapes[row["record_number"]])
            layer.SetFeature(row)
    store = layer = None
    warned = listed(1)
    assert "may be a slip" in warned and all(number in warned for number in shapes), warned
    assert listed(0).count("edit") == 0
    last = changes()[-1]
    assert last["kind"] == "gis", last
    lines = {(line["number"], line["property"], line["after"]) for line in last["amendments"]}
    assert lines == {(number, "position", "not located") for number in shapes}, lines
    now = finds()
    assert all(now[number]["geometry"] is None for number in shapes)
    trug("undo", "--store", STORE)


def impossible(number, edit, refused):
    """An edit that is refused, by its property: it is listed with the reason, journalled, and changes nothing."""
    before = finds()
    store = gdal.OpenEx(str(STORE), gdal.OF_VECTOR | gdal.OF_UPDATE)
    layer = store.GetLayerByName("finds")
    row = next(row for row in layer if row["record_number"] == number)
    edit(row)
    layer.SetFeature(row)
    store = layer = row = None
    warned = listed(1)
    assert "refused" in warned and f"{number} {refused}" in warned, warned
    last = changes()[-1]
    lines = [(line["number"], line["property"]) for line in last["amendments"] if line.get("refused")]
    assert lines == [(number, refused)] and len(last["amendments"]) == 1, last
    assert finds() == before, number
    trug("verify", "--store", STORE, status=(0,))
    trug("undo", "--store", STORE)
    assert finds() == before, number


def impossible_values(number):
    def exchanged(row):
        was = row.GetGeometryRef()
        row.SetGeometry(point_at(was.GetY(), was.GetX()))

    def set_to(column, value):
        return lambda row: row.SetField(column, value)

    edits = [
        ("position", exchanged),
        ("position", lambda row: row.SetGeometry(point_at(0.0, 0.0))),
        ("position", lambda row: row.SetGeometry(point_at(16280000.0, -5200000.0))),
        ("position", set_to("radius95_m", -5.0)),
        ("position", set_to("radius95_m", 1e9)),
        ("determination", set_to("scientific_name", "?? 17")),
        ("number", lambda row: row.SetFieldNull("record_number")),
        ("collector", set_to("collector", "  ")),
        ("time", set_to("found_time", "1994/01/02 03:04:05+00")),
    ]
    for refused, edit in edits:
        impossible(number, edit, refused)
    return len(edits)


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
    east = now[moved]["geometry"]["coordinates"][0] - before[moved]["geometry"]["coordinates"][0]
    assert abs(east - 0.0005) < 1e-6, now[moved]
    assert "Edited host" in now[renamed]["properties"]["associatedTaxa"]
    assert deleted not in now and other not in now
    assert any(f["properties"].get("locality") == "Lantern Hill" for f in now.values())

    trug("undo", made[-1]["id"], "--store", STORE)
    now = finds()
    assert set(now) == set(before)
    assert now[moved]["geometry"] == before[moved]["geometry"]
    trug("verify", "--store", STORE, status=(0,))

    no_geometries(located[:2])
    count = impossible_values(located[2])
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
    print(f"GDAL {gdal.__version__}: 2 edits and 2 deletions kept, undone; 2 empty geometries and 3 rows inserted again, too; {count} impossible values refused")


if __name__ == "__main__":
    sys.exit(main())
