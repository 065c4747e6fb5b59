"""Two binaries of trug on the same days: positions, radii, clocks, sites, visits, seasons and deposits must be
equal to rounding. For changes that must not change results.

Run: python3 benches/compare.py OLD NEW [DAYS]

DAYS is a folder of simulated days, one folder each; they are written by
TRUG_DAYS=DAYS cargo test --test position days_as_files -- --ignored

Exit status: 0 equal; 1 a number, a state or a list differs; texts are reported and do not count.
"""

import csv
import io
import json
import os
import subprocess
import sys
import tempfile
import zipfile
from collections import Counter
from pathlib import Path

SAMPLES = Path(__file__).resolve().parent.parent / "sample-tracks"
TAXA = ["Mycena", "Galerina", "Podoserpula"]
# keys whose values are sentences
TEXTS = {"what", "why", "hint", "basis", "cause", "because", "sentence", "note", "notes", "words", "reason", "text"}
# the last digit that is written, by the end of a key; anything else to a millionth
STEPS = [("Latitude", 1.01e-7), ("Longitude", 1.01e-7), ("Meters", 0.101), ("_m", 0.101), ("_s", 0.101)]


class Differences:
    """What differed, by the key at which it did."""

    def __init__(self):
        self.numbers = {}
        self.states = Counter()
        self.texts = Counter()
        self.keys = Counter()
        self.compared = 0

    def number(self, key, old, new):
        self.compared += 1
        step = next((step for end, step in STEPS if key.endswith(end)), 0.0)
        off = abs(old - new)
        if off > max(step, 1e-6 * max(abs(old), abs(new))):
            count, largest, where = self.numbers.get(key, (0, 0.0, None))
            self.numbers[key] = (count + 1, max(largest, off), where or (old, new))

    def value(self, key, old, new):
        numbers = isinstance(old, (int, float)) and isinstance(new, (int, float))
        if numbers and not isinstance(old, bool) and not isinstance(new, bool):
            self.number(key, float(old), float(new))
        elif isinstance(old, dict) and isinstance(new, dict):
            for name in old.keys() | new.keys():
                if name not in old or name not in new:
                    self.keys[f"{name} only in {'NEW' if name in new else 'OLD'}"] += 1
                else:
                    self.value(name, old[name], new[name])
        elif isinstance(old, list) and isinstance(new, list):
            if len(old) != len(new):
                self.states[f"{key}: {len(old)} or {len(new)} items"] += 1
            for one, other in zip(old, new):
                self.value(key, one, other)
        else:
            self.compared += 1
            if old != new:
                (self.texts if key in TEXTS else self.states)[key if key in TEXTS else f"{key}: {old!r} or {new!r}"] += 1

    def report(self):
        print(f"{self.compared} values compared")
        for key, (count, largest, (old, new)) in sorted(self.numbers.items()):
            print(f"  number {key}: {count} differ, by up to {largest:g} (first: {old!r} or {new!r})")
        for title, found in [("state", self.states), ("key", self.keys), ("text", self.texts)]:
            for key, count in found.most_common(20):
                print(f"  {title} {key}: {count}")
        return 1 if self.numbers or self.states else 0


def run(binary, arguments, folder):
    """Standard output; a result of exit status 0 or 1."""
    environment = dict(os.environ, XDG_CACHE_HOME=str(folder / "cache"), NO_COLOR="1")
    done = subprocess.run([binary, *map(str, arguments)], capture_output=True, cwd=folder, env=environment)
    if done.returncode > 1:
        return {"refused": done.returncode}
    return done.stdout


def parsed(output):
    return output if isinstance(output, dict) else json.loads(output)


def archive(binary, folder):
    """The tables of a deposit, row by row."""
    arguments = ["deposit", "--store", "s.gpkg", "--out", "d.zip", "--title", "Days", "--licence", "cc0",
                 "--creator", "Nobody", "--overwrite"]
    run(binary, arguments, folder)
    if not (folder / "d.zip").exists():
        return {}
    tables = {}
    with zipfile.ZipFile(folder / "d.zip") as packed:
        for name in packed.namelist():
            if name.endswith(".csv"):
                rows = csv.reader(io.StringIO(packed.read(name).decode()))
                tables[name] = [[number(cell) for cell in row] for row in rows]
    return tables


def number(cell):
    try:
        return float(cell)
    except ValueError:
        return cell


def questions(binary, days, folder):
    """The answers about all days in one store."""
    run(binary, ["import", *days, "--store", "s.gpkg"], folder)
    answers = {"sites": parsed(run(binary, ["sites", "--store", "s.gpkg", "--format", "json"], folder))}
    answers["finds"] = parsed(run(binary, ["finds", "--store", "s.gpkg", "--format", "geojson"], folder))
    for taxon in TAXA:
        answers[f"season of {taxon}"] = parsed(
            run(binary, ["season", "--store", "s.gpkg", "--taxon", taxon, "--json"], folder))
    answers["deposit"] = archive(binary, folder)
    return answers


def main(old, new, days):
    folders = sorted(path for path in SAMPLES.iterdir() if path.is_dir() and path.name[0] == "2")
    years = sorted(path for path in (SAMPLES / "earlier-years").iterdir() if path.is_dir())
    simulated = sorted(path for path in Path(days).iterdir() if path.is_dir()) if days else []
    binaries = [str(Path(old).resolve()), str(Path(new).resolve())]
    total = 0
    for title, group in [("sample days", folders + years), ("simulated days", simulated)]:
        differences = Differences()
        for day in group:
            with tempfile.TemporaryDirectory() as place:
                one, other = (parsed(run(b, ["check", day, "--json"], Path(place))) for b in binaries)
                differences.value(day.name, one, other)
        print(f"{title}: {len(group)} folders")
        total |= differences.report()
    differences = Differences()
    with tempfile.TemporaryDirectory() as a, tempfile.TemporaryDirectory() as b:
        all_days = folders + years
        one, other = (questions(binary, all_days, Path(place)) for binary, place in zip(binaries, (a, b)))
        differences.value("all days", one, other)
    print("all sample days in one store")
    total |= differences.report()
    return total


if __name__ == "__main__":
    if len(sys.argv) not in (3, 4):
        sys.exit(__doc__)
    sys.exit(main(sys.argv[1], sys.argv[2], sys.argv[3] if len(sys.argv) == 4 else None))
