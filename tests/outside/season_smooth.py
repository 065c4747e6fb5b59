"""Is the season of trug that of mgcv (R; Wood 2017, Generalized Additive Models)? The example
`weather_cases` writes random seasons of outings with the curve that trug fits to each; mgcv fits the same
counts with a cyclic P-spline of as many knots.

With the weight of the penalty that trug chose, the logarithm of the rate must be the same on every day, and so
must its standard error where counts are Poisson's (for others mgcv takes the observed information, trug the
expected one). The restricted likelihood at trug's weight must be within 0.1 of the highest that mgcv finds.
"""

import json
import os
import pathlib
import subprocess

import numpy as np

EXAMPLES = pathlib.Path(os.environ["TRUG"]).parent / "examples"
WORK = pathlib.Path(os.environ["WORK"])
HERE = pathlib.Path(__file__).parent
written = subprocess.run([EXAMPLES / "weather_cases"], capture_output=True, check=True).stdout
seasons = json.loads(written)["seasons"]

for number, season in enumerate(seasons):
    with open(WORK / f"season-{number}.csv", "w") as file:
        file.write("phase,hours,finds\n")
        for phase, hours, finds in zip(season["phases"], season["hours"], season["finds"]):
            file.write(f"{phase!r},{hours!r},{finds!r}\n")
    with open(WORK / f"season-{number}.fit", "w") as file:
        file.write(f"smoothness,per_outing\n{season['smoothness']!r},{season['per_outing']!r}\n")
subprocess.run(["Rscript", "--vanilla", HERE / "season_smooth.R", WORK], check=True)

curve, errors, missed = 0.0, 0.0, 0.0
for number, season in enumerate(seasons):
    out = np.loadtxt(WORK / f"season-{number}.out", delimiter=",")
    days, (best, highest), (own, reached) = out[:-2], out[-2], out[-1]
    # far from the season the rate is nothing, and its logarithm anything
    logs, own_errors = np.array(season["log_rates"]), np.array(season["log_errors"])
    counts = logs > logs.max() - 6
    off = np.max(np.abs(days[counts, 0] - logs[counts]))
    wider = np.max(np.abs(days[counts, 1] / own_errors[counts] - 1))
    assert off < 1e-3, f"season {number}: the curves differ by {off}"
    assert wider < (5e-3 if season["per_outing"] == 0 else 0.15), f"season {number}: errors differ by {wider}"
    assert highest - reached < 0.1, f"season {number}: weight {own}, mgcv {best}, {highest - reached} lower"
    curve, missed = max(curve, off), max(missed, highest - reached)
    errors = max(errors, wider if season["per_outing"] == 0 else 0.0)
print(
    f"{len(seasons)} seasons: log rates within {curve:.1e} of mgcv, standard errors of Poisson's within "
    f"{100 * errors:.2f} %, restricted likelihood within {missed:.3f} of its highest"
)
