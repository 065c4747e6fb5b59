"""Would a herbarium take the deposit? A sample day with a notebook that has the columns of a collection, one find
identified again, is deposited with `--basis specimen`. PyPI `python-dwca-reader` reads the archive; every field of every
table is compared with the list of current terms (`tests/reference/data/darwin_core_terms.csv`), with the rule that the
quick reference guide states for it, and with what was recorded.

Gets the path of trug in TRUG and an empty folder in WORK.
"""

import csv
import os
import pathlib
import re
import shutil
import subprocess
import sys
import uuid
import zipfile

from dwca.read import DwCAReader
from lxml import etree

TRUG = os.environ["TRUG"]
WORK = pathlib.Path(os.environ["WORK"])
STORE = WORK / "days.gpkg"
TERMS = pathlib.Path("tests/reference/data/darwin_core_terms.csv")

# headings as people write them, with the term and the value that each must become
RECORDED = {
    "Country": ("country", "Nordland"),
    "countryCode": ("countryCode", "AU"),
    "State": ("stateProvince", "Tarnmark"),
    "County": ("county", "Derrin Valley"),
    "Municipality": ("municipality", "Maylow"),
    "Collection": ("collectionCode", "Fungi"),
    "Catalogue number": ("catalogNumber", "QFN-F-00010042"),
    "Other catalogue numbers": ("otherCatalogNumbers", "XX 17"),
    "Disposition": ("disposition", "in collection"),
    "Preparations": ("preparations", "dried; DNA extract"),
    "Kingdom": ("kingdom", "Fungi"),
    "dwc:phylum": ("phylum", "Basidiomycota"),
    "class": ("class", "Agaricomycetes"),
    "order": ("order", "Agaricales"),
    "Family": ("family", "Mycenaceae"),
    "Life stage": ("lifeStage", "mature"),
    "Associated sequences": ("associatedSequences", "XX000017"),
    "dcterms:rightsHolder": ("rightsHolder", "Ada Quillfeather"),
}
DUBLIN_CORE = ("rightsHolder", "license", "accessRights", "bibliographicCitation", "language")


def qualname(term):
    """The full name; that reader's own list lacks the newest terms."""
    return ("http://purl.org/dc/terms/" if term in DUBLIN_CORE else "http://rs.tdwg.org/dwc/terms/") + term


def trug(*arguments):
    done = subprocess.run([TRUG, *map(str, arguments)], capture_output=True, text=True)
    assert done.returncode in (0, 1), f"trug {arguments}: {done.stderr}"
    return done.stdout


def collection_notebook(day):
    """The notebook of the day with the columns of a collection, filled for its second record."""
    path = day / "notebook.csv"
    with path.open(newline="", encoding="utf-8-sig") as file:
        rows = list(csv.reader(file))
    rows[0] += list(RECORDED) + ["KOH"]
    for place, row in enumerate(rows[1:]):
        own = [value for _, value in RECORDED.values()] + ["yellow on cap"]
        row += own if place == 1 else [""] * len(own)
    with path.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows(rows)
    return rows[2][rows[0].index("Number")]


def is_date(text):
    day = r"\d{4}(-\d{2}(-\d{2})?)?"
    moment = rf"{day}(T\d{{2}}:\d{{2}}(:\d{{2}})?(Z|[+-]\d{{2}}:\d{{2}}))?"
    return re.fullmatch(rf"{moment}(/{moment})?", text)


def within(low, high):
    return lambda text: low <= float(text) <= high


def is_urn(text):
    return text.startswith("urn:uuid:") and str(uuid.UUID(text[9:])) == text[9:]


# what the quick reference guide says of a filled field, from memory of the guide
RULES = {
    "occurrenceID": is_urn,
    "eventID": is_urn,
    "identificationID": is_urn,
    "measurementID": is_urn,
    "basisOfRecord": lambda text: text in ("PreservedSpecimen", "HumanObservation"),
    "occurrenceStatus": lambda text: text in ("detected", "notDetected"),
    "eventDate": is_date,
    "dateIdentified": is_date,
    "decimalLatitude": within(-90, 90),
    "decimalLongitude": within(-180, 180),
    "geodeticDatum": lambda text: text == "EPSG:4326",
    "coordinateUncertaintyInMeters": within(0.1, 100_000),
    "coordinatePrecision": within(0, 90),
    "minimumElevationInMeters": within(-500, 9_000),
    "maximumElevationInMeters": within(-500, 9_000),
    "countryCode": lambda text: re.fullmatch("[A-Z]{2}", text),
    "isAcceptedIdentification": lambda text: text in ("true", "false"),
    "organismQuantity": within(0, 1e9),
    "sampleSizeValue": within(0, 1e9),
}


def check_fields(archive):
    """Each column is a current term with its current address, and each filled field keeps its rule."""
    with TERMS.open(encoding="utf-8") as file:
        rows = csv.reader(line for line in file if not line.startswith("#"))
        current = {row[2]: row[1] for row in rows}
    fields = 0
    name = "{http://rs.tdwg.org/dwc/text/}"
    for part in etree.fromstring(archive.read("meta.xml")):
        place = part.find(f"{name}files/{name}location").text
        table = list(csv.DictReader(archive.read(place).decode().split("\n")))
        for field in part.findall(f"{name}field"):
            address = field.get("term")
            assert address in current, f"{address} of {place} is no current term"
            term = current[address]
            rule = RULES.get(term, lambda text: True)
            for row in table:
                value = row[term]
                assert value == value.strip() and "\n" not in value, (place, term, value)
                if value:
                    fields += 1
                    assert rule(value), f"{place} {term}: {value}"
    return fields


def main():
    day = WORK / "day"
    shutil.copytree("sample-tracks/2026-04-18-wren-gully", day)
    number = collection_notebook(day)
    trug("import", day, "--store", STORE)
    named = ["--taxon", "Mycena cf. nargan", "--determiner", "Iren Marrowby", "--on", "2026-06-01"]
    named += ["--method", "microscopy", "--type-status", "paratype of Mycena exempla", "--reason", "spores"]
    trug("amend", number, "--store", STORE, *named)
    path = WORK / "deposit.zip"
    words = ["--title", "Vouchers", "--licence", "cc0", "--basis", "specimen", "--institution", "QFN"]
    trug("deposit", "--store", STORE, "--out", path, *words, "--coordinates", "exact-throughout")
    with zipfile.ZipFile(path) as archive:
        fields = check_fields(archive)
    with DwCAReader(str(path)) as archive:
        rows = [row for event in archive for row in event.extensions]
    of_kind = lambda kind: [row.data for row in rows if row.rowtype.endswith(kind)]
    finds = [row for row in of_kind("/Occurrence") if row[qualname("occurrenceStatus")] == "detected"]
    assert len(finds) == 16 and all(row[qualname("basisOfRecord")] == "PreservedSpecimen" for row in finds)
    assert all(row[qualname("institutionCode")] == "QFN" for row in finds)
    [find] = [row for row in finds if row[qualname("recordNumber")] == number]
    for term, value in RECORDED.values():
        assert find[qualname(term)] == value, (term, find[qualname(term)])
    expected = {
        "verbatimIdentification": "Mycena cf. nargan",
        "scientificName": "Mycena",
        "identificationQualifier": "cf. nargan",
        "identifiedBy": "Iren Marrowby",
        "dateIdentified": "2026-06-01",
        "identificationRemarks": "method: microscopy",
        "typeStatus": "paratype of Mycena exempla",
    }
    for term, value in expected.items():
        assert find[qualname(term)] == value, (term, find[qualname(term)])
    assert find[qualname("previousIdentifications")].startswith("Mycena interrupta")
    assert find[qualname("locality")] and find[qualname("recordedBy")]
    history = [row for row in of_kind("/Identification") if row[qualname("occurrenceID")] == find[qualname("occurrenceID")]]
    accepted = [row[qualname("isAcceptedIdentification")] for row in history]
    assert sorted(accepted) == ["false", "true"], history
    measured = {row[qualname("measurementType")] for row in of_kind("MeasurementOrFact")}
    assert "KOH" in measured, measured
    terms = {term.lower() for term, _ in RECORDED.values()}
    as_measured = [kind for kind in measured if re.sub("[^a-z]", "", kind.lower().split(":")[-1]) in terms]
    assert not as_measured, f"terms among the measurements: {as_measured}"
    print(f"dwca-reader: {len(finds)} specimens, {fields} filled fields are current terms and keep their rules")


if __name__ == "__main__":
    sys.exit(main())
