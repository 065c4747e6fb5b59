"""Do labels print, and do they say what the record says? Asks poppler: page size, embedded fonts, the text
of every label against `trug finds --format geojson`, and whether a page leaves ink; and ZXing for the codes. Then
hard records in every size and language: nothing is lost, cut, printed over something else or too small, and the letters
that no font has are those that fontconfig says.

Gets the path of trug in TRUG and an empty folder in WORK. Needs poppler (pdfinfo, pdffonts, pdftotext,
pdftoppm) and fontconfig (fc-list).
"""

import csv
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
    read = codes(pdf, 220)["QRCode"]
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


MILLIMETRE = 72 / 25.4
SIZES = {"packet": (93, 84), "tray": (62, 42), "tag": (46, 21)}
LANGUAGES = ("en", "de", "fr", "es", "la")
# ascender and descender of the embedded font in units of its size
NOTO = 1.069 + 0.293
LETTERS = "\u6f22\u3042\u0627\u05e9\u0e01\ud55c\u0531\u10d0\u16a0"


def hard_records():
    """Names of a hundred letters, every column filled, a number longer than its label, nine scripts."""
    plain = {
        "date": "2026-05-02",
        "time": "09:41",
        "place": "Quillback Spur, 300 m NW of the ford below the old sawmill",
        "name": "Cortinarius subarchaeopteryx var. pseudolilacinofulvescens (Brambletoft-Pe\u00f1a & "
        "Oyelaran-Whitcombe) Marrowby, Hale & Quillfeather",
        "substrate": "very rotten, moss-covered log of a broad-leaved tree, lying in water",
        "host": "Nothofagus cunninghamii \u00d7 gunnii",
        "habitat": "cool temperate rainforest with Eucryphia lucida, on a south-facing slope above the creek",
        "collector": "No\u00ebl Brambletoft-Pe\u00f1a, Oluwaseun Oyelaran-Whitcombe & \u00deorbj\u00f6rg \u00c6gisd\u00f3ttir",
        "latitude": "-42.61640",
        "longitude": "146.09360",
        "datum": "WGS 84",
        "uncertainty (m)": "8",
        "elevation (m)": "512",
    }
    full = plain | {
        "number": "NBP 2026-05-02/0213b-duplicate-\u03b1",
        "colour": "cap lilac when young, soon fulvous brown; gills deep violet; stem pale lilac above",
        "bruising": "flesh slowly brown, then black, in all parts",
        "smell": "faint, of honey and of new rope",
        "taste": "mild, then slightly bitter",
        "spore print": "rust brown",
        "quantity": "12 fruit bodies",
        "identified by": "I. Marrowby",
        "date identified": "2026-06-01",
        "country": "Nordland",
        "state": "Tarnmark",
        "county": "Derrin Valley",
        "municipality": "Maylow",
        "institutionCode": "QFN",
        "collectionCode": "Fungi",
        "catalogNumber": "QFN-F-00010042",
        "typeStatus": "holotype of Cortinarius subarchaeopteryx",
        "duplicates": "HO, MEL, K",
        "KOH": "red-brown on cap",
        "FeSO4": "grey-green",
        "spores": "8.1 x 5.2, 7.9x5.0, 8.4x5.1, 8.0x5.0, 7.8x4.9",
        "basidia": "28x7, 30x8, 31x7.5",
        "preparations": "dried; DNA extract",
        "notes": "In a troop of about forty along the log. " * 6,
    }
    scripts = plain | {
        "number": "\u6f22\u5b57 12",
        "name": "\u041b\u0430\u043a\u0442\u0430\u0440\u0438\u0443\u0441",
        "place": "\u041b\u0435\u0441 \u0443 \u0440\u0435\u043a\u0438, \u68ee\u306e\u4e2d, \u0394\u03ac\u03c3\u03bf\u03c2",
        "notes": "\u0645\u0644\u0627\u062d\u0638\u0627\u062a \u05d4\u05e2\u05e8\u05d5\u05ea \u0e1b\u0e48\u0e32 \uc232 " + LETTERS,
    }
    short = {"number": "T1", "name": "Mycena interrupta (Berk.) Sacc.", "collector": "T. Hale"}
    long = {
        "number": "DONAUDAMPFSCHIFFFAHRTSGESELLSCHAFTSKAPIT\u00c4N-00000000000000000042",
        "name": "Mycena",
        "collector": "A" * 70,
        "substrate": "B" * 120,
    }
    rows = [full, plain | short, scripts, plain | long]
    path = WORK / "hard.csv"
    headings = list(dict.fromkeys(heading for row in rows for heading in row))
    with path.open("w", newline="", encoding="utf-8") as out:
        table = csv.DictWriter(out, headings)
        table.writeheader()
        table.writerows(rows)
    return path, rows


def words_of(pdf):
    """Each word with its page and box, in points from the upper left corner."""
    page, found = 0, []
    for line in poppler("pdftotext", "-bbox", pdf, "-").splitlines():
        page += "<page " in line
        box = re.search(r'xMin="([\d.-]+)" yMin="([\d.-]+)" xMax="([\d.-]+)" yMax="([\d.-]+)">(.*)</word>', line)
        if box:
            found.append((page, *map(float, box.groups()[:4]), box.group(5)))
    return found


def check_boxes(pdf, size):
    """Every word within one label, apart from the note above them, none on another, none smaller than 6 points."""
    wide, high = (side * MILLIMETRE for side in SIZES[size])
    page_wide, page_high = PAPER_SIZES["a4"]
    edge = 12 * MILLIMETRE - 0.5
    left = (page_wide - int((page_wide - 2 * edge) / wide) * wide) / 2
    # the note above the labels takes a line
    top = (page_high - int((page_high - 2 * edge - 20) / high) * high) / 2
    words = words_of(pdf)
    assert words
    boxes = []
    for page, x0, y0, x1, y1, word in words:
        assert x0 >= edge and y0 >= edge and x1 <= page_wide - edge and y1 <= page_high - edge, word
        if y1 < top + 2:
            continue
        # of other fonts the height differs
        if all(ord(letter) < 0x250 for letter in word):
            assert (y1 - y0) / NOTO > 5.95, f"{word} has {(y1 - y0) / NOTO:.2f} points"
        middle = (y0 + y1) / 2
        cell = (int((x0 - left) / wide), int((middle - top) / high))
        inside = left + cell[0] * wide, top + cell[1] * high
        assert x0 > inside[0] + 2 and x1 < inside[0] + wide - 2, f"{word} leaves its label"
        third = (y1 - y0) / 3
        assert y0 + third > inside[1] + 2 and y1 - third / 2 < inside[1] + high - 2, f"{word} leaves its label"
        boxes.append((page, x0 + 0.3, y0 + third, x1 - 0.3, y1 - third, word))
    for place, (page, x0, y0, x1, y1, word) in enumerate(boxes):
        for other in boxes[place + 1 :]:
            apart = other[0] != page or other[1] >= x1 or other[3] <= x0 or other[2] >= y1 or other[4] <= y0
            assert apart, f"{size}: {word} on {other[5]}"


def check_hard_words(pdf, rows, missing):
    """Each word of each value of each record; letters from right to left, of which some are joined to one sign,
    are extracted in another order."""
    raw = re.sub("[\u202a-\u202e]", "", poppler("pdftotext", "-raw", pdf, "-"))
    text = bare(raw)
    sets = {"".join(sorted(token.strip(";,"))) for token in raw.split()}
    drawn = ("latitude", "longitude", "datum", "uncertainty (m)", "date", "date identified", "spores", "basidia")
    for row in rows:
        for heading, value in row.items():
            for word in [] if heading in drawn else value.split():
                if set(word) & missing:
                    continue
                word = bare(word)
                from_right = any("\u0590" <= letter <= "\u08ff" for letter in word)
                found = "".join(sorted(word)) in sets if from_right else word in text
                assert found, f"{heading} of {row['number']}: {word}"
    for described in ("7.8\u20138.4", "28.0\u201331.0", "KOH", "FeSO4"):
        assert described in text, described


def missing_letters(letters):
    """Those for which fontconfig knows no upright font of normal weight with outlines."""
    missing = set()
    for letter in letters:
        pattern = f":charset={ord(letter):x}:scalable=true:weight=80:slant=0:width=100"
        listed = subprocess.run(["fc-list", pattern], capture_output=True, text=True, check=True).stdout
        if not [line for line in listed.splitlines() if "Emoji" not in line]:
            missing.add(letter)
    return missing


def reported_letters(store, environment):
    done = subprocess.run(
        [TRUG, "labels", "--store", str(store), "--out", str(WORK / "letters.pdf"), "--overwrite"],
        capture_output=True,
        text=True,
        env=os.environ | environment,
    )
    assert done.returncode in (0, 1), done.stderr
    found = re.search(r"no font of this machine has (.*?)(?: and others)?; a replacement", done.stderr)
    return set(found.group(1).replace(" ", "")) if found else set()


def check_hard():
    path, rows = hard_records()
    store = WORK / "hard.gpkg"
    trug("import", path, "--store", store)
    letters = {letter for row in rows for value in row.values() for letter in value if ord(letter) > 0x52F}
    missing = missing_letters(letters - set("\u2013"))
    features = json.loads(trug("finds", "--store", store, "--format", "geojson"))["features"]
    for language in LANGUAGES:
        layout = WORK / "layout.toml"
        heading = '["Fungarium Nordquell", "Fungi of Wren Gully"]'
        layout.write_text(f'language = "{language}"\nheading = {heading}\ncode = "both"\n')
        for size in SIZES:
            pdf = WORK / f"hard-{size}-{language}.pdf"
            trug("labels", "--store", store, "--size", size, "--layout", layout, "--out", pdf)
            check_boxes(pdf, size)
        check_hard_words(WORK / f"hard-packet-{language}.pdf", rows, missing)
    read = codes(WORK / "hard-packet-en.pdf", 300)
    assert read["QRCode"] == {feature["id"].upper() for feature in features}, read
    assert {"QFN Fungi QFN-F-00010042", "T1"} <= read["Code128"], read

    table = "number,date,name\n1,2026-05-02," + LETTERS + "\n"
    (WORK / "letters.csv").write_text(table, encoding="utf-8")
    trug("import", WORK / "letters.csv", "--store", WORK / "letters.gpkg")
    assert reported_letters(WORK / "letters.gpkg", {}) == missing_letters(LETTERS)
    (WORK / "nothing").mkdir()
    (WORK / "fonts.conf").write_text(f"<fontconfig><dir>{WORK}/nothing</dir></fontconfig>")
    none = {"FONTCONFIG_FILE": str(WORK / "fonts.conf")}
    assert reported_letters(WORK / "letters.gpkg", none) == set(LETTERS)
    assert poppler("pdftotext", WORK / "letters.pdf", "-").count("\ufffd") >= len(LETTERS)
    return len(LETTERS) - len(missing_letters(LETTERS))


def codes(pdf, dots_per_inch):
    """The texts of the codes on the printed pages, by kind."""
    poppler("pdftoppm", "-r", dots_per_inch, "-gray", pdf, WORK / "codes")
    read = {"QRCode": set(), "Code128": set()}
    for page in sorted(WORK.glob("codes*.pgm")):
        _, size, _, dots = page.read_bytes().split(b"\n", 3)
        wide, high = map(int, size.split())
        grey = numpy.frombuffer(dots, dtype=numpy.uint8).reshape(high, wide)
        for code in zxingcpp.read_barcodes(grey):
            read.setdefault(code.format.name, set()).add(code.text)
        page.unlink()
    return read


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
    scripts = check_hard()
    print(f"labels: hard records in {len(LANGUAGES)} languages and {len(SIZES)} sizes; fonts of this machine for {scripts} of {len(LETTERS)} scripts")
    print(f"labels: {len(features)} finds say on paper what the record says and in code which it is; fonts travel with the file")


if __name__ == "__main__":
    sys.exit(main())
