#!/usr/bin/env python3
"""Prints the points of the SunSpec model files in a directory, a line each:
model, name, offset from the ID register, type, registers, offset of the scale
factor point (0 = none), fixed exponent, unit ("-" = none)."""
import glob
import json
import os
import sys


def points_of(group):
    yield from group.get("points", [])
    for inner in group.get("groups", []):
        yield from points_of(inner)


for path in glob.glob(os.path.join(sys.argv[1], "model_*.json")):
    with open(path, encoding="utf-8") as file:
        model = json.load(file)
    points, offset, offsets = list(points_of(model["group"])), 0, {}
    for point in points:
        offsets[point["name"]] = offset
        offset += point["size"]
    for point in points:
        scale = point.get("sf", 0)
        print(model["id"], point["name"], offsets[point["name"]], point["type"], point["size"],
              offsets[scale] if isinstance(scale, str) else 0, 0 if isinstance(scale, str) else scale,
              point.get("units") or "-")
