#!/usr/bin/python3
"""Converts recorded files to GeoJSON, KML, zipped KML and tables, and writes ogr.json:
what GDAL reads of the converted files itself (Debian python3-gdal 3.6.2, MIT), which is
independent of the Go code under test.

Run it in its own directory. The lines of a file are its features that have lines.
"""
import json
import os

from osgeo import gdal, ogr

gdal.UseExceptions()
gdal.SetConfigOption("GPX_ELE_AS_25D", "YES")

CONVERSIONS = [
    # source, layers, target, driver, options of the layer
    ("mojstrovka.gpx", ["tracks"], "mojstrovka.geojson", "GeoJSON", ["RFC7946=YES"]),
    ("korita-zbevnica.gpx", ["tracks", "waypoints"], "korita-zbevnica.kml", "LIBKML", []),
    ("visnjan.gpx", ["tracks"], "visnjan.kml", "KML", []),
    ("visnjan.gpx", ["tracks"], "visnjan.kmz", "LIBKML", []),
    ("cerknicko.gpx", ["track_points"], "cerknicko.csv", "CSV", ["GEOMETRY=AS_XY"]),
    ("cerknicko.gpx", ["track_points"], "cerknicko.tsv", "CSV",
     ["GEOMETRY=AS_YX", "SEPARATOR=TAB", "LINEFORMAT=CRLF"]),
]


def convert(source, layers, target, driver, options):
    if os.path.exists(target):
        os.remove(target)
    written = "written.csv" if driver == "CSV" else target
    gdal.VectorTranslate(written, source, format=driver, layers=layers,
                         layerCreationOptions=options)
    if written != target:
        os.rename(written, target)


def points(geometry):
    if geometry.GetGeometryCount():
        return [p for g in geometry for p in points(g)]
    return geometry.GetPoints()


def extent(coordinates):
    axes = list(zip(*coordinates))
    return {"points": len(coordinates),
            "min": [min(a) for a in axes], "max": [max(a) for a in axes]}


def name(feature):
    fields = {k.lower(): v for k, v in feature.items().items()}
    return fields.get("name") or ""


def read(path):
    lines, places = [], []
    # A table's features are its rows: all of them are one line.
    options = ["X_POSSIBLE_NAMES=X", "Y_POSSIBLE_NAMES=Y", "Z_POSSIBLE_NAMES=ele"]
    table = path.endswith("sv")
    data = gdal.OpenEx(path, open_options=options if table else [])
    rows = []
    for i in range(data.GetLayerCount()):
        for f in data.GetLayer(i):
            g = f.GetGeometryRef()
            if g is None:  # a track of one point, which GDAL does not write
                continue
            flat = ogr.GT_Flatten(g.GetGeometryType())
            if table:
                rows += points(g)
            elif flat == ogr.wkbPoint:
                places.append(name(f))
            else:
                lines.append(dict(name=name(f), **extent(points(g))))
    if table:
        lines.append(dict(name="", **extent(rows)))
    return {"places": places, "lines": lines}


if __name__ == "__main__":
    for conversion in CONVERSIONS:
        convert(*conversion)
    found = {path: read(path) for path in sorted(c[2] for c in CONVERSIONS)}
    with open("ogr.json", "w", encoding="utf-8") as out:
        json.dump(found, out, indent=1, ensure_ascii=False)
        out.write("\n")
