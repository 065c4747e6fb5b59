"""Do labels print, and do they say what the record says? Asks poppler: page size, embedded fonts, the text
of every label against `trug finds --format geojson`, and whether a page leaves ink; and ZXing for the codes.

Gets the path of trug in TRUG and an empty folder in WORK. Needs poppler (pdfinfo, pdffonts, pdftotext,
pdftoppm).
"""

import json
import os
import pathlib
import re
import subprocess
import sys
import unicodedata

import numpy
import zxingcpp

DAYS = pathlib.Path(__file__).resolve().parent.parent.parent / "sample-tracks"
TRUG = os.environ["TRUG"]
WORK = pathlib.Path(os.environ["WORK"])
PAPER_SIZES = {"a4": (595.276, 841.89), "letter": (612.0, 792.0)}


def trug(*arguments):
    done = subprocess.run([TRUG, *map(str, arguments)], capture_output=True, text=True)
    assert done.returncode in (0, 1), f"trug {arguments}: {done.stderr}"
    return done.stdout


def poppler(program, *arguments):
    return subprocess.run([program, *map(str, arguments)], capture_output=True, text=True, check=True).stdout


def bare(text):
    """Without spaces and in one normal form: lines break where they must."""
    return re.sub(r"\s+", "", unicodedata.normalize("NFC", text))


def check_pages(pdf, paper):
    reported = poppler("pdfinfo", pdf)
    wide, high = map(float, re.search(r"Page size:\s+([\d.]+) x ([\d.]+)", reported).groups())
    assert abs(wide - PAPER_SIZES[paper][0]) < 0.5 and abs(high - PAPER_SIZES[paper][1]) < 0.5, reported
    fonts = poppler("pdffonts", pdf).splitlines()[2:]
    assert fonts, "no text at all"
    for line in fonts:
        assert "NotoSans" in line, line
        embedded = line.split()[-5]
        assert embedded == "yes", line


def check_ink(pdf):
    """The share of dark dots of the first page, from a plain grey picture."""
    poppler("pdftoppm", "-r", "60", "-gray", "-f", "1", "-l", "1", "-singlefile", pdf, WORK / "page")
    kind, size, _, dots = (WORK / "page.pgm").read_bytes().split(b"\n", 3)
    wide, high = map(int, size.split())
    assert kind == b"P5" and len(dots) == wide * high
    dark = sum(dot < 100 for dot in dots) / len(dots)
    assert 0.005 < dark < 0.4, f"{dark:.3f} of the page is dark"


def check_codes(pdf, features):
    """Every record's code, read from the printed pages by ZXing."""
    poppler("pdftoppm", "-r", "220", "-gray", pdf, WORK / "codes")
    read = set()
    for page in sorted(WORK.glob("codes*.pgm")):
        _, size, _, dots = page.read_bytes().split(b"\n", 3)
        wide, high = map(int, size.split())
        grey = numpy.frombuffer(dots, dtype=numpy.uint8).reshape(high, wide)
        read |= {code.text for code in zxingcpp.read_barcodes(grey)}
        page.unlink()
    wanted = {feature["id"].upper() for feature in features}
    assert read == wanted, f"{len(wanted - read)} codes not read, {len(read - wanted)} unknown"


def check_words(pdf, features):
    """Every label in the order of the page's own content, so that neighbours do not mix."""
    text = bare(poppler("pdftotext", "-raw", pdf, "-"))
    for feature in features:
        said = feature["properties"]
        for term in ("recordNumber", "scientificName", "locality", "recordedBy"):
            value = said.get(term)
            assert not value or bare(value) in text, f"{term} of {said.get('recordNumber')}: {value}"
        identity = feature["id"].removeprefix("urn:uuid:")
        assert identity in text, identity
        if feature["geometry"]:
            longitude, latitude = feature["geometry"]["coordinates"][:2]
            # the exchange file is rounded further down, so a half may go the other way
            shown = [
                f"{abs(latitude + up):.5f}{'S' if latitude < 0 else 'N'}{abs(longitude + along):.5f}{'W' if longitude < 0 else 'E'}"
                for up in (-5e-7, 0, 5e-7)
                for along in (-5e-7, 0, 5e-7)
            ]
            assert any(words in text for words in shown), f"{said['recordNumber']}: {shown[4]}"


def main():
    store = WORK / "trug.gpkg"
    for day in ("2026-04-18-wren-gully", "2026-05-02-thimble-spur", "2026-05-16-old-tramway"):
        trug("import", DAYS / day, "--store", store)
    features = json.loads(trug("finds", "--store", store, "--format", "geojson"))["features"]
    assert len(features) == 45, len(features)
    for paper in PAPER_SIZES:
        for size in ("packet", "tray", "tag"):
            pdf = WORK / f"{size}-{paper}.pdf"
            trug("labels", "--store", store, "--size", size, "--paper", paper, "--out", pdf)
            check_pages(pdf, paper)
        check_words(WORK / f"packet-{paper}.pdf", features)
    check_ink(WORK / "packet-a4.pdf")
    for size in ("packet", "tray", "tag"):
        check_codes(WORK / f"{size}-a4.pdf", features)
    slips = WORK / "slips.pdf"
    trug("labels", "--slips", "AQ-0098", "--count", "12", "--out", slips)
    text = poppler("pdftotext", slips, "-")
    for number in range(98, 110):
        assert text.count(f"AQ-{number:04}") == 2, f"AQ-{number:04} stands on both halves"
    print(f"labels: {len(features)} finds say on paper what the record says and in code which it is; fonts travel with the file")


if __name__ == "__main__":
    sys.exit(main())
