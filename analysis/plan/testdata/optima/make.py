#!/usr/bin/env python3
"""Makes the optimal plans beside this file, by a solver that shares nothing with ours.

    apt-get install coinor-libipopt-dev pkg-config g++ python3     (Ipopt 3.11.9, MUMPS)
    ./make.py [NAME ...]

The problems are of our own invention. The equations are those of the package's
documentation (Martin et al. 1998; the balance of W' in its differential form), written
anew: distance is horizontal, the motion is along the slope. solve.cpp finds the powers
from several starts (recovery that is faster than spending has a great many optima: see
turned_over); each answer is ridden again here, by classical Runge-Kutta steps of
at most 0.25 m in v^3, and what that gives is what is stored: time_s, the lowest balance
and the balance at the end.
"""
import json, math, os, random, subprocess, sys

HERE = os.path.dirname(os.path.abspath(__file__))
G = 9.80665
SOLVER = "Ipopt 3.11.9 with MUMPS, exact derivatives; three-point Gauss collocation"


def density(z):
    """ISO 2533 standard atmosphere, troposphere."""
    t = 288.15 - 0.0065 * z
    return 101325 * (t / 288.15) ** (G / (287.05287 * 0.0065)) / (287.05287 * t)


class Problem:
    def __init__(self, name, spacing, length, z, about, rider=None, setup=None, conditions=None, limits=None,
                 heading=None, climb=None, exclusive=False):
        n = round(length / spacing)
        self.name, self.about, self.exclusive = name, about, exclusive
        self.s = [spacing * i for i in range(n + 1)]
        self.z = [round(z(x), 4) for x in self.s]
        self.rider = {"mass_kg": 72.0, "cda_m2": 0.32, "critical_power_w": 260.0, "w_prime_j": 20000.0, **(rider or {})}
        self.setup = {"mass_kg": 8.0, "crr": 0.004, **(setup or {})}
        self.conditions = dict(conditions or {})
        self.limits = dict(limits or {})
        self.climb = climb  # where the last climb starts
        self.heading = self.curvature = None
        if heading:
            self.heading = [round(heading((self.s[i] + self.s[i + 1]) / 2) % 360, 6) for i in range(n)]
            self.curvature = [0.0] * (n + 1)
            for i in range(1, n):
                turn = (self.heading[i] - self.heading[i - 1] + 180) % 360 - 180
                self.curvature[i] = round(math.radians(turn) / spacing, 8)
        self.lay()

    def lay(self):
        """The pieces: road metres, drag, headwind, steady force, limits of v^2, gradient."""
        c, n = self.conditions, len(self.s) - 1
        su, r = self.setup, self.rider
        self.mass = r["mass_kg"] + su["mass_kg"] + c.get("load_kg", 0)
        self.inertia = self.mass + su.get("wheel_inertia_kg_m2", 0.14) / 0.311 ** 2
        self.eta = su.get("drivetrain_efficiency", 0.977)
        self.b0, self.b1 = su.get("bearing_n", 0.091), su.get("bearing_n_s_per_m", 0.0087)
        area = (r["cda_m2"] + su.get("wheel_drag_area_m2", 0.0044)) * c.get("shelter", 1)
        at_rider = c.get("wind_mps", 0) * math.log(1 / 0.03) / math.log(10 / 0.03)
        self.pieces = []
        for i in range(n):
            dx, dz = self.s[i + 1] - self.s[i], self.z[i + 1] - self.z[i]
            h = math.hypot(dx, dz)
            rho = c.get("air_density_kg_m3") or density((self.z[i] + self.z[i + 1]) / 2)
            wind = c.get("headwind_mps", 0)
            if at_rider:
                wind += at_rider * math.cos(math.radians(c["wind_from_deg"] - self.heading[i]))
            force = su["crr"] * self.mass * G * dx / h + self.b0 + self.mass * G * dz / h
            self.pieces.append({"h": h, "drag": rho * area / 2, "wind": wind, "force": force, "gradient": dz / dx, "lim": [1e6, 1e6]})
        if self.heading and not c.get("no_bends"):
            bend = [min(3.5 / max(abs(k), 1e-9), 1e6) for k in self.curvature]
            following = bend[n]
            for i in range(n - 1, -1, -1):
                p = self.pieces[i]
                following = p["lim"][1] = min(following, bend[i + 1])
                following = p["lim"][0] = min(following + 2 * 2.5 * p["h"], bend[i], 1e6)
        self.v0 = min(c.get("start_speed_mps", 0), math.sqrt(self.pieces[0]["lim"][0]))
        self.coast = c.get("coast_above_mps", 17)

    # The rider's side.
    def law(self): return 1 if self.rider.get("recovery_law") == "bartram_2018" else 0
    def mean(self): return self.limits.get("mean_power_w", -1)

    def after(self, w, p, t):
        r = self.rider
        d = r["critical_power_w"] - p
        if d < 0:
            return w + d * t
        w0, rate = r["w_prime_j"], r.get("recovery_rate", 1)
        decay = rate * d ** 0.688 / 2287.2 if self.law() else rate * d / w0
        return w0 - (w0 - w) * math.exp(-decay * t)

    def cap(self):
        most = 4 * (self.mean() if self.mean() > 0 else self.rider["critical_power_w"])
        if "max_power_w" in self.rider and self.mean() <= 0:
            most = self.rider["max_power_w"]
        return min(most, self.limits.get("max_power_w", 1e9))

    def ride(self, powers, step=0.25):
        """Rides powers; returns time, samples of time, speed, balance, and what was given."""
        y, clock, w = max(self.v0, 1e-3) ** 3, 0.0, self.rider["w_prime_j"]
        times, speeds, balances, given = [0.0], [self.v0], [w], []
        M = self.inertia
        for i, p in enumerate(self.pieces):
            begin, work, h = clock, 0.0, p["h"]
            drag, wind, force, b1 = p["drag"], p["wind"], p["force"], self.b1
            coasts = p["gradient"] < -0.01 and not self.conditions.get("indoor")
            n = math.ceil(h / step)
            at = [h * (j / n) for j in range(n + 1)]
            if i == 0 and self.v0 < 3:
                at = [h * (j / 400) ** 3 for j in range(401)]
            for j in range(len(at) - 1):
                dx, v = at[j + 1] - at[j], y ** (1 / 3)
                P = powers[i]
                if coasts and v > self.coast:
                    P = 0.0

                def f(y):
                    v = max(y, 1e-9) ** (1 / 3)
                    air = v + wind
                    return 3 / M * (self.eta * P - (drag * air * abs(air) + force + b1 * v) * v)
                k1 = f(y); k2 = f(y + dx / 2 * k1); k3 = f(y + dx / 2 * k2); k4 = f(y + dx * k3)
                y1 = max(y + dx / 6 * (k1 + 2 * k2 + 2 * k3 + k4), 1e-9)
                lim = p["lim"][0] + (p["lim"][1] - p["lim"][0]) * at[j + 1] / h
                braked = y1 > lim ** 1.5
                y1 = min(y1, lim ** 1.5)
                ym = (y + y1) / 2
                # time: v = cube root of nearly linear y, exactly integrated
                dt = dx / v if abs(y1 - y) < 1e-9 * y else dx * 1.5 * (y1 ** (2 / 3) - y ** (2 / 3)) / (y1 - y)
                if braked and P > 0:  # only what keeps to the limit
                    hold = (M / 2 * (y1 ** (2 / 3) - y ** (2 / 3)) / dx + drag * (v + wind) * abs(v + wind) + force + b1 * v) * v / self.eta
                    P = min(P, max(hold, 0.0))
                clock += dt; work += P * dt; y = y1
            mean = work / (clock - begin)
            given.append(mean)
            w = self.after(w, mean, clock - begin)
            times.append(clock); speeds.append(y ** (1 / 3)); balances.append(w)
        return {"time": clock, "times": times, "speeds": speeds, "balances": balances, "given": given}

    def starts(self):
        n, cp = len(self.pieces), self.rider["critical_power_w"] if self.mean() <= 0 else self.mean()
        g = [p["gradient"] for p in self.pieces]
        smooth = [sum(g[max(0, i - 5):i + 6]) / len(g[max(0, i - 5):i + 6]) for i in range(n)]
        x = [(i + 0.5) / n for i in range(n)]
        if self.exclusive:
            out = [(f"above critical power where steeper than {g} %", 1e-2, [cp * (1.6 if s > g / 100 else 0.3) for s in smooth]) for g in (-1, 0.5, 2)]
            return out + [(f"above critical power on every {k}. piece", 1e-2, [cp * (1.6 if i % k == 0 else 0.3) for i in range(n)]) for k in (2, 3)]
        out = [("constant", 0.1, [cp] * n),
               ("constant, near", 1e-3, [cp] * n),
               ("all early", 1e-2, [cp * (1.5 - a) for a in x]),
               ("all late", 1e-2, [cp * (0.6 + a) for a in x]),
               ("uphill-weighted", 1e-3, [cp * min(max(1 + 8 * s, 0.2), 2) for s in smooth]),
               ("uphill and wind", 1e-2, [cp * min(max(1 + 14 * s + 0.04 * p["wind"], 0.05), 2.5) for s, p in zip(smooth, self.pieces)]),
               ("waves", 1e-2, [cp * (1 + 0.35 * math.sin(2 * math.pi * 7 * a)) for a in x])]
        if self.climb is not None:
            k = next(i for i in range(n) if self.s[i] >= self.climb)
            out += [("saved for the last climb", 1e-4, [cp * 0.97] * k + [cp * 1.3] * (n - k)),
                    ("saved for its end", 1e-4, [cp * 0.97] * k + [cp * (1 + 0.6 * (i - k) / (n - k)) for i in range(k, n)]),
                    ("spent before the last climb", 1e-4, [cp * min(max(1.1 + 10 * s, 0.3), 3) for s in smooth[:k]] + [cp] * (n - k)),
                    ("spent by its foot", 1e-3, [cp * 1.25] * k + [cp * 0.98] * (n - k))]
        return out

    def text(self, starts):
        r = self.rider
        head = [len(self.pieces), self.inertia, self.eta, self.b1, self.v0, r["critical_power_w"], r["w_prime_j"], r.get("recovery_rate", 1), self.law(),
                int(self.exclusive), self.limits.get("end_reserve_j", 0), self.limits.get("min_power_w", 0), self.cap(), r.get("max_power_w", -1), self.mean()]
        lines = [" ".join(map(repr, head))]
        lines += [" ".join(repr(v) for v in (p["h"], p["drag"], p["wind"], p["force"], *p["lim"])) for p in self.pieces]
        lines.append(str(len(starts)))
        for _, mu, powers in starts:
            lines += [repr(mu), " ".join(repr(v) for v in powers)]
        return "\n".join(lines) + "\n"


def solve(problem, starts):
    out = subprocess.run([os.environ.get("SOLVE", os.path.join(HERE, "solve"))], input=problem.text(starts), capture_output=True, text=True, check=True).stdout.split("\n")
    answers = []
    for i, (name, mu, _) in enumerate(starts):
        status, time, iterations = out[2 * i].split()
        powers = [max(0.0, round(float(v), 3)) for v in out[2 * i + 1].split()]
        answers.append({"start": name, "status": int(status), "solver_time_s": float(time), "iterations": int(iterations), "powers": powers})
    return answers


def turned_over(problem, start):
    """The answer of a start whose pieces keep to their side of critical power, improved by
    letting pieces that stay at critical power change sides, as long as that helps."""
    cp, draw = problem.rider["critical_power_w"], random.Random(1)
    best, idle, powers = None, 0, start[2]
    while idle < 4:
        answer = solve(problem, [(start[0], start[1], powers)])[0]
        if answer["status"] in (0, 1) and (best is None or answer["solver_time_s"] < best["solver_time_s"] - 1e-4):
            best, sides, idle = answer, [p >= cp for p in powers], 0
        elif best is None:
            return answer
        else:
            idle += 1
        share = (1, 0.5, 0.25, 0.25, 0)[idle]
        turned = [side != (abs(p - cp) < 0.05 and draw.random() < share) for side, p in zip(sides, best["powers"])]
        powers = [max(p, cp + 20) if side else min(p, cp - 20) for side, p in zip(turned, best["powers"])]
    return best


def check(problem, answer):
    """Rides an answer; how far it is from the limits, in J."""
    ridden = problem.ride(answer["powers"])
    answer["time_s"] = ridden["time"]
    r, w = problem.rider, ridden["balances"]
    work = sum(p * (b - a) for p, a, b in zip(ridden["given"], ridden["times"], ridden["times"][1:]))
    if problem.mean() > 0:
        answer["room_j"] = problem.mean() * ridden["time"] - work
    else:
        room = min(w[-1] - problem.limits.get("end_reserve_j", 0), min(w))
        if "max_power_w" in r:
            span = r["max_power_w"] - r["critical_power_w"]
            room = min([room] + [b - r["w_prime_j"] * (p - r["critical_power_w"]) / span for p, b in zip(ridden["given"], w[1:]) if p > r["critical_power_w"]])
        answer["room_j"], answer["end_j"], answer["min_j"] = room, w[-1], min(w)
    answer["ridden"] = ridden
    return answer


def fixture(problem, answers, version):
    good = [a for a in answers if a["status"] in (0, 1) and a["room_j"] > -0.9]
    if not good:
        raise SystemExit(problem.name + ": no start converged")
    best = min(good, key=lambda a: a["time_s"])
    others = [a for a in good if a["time_s"] > best["time_s"] * 1.001]
    out = {
        "about": problem.about,
        "made": {
            "script": "make.py, solve.cpp", "solver": SOLVER,
            "starts": [{"start": a["start"], "time_s": round(a["time_s"], 4), "iterations": a["iterations"], "converged": a["status"] in (0, 1)} for a in answers],
            "spread_pct": round(100 * (max(a["time_s"] for a in good) / best["time_s"] - 1), 4),
        },
        "course": {"distance_m": problem.s, "elevation_m": problem.z},
        "rider": problem.rider, "setup": problem.setup, "conditions": problem.conditions, "limits": problem.limits,
        "best_start": best["start"],
        "time_s": round(best["time_s"], 4), "solver_time_s": round(best["solver_time_s"], 4),
        "room_j": round(best["room_j"], 3), "power_w": best["powers"],
    }
    if problem.heading:
        out["course"].update(heading_deg=problem.heading, curvature_per_m=problem.curvature)
    if others:
        second = min(others, key=lambda a: a["time_s"])
        out["second"] = {"start": second["start"], "time_s": round(second["time_s"], 4), "power_w": second["powers"]}
    return out


def write(path, out):
    """JSON with one line for each field."""
    def lines(d, indent):
        pad = " " * indent
        return "{\n" + ",\n".join(pad + " " + json.dumps(k) + ": " + (lines(v, indent + 1) if isinstance(v, dict) and indent < 2 else json.dumps(v, separators=(",", ":"), ensure_ascii=False)) for k, v in d.items()) + "\n" + pad + "}"
    with open(path, "w") as f:
        f.write(lines(out, 0) + "\n")


def problems():
    sin, pi = math.sin, math.pi
    calm = {"air_density_kg_m3": 1.2}
    free = {**calm, "coast_above_mps": 60}
    rolling = lambda h: lambda s: 200 + h * (sin(s / 2000 * 2 * pi) * 1.0 + 0.45 * sin(s / 870 * 2 * pi + 1) + 0.16 * sin(s / 300 * 2 * pi + 2))

    def ramp(pairs):
        """Elevation through (distance, elevation) with smooth slopes between."""
        def z(s):
            for (a, za), (b, zb) in zip(pairs, pairs[1:]):
                if s <= b:
                    u = (s - a) / (b - a)
                    return za + (zb - za) * u
            return pairs[-1][1]
        return z

    def soft(z, reach=60):
        return lambda s: sum(z(min(max(s + reach * k / 4, 0), 1e9)) for k in range(-4, 5)) / 9

    def hills_then(climb_at, climb_pct, h):
        roll = rolling(h)
        return lambda s: roll(s) if s < climb_at else roll(climb_at) + climb_pct / 100 * (s - climb_at) + 3 * (sin(s / 500 * 2 * pi) - sin(climb_at / 500 * 2 * pi))

    def out_and_back(turn): return lambda s: 20.0 if s < turn else 200.0

    def bendy(s):  # headings of a road down a hillside: straights and hairpins
        u = s % 900
        side = 1 if int(s // 900) % 2 == 0 else -1
        if u < 520:
            return 90 * side + 8 * sin(s / 210)
        if u < 580:
            return 90 * side + 8 * sin(s / 210) - side * 180 * (u - 520) / 60
        return -90 * side + 30 * sin((u - 580) / 320 * pi) * side

    def bends(s):  # smooth: each hairpin turns 150 degrees within 70 m
        n, u = divmod(s, 700)
        side = 1 if n % 2 == 0 else -1
        base = 75 * side
        turn = -150 * side * (0 if u < 600 else (u - 600) / 70 if u < 670 else 1)
        return base + turn + 25 * sin(u / 600 * 2 * pi) * (u < 600)

    P = Problem
    yield P("flat-rolling-start", 10, 10000, lambda s: 100, "flat, calm, from 10.6 m/s", conditions={**calm, "start_speed_mps": 10.6})
    yield P("flat-standstill", 10, 10000, lambda s: 100, "flat, calm, from standstill", conditions=calm)
    yield P("flat-max-power", 10, 10000, lambda s: 100, "flat, calm, from standstill, with a maximal power", rider={"max_power_w": 900.0}, conditions=calm)
    yield P("out-and-back-wind", 10, 12000, lambda s: 50 + 4 * sin(s / 1500 * 2 * pi), "6 km into the wind, 6 km with it, nearly flat",
            conditions={**calm, "wind_mps": 6.0, "wind_from_deg": 20.0, "no_bends": True}, heading=out_and_back(6000))
    yield P("rolling", 10, 15000, rolling(18), "waves of 300 m to 2 km", conditions=free)
    yield P("short-within-w-prime", 10, 2000, lambda s: 80 + 5 * sin(s / 600 * 2 * pi), "2 km, shorter than W′ lasts at the limit", rider={"w_prime_j": 24000.0}, conditions=free)
    yield P("last-climb-7", 10, 17000, hills_then(12000, 7, 14), "12 km of rolling ground, then 5 km at 7 %", conditions=free, climb=12000)
    yield P("last-climb-5", 20, 20000, hills_then(14000, 5, 22), "14 km of rolling ground, then 6 km at 5 %; indoors, a lighter rider",
            rider={"mass_kg": 58.0, "cda_m2": 0.28, "critical_power_w": 235.0, "w_prime_j": 14000.0}, conditions={"air_density_kg_m3": 1.18, "indoor": True}, climb=14000)
    yield P("last-climb-8", 10, 16000, lambda s: 200 + 5 * sin(min(s, 8000) / 2000 * 2 * pi) + 0.08 * max(0, s - 8000), "8 km of gentle waves, then 8 km at 8 %: W′ all kept for the climb, or spent before",
            conditions=free, climb=8000)
    yield P("last-climb-gentle", 20, 20000, lambda s: rolling(6)(min(s, 10000)) + 0.07 * max(0, s - 10000), "10 km of low waves, then 10 km at 7 %", conditions=free, climb=10000)
    waves = lambda s: 6.388 * sin(s / 1442.6 * 2 * pi + 5.042) + 4.1476 * sin(s / 810.4 * 2 * pi + 0.311) + 1.814 * sin(s / 1086.5 * 2 * pi + 5.211)
    yield P("last-climb-reserve", 10, 13320, lambda s: 300 + waves(min(s, 6740)) + 0.0777 * max(0, s - 6740), "6.7 km of rolling ground, then 6.6 km at 7.8 %, more than half of W′ to be left: spent before the climb, not on it",
            rider={"mass_kg": 64.5, "critical_power_w": 207.0, "w_prime_j": 11700.0}, conditions=free, limits={"end_reserve_j": 6245.0}, climb=6740)
    yield P("last-climb-max-power", 20, 11280, lambda s: 300 + 4.5714 * sin(min(s, 6420) / 1355.4 * 2 * pi + 1.665) + 0.06469 * max(0, s - 6420), "6.4 km of gentle waves, then 4.9 km at 6.5 %, with a maximal power: W′ all kept for the climb",
            rider={"mass_kg": 80.8, "critical_power_w": 248.0, "w_prime_j": 16300.0, "max_power_w": 1207.0}, conditions=free, climb=6420)
    yield P("climb-descent-climb", 20, 18000, soft(ramp([(0, 800), (1000, 805), (5000, 1065), (7000, 1055), (11000, 845), (13000, 860), (17000, 1140), (18000, 1150)])),
            "a climb, a descent to recover on, a climb; standard atmosphere, a load", conditions={"load_kg": 2.0}, climb=13000)
    yield P("rolling-max-power", 10, 10000, rolling(16), "rolling, with a maximal power", rider={"max_power_w": 850.0}, conditions=free)
    yield P("rolling-reserve", 10, 10000, rolling(16), "rolling, 8 kJ to be left", limits={"end_reserve_j": 8000.0}, conditions=free)
    yield P("rolling-slow-recovery", 10, 12000, rolling(20), "rolling, recovery at half the rate", rider={"recovery_rate": 0.5}, conditions=free)
    yield P("rolling-fast-recovery", 10, 12000, rolling(20), "rolling, recovery at twice the rate: to alternate is faster than to be steady", rider={"recovery_rate": 2.0}, conditions=free, exclusive=True)
    yield P("rolling-bartram", 20, 12000, rolling(20), "rolling, recovery after Bartram 2018: to alternate is faster than to be steady", rider={"recovery_law": "bartram_2018"}, conditions=free, exclusive=True)
    yield P("bendy-descent", 10, 8000, soft(ramp([(0, 600), (2500, 735), (7000, 465), (8000, 470)])), "a climb, a descent by hairpins, a flat end",
            conditions=calm, heading=bends)
    yield P("two-gradients", 10, 10000, ramp([(0, 100), (5000, 300), (10000, 600)]), "5 km at 4 %, 5 km at 6 %, mean power of 300 W; steady start, no bearings (the climb of the literature's 7B)",
            rider={"mass_kg": 72.0}, setup={"drivetrain_efficiency": 0.976, "bearing_n": 0.0, "bearing_n_s_per_m": 0.0, "wheel_drag_area_m2": 0.0},
            conditions={**free, "start_speed_mps": 6.7653}, limits={"mean_power_w": 300.0})
    yield P("rolling-bounded", 20, 12000, rolling(20), "rolling, power within 150 and 400 W", limits={"min_power_w": 150.0, "max_power_w": 400.0}, conditions=free)
    yield P("hilly-headwind", 20, 20000, soft(ramp([(0, 300), (3000, 330), (4500, 420), (6500, 350), (8000, 355), (9200, 440), (12000, 340), (15000, 350), (16000, 410), (18000, 330), (20000, 335)])),
            "three hills, a headwind of 2 m/s, a strong heavy rider with a maximal power", rider={"mass_kg": 84.0, "cda_m2": 0.34, "critical_power_w": 330.0, "w_prime_j": 25000.0, "max_power_w": 1100.0},
            conditions={"air_density_kg_m3": 1.15, "headwind_mps": 2.0})


def make(problem):
    starts = problem.starts()
    answers = [turned_over(problem, start) for start in starts] if problem.exclusive else solve(problem, starts)
    answers = [check(problem, a) for a in answers]
    out = fixture(problem, answers, None)
    write(os.path.join(HERE, problem.name + ".json"), out)
    best = min((a for a in answers if a["status"] in (0, 1)), key=lambda a: a["time_s"])
    flat = problem.ride([problem.rider["critical_power_w"]] * len(problem.pieces))
    print(f"{problem.name}: {out['time_s']:.3f} s (solver {out['solver_time_s']:.3f}), room {out['room_j']} J, vmax {max(best['ridden']['speeds']):.1f}, by {out['best_start']}; "
          f"at CP {flat['time']:.1f} s; starts " + ", ".join(f"{a['start']} {a['time_s']:.2f}/{a['iterations']}{'' if a['status'] in (0, 1) else '!'}" for a in answers), flush=True)


if __name__ == "__main__":
    asked = set(sys.argv[1:])
    for problem in problems():
        if not asked or problem.name in asked:
            make(problem)
