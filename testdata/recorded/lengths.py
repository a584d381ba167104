#!/usr/bin/python3
"""Writes lengths.json: what the recorded files hold, read by xml.etree and
measured by GeographicLib's own Python implementation of Karney's geodesic
(Debian python3-geographiclib), both independent of the Go code under test.

Run it in its own directory. The lines of a file are its tracks, then its routes.
"""
import glob
import json
import xml.etree.ElementTree as ElementTree

from geographiclib.geodesic import Geodesic


def local(element):
    return element.tag.split("}")[-1]


def children(element, name):
    return [e for e in element if local(e) == name]


def measure(line, segments):
    points = [p for s in segments for p in s]
    breaks, n = [], 0
    for s in segments:
        if s and n:
            breaks.append(n)
        n += len(s)
    at = [(float(p.get("lat")), float(p.get("lon"))) for p in points]
    length = sum(
        Geodesic.WGS84.Inverse(*a, *b)["s12"] for a, b in zip(at, at[1:])
    )
    elevations = [float(e.text) for p in points for e in children(p, "ele") if e.text]
    names = children(line, "name")
    return {
        "name": names[0].text if names else "",
        "points": len(points),
        "breaks": breaks,
        "length_m": round(length, 6),
        "elevations": len(elevations),
        "min_elevation_m": min(elevations, default=None),
        "max_elevation_m": max(elevations, default=None),
    }


def read(path):
    root = ElementTree.parse(path).getroot()
    lines = [
        measure(t, [children(s, "trkpt") for s in children(t, "trkseg")])
        for t in children(root, "trk")
    ]
    lines += [measure(r, [children(r, "rtept")]) for r in children(root, "rte")]
    return {"waypoints": len(children(root, "wpt")), "lines": lines}


if __name__ == "__main__":
    result = {path: read(path) for path in sorted(glob.glob("*.gpx"))}
    with open("lengths.json", "w", encoding="utf-8") as out:
        json.dump(result, out, indent=1, ensure_ascii=False)
        out.write("\n")
