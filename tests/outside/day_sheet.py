"""Does the page of a day hold in a real browser? Drives Chromium over sample days, a hostile notebook and a
day of 300 finds: nothing is asked of a network, nothing is complained about, finds can be chosen by hand,
finger and key, the map grows and keeps the chosen find, the table sorts and is filtered, the page fits 320 to
1440 pixels and A4, no printed letter is below 6 points, an accessibility checker (axe) finds no fault in any
theme, no text is cut or lies on another with letters of double size, headings of the table stand on each sheet of
paper, pages of 36 and of 300 photographs are light, and a page of 300 finds answers soon on a processor slowed six
times.

Gets the path of trug in TRUG, an empty folder in WORK and the npm packages in NODE_PATH.
"""

import json
import os
import pathlib
import re
import subprocess
import sys
from datetime import datetime, timedelta

import numpy
from PIL import Image, ImageDraw

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


def forest_floor(seed, wide, high):
    """A picture as hard to compress as leaf litter: noise at all scales, with a few smooth caps on it."""
    rng = numpy.random.default_rng(seed)
    pixels = numpy.full((high, wide, 3), rng.uniform(50, 110, 3))
    for octave in range(3, 10):
        count = 2**octave
        noise = rng.normal(0, 26 * 0.85 ** (octave - 3), (max(2, count * high // wide), count, 3))
        noise = 0.5 * noise + noise.mean(2, keepdims=True)
        layers = [Image.fromarray(noise[:, :, band].astype("float32")).resize((wide, high)) for band in range(3)]
        pixels += numpy.stack([numpy.asarray(layer) for layer in layers], 2)
    picture = Image.fromarray(pixels.clip(0, 255).astype("uint8"))
    draw = ImageDraw.Draw(picture)
    for _ in range(3):
        x, y, reach = rng.uniform(0.2, 0.8) * wide, rng.uniform(0.3, 0.8) * high, rng.uniform(0.05, 0.15) * wide
        draw.ellipse([x - reach, y - 0.6 * reach, x + reach, y + 0.6 * reach], fill=tuple(rng.integers(90, 230, 3).tolist()))
    return picture


def photograph(folder, number, picture, local):
    """One photograph with the time at which it was taken."""
    exif = Image.Exif()
    exif[0x010F], exif[0x0110] = "Maker", "Model"
    exif.get_ifd(0x8769)[0x9003] = f"{local:%Y:%m:%d %H:%M:%S}"
    exif.get_ifd(0x8769)[0x9011] = "+10:00"
    name = f"HX{number + 1:04}.jpg"
    picture.transpose(Image.Transpose(number % 4)).save(folder / name, quality=86, exif=exif)
    return name


def crowded_day(finds, size=None):
    """A notebook with so many finds along the track of a sample day, each with a photograph of this size."""
    folder = WORK / f"crowd-{finds}"
    folder.mkdir()
    source = DAYS / "2026-05-02-thimble-spur"
    (track,) = source.glob("*.gpx")
    (folder / track.name).write_bytes(track.read_bytes())
    points = re.findall(r'<trkpt lat="([-\d.]+)" lon="([-\d.]+)".*?<time>([^<]+)</time>', track.read_text(), re.S)
    rows = ["Number,Date,Time,Name,Latitude,Longitude,Datum,Place,Substrate,Host,Container,Smell,Photos,Notes"]
    pictures = [forest_floor(seed, *size) for seed in range(8)] if size else []
    for number in range(finds):
        north, east, time = points[number * len(points) // finds]
        local = datetime.fromisoformat(time.replace("Z", "+00:00")) + timedelta(hours=10)
        kept = ["paper bag", "closed plastic box", "compartment box"][number % 3]
        photo = photograph(folder, number, pictures[number % 8], local) if size else ""
        rows.append(
            f"HX {number + 1:04},{local:%Y-%m-%d},{local:%H:%M},Galerina hypnorum (Schrank) K\u00fchner,{north},{east},WGS84,"
            f'Thimble Spur,"dead wood, bark off",Nothofagus cunninghamii,{kept},of radish,{photo},gills and foot stained blue'
        )
    (folder / "notebook.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    return folder


def printed(pdf):
    """How many sheets, their text, and the smallest letter in points."""
    info = subprocess.run(["pdfinfo", pdf], capture_output=True, text=True, check=True).stdout
    assert "A4" in info, info
    text = subprocess.run(["pdftotext", "-layout", pdf, "-"], capture_output=True, text=True, check=True).stdout
    boxes = subprocess.run(["pdftotext", "-bbox-layout", pdf, "-"], capture_output=True, text=True, check=True).stdout
    # a word's box is its font size times ascent and descent, at most 1.17 in the fonts of the page; a rotated word
    # is as wide as its letters are high
    words = re.findall(r'<word xMin="([\d.]+)" yMin="([\d.]+)" xMax="([\d.]+)" yMax="([\d.]+)">([^<&]{4,})</word>', boxes)
    heights = [min(float(low) - float(top), float(right) - float(left)) for left, top, right, low, _ in words]
    return int(re.search(r"Pages:\s+(\d+)", info)[1]), text, min(heights) / 1.17


def rows_of(text):
    """The sheets of paper that have rows of the table: a number and a time begin the line."""
    return [sheet for sheet in text.split("\f") if re.search(r"^ *[^\s:][^:\n]{0,16}?\d +\d\d:\d\d\s", sheet, re.M)]


def firefox():
    """One day in Firefox, where it is installed."""
    if not any(pathlib.Path(one).exists() for one in ("/usr/bin/firefox-esr", "/usr/bin/firefox")):
        return "day sheet: Firefox is not installed, not tested"
    reported = subprocess.run(
        ["node", str(HERE / "day_sheet_firefox.cjs"), str(WORK / "2026-05-16.html"), str(WORK / "firefox.pdf")],
        capture_output=True,
        text=True,
        timeout=900,
    )
    assert reported.returncode == 0, f"Firefox: {reported.stdout}{reported.stderr}"
    seen = json.loads(reported.stdout)
    assert seen["complaints"] == [] and seen["pins"] == 13, seen
    sheets, text, _ = printed(WORK / "firefox.pdf")
    assert text.count("95 % radius") >= 13, "every card is printed in Firefox"
    assert sheets <= 8, f"{sheets} sheets in Firefox"
    return f"day sheet: holds in {seen['agent']}, {sheets} sheets of paper"


def main():
    store = WORK / "trug.gpkg"
    trug("import", DAYS / "2026-05-16-old-tramway", "--store", store)
    trug("import", DAYS / "2026-05-02-thimble-spur", "--store", store)
    pages = {"2026-05-16": (14, 13), "2026-05-02": (15, 15)}
    for day in pages:
        trug("sheet", "--day", day, "--store", store, "--out", WORK / f"{day}.html")
    for name, folder, date in [
        ("hostile", hostile_day(), "2026-04-18"),
        ("of-18", crowded_day(18), "2026-05-02"),
        ("of-36", crowded_day(36, (4000, 3000)), "2026-05-02"),
        ("of-300", crowded_day(300, (1200, 900)), "2026-05-02"),
    ]:
        other = WORK / f"{name}.gpkg"
        trug("import", folder, "--store", other)
        trug("sheet", "--day", date, "--store", other, "--out", WORK / f"{name}.html")
    pages |= {"hostile": (5, 5), "of-18": (18, 18), "of-36": (36, 36), "of-300": (300, 300)}
    for day, (finds, located) in pages.items():
        page = WORK / f"{day}.html"
        reported = subprocess.run(
            # the themes colour 300 finds as they colour 18, and the accessibility checker takes long over them
            ["node", str(HERE / "day_sheet.cjs"), str(page), str(WORK / f"{day}.pdf"), *["one theme"] * (finds == 300)],
            capture_output=True,
            text=True,
            timeout=900,
        )
        assert reported.returncode == 0, f"{day}: {reported.stdout}{reported.stderr}"
        seen = json.loads(reported.stdout)
        assert seen["complaints"] == [], f"{day}: {seen['complaints']}"
        assert seen["requests"] == 1, f"{day}: asked for {seen['requests']} things, not for the page alone"
        assert seen["title"] != "broken", "a note ran as a program"
        assert seen["cards"] == finds and seen["pins"] == located, f"{day}: {seen}"
        assert seen["violations"] == [], f"{day}: {json.dumps(seen['violations'], indent=1)}"
        sheets, text, smallest = printed(WORK / f"{day}.pdf")
        assert "Order of processing" in text and "substrate" in text, text
        assert text.count("95 % radius") >= located, "every card is printed"
        assert smallest >= 6.0, f"{day}: letters of {smallest:.1f} points"
        most = {18: 7, 36: 11, 300: 75}.get(finds, 6)
        assert sheets <= most, f"{day}: {sheets} sheets for {finds} finds"
        assert rows_of(text), f"{day}: no sheet has a row of the table"
        without = [sheet for sheet in rows_of(text) if not re.search(r"number +time +name", sheet)]
        assert not without, f"{day}: the table has no headings on a sheet: {without[0]}"
        weight = page.stat().st_size
        if day in ("of-36", "of-300"):
            pictures = page.read_text(encoding="utf-8").count("data:image/jpeg")
            assert pictures == finds, f"{day}: {pictures} photographs"
        assert weight < (1_500_000 if finds == 300 else 500_000), f"{day}: {weight} bytes"
        slowed = seen["slowed"]
        print(
            f"{day}: {finds} finds, {weight // 1024} KB, {sheets} sheets, letters from {smallest:.1f} pt; slowed six "
            f"times: loaded in {slowed['loaded']} ms ({slowed['busy']} ms of processor), answers in "
            f"{slowed['answered']} ms, all parts there after {slowed['complete']} ms"
        )
    in_firefox = firefox()
    print(in_firefox)
    print("day sheet: six days hold in Chromium, by hand, finger and key; axe finds no fault")


if __name__ == "__main__":
    sys.exit(main())
