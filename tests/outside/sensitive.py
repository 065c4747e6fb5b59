"""Do all outputs for others together keep sensitive places? Random histories of imports, amendments, corrected
notebooks, joined sites, rules, undos, removals and merged stores; after each change an output, and at the end one of
each kind. An adversary that shares no code with trug reads them all: cells and their common parts, positions in
geometry and text, times, photographs, tracks, and holes in the paths of the page to carry.

Gets the path of trug in TRUG and an empty folder in WORK. `HISTORIES` and `SEED` set the number of histories (4) and
the first seed.
"""

import os
import pathlib
import shutil
import sys

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent))
from sensitive.adversary import Adversary, Leak  # noqa: E402
from sensitive.collector import Collector  # noqa: E402
from sensitive.reading import read  # noqa: E402

TRUG = os.environ["TRUG"]
WORK = pathlib.Path(os.environ["WORK"])
HISTORIES = int(os.environ.get("HISTORIES", "4"))
SEED = int(os.environ.get("SEED", "20260503"))
DEEDS = 9
FORMS = ["geojson", "gpx", "kml", "csv", "geoparquet", "deposit", "season", "carry", "round", "stamp"]


def arguments(form, out, collector):
    care = ["--coordinates", collector.random.choice(["generalised", "exact-unless-sensitive"])]
    day = str(collector.random.choice(collector.days)[0])
    carry = ["carry", "--area", "Gate", "--date", day, "--zone", "+10:00"]
    if form in ("geojson", "gpx", "kml"):
        return ["export", "--format", form, *care, "--ways", "--out", f"{out}.{form}"], f"{out}.{form}"
    if form == "csv":
        return ["export", "--format", form, *care, "--out", f"{out}.csv"], f"{out}.csv"
    if form == "geoparquet":
        return ["export", "--format", form, *care, "--out", f"{out}.parquet"], f"{out}.parquet"
    if form == "deposit":
        return ["deposit", "--title", "Finds", "--licence", "cc0", *care, "--out", f"{out}.zip"], f"{out}.zip"
    if form == "season":
        return ["sheet", "--season", "2026", *care, "--out", f"{out}.html"], f"{out}.html"
    if form == "carry":
        return [*carry, "--sites", "all", "--out", f"{out}.html"], f"{out}.html"
    if form == "round":
        return [*carry, "--sites", "round", "--hours", "4", "--out", out], out
    return ["stamp", "--copies", out, *care], out


def output(form, number, collector, adversary):
    collector.look()
    command, path = arguments(form, f"out-{number}", collector)
    if collector.run(*command).returncode < 2:
        adversary.judge(read(collector.folder / path), " ".join(command))
        return 1
    return 0


def history(seed, folder):
    folder.mkdir()
    collector = Collector(TRUG, folder, seed)
    adversary = Adversary(collector)
    forms = [collector.random.choice(FORMS) for _ in range(DEEDS)] + FORMS
    written = 0
    try:
        for number, form in enumerate(forms):
            if number < DEEDS:
                collector.act()
            written += output(form, number, collector, adversary)
    except Leak as leak:
        print("\n".join(collector.log))
        raise SystemExit(f"seed {seed}: {leak}")
    return written


os.environ["XDG_CACHE_HOME"] = str(WORK / "cache")
os.environ["NO_COLOR"] = "1"
count = 0
for seed in range(SEED, SEED + HISTORIES):
    count += history(seed, WORK / "history")
    shutil.rmtree(WORK / "history")
assert count > 12 * HISTORIES, f"only {count} outputs were written"
print(f"sensitive places: {HISTORIES} histories with {count} outputs disclose no protected find")
