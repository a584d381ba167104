#!/usr/bin/python3
"""Converts recorded GPX files to TCX with gpsbabel 1.8 (Debian package of that name, GPL-2), and writes tcx.json: what
gpsbabel reads of the result, measured by GeographicLib in Python (Debian python3-geographiclib). Both are
independent of the Go code under test.

Run it in its own directory. Namespaces and what else tells a maker are taken out of the converted files."""
import csv
import io
import json
import re
import subprocess

from geographiclib.geodesic import Geodesic

# An activity in laps' form, and a course.
FILES = {"visnjan": "course=0", "mojstrovka": "course=1"}


def convert(name, options):
    subprocess.run(["gpsbabel", "-r", "-t", "-i", "gpx", "-f", name + ".gpx", "-o", "gtrnctr," + options, "-F", name + ".tcx"], check=True)
    with open(name + ".tcx", encoding="utf-8") as f:
        text = f.read()
    text = re.sub(r'\s(xmlns(:\w+)?|xsi:\w+)="[^"]*"', "", text)
    text = re.sub(r"\s*<(Extensions|Creator|Author)\b.*?</\1>", "", text, flags=re.S)
    text = re.sub(r"\n\s+", "\n", text)
    with open(name + ".tcx", "w", encoding="utf-8") as f:
        f.write(text)


def measure(name):
    table = subprocess.run(["gpsbabel", "-t", "-i", "gtrnctr", "-f", name + ".tcx", "-o", "unicsv", "-F", "-"], check=True, capture_output=True, text=True)
    rows = list(csv.DictReader(io.StringIO(table.stdout)))
    at = [(float(r["Latitude"]), float(r["Longitude"])) for r in rows]
    elevations = [float(r["Altitude"]) for r in rows if r["Altitude"]]
    length = sum(Geodesic.WGS84.Inverse(*a, *b)["s12"] for a, b in zip(at, at[1:]))
    return {
        "points": len(rows), "length_m": round(length, 6), "elevations": len(elevations),
        "min_elevation_m": min(elevations), "max_elevation_m": max(elevations),
    }


if __name__ == "__main__":
    for name, options in FILES.items():
        convert(name, options)
    with open("tcx.json", "w", encoding="utf-8") as out:
        json.dump({name + ".tcx": measure(name) for name in FILES}, out, indent=1)
        out.write("\n")
