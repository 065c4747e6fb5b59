"""Can others read the archive that trug deposits, and does it withhold what it should? Asks PyPI
`python-dwca-reader`, a reader of Darwin Core Archives, for the tables, and compares positions with
those in the store. `eml.xml` is held against the rules of Ecological Metadata Language 2.2.0 that PyPI
`metapype` knows (order, number and content of elements). No package holds the schema of `meta.xml`, so the
rules of the Darwin Core text guide are asked one by one.

Gets the path of trug in TRUG and an empty folder in WORK.
"""

import csv
import io
import json
import math
import os
import pathlib
import subprocess
import sys
import zipfile

from dwca.darwincore.utils import qualname
from dwca.read import DwCAReader
from lxml import etree
from metapype.eml import validate
from metapype.model import metapype_io

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


def check_eml(archive):
    """What `metapype` says of the description of the whole."""
    tree = etree.fromstring(archive.read("eml.xml"))
    # the schema allows a link in a paragraph (eml-text.xsd, ParagraphType), that package does not know it
    links = tree.findall(".//para/ulink")
    assert len(links) == 1 and links[0].get("url").startswith("http") and links[0].find("citetitle").text
    links[0].getparent().remove(links[0])
    faults = []
    validate.tree(metapype_io.from_xml(etree.tostring(tree).decode()), faults)
    assert faults == [], faults
    # and it does see a fault
    for creator in tree.findall("dataset/creator"):
        creator.getparent().remove(creator)
    validate.tree(metapype_io.from_xml(etree.tostring(tree).decode()), faults)
    assert faults, "a missing creator was not seen"


def check_meta(archive):
    """The rules of the Darwin Core text guide, sections 2 and 3, from memory of the guide."""
    name = "{http://rs.tdwg.org/dwc/text/}"
    root = etree.fromstring(archive.read("meta.xml"))
    assert root.tag == f"{name}archive" and root.get("metadata") in archive.namelist()
    parts = list(root)
    assert [part.tag for part in parts].count(f"{name}core") == 1 and parts[0].tag == f"{name}core"
    assert all(part.tag == f"{name}extension" for part in parts[1:]) and len(parts) > 1
    allowed = {"encoding", "fieldsTerminatedBy", "linesTerminatedBy", "fieldsEnclosedBy", "ignoreHeaderLines", "rowType", "dateFormat"}
    described = set()
    for part in parts:
        assert set(part.attrib) <= allowed and part.get("rowType").startswith("http"), part.attrib
        tags = [child.tag.removeprefix(name) for child in part]
        identity = "id" if part is parts[0] else "coreid"
        assert tags[:2] == ["files", identity] and set(tags[2:]) == {"field"}, tags
        locations = [location.text for location in part.iter(f"{name}location")]
        assert len(locations) == 1 and locations[0] in archive.namelist(), locations
        described.update(locations)
        text = archive.read(locations[0]).decode(part.get("encoding"))
        assert text.endswith("\n") and part.get("linesTerminatedBy") == "\\n" and "\r" not in text
        rows = list(csv.reader(io.StringIO(text), delimiter=part.get("fieldsTerminatedBy"), quotechar=part.get("fieldsEnclosedBy")))
        assert len(rows) == text.count("\n"), "a line end stands inside a cell"
        header = rows[0]
        assert part.get("ignoreHeaderLines") == "1" and all(len(row) == len(header) for row in rows)
        fields = part.findall(f"{name}field")
        places = [int(field.get("index")) for field in fields]
        assert sorted(places) == list(range(len(header))), places
        terms = [field.get("term") for field in fields]
        assert len(set(terms)) == len(terms), "a term stands twice"
        assert [term.rpartition("/")[2] for term in terms] == header
        assert 0 <= int(part.find(f"{name}{identity}").get("index")) < len(header)
    cores = archive.read(parts[0].find(f"{name}files/{name}location").text).decode()
    ids = {row[0] for row in list(csv.reader(io.StringIO(cores)))[1:]}
    assert len(ids) == cores.count("\n") - 1, "an identity stands twice in the core"
    for part in parts[1:]:
        rows = list(csv.reader(io.StringIO(archive.read(part.find(f"{name}files/{name}location").text).decode())))
        place = int(part.find(f"{name}coreid").get("index"))
        assert {row[place] for row in rows[1:]} <= ids, "a row belongs to no event"
    assert described | {"meta.xml", root.get("metadata")} == set(archive.namelist())


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
    title = 'Autumn finds, & <others> in "quotes" \U0001f344'
    words = ["--store", store, "--out", archive, "--title", title, "--licence", "cc-by"]
    for decimals, level in [(3, None), (1, "high")]:
        if level:
            kind = next(f for f in found if f["geometry"] and f["properties"].get("scientificName"))
            name = kind["properties"]["scientificName"]
            trug("places", "--store", store, "quiet", "--kind", name, "--level", level)
        trug("deposit", *words)
        with zipfile.ZipFile(archive) as packed:
            assert packed.testzip() is None
            check_eml(packed)
            check_meta(packed)
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
