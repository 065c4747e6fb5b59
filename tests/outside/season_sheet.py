"""Does the page of a year hold in a real browser, and does it withhold what it should? Drives Chromium
over the sample days of three years and over a notebook written by somebody who means harm: nothing is asked
of a network, nothing is complained about, every table sorts by hand and by key, the page prints on A4, axe
finds no fault. In the careful page no position is finer than the grid; a sensitive site is coarser.

Gets the path of trug in TRUG, an empty folder in WORK and the npm packages in NODE_PATH.
"""

import json
import os
import pathlib
import re
import subprocess
import sys

HERE = pathlib.Path(__file__).resolve().parent
DAYS = HERE.parent.parent / "sample-tracks"
TRUG = os.environ["TRUG"]
WORK = pathlib.Path(os.environ["WORK"])
HOSTILE = '</script><script>document.title="broken"</script><img src=x onerror=alert(1)>'
SENSITIVE = "Mycena interrupta"


def trug(*arguments):
    done = subprocess.run([TRUG, *map(str, arguments)], capture_output=True, text=True)
    assert done.returncode in (0, 1), f"trug {arguments}: {done.stderr}"
    return done.stdout


def hostile_day():
    """The clear day with hostile names, one of them in a script that runs from right to left."""
    folder = WORK / "hostile"
    folder.mkdir()
    for track in (DAYS / "2026-04-18-wren-gully").glob("*.gpx"):
        (folder / track.name).write_bytes(track.read_bytes())
    names = [HOSTILE, "\u202eMycena \U0001f344", "\u05e4\u05d8\u05e8\u05d9\u05d9\u05d4", "=1+1", "url(#seasons-season-0)"]
    rows = ["Number,Date,Time,Name,Place,Collector"]
    for number, name in enumerate(names * 2):
        quoted = name.replace('"', '""')
        rows.append(f'X-{number},2026-04-18,{9 + number // 6}:{10 * (number % 6):02},"{quoted}","{quoted}","{quoted}"')
    (folder / "notebook.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    return folder


def seen(store, years, name, *more):
    page = WORK / f"{name}.html"
    trug("sheet", "--season", years, "--store", store, "--out", page, *more)
    reported = subprocess.run(
        ["node", str(HERE / "season_sheet.cjs"), str(page), str(WORK / f"{name}.pdf")],
        capture_output=True,
        text=True,
        timeout=180,
    )
    assert reported.returncode == 0, f"{name}: {reported.stdout}{reported.stderr}"
    found = json.loads(reported.stdout)
    assert found["complaints"] == [], f"{name}: {found['complaints']}"
    assert found["requests"] == 1, f"{name}: asked for {found['requests']} things, not for the page alone"
    assert found["title"] != "broken", "a name ran as a program"
    assert found["violations"] == [], f"{name}: {json.dumps(found['violations'], indent=1)}"
    printed = subprocess.run(["pdfinfo", WORK / f"{name}.pdf"], capture_output=True, text=True, check=True)
    assert "A4" in printed.stdout, printed.stdout
    return found, page.read_text(encoding="utf-8")


def main():
    store = WORK / "years.gpkg"
    days = [DAYS / "earlier-years", *sorted(DAYS.glob("2*"))]
    trug("import", *days, "--store", store)
    exact = json.loads(trug("finds", "--store", store, "--format", "geojson"))["features"]
    figures = {f"{abs(degrees):.4f}" for f in exact if f["geometry"] for degrees in f["geometry"]["coordinates"]}
    places = {f["properties"].get("locality") for f in exact} - {None}
    trug("places", "--store", store, "quiet", "--kind", SENSITIVE, "--level", "medium")
    careful, page = seen(store, "2026", "careful")
    assert careful["tables"] == 3 and careful["charts"] >= 3, careful
    assert not any(figure in page for figure in figures), "an exact position is in the careful page"
    assert not any(place in page for place in places), "a place name is in the careful page"
    rows = [line for line in careful["words"].splitlines() if SENSITIVE in line and "-42." in line]
    assert rows, "the sensitive taxon has a site"
    for row in rows:
        for degrees in re.findall(r"-?\d+\.\d+", row):
            assert len(degrees.partition(".")[2]) <= 2, row
    exactly, page = seen(store, "2024-2026", "exact", "--coordinates", "exact-throughout")
    assert "2024 to 2026" in exactly["title"], exactly["title"]
    assert any(figure in page for figure in figures), "the exact page has exact positions"
    other = WORK / "hostile.gpkg"
    trug("import", hostile_day(), "--store", other)
    hostile, _ = seen(other, "2026", "hostile")
    for name in (HOSTILE, "=1+1", "url(#seasons-season-0)"):
        assert name in hostile["words"], f"{name} is shown as text"
    print("season sheet: three pages hold in Chromium; axe finds no fault; sensitive places stay coarse")


if __name__ == "__main__":
    sys.exit(main())
