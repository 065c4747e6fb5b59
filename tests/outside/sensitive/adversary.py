"""Puts all outputs together and tries to locate each protected find more closely than promised."""

import math
import re

from .collector import DEGREE, LEVELS
from .reading import SIDE, STEP, coarsest, is_on, wide_step


class Leak(AssertionError):
    pass


def apart(one, other):
    along = math.cos(math.radians(one[0]))
    return math.hypot((one[0] - other[0]) * DEGREE, (one[1] - other[1]) * DEGREE * along)


class Adversary:
    def __init__(self, collector):
        self.collector = collector
        # the common part of all cells of a find and the finest level of them; None once published exactly
        self.known, self.centres = {}, {}

    def judge(self, reading, output):
        if self.collector.released:
            self.known, self.collector.released = {find.first_number: None for find in self.collector.finds}, False
        there = [find for find in self.collector.finds if find.is_there]
        for find in there:
            level = self.collector.level(find)
            if level:
                self.look_for(find, level, reading, output)
        claims = [(claim.number, claim.at, claim.step) for claim in reading.claims if claim.at]
        sites = self.collector.sites() if reading.cells else {}
        for site, at in reading.cells:
            claims += [(number, at, coarsest(*at)) for number in sites.get(site, ())]
        for number, at, step in claims:
            of_it = [find for find in there if number in find.numbers]
            if len(of_it) == 1:
                self.put_together(of_it[0], at, step, output)

    def look_for(self, find, level, reading, output):
        def leak(what):
            raise Leak(f"{output}: {what} of {find.first_number}, promised {level}")

        for words in ("tall stump ", "Secret Gully "):
            if re.search(re.escape(words + find.first_number) + r"(?!\d)", reading.text):
                leak(f"\"{words}\"")
        if re.search(find.picture + r"(?!\d)", reading.text):
            leak("a photograph's name")
        for claim in reading.claims:
            if claim.number in find.numbers and re.search(r"2026-0[4-8]-\d\dT\d\d:\d\d", claim.text):
                leak("the time of day")
        for at in find.positions:
            if any(apart(at, place) < 25 for line in reading.lines for place in line):
                leak("a track past the place")
            if any(apart(at, place) < 8 for place in reading.exact_sites):
                leak("the exact site")
            if any(claim.at and claim.step is None and apart(at, claim.at) < 8 for claim in reading.claims):
                leak("an exact position at the place")
            if self.numbers_near(at, reading.text):
                leak("the coordinates in a text")
            self.hole(at, level, reading, leak)

    @staticmethod
    def numbers_near(at, text):
        along = math.cos(math.radians(at[0]))
        number = re.compile(r"-?\d{1,3}\.\d{4,}")
        for found in number.finditer(text):
            one = float(found.group())
            if abs(abs(one) - abs(at[0])) * DEGREE >= 8 or is_on(one, 0.001):
                continue
            for other in number.finditer(text[max(0, found.start() - 120) : found.end() + 120]):
                value = float(other.group())
                if abs(abs(value) - abs(at[1])) * DEGREE * along < 8 and not is_on(value, 0.001):
                    return True
        return False

    @staticmethod
    def hole(at, level, reading, leak):
        """Where paths end on two sides, what was left out lies between: it must be as large as the cell."""
        near = [end for end in reading.ends if apart(at, end) < 120]
        for one in near:
            for other in near:
                width = apart(one, other)
                middle = tuple((a + b) / 2 for a, b in zip(one, other))
                if 20 < width < 0.8 * SIDE[level] and apart(at, middle) < width / 2:
                    leak(f"a hole of {width:.0f} m in the paths about the place")

    def put_together(self, find, at, step, output):
        promised = self.collector.level(find)
        name = find.first_number
        if step is None:
            if promised:
                raise Leak(f"{output}: {name} is exact, promised {promised}")
            self.known[name] = None
            return
        levels = [one for one in STEP if is_on(at[0], STEP[one]) and math.isclose(wide_step(one, at[0]) or 0, step)]
        if not levels:
            raise Leak(f"{output}: {name} is on no grid: {at}, {step}")
        level = levels[0]
        if promised and (promised == "extreme" or LEVELS.index(level) < LEVELS.index(promised)):
            raise Leak(f"{output}: {name} is {level}, promised {promised}")
        centres = self.centres.setdefault(name, [])
        follows = any(
            LEVELS.index(finer) < LEVELS.index(level)
            and all(abs(round(had / one) * one - has) < 1e-9 for had, one, has in zip(centre, (STEP[level], step), at))
            for finer, centre in centres
        )
        centres.append((level, at))
        if follows or (name in self.known and self.known[name] is None):
            return
        cell = [at[0] - STEP[level] / 2, at[0] + STEP[level] / 2, at[1] - step / 2, at[1] + step / 2]
        common, finest = cell, level
        if name in self.known:
            known, earlier = self.known[name]
            common = [max(known[0], cell[0]), min(known[1], cell[1]), max(known[2], cell[2]), min(known[3], cell[3])]
            finest = min(level, earlier, key=LEVELS.index)
            if common[0] >= common[1] or common[2] >= common[3]:
                common, finest = cell, level
        along = math.cos(math.radians(max(abs(common[0]), abs(common[1]))))
        width = 1.006 * DEGREE * min(common[1] - common[0], (common[3] - common[2]) * along)
        # a corrected position has a cell of its own
        if width < 0.99 * SIDE[finest] and not find.moved:
            raise Leak(f"{output}: all outputs together locate {name} to {width:.0f} m, promised {finest}")
        self.known[name] = (common, finest)
