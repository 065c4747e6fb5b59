"""Is the KML that trug writes valid? Asks the schema of OGC 07-147r2, KML 2.2, as PyPI `fastkml`
ships it, through `lxml`.

Gets the path of trug in TRUG and an empty folder in WORK.
"""

import importlib.util
import os
import pathlib
import subprocess
import sys

from lxml import etree

TRUG = os.environ["TRUG"]
WORK = pathlib.Path(os.environ["WORK"])
KML = "{http://www.opengis.net/kml/2.2}"


def trug(*arguments):
    done = subprocess.run([TRUG, *map(str, arguments)], capture_output=True)
    assert done.returncode in (0, 1), f"trug {arguments}: {done.stderr.decode()}"
    return done.stdout


def main():
    package = pathlib.Path(importlib.util.find_spec("fastkml").origin).parent
    schema = etree.XMLSchema(etree.parse(package / "schema" / "ogckml22.xsd"))
    store = WORK / "days.gpkg"
    days = sorted(pathlib.Path("sample-tracks").glob("2*"))
    trug("import", *days, "--store", store)
    document = etree.fromstring(trug("finds", "--store", store, "--format", "kml"))
    schema.assertValid(document)
    marks = document.findall(f".//{KML}Placemark")
    assert marks, "no find"
    print(f"ogckml22.xsd: {len(marks)} placemarks valid")


if __name__ == "__main__":
    sys.exit(main())
