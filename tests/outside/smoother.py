"""Numbers that the position engine must meet, from general libraries.

Writes to tests/reference/data:
  smoother.csv   an irregular track of one axis smoothed by filterpy's Kalman filter and
                 Rauch-Tung-Striebel smoother: position, velocity, correlated error
  circle.csv     probability that a circular normal place lies within a radius of a point
                 (scipy.stats.ncx2), and values of the error function (scipy.special.erf)
Run: .venv/bin/python tests/outside/smoother.py
"""

import math
import pathlib

import numpy as np
from filterpy.kalman import KalmanFilter
from scipy import special, stats

DATA = pathlib.Path(__file__).parents[1] / "reference" / "data"
SPEED, PERSISTENCE, SWAY = 0.65, 20.0, 0.05
SIGMA, TAU, WHITE = 7.0, 120.0, 0.8
SPREAD = 1000.0


def transition(dt):
    keep, lasting = math.exp(-dt / PERSISTENCE), math.exp(-dt / TAU)
    lost = 1.0 - keep
    ratio = dt / PERSISTENCE
    f = np.array([[1, PERSISTENCE * lost, 0], [0, keep, 0], [0, 0, lasting]])
    q = np.zeros((3, 3))
    q[0, 0] = SPEED**2 * PERSISTENCE**2 * (2 * ratio - 2 * lost - lost**2) + SWAY**2 * dt
    q[0, 1] = q[1, 0] = SPEED**2 * PERSISTENCE * lost**2
    q[1, 1] = SPEED**2 * (1 - keep**2)
    q[2, 2] = SIGMA**2 * (1 - lasting**2)
    return f, q


def smoother():
    rng = np.random.default_rng(20260502)
    steps = [0.0, 3, 3, 5, 1, 10, 60, 3, 3, 200, 5, 5, 2, 30, 3, 3]
    times = np.cumsum(steps)
    seen = 0.3 * times + 6 * np.sin(times / 70) + rng.normal(0, 1, len(times))
    kalman = KalmanFilter(dim_x=3, dim_z=1)
    kalman.x = np.array([[seen[0]], [0.0], [0.0]])
    kalman.P = np.diag([SPREAD**2, SPEED**2, SIGMA**2])
    kalman.H = np.array([[1.0, 0.0, 1.0]])
    kalman.R = np.array([[WHITE**2]])
    xs, ps, fs, qs = [], [], [], []
    for k, z in enumerate(seen):
        f, q = transition(steps[k]) if k else (np.eye(3), np.zeros((3, 3)))
        if k:
            kalman.predict(F=f, Q=q)
        kalman.update(z)
        xs.append(kalman.x.copy())
        ps.append(kalman.P.copy())
        fs.append(f)
        qs.append(q)
    # filterpy takes F[k+1], Q[k+1] for the step from k to k+1
    smooth, cov, _, _ = kalman.rts_smoother(np.array(xs), np.array(ps), Fs=fs, Qs=qs)
    with open(DATA / "smoother.csv", "w") as out:
        out.write("# filterpy 2.0.0 (MIT licence), KalmanFilter and rts_smoother; made by tests/outside/smoother.py\n")
        out.write("# velocity 0.65 m/s lasting 20 s, sway 0.05 m/s^0.5, error 7 m lasting 120 s, white 0.8 m\n")
        out.write("time_s,seen_m,position_m,velocity_m_s,variance_m2\n")
        for t, z, x, p in zip(times, seen, smooth, cov):
            out.write(f"{t},{z:.9f},{x[0, 0]:.9f},{x[1, 0]:.9f},{p[0, 0]:.9f}\n")


def circle():
    with open(DATA / "circle.csv", "w") as out:
        out.write("# scipy (BSD licence): stats.ncx2.cdf of two degrees of freedom; made by tests/outside/smoother.py\n")
        out.write("radius_m,away_m,variance_m2,probability\n")
        for radius in (0.5, 2, 5, 10, 20, 60):
            for away in (0, 0.3, 2, 9, 25, 58):
                for variance in (0.25, 4, 30):
                    p = stats.ncx2.cdf(radius**2 / variance, 2, away**2 / variance) if away else (
                        stats.chi2.cdf(radius**2 / variance, 2))
                    out.write(f"{radius},{away},{variance},{p:.10f}\n")
    with open(DATA / "laws.csv", "w") as out:
        out.write("# scipy (BSD licence): special.erf, stats.t.pdf; made by tests/outside/smoother.py\n")
        out.write("law,x,value\n")
        for x in (-3, -1, -0.2, 0, 0.1, 0.5, 1, 2, 4):
            out.write(f"erf,{x},{special.erf(x):.12f}\n")
        for x in (0, 10, 75, 300, 3000):
            out.write(f"clock_error,{x},{stats.t.pdf(x / 75, 1.6) / 75:.12e}\n")


smoother()
circle()
