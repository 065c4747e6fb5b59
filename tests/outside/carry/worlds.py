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
