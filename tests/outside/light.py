"""Is anything planned in the dark? Rounds of `next`, the light of the page for an area and the light and verdicts of
the page to carry against an almanac that shares nothing with trug (PyEphem), from the equator to 80 degrees, both
hemispheres, all seasons, at starts each ten minutes.

Gets the path of trug in TRUG, an empty folder in WORK and, for the page's program, `node`. LIGHT_DATES (2), LIGHT_STARTS
(6) and LIGHT_WALKS (400) set how many dates, starts a date and walks a page; LIGHT_SEED the sample.
"""

import datetime
import json
import os
import pathlib
import random
import re
import subprocess
import sys
from zoneinfo import ZoneInfo

HERE = pathlib.Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))
from light.almanac import CIVIL, HORIZON, Sky  # noqa: E402
from light.days import CAR, PLACES, Place  # noqa: E402

TRUG, WORK = os.environ["TRUG"], pathlib.Path(os.environ["WORK"])
DATES = int(os.environ.get("LIGHT_DATES", "2"))
STARTS = int(os.environ.get("LIGHT_STARTS", "6"))
WALKS = int(os.environ.get("LIGHT_WALKS", "400"))
RANDOM = random.Random(int(os.environ.get("LIGHT_SEED", "20260516")))

# degrees: the ephemerides differ by less than 0.01, the almanac is interpolated between two minutes
TOLERANCE = 0.05
# a day is granted wherever the sun is this far above the limit; the light of an area is that of its darkest corner
CLEARLY = 0.5
RESERVE = 20 * 60
UTC = datetime.timezone.utc
DAY = 86_400

ENV = {**os.environ, "XDG_CACHE_HOME": str(WORK / "cache"), "NO_COLOR": "1"}
seen = {}


def count(name, more=1):
    seen[name] = seen.get(name, 0) + more


def run(*arguments):
    done = subprocess.run([TRUG, *map(str, arguments)], capture_output=True, text=True, env=ENV)
    assert done.returncode in (0, 1), f"{arguments}: {done.stderr}"
    return done.stdout


def instant(text):
    return datetime.datetime.fromisoformat(text.replace("Z", "+00:00")).timestamp()


def dates():
    """Solstices and equinoxes first, then any."""
    some = [datetime.date(2026, month, day) for month, day in ((12, 21), (6, 21), (3, 20), (9, 23))]
    while len(some) < DATES:
        some.append(datetime.date(2026, 1, 2) + datetime.timedelta(days=RANDOM.randrange(355)))
    return some[:DATES] if DATES > 1 else some[:1]


def kind(sky, places, begin):
    """What the day after an instant has, by the almanac."""
    lowest, highest = sky.lowest(places, begin, begin + DAY), sky.highest(places, begin, begin + DAY)
    if lowest > HORIZON:
        return "polar day"
    if highest < CIVIL:
        return "polar night"
    if highest < HORIZON:
        return "polar night with twilight"
    return "white night" if lowest > CIVIL else "day and night"


# -- rounds


def round_at(sky, place, date, start, hours):
    asked = datetime.datetime.combine(date, start, ZoneInfo(place.zone))
    if asked.astimezone(UTC).astimezone(ZoneInfo(place.zone)).time() != start:
        return  # the clock jumps over it
    begin = asked.timestamp()
    store = ["--store", place.store, "--format", "json", "--from", "Gate"]
    answer = json.loads(run("next", "--date", date, "--start", f"{start:%H:%M}", "--hours", hours, *store))
    plan, where = answer["round"], f"{place} {date} {start} {hours} h"
    everywhere = place.all()
    light = kind(sky, everywhere, begin)
    count(f"rounds: {light}")
    if not plan["sites"]:
        ends = min(begin + hours * 3600, datetime.datetime.combine(date, datetime.time(23, 59), ZoneInfo(place.zone)).timestamp())
        no_light = "no daylight left" in (plan["none_because"] or "")
        if no_light:
            count("rounds refused for want of light")
            # the light of one day that has begun, with its reserve, is not refused
            by_day = sky.lowest(everywhere, begin, begin + RESERVE + 300) > HORIZON + CLEARLY
            assert not by_day, f"{where}: refused by day: {plan}"
            if light == "polar night with twilight" and ends > begin + RESERVE + 300:
                bright = sky.lowest(everywhere, begin, begin + RESERVE + 300) > CIVIL + CLEARLY
                assert not bright, f"{where}: refused in the only light of the day: {plan}"
        else:
            assert light != "polar night", f"{where}: polar night is not the reason: {plan}"
        return
    count("rounds planned")
    set_out, back, back_by = (instant(plan[name]) for name in ("start", "back", "back_by"))
    assert begin - 1 <= set_out <= back <= back_by + 1 <= begin + DAY + hours * 3600, f"{where}: {plan}"
    limit = CIVIL if light == "polar night with twilight" else HORIZON
    lowest = sky.lowest(everywhere, set_out, back_by)
    assert lowest > limit - TOLERANCE, f"{where}: the sun is at {lowest:.2f} on the round: {plan}"
    if light != "polar day" and "shortened" in plan["remark"]:
        # the margin after the latest return is light, too
        late = sky.lowest(everywhere, back_by, back_by + RESERVE - 60)
        assert late > limit - TOLERANCE, f"{where}: no margin, the sun is at {late:.2f}: {plan}"
    local = datetime.datetime.fromtimestamp(set_out, UTC).astimezone(ZoneInfo(place.zone))
    assert local.date() == date, f"{where}: begins on {local}: {plan}"
    if light == "polar day" and hours < 24:
        assert "shortened" not in plan["remark"] and "instead" not in plan["remark"], f"{where}: {plan}"


def rounds(sky, place):
    for date in dates():
        for step in sorted(RANDOM.sample(range(144), min(STARTS, 144))):
            round_at(sky, place, date, datetime.time(step // 6, step % 6 * 10), RANDOM.choice([1, 2, 4, 8, 12, 24]))


# -- the page for an area


def area_page(sky, place, date):
    """Each change of light of the table is one of the almanac, none is missing."""
    text = run("wayout", "--area", "--store", place.store, "--at", f"{date}T12:00", "--zone", place.zone)
    line = next(line for line in text.splitlines() if "Light on" in line)
    assert str(date) in line, line
    count("area pages")
    noon = datetime.datetime.combine(date, datetime.time(12), ZoneInfo(place.zone)).timestamp()
    corners, where = place.all(), f"{place} {date}: {line.strip()}"
    light = kind(sky, corners, noon - DAY / 2)
    count(f"area: {light}")
    names = {
        "polar day": "polar day", "polar night": "no daylight and no civil twilight", "white night": "white night",
        "polar night with twilight": "the sun does not rise",
    }
    edges = [sky.lowest(corners, noon - DAY / 2, noon + DAY / 2), sky.highest(corners, noon - DAY / 2, noon + DAY / 2)]
    grazing = any(abs(edge - limit) < CLEARLY for edge in edges for limit in (HORIZON, CIVIL))
    if not grazing:
        for other, words in names.items():
            assert (words in line) == (other == light), f"{where}: {light}"
    limits = {"first light": CIVIL, "end of civil twilight": CIVIL, "sunrise": HORIZON, "sunset": HORIZON}
    for words, hour, minute in re.findall(r"(first light|sunrise|sunset|end of civil twilight) (\d\d):(\d\d)", line):
        count("changes of light")
        at = (datetime.datetime.combine(date, datetime.time(int(hour), int(minute)), ZoneInfo(place.zone))).timestamp()
        at += DAY * (at < noon - DAY / 2) - DAY * (at >= noon + DAY / 2)
        rising = words in ("first light", "sunrise")
        # at the time that the clock shows it is so light already, or still
        bright = sky.lowest(corners, at, at + 60) if rising else sky.lowest(corners, at - 60, at)
        assert bright > limits[words] - TOLERANCE, f"{where}: the sun is at {bright:.2f} at {words}"
        near = sky.between(corners, at - 120, at + 120)
        assert near.min() - CLEARLY < limits[words] < near.max() + CLEARLY, f"{where}: {words} is not then"


# -- the page to carry


def page_to_carry(sky, place, date):
    out = WORK / "carried.html"
    run("carry", "--store", place.store, "--area", "Gate", "--reach", 3, "--date", date, "--zone", place.zone, "--out", out, "--overwrite")
    count("pages to carry")
    begin = datetime.datetime.combine(date, datetime.time(0), ZoneInfo(place.zone)).timestamp()
    walks = []
    for _ in range(WALKS):
        now = int(begin + RANDOM.randrange(0, 12 * 144) * 600)
        walks.append([now, 60 * RANDOM.choice([5, 10, 30, 60, 120, 240, 480, 900, 1500])])
    file = WORK / "walks.json"
    file.write_text(json.dumps(walks))
    answers = json.loads(subprocess.run(["node", HERE / "light" / "verdicts.cjs", out, file], capture_output=True, text=True, check=True).stdout)
    corners = place.square(3_000)
    inside = place.square(2_990)
    for (now, walk), answer in zip(walks, answers["verdicts"]):
        judge(sky, (corners, inside), (now, walk), answer, f"{place} {date}")
    check_light(sky, corners, answers["light"], f"{place} {date}")


def judge(sky, areas, walk, answer, where):
    """The verdict of the page, in whose light it lies, against the heights of the sun in the whole area."""
    (now, takes), (corners, inside) = walk, areas
    where = f"{where}: {takes / 60:.0f} min from {datetime.datetime.fromtimestamp(now, UTC)}: {answer}"
    count(f"verdicts: {answer['advice']}")
    slow = now + takes + max(takes / 4, RESERVE)
    lowest, with_reserve = sky.lowest(inside, now, now + takes), sky.lowest(inside, now, slow)
    if answer["advice"] == "comfortable":
        assert with_reserve > HORIZON - TOLERANCE, f"{where}: comfortable with the sun at {with_reserve:.2f}"
    if answer["advice"] != "do-not-set-out":
        assert lowest > CIVIL - TOLERANCE, f"{where}: dark on the way, the sun at {lowest:.2f}"
    elif takes < DAY:
        in_doubt = sky.lowest(corners, now, now + takes)
        assert in_doubt < CIVIL + CLEARLY, f"{where}: the sun stays at {in_doubt:.2f}"
    if answer.get("reason") == "polar-night":
        assert sky.highest(corners[:1], now, now + DAY) < CIVIL + CLEARLY, f"{where}: no polar night"
    if answer.get("reason") == "no-sunset":
        assert sky.lowest(inside, now, slow + DAY) > HORIZON - TOLERANCE, f"{where}: the sun sets"
    latest = answer["latest"]
    if latest["code"] == "at":
        by, from_ = latest["by"], max(now, latest.get("notBefore") or now)
        assert by >= from_ - 1, where
        late = sky.lowest(inside, by, by + takes + max(takes / 4, RESERVE))
        assert late > CIVIL - TOLERANCE, f"{where}: whoever sets out at the latest time walks with the sun at {late:.2f}"
    if latest["code"] == "any-time":
        late = sky.lowest(inside, now, now + DAY)
        assert late > CIVIL - TOLERANCE, f"{where}: it gets dark, the sun at {late:.2f}"


def check_light(sky, corners, intervals, where):
    """Each interval is at least as bright as it says, everywhere in the area."""
    for light, begin, end in intervals:
        count("intervals of light")
        if light == 0 or end - begin < 120:
            continue
        limit = (CIVIL, HORIZON)[light - 1]
        lowest = sky.lowest(corners, begin, end)
        assert lowest > limit - TOLERANCE, f"{where}: {(light, begin, end)} has the sun at {lowest:.2f}"
    assert all(one[2] == other[1] for one, other in zip(intervals, intervals[1:])), where


def main():
    sky = Sky()
    for number, (latitude, longitude, zone) in enumerate(PLACES):
        place = Place(latitude, longitude, zone, WORK / f"place-{number}")
        for name in place.folders():
            run("import", name, "--zone", "+00:00", "--store", place.store)
        run("trailhead", "add", "Gate", "{:.6f} {:.6f}".format(*place.at(CAR)), "--store", place.store)
        rounds(sky, place)
        for date in dates():
            area_page(sky, place, date)
            page_to_carry(sky, place, date)
    enough = ("rounds planned", "rounds refused for want of light", "area pages", "verdicts: comfortable", "verdicts: tight")
    kinds = [f"rounds: {one}" for one in ("polar day", "polar night", "polar night with twilight", "day and night")]
    assert all(seen.get(name, 0) > 0 for name in (*enough, *kinds)), seen
    if "LIGHT_TABLE" in os.environ:
        print(json.dumps(seen, indent=1))
    verdicts = sum(number for name, number in seen.items() if name.startswith("verdicts"))
    print(
        f"light: {seen['rounds planned']} rounds, {seen['rounds refused for want of light']} refused for want of light, "
        f"{seen['area pages']} area pages with {seen['changes of light']} changes, {verdicts} verdicts of pages to carry: "
        "nothing in the dark of the almanac"
    )


if __name__ == "__main__":
    main()
