"""Do the pages hold in Firefox? The page of a day, of a year and the page to carry: nothing asked of a network,
nothing complained of, no sideways scrolling from 320 to 1440 pixels, controls reached by the keyboard with a visible
outline, no fault found by axe, forced colours included; walks back with the page to carry after its web space is gone;
a day noted on it and imported.

Gets the path of trug in TRUG, an empty folder in WORK and the npm packages in NODE_PATH. TRUG_FIREFOX_WALKS sets the
number of walks, TRUG_FIREFOX_SEED which ones.
"""

import json
import math
import os
import pathlib
import random
import subprocess
import sys

HERE = pathlib.Path(__file__).resolve().parent
sys.path.insert(0, str(HERE / "carry"))
import worlds as areas  # noqa: E402

DAYS = HERE.parent.parent / "sample-tracks"
TRUG = os.environ["TRUG"]
WORK = pathlib.Path(os.environ["WORK"])
WALKS = int(os.environ.get("TRUG_FIREFOX_WALKS", "4"))
SEED = int(os.environ.get("TRUG_FIREFOX_SEED", "5"))
GOALS = {"Sawmill gate": [-42.6110, 146.1010], "Lantern hut": [-42.6168, 146.0925]}
CLOSED = [
    [[-42.6145, 146.0940], [-42.6145, 146.0960], [-42.6128, 146.0965], [-42.6125, 146.0940]],
    [[-42.6080, 146.0900], [-42.6075, 146.1050], [-42.6085, 146.1050], [-42.6092, 146.0900]],
]


def trug(*arguments):
    done = subprocess.run([TRUG, *map(str, arguments)], capture_output=True, text=True)
    assert done.returncode in (0, 1), f"trug {arguments}: {done.stderr}"


def states(closed):
    random_ = random.Random(SEED)
    place = lambda: [random_.uniform(-42.622, -42.603), random_.uniform(146.084, 146.108)]
    for number in range(WALKS):
        at = place()
        while any(areas.inside(ring, at) for ring in closed):
            at = place()
        yield {
            "at": at, "began": 1_778_887_800,
            "now": 1_778_887_800, "step": 5, "steps": 90, "speed": 1, "seed": 31 * number + 7 + 1009 * (SEED - 5),
            "radius": random_.uniform(5, 30), "error": [0, 0], "gap": 0, "jumps": 0, "stated": 0, "held": 0, "wrong": 0,
            "refused": 0, "standing": 0, "length": 0, "answers": [], "trail": [], "closed": closed,
            "goals": list(GOALS.values()), "east": 14.8, "most": 4 * 3600, "ended": "",
        }


FINDS = [
    {"quick": 1, "fields": {"name": "Leotia lubrica", "quantity": "6 clusters", "photos": "P1001-P1003"}},
    {"quick": 4, "fields": {"name": "Mycena interrupta", "colour": 'cap "blue"; pale, disc', "notes": "</trkpt>"}},
]


def imported(home, written):
    """The files of the day are imported without a question, each find within 20 m of where it was noted."""
    store = WORK / "noted.gpkg"
    done = subprocess.run([TRUG, "import", home, "--store", store], capture_output=True, text=True)
    assert done.returncode == 0 and "Conflicts" not in done.stdout and "no track" not in done.stdout, done.stdout + done.stderr
    seen = subprocess.run([TRUG, "finds", "--store", store, "--format", "geojson"], capture_output=True, text=True)
    found = {one["properties"]["recordNumber"]: one for one in json.loads(seen.stdout)["features"]}
    assert sorted(found) == ["FX-009", "FX-010"], (sorted(found), done.stdout)
    for find, wanted in zip(written, FINDS):
        one = found[find["number"]]
        longitude, latitude = one["geometry"]["coordinates"][:2]
        off = math.hypot((latitude - find["at"][0]) * 111_195, (longitude - find["at"][1]) * 82_000)
        assert off < 20 and one["properties"]["scientificName"] == wanted["fields"]["name"], (off, one)


def main():
    store, day, year, page = WORK / "trug.gpkg", WORK / "day.html", WORK / "year.html", WORK / "carry"
    for name in ("2026-04-18-wren-gully", "2026-05-02-thimble-spur", "2026-05-16-old-tramway"):
        trug("import", DAYS / name, "--store", store)
    for name, (latitude, longitude) in GOALS.items():
        trug("trailhead", "add", name, f"{latitude} {longitude}", "--store", store)
    trug("sheet", "--day", "2026-05-02", "--store", store, "--out", day)
    trug("sheet", "--season", "2026", "--store", store, "--out", year)
    closed = WORK / "closed.geojson"
    rings = [[[[longitude, latitude] for latitude, longitude in [*ring, ring[0]]]] for ring in CLOSED]
    closed.write_text(json.dumps({"type": "MultiPolygon", "coordinates": rings}))
    area = ("--store", store, "--area", "-42.6130 146.0960", "--date", "2026-05-16", "--reach", "3", "--avoid", closed)
    trug("carry", "--out", page, "--first-number", "FX-009", *area)
    home = WORK / "home"
    home.mkdir()
    options = WORK / "pages.json"
    options.write_text(json.dumps({
        "pages": [str(day), str(year), str(page / "index.html")], "forced": [str(day), str(page / "index.html")],
        "walks": {"folder": str(page), "states": list(states(CLOSED))},
        "day": {"folder": str(page), "out": str(home), "now": 1_778_887_800, "from": [-42.6150, 146.0940], "finds": FINDS},
    }))
    done = subprocess.run(["node", HERE / "firefox.cjs", options], capture_output=True, text=True, timeout=max(1_800, 60 * WALKS))
    assert done.returncode == 0, done.stderr
    report = json.loads(done.stdout)
    for name, seen in report["pages"].items():
        assert seen["complaints"] == [] and seen["asked"] == [], f"{name}: {seen['complaints']} {seen['asked']}"
        assert all(wide <= 0 for wide in seen["wide"].values()), f"{name} scrolls sideways: {seen['wide']}"
        assert len(seen["keyboard"]) >= 4, f"{name}: the keyboard reaches {seen['keyboard']}"
        assert all(not one.endswith("none") for one in seen["keyboard"] if one.startswith(("a", "button", "input"))), f"{name}: no outline: {seen['keyboard']}"
        assert seen["violations"] == [], f"{name}: {json.dumps(seen['violations'], indent=1)}"
    bad = [walk for walk in report["walks"] if walk["ended"] != "reached" or walk["complaints"]]
    assert len(report["walks"]) == WALKS and not bad, json.dumps(bad, indent=1)
    assert report["day"]["complaints"] == [], report["day"]
    imported(home, report["day"]["written"])
    print(f"{report['version']}: {len(report['pages'])} pages without a fault; {WALKS} of {WALKS} walks without a web space reach a safe place; {len(FINDS)} finds noted and imported")


if __name__ == "__main__":
    sys.exit(main())
