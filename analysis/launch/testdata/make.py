#!/usr/bin/env python3
"""Makes sprints.json beside this file: best launches by a solver that shares nothing with ours.

    apt-get install python3-scipy     (scipy 1.10.1)
    ./make.py

The problems are of our own invention. The equations are those of the package's documentation
(Martin et al. 1998; P = CP + (P_max - CP) W/W'; shelter that fades as the rider comes past),
written anew with the time as the variable: the head of the line and the sprinter are ridden by
scipy's DOP853, the line is an event, and the launch is found by trying every 2 m and then by
scipy's bounded minimisation. Gravity, the wheels and the bearings are Martin's.
"""
import json, math, os
import numpy as np
import scipy
from scipy.integrate import solve_ivp
from scipy.optimize import minimize_scalar

HERE = os.path.dirname(os.path.abspath(__file__))
G, PITCH, CYCLE, CLOSE = 9.80665, 1.85, 1.7, 0.15
HEAD = dict(mass=75 + 8, cda=0.32, crr=0.004)


class Road:
    """Stretches of constant gradient, by the horizontal distance."""

    def __init__(self, stretches):
        self.ends = np.cumsum([s[0] for s in stretches])
        self.angles = [math.atan(s[1]) for s in stretches]
        self.length = self.ends[-1]

    def angle(self, x):
        return self.angles[min(int(np.searchsorted(self.ends, x, side="right")), len(self.angles) - 1)]


def force(b, road, x, v, rho, wind, share):
    a = road.angle(x)
    air = v + wind
    return (0.5 * rho * share * (b["cda"] + 0.0044) * air * abs(air) + b["mass"] * G * (math.sin(a) + b["crr"] * math.cos(a))
            + 0.091 + 0.0087 * v)


def inertia(b):
    return b["mass"] + 0.14 / 0.311 ** 2


def power_at(b, stretches, v, rho, wind, share):
    """The power at the wheel that holds v on the whole."""
    road = Road(stretches)
    start, work, length = 0, 0, 0
    for s, _ in stretches:
        slope = s / math.cos(road.angle(start + s / 2))
        work += slope * force(b, road, start + s / 2, v, rho, wind, share)
        length += slope
        start += s
    return v * work / length


def lee(gap):
    """The share of the lee at close riding by Olds 1998, monotone and meeting 1 at 3 m."""
    least = 0.0104 / (2 * 0.0452)
    open_ = lambda g: 1 - min(max((g - least) / (3 - least), 0), 1) ** 2
    return open_(gap) / open_(CLOSE)


def pieces(road, t, y, stop, rhs):
    """Integrates piece by piece, so that no step passes a change of gradient."""
    ts, xs = [t], [y[0]]
    for end in road.ends:
        if end <= y[0] + 1e-12:
            continue
        event = lambda t, y, e=end: y[0] - e
        event.terminal, event.direction = True, 1
        out = solve_ivp(rhs, (t, t + 1e4), y, method="DOP853", rtol=1e-11, atol=1e-11, events=event, max_step=0.02)
        t, y = out.t_events[0][0], out.y_events[0][0]
        y[0] = end
        ts += list(out.t[1:-1]) + [t]
        xs += list(out.y[0][1:-1]) + [end]
    return t, y, np.array(ts), np.array(xs)


def solve(p):
    road = Road(p["stretches"])
    rho, wind, v0 = p["air_density_kg_m3"], p["headwind_mps"], p["speed_mps"]
    me = dict(mass=p["mass_kg"], cda=p["cda_m2"], crr=0.004)
    cp, w0, pmax = p["critical_power_w"], p["w_prime_j"], p["max_power_w"]
    eta, share, ahead = 0.977, p["shelter"], p["place"] - 1
    # The head of the line; with it W' behind the wheel, as powers that are followed.
    wheel_w = max(power_at(HEAD, p["stretches"], v0, rho, wind, p["head_shelter"]), 0)

    def follow(t, y):
        x, v, w = y
        a = (wheel_w / v - force(HEAD, road, x, v, rho, wind, p["head_shelter"])) / inertia(HEAD)
        need = max(v * (force(me, road, x, v, rho, wind, share) + inertia(me) * a) / eta, 0)
        dw = -(need - cp) if need > cp else (1 - w / w0) * (cp - need)
        return [v * math.cos(road.angle(x)), a, dw]

    ends, states, grid_t, grid_x = [], [], [0.0], [0.0]
    t, y = 0.0, [0.0, v0, p["balance_j"]]
    dense = []
    for end in road.ends:
        event = lambda t, y, e=end: y[0] - e
        event.terminal, event.direction = True, 1
        out = solve_ivp(follow, (t, t + 1e4), y, method="DOP853", rtol=1e-11, atol=1e-11, events=event, dense_output=True)
        t1, y1 = out.t_events[0][0], out.y_events[0][0]
        dense.append((t, t1, out.sol))
        fine = np.linspace(t, t1, 20001)
        grid_t += list(fine[1:])
        grid_x += list(out.sol(fine)[0][1:])
        t, y = t1, [end, y1[1], y1[2]]
    grid_t, grid_x = np.array(grid_t), np.array(grid_x)
    apart = PITCH / v0

    # Where the wheel asks for more than there is: no launch is later than that.
    latest = road.length
    for a, b, sol in dense:
        for tw in np.linspace(a, b, 2001)[:-1]:
            x, v, w = sol(tw)
            acceleration = follow(tw, [x, v, w])[1]
            need = v * (force(me, road, x, v, rho, wind, share) + inertia(me) * acceleration) / eta
            if need > cp + (pmax - cp) * w / w0:
                latest = min(latest, x)
                break

    def sprint(launch_m):
        at = road.length - launch_m
        tw = float(np.interp(at, grid_x, grid_t))
        sol = next(s for a, b, s in dense if tw <= b + 1e-12)
        _, v, w = sol(tw)
        if launch_m <= 0:
            return tw + ahead * apart

        def rhs(t, y):
            x, v, w = y
            power = min(cp + (pmax - cp) * w / w0, 0.4 / 1.1 * me["mass"] * G * v / eta)
            f = 1.0
            if ahead:
                after = t - (float(np.interp(x, grid_x, grid_t)) + (ahead - 1) * apart)
                s = after / apart
                if s > 1:
                    s = lee((after - apart) * v + CLOSE)
                f = 1 - (1 - share) * max(s, 0)
            a = (power * eta / v - force(me, road, x, v, rho, wind, f)) / inertia(me)
            return [v * math.cos(road.angle(x)), a, -max(power - cp, 0)]

        return pieces(road, tw + ahead * apart, [at, v, w], None, rhs)[0]

    tried = np.arange(road.length - latest, road.length + 1e-9, p["scan_m"])
    times = [sprint(x) for x in tried]
    k = int(np.argmin(times))
    best = minimize_scalar(sprint, bounds=(tried[max(k - 1, 0)], tried[min(k + 1, len(tried) - 1)]), method="bounded", options=dict(xatol=0.01))
    launch = float(best.x) if best.fun < times[k] else float(tried[k])
    told = [40.0, 90.0, 140.0, 200.0, 260.0]
    return dict(p, lost_m=None if latest == road.length else round(road.length - latest, 1), launch_m=round(launch, 3), time_s=round(min(float(best.fun), times[k]), 6),
                launches=[dict(launch_m=x, time_s=round(sprint(x), 6)) for x in told if x <= road.length])


def main():
    base = dict(mass_kg=72 + 8, cda_m2=0.31, critical_power_w=300.0, w_prime_j=20000.0, max_power_w=1200.0, balance_j=20000.0,
                air_density_kg_m3=1.2, headwind_mps=0.0, place=2, shelter=0.6, head_shelter=0.96, speed_mps=16.8, scan_m=10)
    problems = [
        dict(base, name="flat", stretches=[[330, 0.0]]),
        dict(base, name="uphill", stretches=[[300, 0.05]], speed_mps=12.6),
        dict(base, name="a kick after a dip", stretches=[[120, 0.0], [60, -0.03], [150, 0.06]], speed_mps=14.8),
        dict(base, name="headwind, third wheel", stretches=[[300, 0.01]], headwind_mps=3.0, place=3, shelter=0.52, speed_mps=13.9),
        dict(base, name="tailwind, spent", stretches=[[200, 0.0], [160, 0.02]], headwind_mps=-2.5, balance_j=13000.0, speed_mps=17.2),
        dict(base, name="a wheel that is lost", stretches=[[160, 0.01], [140, 0.05]], balance_j=7000.0, speed_mps=13.6),
        dict(base, name="down, and slow", stretches=[[200, -0.07], [120, -0.01]], speed_mps=13.0),
        dict(base, name="at the head", stretches=[[280, 0.03]], place=1, shelter=0.96, speed_mps=12.9),
    ]
    out = [solve(p) for p in problems]
    with open(os.path.join(HERE, "sprints.json"), "w") as f:
        json.dump(dict(solver="scipy %s, DOP853 with rtol and atol 1e-11" % scipy.__version__, sprints=out), f, indent=1)
        f.write("\n")


if __name__ == "__main__":
    main()
