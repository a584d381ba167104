#!/usr/bin/env python3
"""Writes orchard-loop.gpx: three laps of an invented 1.6 km circuit with one hill, for the contract's examples."""
import math

LAT, LON, LAPS, N, RADIUS = 47.0, 3.2, 3, 80, 250.0
lines = ['<?xml version="1.0" encoding="UTF-8"?>', '<gpx version="1.1" creator="orchard-loop" xmlns="http://www.topografix.com/GPX/1/1">']


def at(k):
    a = 2 * math.pi * k / N
    r = RADIUS * (1 + 0.15 * math.cos(2 * a))
    return LAT + r * math.cos(a) / 111170, LON + r * math.sin(a) / 76000, 210 + 11 * (1 - math.cos(a)) + 2 * math.sin(3 * a)


for k, name, kind in [(30, "Orchard top", "summit"), (0, "Chapel sprint", "sprint")]:
    lat, lon, _ = at(k)
    lines.append(f'<wpt lat="{lat:.6f}" lon="{lon:.6f}"><name>{name}</name><type>{kind}</type></wpt>')
lines.append("<trk><name>Orchard loop</name><trkseg>")
for k in range(LAPS * N + 1):
    lat, lon, ele = at(k)
    lines.append(f'<trkpt lat="{lat:.6f}" lon="{lon:.6f}"><ele>{ele:.1f}</ele></trkpt>')
lines.append("</trkseg></trk></gpx>")
with open(__file__.replace("make.py", "orchard-loop.gpx"), "w") as f:
    f.write("\n".join(lines) + "\n")
