"""Reference fits for the tests, by a general nonlinear least-squares solver.

Writes reference.json. Needs Python 3 with SciPy (1.10 was used). Each model is fitted in
its own parameters (critical power, W', maximal power) by Levenberg-Marquardt from many
starting values, the least of all minima taken; standard errors come from the solver's
covariance matrix, those of predicted powers from the gradient by finite differences.
"""

import itertools
import json
import warnings

import numpy as np
from scipy.optimize import curve_fit

warnings.simplefilter("ignore")

# Durations in s, powers in W, weights. The first set is that of Mattioni Maturana et al.
# 2018 (see outside_test.go); the others are invented.
SETS = [
    ("five trials", [(100, 446), (172, 385), (434, 324), (857, 290), (1361, 280)], None),
    ("with sprints", [(6, 1060), (15, 870), (60, 545), (180, 372), (420, 318), (720, 297), (1200, 285)], None),
    ("with weights", [(12, 840), (75, 470), (185, 352), (310, 331), (600, 290), (905, 281), (1500, 271)],
     [2, 1, 0.5, 1, 3, 1, 0.25]),
    ("repeated", [(180, 340), (180, 351), (420, 303), (420, 309), (720, 288), (720, 285), (720, 290)], None),
]

AT = 240.0


def power(t, cp, w, pmax=None):
    return cp + w / (t + (0 if pmax is None else w / (pmax - cp)))


def duration(p, cp, w, pmax=None):
    return w / (p - cp) - (0 if pmax is None else w / (pmax - cp))


def fit(x, y, model, weights, starts):
    best = None
    for start in starts:
        try:
            theta, cov = curve_fit(model, x, y, p0=start, sigma=1 / np.sqrt(weights), maxfev=20000,
                                   ftol=1e-15, xtol=1e-15, gtol=1e-15)
        except (RuntimeError, ValueError):
            continue
        r = y - model(x, *theta)
        squares = float(np.sum(weights * r * r))
        if np.isfinite(cov).all() and (best is None or squares < best[2]):
            best = theta, cov, squares
    return best


def summary(x, y, model, weights, starts):
    theta, cov, squares = fit(x, y, model, weights, starts)
    mean = np.sum(weights * y) / np.sum(weights)
    gradient = []
    for j in range(len(theta)):
        h = np.zeros(len(theta))
        h[j] = 1e-5 * theta[j]
        gradient.append((power(AT, *(theta + h)) - power(AT, *(theta - h))) / (2 * h[j]))
    gradient = np.array(gradient)
    return {
        "values": list(theta), "errors": list(np.sqrt(np.diag(cov))),
        "residual_sd": float(np.sqrt(squares / (len(y) - len(theta)))),
        "r_squared": float(1 - squares / np.sum(weights * (y - mean) ** 2)),
        "power_at_240_s": float(power(AT, *theta)), "its_error": float(np.sqrt(gradient @ cov @ gradient)),
    }


out = []
for name, efforts, weights in SETS:
    t, p = (np.array(column, float) for column in zip(*efforts))
    w = np.ones(len(t)) if weights is None else np.array(weights, float)
    low = p.min()
    two = list(itertools.product([0.8 * low, 0.9 * low, 0.97 * low], [8e3, 15e3, 25e3]))
    three = [(c, j, m) for (c, j) in two for m in (1.2 * p.max(), 1.5 * p.max(), 2 * p.max())]
    out.append({
        "name": name, "efforts": efforts, "weights": list(w),
        "fits": {
            "two_parameter_time": summary(p, t, duration, w, two),
            "work_time_line": summary(t, p * t, lambda t, cp, j: cp * t + j, w, two),
            "inverse_time_line": summary(t, p, power, w, two),
            "three_parameter_time": summary(p, t, duration, w, three),
            "three_parameter_power": summary(t, p, power, w, three),
        },
    })

with open("reference.json", "w", encoding="utf-8") as f:
    json.dump(out, f, indent=1)
    f.write("\n")
