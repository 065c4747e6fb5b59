"""Is the store a GeoPackage that a GIS opens? Asks GDAL: its validator, layers, counts, positions,
reference system, extents, spatial index, and that an edit made there is read by trug.

Gets the path of trug in TRUG and an empty folder in WORK. Needs Debian's python3-gdal. The figures on
the other side come from `trug finds --format geojson`, which is read with nothing but `json`.
"""

import json
import os
import pathlib
import subprocess
import sys

from osgeo import gdal, ogr

gdal.UseExceptions()

LAYERS = {
    "finds": ogr.wkbPoint,
    "tracks": ogr.wkbMultiLineString,
    "outings": ogr.wkbPoint,
    "photographs": ogr.wkbPoint,
    "stops": ogr.wkbPoint,
    "trailheads": ogr.wkbPoint,
    "sites": ogr.wkbPoint,
    "weather_stations": ogr.wkbPoint,
}
TRUG = os.environ["TRUG"]
WORK = pathlib.Path(os.environ["WORK"])


def trug(*arguments):
    """Runs trug; exit status 1 says that some inputs were set aside, which the sample days want."""
    done = subprocess.run([TRUG, *map(str, arguments)], capture_output=True, text=True)
    assert done.returncode in (0, 1), f"trug {arguments}: {done.stderr}"
    return done.stdout


def validate(path):
    from osgeo_utils.samples import validate_gpkg

    validate_gpkg.check(str(path), abort_at_first_error=True, extra_checks=True)


def check_layers(store):
    for name, shape in LAYERS.items():
        layer = store.GetLayerByName(name)
        assert layer is not None, f"no layer {name}"
        assert layer.GetGeomType() == shape, f"{name}: {layer.GetGeomType()}"
        system = layer.GetSpatialRef()
        assert system.GetAuthorityCode(None) == "4326", name
        assert layer.TestCapability(ogr.OLCFastSpatialFilter), f"{name} has no spatial index"


def check_positions(store, features):
    layer = store.GetLayerByName("finds")
    assert layer.GetFeatureCount() == len(features), "counts differ"
    by_id = {feature["id"].removeprefix("urn:uuid:"): feature for feature in features}
    extent = [180.0, -180.0, 90.0, -90.0]
    located = 0
    for row in layer:
        feature = by_id[row["uuid"]]
        geometry = row.GetGeometryRef()
        assert (geometry is None) == (feature["geometry"] is None), row["record_number"]
        assert row["record_number"] == feature["properties"].get("recordNumber")
        if geometry is None:
            continue
        located += 1
        x, y = feature["geometry"]["coordinates"]
        assert abs(geometry.GetX() - x) < 1e-7 and abs(geometry.GetY() - y) < 1e-7
        extent = [min(extent[0], x), max(extent[1], x), min(extent[2], y), max(extent[3], y)]
    assert located > 0, "no find has a position"
    stated = layer.GetExtent(force=0)
    for side, true in zip(stated, extent):
        # the spatial index rounds outward to single precision
        assert abs(side - true) < 1e-4, f"extent {stated}, finds {extent}"


def check_spatial_filter(store):
    layer = store.GetLayerByName("finds")
    layer.ResetReading()
    first = next(row for row in layer if row.GetGeometryRef() is not None)
    x, y = first.GetGeometryRef().GetX(), first.GetGeometryRef().GetY()
    layer.SetSpatialFilterRect(x - 1e-6, y - 1e-6, x + 1e-6, y + 1e-6)
    assert first["uuid"] in {row["uuid"] for row in layer}, "the spatial index misses a find"
    layer.SetSpatialFilter(None)


def check_tracks(store):
    layer = store.GetLayerByName("tracks")
    assert layer.GetFeatureCount() > 0
    for row in layer:
        points = sum(
            row.GetGeometryRef().GetGeometryRef(part).GetPointCount()
            for part in range(row.GetGeometryRef().GetGeometryCount())
        )
        assert 1 < points <= row["point_count"], f"{points} of {row['point_count']}"


def check_edit(path):
    """An edit made in a GIS is what trug reads; the triggers keep the index with it."""
    store = gdal.OpenEx(str(path), gdal.OF_VECTOR | gdal.OF_UPDATE)
    layer = store.GetLayerByName("finds")
    row = next(row for row in layer if row.GetGeometryRef() is not None)
    identity = row["uuid"]
    row["scientific_name"] = "Edited elsewhere"
    # 55 m to the north: an edit beyond the walk of the outing is refused
    east, north = row.GetGeometryRef().GetX(), row.GetGeometryRef().GetY() + 0.0005
    moved = ogr.Geometry(ogr.wkbPoint)
    moved.AddPoint_2D(east, north)
    row.SetGeometry(moved)
    layer.SetFeature(row)
    store = layer = row = None
    near = ["--near", f"{north} {east}", "--within", "5"]
    found = json.loads(trug("finds", "--store", path, *near, "--format", "geojson"))
    edited = [feature for feature in found["features"] if feature["id"] == f"urn:uuid:{identity}"]
    assert len(edited) == 1, found
    assert edited[0]["properties"]["scientificName"] == "Edited elsewhere", edited


def main():
    path = WORK / "days.gpkg"
    days = sorted(pathlib.Path("sample-tracks").glob("2*"))
    trug("import", *days, "--store", path)
    validate(path)
    found = json.loads(trug("finds", "--store", path, "--format", "geojson"))
    store = gdal.OpenEx(str(path), gdal.OF_VECTOR)
    check_layers(store)
    check_positions(store, found["features"])
    check_spatial_filter(store)
    check_tracks(store)
    print(f"GDAL {gdal.__version__}: {len(found['features'])} finds, {len(LAYERS)} layers in order")
    store = None
    check_edit(path)


if __name__ == "__main__":
    sys.exit(main())
