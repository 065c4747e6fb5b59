"""Do finds that trug writes as a workbook, and notebooks that it prepares, come back without loss, as written, re-saved by openpyxl and
converted by LibreOffice to XLSX, ODS, XLS and CSV? Every column that a notebook can have is filled, with
leading zeros, long decimals, line ends, quotes, formulas and letters of several scripts. (No tab: LibreOffice
drops tabs in cells when it writes ODS.)

Prints the seconds that LibreOffice takes (Debian: libreoffice-calc-nogui).
"""

import csv
import io
import json
import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

import openpyxl

TRUG, WORK = os.environ["TRUG"], Path(os.environ["WORK"])
HEADINGS = [
    "Number", "Date", "Time", "Place", "Name", "Substrate", "Host", "Habitat", "Collector", "Photos", "Waypoint",
    "Container", "Latitude", "Longitude", "Datum", "Uncertainty (m)", "Elevation (m)", "Colour", "Bruising", "Latex",
    "Smell", "Taste", "Spore print", "Quantity", "Identified by", "Date identified", "Country", "State or province",
    "County", "Municipality", "Institution", "Collection", "Catalogue number", "Other catalogue numbers",
    "Disposition", "Wetter", "Sporenmasse", "verbatimEventDate", "Notes",
]
SAMPLE = Path(__file__).resolve().parent.parent.parent / "sample-tracks" / "2026-04-18-wren-gully"


def row(number):
    return [
        f"TH-{number:04}", "2026-05-03", f"{9 + number // 60:02}:{number % 60:02}", "Fern gully; \"upper\" part",
        "Mycena cf. pura (Pers.) P. Kumm.", "moss, on a trunk", "Nothofagus cunninghamii", "wet forest",
        "No\u00ebl Brambletoft-Pe\u00f1a", f"P{1000 + number}; P{2000 + number}", f"{number:03}", "box 007",
        f"-42.51{number:03}0", f"146.25{number:03}00", "WGS84", "5", "450-470.5" if number % 3 else "450", "#C0FFEE or 1/2 grey", "-> red", "none",
        "=of meal", "+bitter", "1E5", "0012", "A. B. & C. D.", "2026-06-01", "\u6fb3\u5927\u5229\u4e9a", "TAS", "\u0397\u03c0",
        "@home", "HO", "F", f"00{number}", "a | b", "kept", "3/4", "8.5-10 \u00d7 4\u20135 \u00b5m",
        "3.v.2026, am" if number % 4 else "",
        "two lines:\nthe second, with \"quotes\"" if number % 2 else "'quoted",
    ]


def trug(*words, good=(0, 1)):
    run = subprocess.run([TRUG, *map(str, words)], capture_output=True, text=True)
    if run.returncode not in good:
        sys.exit(f"trug {' '.join(map(str, words))} ended with {run.returncode}: {run.stderr}")
    return run.stdout


def records(table, name):
    """The records that an import of this table gives, by number and heading."""
    folder, store = WORK / name, WORK / f"{name}.gpkg"
    folder.mkdir()
    shutil.copy(table, folder)
    trug("import", folder, "--zone", "+10:00", "--store", store)
    rows = csv.DictReader(io.StringIO(trug("finds", "--store", store, "--format", "records"), newline=""))
    return {row["number"]: {key: value for key, value in row.items() if value} for row in rows}


def resaved(path):
    target = WORK / "openpyxl.xlsx"
    openpyxl.load_workbook(path).save(target)
    return target


def converted(path, form):
    folder = WORK / f"office-{form.split(':')[0]}"
    folder.mkdir(exist_ok=True)
    profile = f"-env:UserInstallation=file://{WORK}/profile"
    command = ["soffice", profile, "--headless", "--convert-to", form, "--outdir", str(folder), str(path)]
    run = subprocess.run(command, capture_output=True, text=True, timeout=120)
    made = [one for one in folder.iterdir() if one.stem == Path(path).stem]
    if len(made) != 1:
        sys.exit(f"LibreOffice made no {form}: {run.stdout} {run.stderr}")
    return made[0]


def prepared():
    """A notebook that trug prepares for a day, saved by LibreOffice: its rows still claim their photographs."""
    day = WORK / "day"
    day.mkdir()
    for file in SAMPLE.iterdir():
        if file.suffix != ".csv":
            shutil.copy(file, day)
    notebook = WORK / "prepared.xlsx"
    trug("template", "--from", day, "--out", notebook, "--language", "pl", "--number", "TH-0098")
    claimed = {}
    forms = ["xlsx", "ods", "xls"]
    for form, table in [("trug", notebook), *((form, converted(notebook, form)) for form in forms)]:
        folder = WORK / f"prepared-{form}"
        shutil.copytree(day, folder)
        shutil.copy(table, folder)
        finds = json.loads(trug("check", folder, "--json"))["finds"]
        claimed[form] = [(find["recordNumber"], find["photographs"], find["decimalLatitude"]) for find in finds]
        assert len(finds) > 5 and claimed[form] == claimed["trug"], f"{form}: {claimed[form]}"
    print(f"a prepared notebook of {len(claimed['trug'])} rows joins alike as {', '.join(forms)}")


def main():
    prepared()
    notebook = WORK / "notebook.csv"
    with notebook.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows([HEADINGS, *(row(number) for number in range(1, 26))])
    first = records(notebook, "first")
    assert len(first) == 25 and len(first["TH-0007"]) >= len(HEADINGS), first.get("TH-0007")
    book = WORK / "finds.xlsx"
    trug("finds", "--store", WORK / "first.gpkg", "--format", "xlsx", "--out", book)
    tables = {"as-written": book, "openpyxl": resaved(book)}
    if not shutil.which("soffice"):
        sys.exit("soffice is not installed (Debian: libreoffice-calc-nogui)")
    begun = time.monotonic()
    for form in ["xlsx", "ods", "xls", 'csv:Text - txt - csv (StarCalc):44,34,76,1']:
        tables[f"libreoffice-{form.split(':')[0]}"] = converted(book, form)
    print(f"LibreOffice wrote 4 tables in {time.monotonic() - begun:.1f} s")
    for name, table in tables.items():
        again = records(table, name)
        lost = [
            f"{number}, {heading}: {value!r} became {again.get(number, {}).get(heading)!r}"
            for number, cells in first.items()
            for heading, value in cells.items()
            if again.get(number, {}).get(heading) != value
        ]
        more = [
            f"{number}, {heading}: {value!r}"
            for number, cells in again.items()
            for heading, value in cells.items()
            if heading not in first.get(number, {})
        ]
        if lost or more:
            sys.exit(f"{name}: lost {lost[:8]}; added {more[:8]}")
        cells = sum(map(len, again.values()))
        print(f"{name}: {len(again)} records, {cells} cells came back as they were")


main()
