"""Can others read the archive that trug deposits, and does it keep quiet what it should? Asks PyPI
`python-dwca-reader`, a reader of Darwin Core Archives, for the tables, and compares positions with
those in the store.

Gets the path of trug in TRUG and an empty folder in WORK.
"""

import json
import math
import os
import pathlib
import subprocess
import sys
import zipfile

from dwca.darwincore.utils import qualname
from dwca.read import DwCAReader

TRUG = os.environ["TRUG"]
WORK = pathlib.Path(os.environ["WORK"])


def trug(*arguments):
    done = subprocess.run([TRUG, *map(str, arguments)], capture_output=True, text=True)
    assert done.returncode in (0, 1), f"trug {arguments}: {done.stderr}"
    return done.stdout


def read(path):
    """The events and the occurrences as that library understands them."""
    with DwCAReader(str(path)) as archive:
        assert archive.descriptor.core.type == qualname("Event"), archive.descriptor.core.type
        assert archive.metadata is not None
        events = list(archive)
        occurrences = [
            row.data
            for event in events
            for row in event.extensions
            if row.rowtype == qualname("Occurrence")
        ]
        return [event.data for event in events], occurrences


def metres(a, b):
    """On a sphere: within half a per cent, which is all that is asked here."""
    (lat_a, lon_a), (lat_b, lon_b) = ([math.radians(x) for x in place] for place in (a, b))
    half = math.sin((lat_b - lat_a) / 2) ** 2
    half += math.cos(lat_a) * math.cos(lat_b) * math.sin((lon_b - lon_a) / 2) ** 2
    return 2 * 6371008.8 * math.asin(math.sqrt(half))


def check_positions(occurrences, exact, decimals):
    located = 0
    for row in occurrences:
        if row[qualname("occurrenceStatus")] == "notDetected":
            continue
        lat, lon = row[qualname("decimalLatitude")], row[qualname("decimalLongitude")]
        true = exact[row[qualname("occurrenceID")]]["geometry"]
        if true is None:
            assert lat == "", row
            continue
        located += 1
        for figure in (lat, lon):
            assert len(figure.partition(".")[2]) <= decimals, f"{figure} is too fine"
        away = metres((float(lat), float(lon)), true["coordinates"][::-1])
        assert away <= float(row[qualname("coordinateUncertaintyInMeters")]), row
        assert row[qualname("dataGeneralizations")] and row[qualname("informationWithheld")]
        assert row[qualname("georeferenceRemarks")] == "" and "T" not in row[qualname("eventDate")]
    assert located > 0
    return located


def main():
    store = WORK / "days.gpkg"
    trug("import", *sorted(pathlib.Path("sample-tracks").glob("2*")), "--store", store)
    found = json.loads(trug("finds", "--store", store, "--format", "geojson"))["features"]
    exact = {feature["id"]: feature for feature in found}
    archive = WORK / "deposit.zip"
    words = ["--store", store, "--out", archive, "--title", "Autumn finds", "--licence", "cc-by"]
    for decimals, level in [(3, None), (1, "high")]:
        if level:
            kind = next(f for f in found if f["geometry"] and f["properties"].get("scientificName"))
            name = kind["properties"]["scientificName"]
            trug("places", "--store", store, "quiet", "--kind", name, "--level", level)
        trug("deposit", *words)
        assert zipfile.ZipFile(archive).testzip() is None
        events, occurrences = read(archive)
        detected = [o for o in occurrences if o[qualname("occurrenceStatus")] == "detected"]
        assert len(detected) == len(found), f"{len(detected)} of {len(found)}"
        of_kind = occurrences
        if level:
            of_kind = [o for o in detected if o[qualname("scientificName")] == name]
        located = check_positions(of_kind, exact, decimals)
        print(f"dwca-reader: {len(events)} events, {len(detected)} finds, {located} within {decimals} decimals")


if __name__ == "__main__":
    sys.exit(main())
