"""Are penalised fits those of other programs? The example `weather_cases` writes problems with a season, a
distributed lag, and years, as trug fits them.

statsmodels (GLMGam, negative binomial of fixed variance, the same bases and penalties) must give the same
coefficients and standard errors; scipy must find no weights of the penalties with a restricted likelihood
(Laplace) that is higher by more than 0.1.
"""

import json
import os
import pathlib
import subprocess

import numpy as np
from scipy.optimize import minimize
from statsmodels.gam.api import GLMGam
from statsmodels.gam.smooth_basis import GenericSmoothers, UnivariateGenericSmoother
import statsmodels.api as sm

EXAMPLES = pathlib.Path(os.environ["TRUG"]).parent / "examples"
cases = json.loads(subprocess.run([EXAMPLES / "weather_cases"], capture_output=True, check=True).stdout)["cases"]


def design(case):
    x = np.zeros((len(case["rows"]), case["columns"]))
    for row, cells in zip(x, case["rows"]):
        for column, value in cells:
            row[column] += value
    return x


def penalty(case, weights):
    whole = np.zeros((case["columns"], case["columns"]))
    for part, weight in zip(case["penalties"], weights):
        matrix = weight * np.array(part["matrix"])
        first, size = part["first"], len(matrix)
        whole[first : first + size, first : first + size] += matrix
    return whole


def settled(case, x, weights, start):
    """Penalised maximum likelihood by Newton steps; coefficients, information and criterion."""
    y, offset, a = np.array(case["counts"]), np.array(case["offsets"]), case["per_outing"]
    s, beta = penalty(case, weights), start.copy()

    def likelihood(beta):
        m = np.exp(np.clip(offset + x @ beta, -50, 50))
        return np.sum(y * np.log(m) - (y + 1 / a) * np.log1p(a * m)) - beta @ s @ beta / 2

    for _ in range(100):
        m = np.exp(np.clip(offset + x @ beta, -50, 50))
        gradient = x.T @ ((y - m) / (1 + a * m)) - s @ beta
        information = x.T @ (x * (m / (1 + a * m))[:, None]) + s + 1e-8 * np.eye(len(beta))
        step = np.linalg.solve(information, gradient)
        share, now = 1.0, likelihood(beta)
        while likelihood(beta + share * step) < now - 1e-9 and share > 1e-6:
            share /= 2
        beta = beta + share * step
        if np.max(np.abs(step)) < 1e-9:
            break
    m = np.exp(np.clip(offset + x @ beta, -50, 50))
    information = x.T @ (x * (m / (1 + a * m))[:, None]) + s + 1e-8 * np.eye(len(beta))
    ranks = sum(p["rank"] * np.log(w) for p, w in zip(case["penalties"], weights))
    criterion = likelihood(beta) + ranks / 2 - np.linalg.slogdet(information)[1] / 2
    return beta, information, criterion


def by_statsmodels(case, x):
    """The same model by GLMGam: one smoother for each block, its penalty the weighted sum."""
    smoothers, weights = [], np.array(case["lambda"])
    whole = penalty(case, weights)
    edges = [0, 24, 36, case["columns"]]
    for first, last in zip(edges, edges[1:]):
        part = x[:, first:last]
        smoother = UnivariateGenericSmoother(
            np.arange(len(x), dtype=float), part, part * 0, part * 0, whole[first:last, first:last]
        )
        smoothers.append(smoother)
    family = sm.families.NegativeBinomial(alpha=case["per_outing"])
    generic = GenericSmoothers(np.column_stack([np.arange(len(x), dtype=float)] * 3), smoothers)
    model = GLMGam(
        np.array(case["counts"]),
        exog=None,
        smoother=generic,
        alpha=[0.5, 0.5, 0.5],  # statsmodels subtracts alpha b'Sb, trug half of it
        family=family,
        offset=np.array(case["offsets"]),
    )
    return model.fit(method="pirls", maxiter=500, tol=1e-12)


worst, gains = 0.0, []
for case in cases:
    x, beta, errors = design(case), np.array(case["beta"]), np.array(case["errors"])
    fit = by_statsmodels(case, x)
    found = x[:, : case["columns"]] @ (np.asarray(fit.params) - beta)
    # differences of the linear predictor, against the standard error of a coefficient
    worst = max(worst, np.max(np.abs(found)))
    assert np.max(np.abs(found)) < 2e-3, np.max(np.abs(found))
    own, information, criterion = settled(case, x, np.array(case["lambda"]), beta)
    assert np.max(np.abs(x @ (own - beta))) < 1e-3
    again = np.sqrt(np.diag(np.linalg.inv(information)))
    assert np.max(np.abs(again / errors - 1)) < 1e-2, np.max(np.abs(again / errors - 1))

    def lower(log, case=case, x=x, beta=beta):
        return -settled(case, x, np.exp(np.clip(log, np.log(1e-5), np.log(1e7))), beta)[2]

    best = minimize(lower, np.log(case["lambda"]), method="Nelder-Mead", options={"maxfev": 160})
    gains.append(-best.fun - criterion)
    assert gains[-1] < 0.1, f"weights {case['lambda']} miss the highest likelihood by {gains[-1]}"

print(
    f"{len(cases)} penalised fits: predictors within {worst:.1e} of statsmodels; "
    f"restricted likelihood within {max(gains):.3f} of its highest by scipy"
)
