"""Does the page of a day hold in a real browser? Drives Chromium over the sample days: nothing is asked of
a network, nothing is complained about, finds can be chosen by hand, finger and key, the map grows, the
table sorts, the page prints on A4, and an accessibility checker (axe) finds no fault.

Gets the path of trug in TRUG, an empty folder in WORK and the npm packages in NODE_PATH.
"""

import json
import os
import pathlib
import subprocess
import sys

HERE = pathlib.Path(__file__).resolve().parent
DAYS = HERE.parent.parent / "sample-tracks"
TRUG = os.environ["TRUG"]
WORK = pathlib.Path(os.environ["WORK"])
HOSTILE = '</script><script>document.title="broken"</script><img src=x onerror=alert(1)>'


def trug(*arguments):
    done = subprocess.run([TRUG, *map(str, arguments)], capture_output=True, text=True)
    assert done.returncode in (0, 1), f"trug {arguments}: {done.stderr}"
    return done.stdout


def hostile_day():
    """The clear day with a notebook written by somebody who means harm."""
    folder = WORK / "hostile"
    folder.mkdir()
    source = DAYS / "2026-04-18-wren-gully"
    for track in source.glob("*.gpx"):
        (folder / track.name).write_bytes(track.read_bytes())
    quoted = HOSTILE.replace('"', '""')
    rows = ["Number,Date,Time,Name,Place,Notes"]
    for number in range(5):
        rows.append(f'X-{number},2026-04-18,10:0{number},"{quoted}","{quoted}","\u202e{quoted} \U0001f344"')
    (folder / "notebook.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    return folder


def main():
    store = WORK / "trug.gpkg"
    trug("import", DAYS / "2026-05-16-old-tramway", "--store", store)
    trug("import", DAYS / "2026-05-02-thimble-spur", "--store", store)
    pages = {"2026-05-16": (14, 13), "2026-05-02": (15, 15)}
    for day in pages:
        trug("sheet", "--day", day, "--store", store, "--out", WORK / f"{day}.html")
    other = WORK / "hostile.gpkg"
    trug("import", hostile_day(), "--store", other)
    trug("sheet", "--day", "2026-04-18", "--store", other, "--out", WORK / "2026-04-18.html")
    pages["2026-04-18"] = (5, 5)
    for day, (finds, located) in pages.items():
        page = WORK / f"{day}.html"
        reported = subprocess.run(
            ["node", str(HERE / "day_sheet.cjs"), str(page), str(WORK / f"{day}.pdf")],
            capture_output=True,
            text=True,
            timeout=180,
        )
        assert reported.returncode == 0, f"{day}: {reported.stdout}{reported.stderr}"
        seen = json.loads(reported.stdout)
        assert seen["complaints"] == [], f"{day}: {seen['complaints']}"
        assert seen["requests"] == 1, f"{day}: asked for {seen['requests']} things, not for the page alone"
        assert seen["title"] != "broken", "a note ran as a program"
        assert seen["cards"] == finds and seen["pins"] == located, f"{day}: {seen}"
        assert seen["violations"] == [], f"{day}: {json.dumps(seen['violations'], indent=1)}"
        printed = subprocess.run(["pdfinfo", WORK / f"{day}.pdf"], capture_output=True, text=True, check=True)
        assert "A4" in printed.stdout, printed.stdout
        text = subprocess.run(["pdftotext", WORK / f"{day}.pdf", "-"], capture_output=True, text=True, check=True)
        assert "Order of processing" in text.stdout
    print("day sheet: three days hold in Chromium, by hand, finger and key; axe finds no fault")


if __name__ == "__main__":
    sys.exit(main())
