"""Random areas for walks back: two safe places and six closed areas (strips, U shapes, blobs, stars) that keep 90 m
away from the safe places. Positions are [latitude, longitude]."""

import math

DEGREE = 111_195


def moved(at, east, north):
    return [at[0] + north / DEGREE, at[1] + east / (DEGREE * math.cos(math.radians(at[0])))]


def outline(random):
    kind = random.choice(["strip", "u", "blob", "star"])
    if kind == "strip":
        length, width = random.uniform(300, 1200), random.uniform(25, 90)
        return [(-length / 2, -width / 2), (length / 2, -width / 2), (length / 2, width / 2), (-length / 2, width / 2)]
    if kind == "u":
        half, wall = random.uniform(200, 500), random.uniform(30, 80)
        inner = half - wall
        return [(-half, -half), (half, -half), (half, half), (inner, half), (inner, -inner), (-inner, -inner), (-inner, half), (-half, half)]
    if kind == "blob":
        size = random.uniform(60, 350)
        radii = [size * random.uniform(0.7, 1) for _ in range(9)]
    else:
        size = random.uniform(120, 350)
        radii = [size * (1 if corner % 2 else 0.35) for corner in range(10)]
    turn = math.tau / len(radii)
    return [(radius * math.cos(turn * corner), radius * math.sin(turn * corner)) for corner, radius in enumerate(radii)]


def placed(random, middle, reach):
    centre, turn = moved(middle, random.uniform(-reach, reach), random.uniform(-reach, reach)), random.uniform(0, math.tau)
    east = lambda x, y: x * math.cos(turn) - y * math.sin(turn)
    north = lambda x, y: x * math.sin(turn) + y * math.cos(turn)
    return [moved(centre, east(x, y), north(x, y)) for x, y in outline(random)]


def inside(ring, at):
    odd = False
    for a, b in zip(ring, [*ring[1:], ring[0]]):
        if (a[1] > at[1]) != (b[1] > at[1]) and (b[0] - a[0]) * (at[1] - a[1]) / (b[1] - a[1]) + a[0] > at[0]:
            odd = not odd
    return odd


def beside(ring, at, off):
    across = DEGREE * math.cos(math.radians(at[0]))
    for a, b in zip(ring, [*ring[1:], ring[0]]):
        for step in range(41):
            north, east = (a[axis] + (b[axis] - a[axis]) * step / 40 - at[axis] for axis in (0, 1))
            if math.hypot(north * DEGREE, east * across) < off:
                return True
    return False


def world(random, middle):
    goals = [moved(middle, random.uniform(-1200, 1200), random.uniform(-1200, 1200)) for _ in range(2)]
    rings = []
    while len(rings) < 6:
        ring = placed(random, middle, 1600)
        if not any(inside(ring, goal) or beside(ring, goal, 90) for goal in goals):
            rings.append(ring)
    return goals, rings


class Open:
    """Open ground in cells of 6 m, and what of it leads to a safe place without entering a closed area."""

    CELL, SIDE = 6, 1000

    def __init__(self, middle, goals, rings):
        self.middle = middle
        closed = bytearray(self.SIDE * self.SIDE)
        for ring in rings:
            self._close(closed, [self._cell(at) for at in ring])
        self.reached = bytearray(self.SIDE * self.SIDE)
        waiting = [self._index(goal) for goal in goals]
        while waiting:
            at = waiting.pop()
            if closed[at] or self.reached[at]:
                continue
            self.reached[at] = 1
            column, row = at % self.SIDE, at // self.SIDE
            waiting += [at - 1] * (column > 0) + [at + 1] * (column + 1 < self.SIDE)
            waiting += [at - self.SIDE] * (row > 0) + [at + self.SIDE] * (row + 1 < self.SIDE)

    def _cell(self, at):
        across = DEGREE * math.cos(math.radians(self.middle[0]))
        east, north = (at[1] - self.middle[1]) * across, (at[0] - self.middle[0]) * DEGREE
        return east / self.CELL + self.SIDE / 2, north / self.CELL + self.SIDE / 2

    def _index(self, at):
        column, row = (min(max(int(one), 0), self.SIDE - 1) for one in self._cell(at))
        return row * self.SIDE + column

    def _close(self, closed, ring):
        for row in range(self.SIDE):
            y, cuts = row + 0.5, []
            for (ax, ay), (bx, by) in zip(ring, [*ring[1:], ring[0]]):
                if (ay > y) != (by > y):
                    cuts.append(ax + (bx - ax) * (y - ay) / (by - ay))
            cuts.sort()
            for left, right in zip(cuts[::2], cuts[1::2]):
                first, last = max(math.ceil(left - 0.5), 0), min(math.ceil(right - 0.5), self.SIDE)
                closed[row * self.SIDE + first : row * self.SIDE + last] = b"\1" * max(last - first, 0)

    def leads_out(self, at):
        return bool(self.reached[self._index(at)])
