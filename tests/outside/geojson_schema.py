"""Is the GeoJSON that trug writes valid? Asks the schema of npm `geojson-schema` (MIT) through
PyPI `jsonschema`, and by hand what no schema can: the ranges of coordinates, that no line crosses
the 180th meridian, that positions agree with the terms beside them.

Gets the path of trug in TRUG, an empty folder in WORK, and the npm packages in NODE_PATH.
"""

import json
import os
import pathlib
import subprocess
import sys

import jsonschema

TRUG = os.environ["TRUG"]
WORK = pathlib.Path(os.environ["WORK"])
SCHEMA = pathlib.Path(os.environ["NODE_PATH"], "geojson-schema", "FeatureCollection.json")


def trug(*arguments):
    done = subprocess.run([TRUG, *map(str, arguments)], capture_output=True, text=True)
    assert done.returncode in (0, 1), f"trug {arguments}: {done.stderr}"
    return done.stdout


def check_ranges(feature):
    geometry = feature["geometry"]
    if geometry is None:
        return
    lines = [[geometry["coordinates"]]] if geometry["type"] == "Point" else geometry["coordinates"]
    for line in lines:
        for x, y in line:
            assert -180 <= x <= 180 and -90 <= y <= 90, (x, y)
        for (x, _), (following, _) in zip(line, line[1:]):
            assert abs(x - following) <= 180, "a line crosses the 180th meridian"


def check_terms(feature):
    terms = feature["properties"]
    if feature["geometry"] is None:
        assert "decimalLatitude" not in terms and "coordinateUncertaintyInMeters" not in terms
        return
    x, y = feature["geometry"]["coordinates"]
    assert (terms["decimalLongitude"], terms["decimalLatitude"]) == (x, y)
    assert terms["coordinateUncertaintyInMeters"] > 0
    assert terms["georeferenceSources"] and terms["georeferenceProtocol"]


def main():
    store = WORK / "days.gpkg"
    days = sorted(pathlib.Path("sample-tracks").glob("2*"))
    trug("import", *days, "--store", store)
    collection = json.loads(trug("finds", "--store", store, "--format", "geojson"))
    jsonschema.validate(collection, json.loads(SCHEMA.read_text()))
    assert collection["features"], "no find"
    for feature in collection["features"]:
        check_ranges(feature)
        check_terms(feature)
    print(f"geojson-schema: {len(collection['features'])} finds valid")


if __name__ == "__main__":
    sys.exit(main())
