#!/usr/bin/python3
"""Writes roads over a real relief: roads.json, invented lines with measured ground.

The relief is the grid jacksboro_fault_dem.npz of Debian's python-matplotlib-data
3.6.3-1 (licence of matplotlib, PSF-based; the grid is a 3 arc-second model of hills of
236 to 1,076 m). A road runs from place to place as the cheapest path over the grid,
where steep steps cost more; its corners are rounded, and its elevation is that of the grid, bilinear,
every 20 m, averaged over 100 m: roads cut and fill. Numpy is all it needs.

The road "across" crosses the relief without regard to it, on the ground as it is.
"""
import heapq
import json
import math

import numpy

GRID = "/usr/share/matplotlib/mpl-data/sample_data/jacksboro_fault_dem.npz"
STEP_M = 20.0
LIMIT = 0.08  # the gradient that a road avoids

data = numpy.load(GRID)
Z = data["elevation"].astype(float)
ROWS, COLUMNS = Z.shape
D = float(data["dx"])
NORTH, WEST = max(float(data["ymax"]), float(data["ymin"])), float(data["xmin"])
LAT0 = NORTH - D * ROWS / 2
DY = D * 111_000.0
DX = DY * math.cos(math.radians(LAT0))
STEPS = [(i, j) for i in range(-2, 3) for j in range(-2, 3) if math.gcd(i, j) == 1]


def path(start, end):
    """Dijkstra's cheapest path between two cells (row, column)."""
    best, came, queue = {start: 0.0}, {}, [(0.0, start)]
    while queue:
        cost, cell = heapq.heappop(queue)
        if cell == end:
            break
        if cost > best[cell]:
            continue
        for i, j in STEPS:
            r, c = cell[0] + i, cell[1] + j
            if not (0 <= r < ROWS and 0 <= c < COLUMNS):
                continue
            length = math.hypot(i * DY, j * DX)
            gradient = abs(Z[r, c] - Z[cell]) / length
            total = cost + length * (1 + (gradient / LIMIT) ** 4)
            if total < best.get((r, c), math.inf):
                best[r, c], came[r, c] = total, cell
                heapq.heappush(queue, (total, (r, c)))
    cells = [end]
    while cells[-1] != start:
        cells.append(came[cells[-1]])
    return cells[::-1]


def rounded(line, times=3):
    """Chaikin's corner cutting; a closed line stays closed."""
    for _ in range(times):
        new = [line[0]]
        for a, b in zip(line, line[1:]):
            new += [(0.75 * a[0] + 0.25 * b[0], 0.75 * a[1] + 0.25 * b[1]), (0.25 * a[0] + 0.75 * b[0], 0.25 * a[1] + 0.75 * b[1])]
        line = new + [line[-1]]
    return line


def elevation(r, c):
    i, j = min(int(r), ROWS - 2), min(int(c), COLUMNS - 2)
    f, g = r - i, c - j
    return (1 - f) * ((1 - g) * Z[i, j] + g * Z[i, j + 1]) + f * ((1 - g) * Z[i + 1, j] + g * Z[i + 1, j + 1])


def road(places, straight=False):
    cells = places if straight else [places[0]]
    if not straight:
        for a, b in zip(places, places[1:]):
            cells += path(a, b)[1:]
    line = rounded([(float(r), float(c)) for r, c in cells])
    s = [0.0]
    for a, b in zip(line, line[1:]):
        s.append(s[-1] + math.hypot((b[0] - a[0]) * DY, (b[1] - a[1]) * DX))
    at = numpy.linspace(0, s[-1], round(s[-1] / STEP_M) + 1)
    rows = numpy.interp(at, s, [p[0] for p in line])
    columns = numpy.interp(at, s, [p[1] for p in line])
    heights = [elevation(r, c) for r, c in zip(rows, columns)]
    if not straight:
        heights = [float(numpy.mean(heights[max(i - 2, 0) : i + 3])) for i in range(len(heights))]
    return [[round(WEST + D * c, 6), round(NORTH - D * r, 6), round(z, 2)] for r, c, z in zip(rows, columns, heights)]


if __name__ == "__main__":
    roads = {
        "over the ridge": road([(40, 60), (190, 200), (300, 330)]),
        "loop": road([(250, 90), (180, 120), (150, 210), (230, 170), (250, 90)]),
        "across": road([(60, 300), (140, 340), (230, 310)], straight=True),
    }
    with open("roads.json", "w", encoding="utf-8") as out:
        out.write("{\n" + ",\n".join(json.dumps(k) + ": " + json.dumps(v, separators=(",", ":")) for k, v in roads.items()) + "\n}\n")
    for name, line in roads.items():
        z = [p[2] for p in line]
        steep = sorted(abs(b - a) / STEP_M for a, b in zip(z, z[1:]))
        print(name, len(line), "points", min(z), max(z), "ascent", round(sum(max(b - a, 0) for a, b in zip(z, z[1:]))), "95 % below", round(steep[int(len(steep) * 0.95)], 3), "max", round(steep[-1], 3))
