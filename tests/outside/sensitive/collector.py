"""A collector with days, notebooks and a store: everything that changes what is known, at random, and what was
promised of each find."""

import csv
import datetime
import io
import json
import math
import random
import shutil
import subprocess
from pathlib import Path

from PIL import Image

DEGREE = 111_200.0
# metres north and east; the first three are one site only where the extent is large
PLACES = [(0, 0), (18, 0), (45, 8), (180, 90), (400, 300), (420, 310), (700, -300), (2_500, 300)]
TAXA = ["Hygrocybe graminicolor", "Mycena nargan", "Hericium coralloides", "Galerina hypnorum"]
LEVELS = ["low", "medium", "high", "extreme"]
HOURS = datetime.timedelta(hours=10)


class Find:
    def __init__(self, number, taxon, place, day):
        self.number, self.taxon, self.place, self.day = number, taxon, place, day
        self.first_number = number
        self.numbers = {number}
        self.identifier = None
        # as the store has it now
        self.names, self.positions, self.is_there = {taxon}, [], False
        self.moved = False

    @property
    def picture(self):
        return "PIC" + self.first_number[3:]


class Collector:
    def __init__(self, trug, folder, seed):
        self.trug, self.folder, self.random = trug, Path(folder), random.Random(seed)
        self.store = self.folder / "s.gpkg"
        latitude = self.random.choice([-42.618_449, -42.618_449, 0.000_49, 69.300_449])
        self.origin = (latitude, 146.096_49)
        self.finds, self.days, self.rules, self.log, self.count = [], [], [], [], 0
        self.run("trailhead", "add", "Gate", "{:.6f} {:.6f}".format(*self.at((-150, -120))))
        self.outing(3)
        self.outing(2)

    def at(self, place):
        north, east = place
        along = DEGREE * math.cos(math.radians(self.origin[0]))
        return (self.origin[0] + north / DEGREE, self.origin[1] + east / along)

    def run(self, *arguments, store=None):
        """Runs trug on the store; whether it was done."""
        command = [self.trug, *arguments, "--store", str(store or self.store)]
        if arguments[0] == "check":
            command = [self.trug, *arguments]
        done = subprocess.run(command, capture_output=True, text=True, cwd=self.folder)
        self.log.append(f"{' '.join(arguments)}  [{done.returncode}]")
        assert done.returncode in (0, 1, 2), f"{arguments}: {done.stderr}"
        return done

    def listing(self):
        done = self.run("finds", "--format", "csv")
        return list(csv.DictReader(io.StringIO(done.stdout))) if done.returncode < 2 else []

    def look(self):
        """What the store has of each find now: identifiers, numbers, names, positions."""
        for find in self.finds:
            find.is_there, find.names, find.positions = False, {find.taxon}, []
        for row in self.listing():
            for find in self.finds:
                if row["recordNumber"] in find.numbers or row["occurrenceID"] == find.identifier:
                    find.identifier, find.is_there = row["occurrenceID"], True
                    find.numbers.add(row["recordNumber"])
                    find.names.add(row["scientificName"])
                    if row["decimalLatitude"]:
                        find.positions.append((float(row["decimalLatitude"]), float(row["decimalLongitude"])))

    def level(self, find):
        """The strictest level that was promised of a find."""
        of_it = [
            level
            for subject, name, level, finds in self.rules
            if find in finds or (subject == "--taxon" and name in find.names)
        ]
        return max(of_it, key=LEVELS.index, default=None)

    # -- days

    def outing(self, count=None):
        day = len(self.days)
        finds = []
        for _ in range(count or self.random.randint(1, 4)):
            north, east = self.random.choice(PLACES)
            place = (north + self.count % 3, east + self.count % 2)
            finds.append(Find(f"AQ-{self.count:04}", self.random.choice(TAXA), place, day))
            self.count += 1
        self.finds += finds
        self.days.append((datetime.date(2026, 4, 1) + datetime.timedelta(days=day), finds))
        self.walk(day)
        self.bring_in(day)

    def day_folder(self, day):
        return self.folder / f"day-{day}"

    def walk(self, day):
        """The track past the finds, two minutes at each, and a photograph there."""
        date, finds = self.days[day]
        folder, noise = self.day_folder(day), random.Random(day)
        folder.mkdir()
        now = datetime.datetime.combine(date, datetime.time(9)) - HOURS
        here, fixes = (-150.0, -120.0), []
        for find in [*finds, None]:
            there = find.place if find else (-150.0, -120.0)
            steps = max(1, int(math.dist(here, there) / 10))
            path = [
                tuple(a + (b - a) * (step + 1) / steps for a, b in zip(here, there)) for step in range(steps)
            ]
            for place in path + [there] * (12 if find else 0):
                fixes.append((self.at([metres + noise.gauss(0, 1.2) for metres in place]), now))
                now += datetime.timedelta(seconds=10)
            here = there
            if find:
                find.time = now - datetime.timedelta(seconds=60) + HOURS
                picture(folder / f"{find.picture}.jpg", find.time, noise)
        points = "".join(
            f'<trkpt lat="{at[0]:.7f}" lon="{at[1]:.7f}"><ele>412.5</ele><time>{time:%Y-%m-%dT%H:%M:%SZ}</time></trkpt>'
            for at, time in fixes
        )
        track = f'<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>{points}'
        (folder / "walk.gpx").write_text(track + "</trkseg></trk></gpx>")

    def bring_in(self, day, store=None):
        date, finds = self.days[day]
        rows = ["Number,Collector,Date,Time,Name,Coordinates,Datum,Place,Notes"]
        for find in finds:
            written = int(find.first_number[3:]) % 3 > 0
            coordinates = '"{:.6f}, {:.6f}",WGS84'.format(*self.at(find.place)) if written else ","
            rows.append(
                f"{find.number},Ada Quillfeather,{date},{find.time:%H:%M},{find.taxon},{coordinates},"
                f"Secret Gully {find.first_number},by the tall stump {find.first_number}"
            )
        (self.day_folder(day) / "notebook.csv").write_text("\n".join(rows) + "\n")
        self.run("import", str(self.day_folder(day)), "--zone", "+10:00", store=store)

    # -- one thing that changes what is known

    def act(self):
        choice, find = self.random.choice, self.random.choice(self.finds)
        reason = ["--reason", "x"]
        deed = choice(
            "outing renumber move again extent join protect protect protect open position name number time photos "
            "other-day withdraw restore undo remove compact merge".split()
        )
        amend = lambda *more: self.run("amend", find.number, *more, *reason)
        if deed == "outing":
            self.outing()
        elif deed == "renumber":
            self.count += 1
            find.number = f"AQ-{5000 + self.count}"
            find.numbers.add(find.number)
            self.bring_in(find.day)
        elif deed == "move":
            find.place, find.moved = (find.place[0] + 2, find.place[1]), True
            self.bring_in(find.day)
        elif deed == "again":
            self.bring_in(find.day)
        elif deed == "extent":
            self.run("sites", "--extent", str(choice([1, 3, 12, 40])))
        elif deed == "join":
            sites = list(self.sites())
            self.run("sites", "join", *([choice(sites), choice(sites)] if sites else ["1", "2"]))
        elif deed == "protect":
            self.protect(find)
        elif deed == "open":
            self.open()
        elif deed == "position":
            find.moved = True
            aside = (find.place[0] + choice([3, 30, 300]), find.place[1] + choice([0, 25]))
            amend("--position", "{:.6f} {:.6f}".format(*self.at(aside)), "--within", "5")
        elif deed == "name":
            opinion = choice([[], ["--not-accepted"]])
            amend("--taxon", choice(TAXA), "--determiner", "I. Marrowby", "--on", "2026-09-01", *opinion)
        elif deed == "number":
            self.count += 1
            if amend("--field", f"number=AQ-{7000 + self.count}").returncode < 2:
                find.numbers.add(f"AQ-{7000 + self.count}")
        elif deed == "time":
            find.moved = True
            amend("--time", choice(["09:05", "09:20", "10:01"]))
        elif deed == "photos":
            of_day = choice(self.days[find.day][1])
            amend("--photos", choice("+-") + of_day.picture)
        elif deed == "other-day":
            amend("--outing", str(choice(self.days)[0]))
        elif deed in ("withdraw", "restore"):
            amend(f"--{deed}")
        elif deed == "undo":
            self.run("undo")
        elif deed == "remove":
            self.run("remove", "--day", str(choice(self.days)[0]), *reason)
        elif deed == "compact":
            self.run("compact")
        elif deed == "merge":
            self.merge(find)

    def sites(self):
        done = self.run("sites", "--format", "json")
        return {str(site["site"]): set(site["recordNumbers"]) for site in json.loads(done.stdout)}

    def protect(self, find):
        self.look()
        level, subject = self.random.choice(LEVELS), self.random.choice(["--taxon", "--site", "--find"])
        more, finds, name = [], [], find.number
        if subject == "--taxon":
            name, more = find.taxon, ["--in-advance"]
        elif subject == "--site":
            sites = self.sites()
            if not sites:
                return
            name = self.random.choice(list(sites))
            finds = [one for one in self.finds if one.numbers & sites[name]]
        else:
            finds = [find]
        if self.run("places", "quiet", subject, name, "--level", level, *more).returncode == 0:
            self.rules = [rule for rule in self.rules if rule[:2] != (subject, name)]
            self.rules.append((subject, name, level, finds))

    def open(self):
        """A rule is removed: what follows from it is the user's will, for all finds near it."""
        if self.rules:
            subject, name, _, finds = self.rules.pop(self.random.randrange(len(self.rules)))
            self.run("places", "open", subject, finds[0].number if subject == "--find" else name)
            self.released = True

    released = False

    def merge(self, find):
        """Another store has one of the days and a rule of its own; either is merged into the other."""
        self.count += 1
        other = self.folder / f"other-{self.count}.gpkg"
        self.bring_in(find.day, store=other)
        level = self.random.choice(LEVELS)
        done = self.run("places", "quiet", "--find", find.number, "--level", level, store=other)
        rule = [("--find", find.number, level, [find])] if done.returncode == 0 else []
        if self.random.random() < 0.5:
            merged = self.run("merge", str(other), "--reason", "x")
        else:
            merged = self.run("merge", str(self.store), "--reason", "x", store=other)
            if merged.returncode < 2:
                self.store = other
        if merged.returncode < 2:
            self.rules += rule


def picture(path, time, noise):
    image = Image.new("RGB", (8, 8), tuple(noise.randrange(256) for _ in range(3)))
    tags = Image.Exif()
    tags[0x0110] = "Wallaby 5"
    tags.get_ifd(0x8769)[0x9003] = f"{time:%Y:%m:%d %H:%M:%S}"
    image.save(path, exif=tags)
