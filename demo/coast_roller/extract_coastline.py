"""Where does coastline.json come from? From country outlines in a registry package: borders out, coasts kept.

    pip download --no-deps geopandas==0.14.4
    python extract_coastline.py geopandas-0.14.4-py3-none-any.whl

The wheel carries the shapefile `naturalearth_lowres`: the outlines of the countries of the world at 1:110 million from
Natural Earth, which is in the public domain (naturalearthdata.com, Terms of Use). The demo needs only the small file
that this script wrote, not the package.
"""

from __future__ import annotations

import json
import struct
import sys
import zipfile
from collections import defaultdict
from itertools import pairwise
from pathlib import Path

SHAPEFILE = "geopandas/datasets/naturalearth_lowres/naturalearth_lowres.shp"
POLYGON = 5
DECIMALS = 3  # of a degree: 0.0005 degrees are 0.0003 mm on a 60 mm roller

Vertex = tuple[float, float]


def polygon_rings(shapefile: bytes) -> list[list[Vertex]]:
    """All rings of all polygons, longitude and latitude in degrees.

    source    ESRI Shapefile Technical Description, 1998: main file header (100 bytes), record header, polygon record
    """
    rings = []
    place = 100
    while place < len(shapefile):
        (words,) = struct.unpack_from(">4xi", shapefile, place)
        kind, parts, points = struct.unpack_from("<i32xii", shapefile, place + 8)
        if kind != POLYGON:
            raise ValueError(f"record at byte {place}: shape type {kind}, expected {POLYGON} (polygon)")
        starts = struct.unpack_from(f"<{parts}i", shapefile, place + 52)
        flat = struct.unpack_from(f"<{2 * points}d", shapefile, place + 52 + 4 * parts)
        vertices = list(zip(flat[0::2], flat[1::2], strict=True))
        ends = (*starts[1:], points)
        rings += [vertices[start:end] for start, end in zip(starts, ends, strict=True)]
        place += 8 + 2 * words
    return rings


def on_the_globe(vertex: Vertex) -> Vertex:
    """The same name for the same place: the two sides of the map's edge at 180 degrees are one meridian."""
    return round(vertex[0] % 360.0, 6), round(vertex[1], 6)


def coast_edges(rings: list[list[Vertex]]) -> list[tuple[Vertex, Vertex]]:
    """Edges that one country has to itself. An edge of two countries is a border; the map's own edge is no coast."""
    uses: dict[frozenset[Vertex], int] = defaultdict(int)
    edges = []
    for ring in rings:
        nodes = [on_the_globe(vertex) for vertex in ring]
        for start, end in pairwise(nodes):
            if start != end:
                edges.append((start, end))
                uses[frozenset((start, end))] += 1
    return [
        (start, end)
        for start, end in edges
        if uses[frozenset((start, end))] == 1 and not (start[0] == end[0] == 180.0) and min(start[1], end[1]) > -89.0
    ]


def closed_lines(edges: list[tuple[Vertex, Vertex]]) -> list[list[Vertex]]:
    """Edges joined end to end, each edge once. Every coast closes on itself."""
    onward: dict[Vertex, list[Vertex]] = defaultdict(list)
    for start, end in edges:
        onward[start].append(end)
    lines = []
    for head in onward:
        while onward[head]:
            line = [head]
            while onward[line[-1]]:
                line.append(onward[line[-1]].pop())
            if line[-1] != head:
                raise ValueError(f"the coast that starts at {head} ends at {line[-1]}: the outlines leave a gap")
            lines.append(line)
    return lines


def continuous(line: list[Vertex]) -> list[Vertex]:
    """The same line with longitudes that never jump: they run on past 180 degrees where the line does."""
    unwrapped = [(line[0][0] - 360.0 if line[0][0] > 180.0 else line[0][0], line[0][1])]
    for lon, lat in line[1:]:
        before = unwrapped[-1][0]
        unwrapped.append((before + (lon - before + 180.0) % 360.0 - 180.0, lat))
    return unwrapped


def main(wheel: str) -> None:
    with zipfile.ZipFile(wheel) as package:
        rings = polygon_rings(package.read(SHAPEFILE))
    lines = [continuous(line) for line in closed_lines(coast_edges(rings))]
    data = {
        "source": "Natural Earth, 1:110m admin 0 countries, as carried by the PyPI package geopandas 0.14.4",
        "licence": "public domain",
        "columns": "longitude east, latitude north, in degrees; longitudes run on past 180 where a line does",
    }
    rows = [json.dumps([[round(c, DECIMALS) for c in v] for v in line], separators=(",", ":")) for line in lines]
    text = json.dumps(data, indent=1)[:-2] + ',\n "polylines": [\n' + ",\n".join(rows) + "\n]}\n"
    Path(__file__).with_name("coastline.json").write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1])
