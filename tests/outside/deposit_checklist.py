"""Does a deposit say of each name what the checklist of the store says? Two sample days are imported with the sample
checklist (`sample-tracks/checklist.tsv`, invented assignments in the columns of Darwin Core's class Taxon). PyPI
`python-dwca-reader` reads the archive; Python's csv reads the checklist. Author, rank, status, accepted name and higher
taxa of every find, every identification and every non-detection whose name stands in the checklist must be those of its
row; of a find with another species, or with a doubt, the higher taxa of its genus.

Gets the path of trug in TRUG and an empty folder in WORK.
"""

import csv
import os
import pathlib
import subprocess
import sys

from dwca.darwincore.utils import qualname
from dwca.read import DwCAReader

TRUG = os.environ["TRUG"]
WORK = pathlib.Path(os.environ["WORK"])
STORE = WORK / "days.gpkg"
CHECKLIST = pathlib.Path("sample-tracks/checklist.tsv")
HIGHER = ("kingdom", "phylum", "class", "order", "family", "genus")


def trug(*arguments):
    done = subprocess.run([TRUG, *map(str, arguments)], capture_output=True, text=True)
    assert done.returncode in (0, 1), f"trug {arguments}: {done.stderr}"
    return done.stdout


def checklist():
    with CHECKLIST.open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file, delimiter="\t"))
    by_id = {row["taxonID"]: row for row in rows}
    named = {}
    for row in rows:
        for name in {row["scientificName"], f"{row['scientificName']} {row['scientificNameAuthorship']}"}:
            named.setdefault(name, []).append(row)
    return by_id, named


def expected(row, by_id):
    accepted = by_id[row["acceptedNameUsageID"]]
    terms = {term: accepted[term] for term in HIGHER}
    terms["scientificNameAuthorship"] = row["scientificNameAuthorship"]
    terms["taxonRank"] = row["taxonRank"]
    terms["taxonomicStatus"] = row["taxonomicStatus"]
    terms["acceptedNameUsage"] = f"{accepted['scientificName']} {accepted['scientificNameAuthorship']}".strip()
    return terms


def check(row, by_id, named, counts):
    """What of the checklist the row must have."""
    name = row[qualname("scientificName")]
    qualifier = row.get(qualname("identificationQualifier"), "")
    rows = named.get(name, [])
    if len(rows) == 1 and not qualifier:
        for term, value in expected(rows[0], by_id).items():
            assert row[qualname(term)] == value, f"{name} {term}: {row[qualname(term)]} instead of {value}"
        counts["names"] += 1
        return
    genus = [own for own in named.get(name.split(" ")[0], []) if own["taxonomicStatus"] == "accepted"]
    is_occurrence = qualname("basisOfRecord") in row and row[qualname("occurrenceStatus")] == "detected"
    is_listed = " ".join(name.split(" ")[:2]) in named
    if not is_listed and len(genus) == 1 and is_occurrence:
        for term in HIGHER:
            assert row[qualname(term)] == genus[0][term], (name, term, row[qualname(term)])
        assert row[qualname("scientificNameAuthorship")] == "", name
        counts["genera"] += 1


def main():
    days = ["sample-tracks/2026-05-02-thimble-spur", "sample-tracks/2026-06-06-lantern-flat"]
    trug("import", *days, "--store", STORE, "--checklist", CHECKLIST)
    by_id, named = checklist()
    synonym = next(row for row in by_id.values() if row["taxonomicStatus"] == "synonym")["scientificName"]
    numbers = [row[qualname("recordNumber")] for row in occurrences(deposit("first"))]
    first, second = [number for number in numbers if number][:2]
    trug("amend", first, "--store", STORE, "--taxon", synonym, "--determiner", "I. Marrowby", "--reason", "seen again")
    trug("amend", second, "--store", STORE, "--taxon", "Mycena nargan-lik", "--reason", "a species that is not listed")
    counts = {"names": 0, "genera": 0}
    archive = deposit("second")
    for row in occurrences(archive):
        check(row, by_id, named, counts)
    identified = rows_of(archive, "Identification")
    for row in identified:
        check(row, by_id, named, counts)
    assert any(row[qualname("scientificName")] == synonym for row in identified), synonym
    assert counts["names"] > 15 and counts["genera"] > 0, counts
    print(f"{counts['names']} names with author, rank, status and higher taxa, {counts['genera']} with those of their genus")


def deposit(name):
    path = WORK / f"{name}.zip"
    trug("deposit", "--store", STORE, "--title", "Two days", "--licence", "cc-by", "--coordinates", "exact-unless-sensitive", "--out", path)
    return path


def rows_of(path, kind):
    with DwCAReader(str(path)) as archive:
        return [row.data for event in archive for row in event.extensions if row.rowtype.rsplit("/", 1)[-1] == kind]


def occurrences(path):
    return rows_of(path, "Occurrence")


if __name__ == "__main__":
    sys.exit(main())
