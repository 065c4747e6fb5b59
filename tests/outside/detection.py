"""Are the chances of `trug detection` those of the greatest likelihood? The visits of the sample autumns are
made into histories again and fitted by scipy: the same maximum, the same intervals by likelihood ratio, the
same Akaike criteria with visits alike and by time.

Gets the path of trug in TRUG and an empty folder in WORK. Needs numpy and scipy.
"""

import json
import os
import pathlib
import subprocess
from collections import defaultdict
from datetime import datetime, timedelta

import numpy as np
from scipy.optimize import brentq, minimize
from scipy.special import expit
from scipy.stats import chi2

HERE = pathlib.Path(__file__).resolve().parent
TRUG = os.environ["TRUG"]
STORE = pathlib.Path(os.environ["WORK"]) / "a.gpkg"
KINDS = ["Mycena interrupta", "Cortinarius", "Galerina"]
LOW, HIGH = np.array([-12.2, -12.2, 0.0]), np.array([12.2, 2.5, 3.0])


def trug(*arguments):
    done = subprocess.run([TRUG, "--quiet", *map(str, arguments), "--store", STORE], capture_output=True, text=True)
    assert done.returncode in (0, 1), f"trug {arguments}: {done.stderr}"
    return done.stdout


def histories(visits, kinds, of):
    """For each site its seasons, each a list of minutes (None where unknown) and whether it was found."""
    looked, known_already = [], set()
    for visit in sorted(visits, key=lambda visit: visit["start"]):
        found = any(kinds.get(number, "").startswith(of) for number in visit["recordNumbers"])
        # nobody records again what was found at the site on the same outing
        place = (visit["site"], visit["outing"])
        if place in known_already:
            continue
        if found:
            known_already.add(place)
        # only time in motion is search whether or not something is found
        minutes = visit["searched_s"] - visit["stood_s"]
        if minutes < 1:
            continue
        # the samples lie ten hours east of Greenwich
        when = datetime.fromisoformat(visit["start"].rstrip("Z")) + timedelta(hours=10)
        looked.append((visit["site"], when.year, when.timetuple().tm_yday,
                       minutes / 60 if minutes > 0 else None, found))
    days = [day for _, _, day, _, found in looked if found]
    known = {site for site, *_, found in looked if found}
    sites = defaultdict(lambda: defaultdict(list))
    for site, year, day, minutes, found in looked:
        if site in known and min(days) <= day <= max(days):
            sites[site][year].append((minutes, found))
    return [list(seasons.values()) for seasons in sites.values()]


def likelihood(sites):
    lengths = [m for seasons in sites for season in seasons for m, _ in season if m is not None]
    usual = float(np.median(lengths))

    def log_likelihood(at):
        psi, power = expit(at[0]), at[2]

        def hazard(season):
            t = np.array([max(m, 0.25) / usual if m is not None else 1.0 for m, _ in season])
            return np.exp(at[1]) * t**power

        total = 0.0
        for seasons in sites:
            never = 1.0
            for season in seasons:
                h, found = hazard(season), np.array([found for _, found in season])
                missed = psi * np.exp(-h.sum()) + 1 - psi
                never *= missed
                if found.any():
                    total += np.log(psi) + np.log(-np.expm1(-h[found])).sum() - h[~found].sum()
                else:
                    total += np.log(missed)
            total -= np.log1p(-never)
        return total

    return log_likelihood, usual


def best(f, start, free, fixed=()):
    """The greatest value with some parameters free and the others where `start` and `fixed` put them."""
    at = np.array(start, float)
    for which, value in fixed:
        at[which] = value

    def down(x):
        point = at.copy()
        point[free] = x
        return -f(point)

    done = minimize(down, at[free], method="L-BFGS-B", bounds=list(zip(LOW[free], HIGH[free])),
                    options={"ftol": 1e-13, "gtol": 1e-8})
    at[free] = done.x
    return at, -done.fun


def interval(f, top, height, which, free):
    others = [k for k in free if k != which]

    def fall(value):
        return height - best(f, top, others, [(which, value)])[1] - chi2.ppf(0.95, 1) / 2

    ends = []
    for limit in (LOW[which], HIGH[which]):
        ends.append(brentq(fall, top[which], limit, xtol=1e-6) if fall(limit) > 0 else None)
    return ends


for year in (2023, 2024, 2025):
    trug("import", HERE.parent.parent / "sample-tracks" / "earlier-years" / str(year))
visits = json.loads(trug("visits", "--format", "json"))
features = json.loads(trug("finds", "--format", "geojson"))["features"]
kinds = {f["properties"]["recordNumber"]: f["properties"].get("scientificName") or "" for f in features}
worst = 0.0
for kind in KINDS:
    reported = json.loads(trug("detection", "--taxon", kind, "--json"))
    sites = histories(visits, kinds, kind)
    assert len(sites) == reported["sites"], f"{kind}: {len(sites)} sites, reported {reported['sites']}"
    count = sum(len(season) for site in sites for season in site)
    assert count == reported["visits"], f"{kind}: {count} visits, reported {reported['visits']}"
    f, usual = likelihood(sites)
    assert abs(usual - reported["minutes"]) < 0.02, (kind, usual, reported["minutes"])
    alike = best(f, [1.0, -0.5, 0.0], [0, 1])
    timed = max((best(f, [*alike[0][:2], power], [0, 1, 2]) for power in (0.3, 1.0)), key=lambda b: b[1])
    # lengths within 5 % of each other are one class in trug: that moves the criterion by some tenths
    assert abs(4 - 2 * alike[1] - reported["aic_alike"]) < 1e-3, (kind, alike, reported)
    assert abs(6 - 2 * timed[1] - reported["aic_by_time"]) < 0.3, (kind, timed, reported)
    (top, height), free = (timed, [0, 1, 2]) if reported["by_time"] else (alike, [0, 1])
    for which, name, read in ((0, "present", expit), (1, "per_visit", lambda e: -np.expm1(-np.exp(e)))):
        low, high = interval(f, top, height, which, free)
        ours = [reported[name], reported[f"{name}_low95"], reported[f"{name}_high95"]]
        theirs = [read(top[which]), 0.0 if low is None else read(low), 1.0 if high is None else read(high)]
        off = np.abs(np.array(ours) - theirs).max()
        worst = max(worst, off)
        assert off < 0.01, f"{kind}, {name}: {ours}, by scipy {theirs}"
print(f"detection: {len(KINDS)} kinds fitted by scipy, chances and ends of intervals within {worst:.4f}")
