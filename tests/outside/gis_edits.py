"""Are edits by other programs kept as amendments? Moves a point, changes an attribute and deletes a find
through GDAL/OGR and deletes one with the `sqlite3` program; trug must list them in its journal, keep them when a
corrected notebook is imported, and undo them.

Gets the path of trug in TRUG and an empty folder in WORK. Needs Debian's python3-gdal and sqlite3.
"""

import json
import os
import pathlib
import shutil
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

    store = gdal.OpenEx(str(STORE), gdal.OF_VECTOR | gdal.OF_UPDATE)
    try:
        store.ExecuteSQL("DELETE FROM outings")
        refused = False
    except RuntimeError as error:
        refused = "trug remove" in str(error)
    assert refused, "an outing was deleted"
    print(f"GDAL {gdal.__version__}: 2 edits and 2 deletions kept, undone")


if __name__ == "__main__":
    sys.exit(main())
