"""Reference rides for the tests: the equation of motion solved in the time domain.

Writes reference.json. Needs Python 3 with SciPy (1.10 was used). Each ride is an
initial value problem in (road distance, kinetic energy) over time, solved piece by
piece by an explicit Runge-Kutta method of order 8 with a relative tolerance of 1e-10 and
event location, with the freewheeling rule and the speed limits as discrete modes.
"""

import json
import math

import numpy as np
from scipy.integrate import solve_ivp

G = 9.80665


def density(c, z):
    if c["air_density"]:
        return c["air_density"]
    t = 288.15 - 0.0065 * z
    return 101325 * (t / 288.15) ** 5.25588 / (287.05287 * t)


def limits(c):
    """The squares of the highest speeds at the nodes."""
    s, z, k = c["s"], c["z"], c["curvature"]
    if not k:
        return None
    v2 = [min(1e6, 3.5 / max(abs(x), 1e-9)) for x in k]
    for i in range(len(s) - 2, -1, -1):
        road = math.hypot(s[i + 1] - s[i], z[i + 1] - z[i])
        v2[i] = min(v2[i], v2[i + 1] + 2 * 2.5 * road)
    return v2


class Rider:
    def __init__(self, c):
        self.c = c
        self.m = c["mass"]
        self.inertia = self.m + 0.14 / 0.311**2
        self.t = 0.0
        self.e = 0.5 * self.inertia * c["start_speed"] ** 2

    def v(self, e):
        return math.sqrt(max(2 * e / self.inertia, 0))

    def enter(self, i):
        c = self.c
        ds, dz = c["s"][i + 1] - c["s"][i], c["z"][i + 1] - c["z"][i]
        self.road = math.hypot(ds, dz)
        self.sin, self.cos = dz / self.road, ds / self.road
        self.rho = density(c, (c["z"][i] + c["z"][i + 1]) / 2)
        wind = c["wind"] * math.log(1 / 0.03) / math.log(10 / 0.03)
        heading = c["heading"][i] if c["heading"] else 0
        self.wind = wind * math.cos(math.radians(c["wind_from"] - heading))
        self.vc = c["coast"] if dz / ds < -0.01 else math.inf
        lim = limits(c) if i == 0 else self.lim
        self.lim = lim
        self.l0, self.l1 = (lim[i], lim[i + 1]) if lim else (math.inf, math.inf)

    def force(self, v):
        va = v + self.wind
        return (0.5 * self.rho * (self.c["cda"] + 0.0044) * va * abs(va)
                + self.c["crr"] * self.m * G * self.cos + 0.091 + 0.0087 * v
                + self.m * G * self.sin)

    def vmax2(self, x):
        if math.isinf(self.l0):
            return math.inf
        return self.l0 + (self.l1 - self.l0) * x / self.road

    def ride(self, i, power):
        self.enter(i)
        x, wheel = 0.0, 0.977 * power
        ec = 0.5 * self.inertia * self.vc**2
        while self.road - x > 1e-9:
            v = self.v(self.e)
            slope = 0 if math.isinf(self.l0) else 0.5 * self.inertia * (self.l1 - self.l0) / self.road
            at_limit = self.e >= 0.5 * self.inertia * self.vmax2(x) * (1 - 1e-10)
            above = self.e > ec * (1 + 1e-11)
            at_coast = abs(self.e - ec) <= ec * 1e-11 if self.vc < 1e3 else False
            p = 0 if above else wheel
            if at_limit and p >= (self.force(v) + slope) * v:
                x = self.follow(x, p, slope)
                continue
            if at_coast:
                f = self.force(v)
                if f < 0:
                    p = 0
                elif wheel >= f * v:
                    end = self.road
                    if self.vmax2(self.road) < self.vc**2:
                        end = (self.vc**2 - self.l0) / (self.l1 - self.l0) * self.road
                    self.t += (end - x) / self.vc
                    x = end
                    continue
            x = self.free(x, p, ec, at_limit, at_coast)
        return self.t

    def follow(self, x, p, slope):
        """Along the limit; checked every 0.02 m."""
        while x < self.road:
            v = self.v(self.e)
            if p < (self.force(v) + slope) * v:
                return x
            if slope < 0 and self.e > 0.5 * self.inertia * self.vc**2:
                p = 0
            h = self.road - x if slope == 0 else min(0.02, self.road - x)
            e = 0.5 * self.inertia * self.vmax2(x + h)
            self.t += 2 * h / (v + self.v(e))
            self.e, x = e, x + h
            if self.road - x < 1e-9:
                return self.road
        return x

    def free(self, x, p, ec, at_limit, at_coast):
        def f(t, y):
            v = self.v(y[1])
            return [v, p - self.force(v) * v]

        def end(t, y):
            return y[0] - self.road

        def coast(t, y):
            return y[1] - ec

        def limit(t, y):
            return y[1] - 0.5 * self.inertia * self.vmax2(y[0])

        end.terminal = coast.terminal = limit.terminal = True
        limit.direction = 1
        events = [end]
        if self.vc < 1e3 and not at_coast:
            events.append(coast)
        if not math.isinf(self.l0) and not at_limit:
            events.append(limit)
        y0, t0 = [x, self.e], 0.0
        if self.e == 0:  # the first microsecond: all power accelerates
            t0 = 1e-6
            e0 = p * t0
            y0 = [x + 2 / 3 * math.sqrt(2 * e0 / self.inertia) * t0, e0]
        s = solve_ivp(f, (t0, 1e5), y0, method="DOP853", rtol=1e-10, atol=1e-9, events=events)
        self.t += s.t[-1]
        self.e = float(s.y[1][-1])
        for event, hit in zip(events, s.t_events):
            if len(hit) and event is coast:
                self.e = ec
            if len(hit) and event is limit:
                self.e = 0.5 * self.inertia * self.vmax2(float(s.y[0][-1]))
            if len(hit) and event is end:
                return self.road
        return float(s.y[0][-1])


def course(name, length, step, height, power, seed, **options):
    rng = np.random.default_rng(seed)
    n = int(length / step)
    s = [length * i / n for i in range(n + 1)]
    a = rng.uniform(0, 2 * math.pi, 6)
    z = [400 + height * (math.sin(2 * math.pi * x / 3100 + a[0]) + 0.3 * math.sin(2 * math.pi * x / 900 + a[1])
                         + 0.08 * math.sin(2 * math.pi * x / 410 + a[2])) for x in s]
    c = dict(name=name, s=s, z=z, heading=[], curvature=[], mass=82.0, cda=0.32, crr=0.004, wind=0.0, wind_from=0.0,
             coast=17.0, start_speed=0.0, air_density=0, power=power)
    if options.pop("bends", False):
        turn = lambda x: 150 * math.sin(2 * math.pi * x / 700 + a[3]) + 60 * math.sin(2 * math.pi * x / 190 + a[4])
        c["heading"] = [turn((s[i] + s[i + 1]) / 2) % 360 for i in range(n)]
        c["curvature"] = [0.0] + [
            math.radians(math.remainder(c["heading"][i] - c["heading"][i - 1], 360)) / step for i in range(1, n)] + [0.0]
    c.update(options)
    return c


COURSES = [
    course("flat from rest", 5000, 10, 0, 250, 1),
    course("rolling", 10000, 10, 12, 220, 2),
    course("hilly with freewheeling", 10000, 20, 35, 260, 3, coast=14.0),
    course("light rider on steep ground", 8000, 10, 30, 150, 4, mass=58.0, cda=0.28),
    course("bends and wind", 8000, 10, 15, 280, 5, bends=True, wind=5.0, wind_from=250.0),
    course("bends on descents", 8000, 10, 40, 240, 6, bends=True),
    course("strong wind, long pieces", 12000, 100, 20, 200, 7, bends=True, wind=9.0, wind_from=20.0, air_density=1.1,
           start_speed=6.0),
    course("sprint power, heavy", 3000, 10, 8, 700, 8, mass=110.0, cda=0.4, crr=0.008),
]

if __name__ == "__main__":
    for c in COURSES:
        r = Rider(c)
        for i in range(len(c["s"]) - 1):
            r.ride(i, c["power"])
        c["time_s"] = r.t
        print(c["name"], r.t, flush=True)
        for key in ("s", "z", "heading", "curvature"):
            c[key] = [float(repr(x)) for x in c[key]]
    with open("reference.json", "w") as out:
        json.dump(COURSES, out, indent=None)
        out.write("\n")
