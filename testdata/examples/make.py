#!/usr/bin/env python3
"""Writes orchard-loop.* and season.*: three laps of an invented 1.6 km circuit with one hill and two marks, for the contract's
examples, in each format that is read: GPX, the same compressed with gzip, GeoJSON, KML, tables of positions and of
distances (CSV), FIT and TCX. The FIT file has the full resolution of its format, the others six decimals.
The season's archives hold the loop, a table, a file that is no course, and what archives hold beside files."""
import gzip
import io
import json
import math
import struct
import tarfile
import zipfile

LAT, LON, LAPS, N, RADIUS = 47.0, 3.2, 3, 80, 250.0
NAME = "Orchard loop"
MARKS = [(30, "Orchard top", "summit"), (0, "Chapel sprint", "sprint")]


def at(k):
    a = 2 * math.pi * k / N
    r = RADIUS * (1 + 0.15 * math.cos(2 * a))
    return LAT + r * math.cos(a) / 111170, LON + r * math.sin(a) / 76000, 210 + 11 * (1 - math.cos(a)) + 2 * math.sin(3 * a)


POINTS = [at(k) for k in range(LAPS * N + 1)]


def distances():
    """Plain distances along the line, as a wheel would count them."""
    total, out = 0.0, [0.0]
    for (lat, lon, _), (lat2, lon2, _) in zip(POINTS, POINTS[1:]):
        total += math.hypot((lat2 - lat) * 111170, (lon2 - lon) * 76000)
        out.append(total)
    return out


def gpx():
    lines = ['<?xml version="1.0" encoding="UTF-8"?>', '<gpx version="1.1" creator="orchard-loop" xmlns="http://www.topografix.com/GPX/1/1">']
    for k, name, kind in MARKS:
        lat, lon, _ = at(k)
        lines.append(f'<wpt lat="{lat:.6f}" lon="{lon:.6f}"><name>{name}</name><type>{kind}</type></wpt>')
    lines.append(f"<trk><name>{NAME}</name><trkseg>")
    lines += [f'<trkpt lat="{lat:.6f}" lon="{lon:.6f}"><ele>{ele:.1f}</ele></trkpt>' for lat, lon, ele in POINTS]
    return "\n".join(lines + ["</trkseg></trk></gpx>"]) + "\n"


def geojson():
    def feature(name, form, coordinates, **more):
        return {"type": "Feature", "properties": {"name": name, **more}, "geometry": {"type": form, "coordinates": coordinates}}

    line = [[round(lon, 6), round(lat, 6), round(ele, 1)] for lat, lon, ele in POINTS]
    places = [feature(name, "Point", [round(at(k)[1], 6), round(at(k)[0], 6)], kind=kind) for k, name, kind in MARKS]
    return json.dumps({"type": "FeatureCollection", "features": [feature(NAME, "LineString", line)] + places}) + "\n"


def kml():
    out = ['<?xml version="1.0" encoding="UTF-8"?>', f'<kml xmlns="http://www.opengis.net/kml/2.2"><Document><name>{NAME}</name>']
    for k, name, kind in MARKS:
        out.append(f"<Placemark><name>{name}</name><description>{kind}</description><Point><coordinates>{at(k)[1]:.6f},{at(k)[0]:.6f}</coordinates></Point></Placemark>")
    coordinates = " ".join(f"{lon:.6f},{lat:.6f},{ele:.1f}" for lat, lon, ele in POINTS)
    out.append(f"<Placemark><name>{NAME}</name><LineString><altitudeMode>absolute</altitudeMode><coordinates>{coordinates}</coordinates></LineString></Placemark>")
    return "\n".join(out + ["</Document></kml>"]) + "\n"


def positions():
    return "latitude,longitude,elevation_m\n" + "".join(f"{lat:.6f},{lon:.6f},{ele:.1f}\n" for lat, lon, ele in POINTS)


def profile():
    return "distance_m,elevation_m\n" + "".join(f"{d:.1f},{p[2]:.1f}\n" for d, p in zip(distances(), POINTS))


def tcx():
    def position(lat, lon):
        return f"<Position><LatitudeDegrees>{lat:.6f}</LatitudeDegrees><LongitudeDegrees>{lon:.6f}</LongitudeDegrees></Position>"

    out = ['<?xml version="1.0" encoding="UTF-8"?>', f"<TrainingCenterDatabase><Courses><Course><Name>{NAME}</Name><Track>"]
    for d, (lat, lon, ele) in zip(distances(), POINTS):
        out.append(f"<Trackpoint>{position(lat, lon)}<AltitudeMeters>{ele:.1f}</AltitudeMeters><DistanceMeters>{d:.1f}</DistanceMeters></Trackpoint>")
    out.append("</Track>")
    for k, name, kind in MARKS:
        out.append(f"<CoursePoint><Name>{name}</Name>{position(*at(k)[:2])}<PointType>{kind.title()}</PointType></CoursePoint>")
    return "\n".join(out + ["</Course></Courses></TrainingCenterDatabase>"]) + "\n"


def fit():
    """The messages by their numbers in the format's profile: 0 file id, 20 record, 31 course, 32 course point."""
    sint32, uint32, enum, string = 0x85, 0x86, 0x00, 0x07

    def definition(local, message, *fields):
        return struct.pack("<BBBHB", 0x40 | local, 0, 0, message, len(fields)) + b"".join(bytes(f) for f in fields)

    def semicircles(degrees):
        return round(degrees * 2**31 / 180)

    data = definition(0, 0, (0, 1, enum)) + struct.pack("<BB", 0, 6)  # a course
    data += definition(1, 31, (5, 16, string)) + struct.pack("<B16s", 1, NAME.encode())
    data += definition(2, 20, (0, 4, sint32), (1, 4, sint32), (78, 4, uint32), (5, 4, uint32))
    for d, (lat, lon, ele) in zip(distances(), POINTS):
        data += struct.pack("<BiiII", 2, semicircles(lat), semicircles(lon), round((ele + 500) * 5), round(d * 100))
    data += definition(3, 32, (2, 4, sint32), (3, 4, sint32), (5, 1, enum), (6, 16, string))
    for k, name, kind in MARKS:
        lat, lon, _ = at(k)
        data += struct.pack("<BiiB16s", 3, semicircles(lat), semicircles(lon), {"summit": 1, "sprint": 15}[kind], name.encode())
    header = struct.pack("<BBHI4s", 14, 0x20, 2100, len(data), b".FIT")
    return header + struct.pack("<H", crc(header)) + data + struct.pack("<H", crc(data))


def crc(data):
    """The CRC-16 of the format, bit by bit: polynomial 0x8005 reflected, from 0."""
    sum = 0
    for byte in data:
        sum ^= byte
        for _ in range(8):
            sum = sum >> 1 ^ (0xA001 if sum & 1 else 0)
    return sum


DYKE = "distance_m,elevation_m\n0,4\n2500,9\n5000,4\n"


def season():
    return {"rounds/orchard.gpx": gpx(), "rounds/dyke.csv": DYKE, "rounds/words.txt": "just words\n", "__MACOSX/._dyke.csv": "no course"}


def zipped():
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(zipfile.ZipInfo("rounds/"), "")
        for name, content in season().items():
            archive.writestr(zipfile.ZipInfo(name), content, zipfile.ZIP_DEFLATED)
    return out.getvalue()


def tarred():
    out = io.BytesIO()
    with tarfile.open(fileobj=out, mode="w", format=tarfile.USTAR_FORMAT) as archive:
        folder = tarfile.TarInfo("rounds")
        folder.type = tarfile.DIRTYPE
        archive.addfile(folder)
        for name, content in season().items():
            entry = tarfile.TarInfo(name)
            entry.size = len(content.encode())
            archive.addfile(entry, io.BytesIO(content.encode()))
    return gzip.compress(out.getvalue(), 9, mtime=0)


if __name__ == "__main__":
    contents = {
        "gpx": gpx(), "gpx.gz": gzip.compress(gpx().encode(), 9, mtime=0), "geojson": geojson(), "kml": kml(),
        "csv": positions(), "profile.csv": profile(), "fit": fit(), "tcx": tcx(),
    }
    for extension, content in contents.items():
        with open(__file__.replace("make.py", "orchard-loop." + extension), "wb") as f:
            f.write(content if isinstance(content, bytes) else content.encode())
    for name, content in {"season.zip": zipped(), "season.tar.gz": tarred()}.items():
        with open(__file__.replace("make.py", name), "wb") as f:
            f.write(content)
