"""Are hill shading and contours of trug those of GDAL? A tile of hills on UTM, posts 20 m apart, whose middle
lies on the central meridian, so that grid north is true north. GDAL's `hillshade` (Horn, light from 315 and 45
degrees up) is compared at trug's nodes; each vertex of a contour is compared with GDAL's contours of the same height,
both ways.

Gets the path of trug in TRUG and an empty folder in WORK. Needs GDAL's Python, numpy and scipy, and the example
`ground_sample` beside trug.
"""

import json
import os
import subprocess
from pathlib import Path

import numpy as np
from osgeo import gdal, ogr, osr
from scipy.interpolate import RegularGridInterpolator
from scipy.spatial import cKDTree

gdal.UseExceptions()
ogr.UseExceptions()

WORK = Path(os.environ["WORK"])
SAMPLE = Path(os.environ["TRUG"]).parent / "examples" / "ground_sample"
POSTS, SIDE, INTERVAL = 20.0, 201, 20.0
# the central meridian of zone 55 south, which has easting 500 000
EAST, NORTH = 500_000.0, 5_270_000.0


def height(x, y):
    """Hills of some 300 m with slopes up to 35 degrees."""
    return (
        700
        + 160 * np.sin(x / 410) * np.cos(y / 530)
        + 60 * np.sin((x + 2 * y) / 290)
        + 0.05 * (x - EAST)
        + 90 * np.exp(-((x - EAST - 200) ** 2 + (y - NORTH + 300) ** 2) / 4e5)
    )


def write_tile(path):
    columns = EAST + POSTS * (np.arange(SIDE) - SIDE // 2)
    rows = NORTH - POSTS * (np.arange(SIDE) - SIDE // 2)
    heights = height(columns[None, :], rows[:, None]).astype(np.float32)
    system = osr.SpatialReference()
    system.ImportFromEPSG(32755)
    tile = gdal.GetDriverByName("GTiff").Create(str(path), SIDE, SIDE, 1, gdal.GDT_Float32)
    tile.SetProjection(system.ExportToWkt())
    tile.SetGeoTransform([columns[0] - POSTS / 2, POSTS, 0, rows[0] + POSTS / 2, 0, -POSTS])
    tile.GetRasterBand(1).WriteRaster(0, 0, SIDE, SIDE, heights.tobytes())
    tile.FlushCache()
    return columns, rows, heights, system


def transformer(system):
    degrees = osr.SpatialReference()
    degrees.ImportFromEPSG(4326)
    return osr.CoordinateTransformation(degrees, system)


def to_utm(change, places):
    return np.array([point[:2] for point in change.TransformPoints([tuple(p) for p in places])])


def dense(line, every=1.0):
    """The points of a line, one for each metre."""
    out = []
    for a, b in zip(line[:-1], line[1:]):
        steps = max(1, int(np.ceil(np.hypot(*(b - a)) / every)))
        out.append(a + (b - a) * np.linspace(0, 1, steps, endpoint=False)[:, None])
    return np.concatenate(out) if out else np.empty((0, 2))


path = WORK / "hills.tif"
columns, rows, heights, system = write_tile(path)
change = transformer(system)
degrees = osr.SpatialReference()
degrees.ImportFromEPSG(4326)
middle = osr.CoordinateTransformation(system, degrees).TransformPoint(EAST, NORTH)

shaded = gdal.DEMProcessing(
    "", str(path), "hillshade", format="MEM", alg="Horn", azimuth=315, altitude=45, computeEdges=True
)
light = np.frombuffer(shaded.GetRasterBand(1).ReadRaster(buf_type=gdal.GDT_Float64)).reshape(SIDE, SIDE)
# GDAL writes 1 + 254 times the light
light = (light - 1) / 254

asked = [SAMPLE, path, str(middle[0]), str(middle[1]), "1500", str(POSTS), str(INTERVAL)]
said = json.loads(subprocess.run(asked, check=True, capture_output=True, text=True).stdout)
nodes = to_utm(change, said["nodes"])

at_nodes = RegularGridInterpolator((rows[::-1], columns), light[::-1], method="cubic")
own = np.array([np.nan if value is None else value for value in said["shade"]])
known = ~np.isnan(own)
off = np.abs(own[known] - at_nodes(nodes[known][:, ::-1]))
mean, worst = off.mean(), np.quantile(off, 0.99)
# GDAL's light is rounded to 1/254; trug's nodes lie between the posts
assert mean < 0.006 and worst < 0.03, (mean, worst)

layer_source = ogr.GetDriverByName("Memory").CreateDataSource("")
layer = layer_source.CreateLayer("contours", system, ogr.wkbLineString)
layer.CreateField(ogr.FieldDefn("height", ogr.OFTReal))
tile = gdal.Open(str(path))
gdal.ContourGenerate(tile.GetRasterBand(1), INTERVAL, 0, [], 0, 0, layer, -1, 0)
theirs = {}
for feature in layer:
    line = np.array(feature.GetGeometryRef().GetPoints())[:, :2]
    theirs.setdefault(round(feature.GetField("height")), []).append(dense(line))
ours = {}
for contour in said["contours"]:
    line = to_utm(change, contour["line"])
    ours.setdefault(round(contour["height"]), []).append(dense(line))

inside = 1_440.0
farthest, total = 0.0, 0
for level in sorted(set(ours) | set(theirs)):
    within = []
    for lines in (ours.get(level, []), theirs.get(level, [])):
        points = np.concatenate(lines) if lines else np.empty((0, 2))
        near = np.maximum(np.abs(points[:, 0] - EAST), np.abs(points[:, 1] - NORTH)) < inside
        within.append((points, points[near]))
    (a, a_near), (b, b_near) = within
    for points, others in ((a_near, b), (b_near, a)):
        if len(points):
            assert len(others), f"only one of the two has a contour at {level} m"
            apart = cKDTree(others).query(points)[0]
            total += len(points)
            farthest = max(farthest, np.quantile(apart, 0.99))
# both are bilinear, on grids that are shifted against each other: a fifth of the distance between posts
assert total > 20_000 and farthest < POSTS / 5, (total, farthest)
print(
    f"ground: hill shading within {mean:.4f} (99 % {worst:.4f}) of GDAL's at {known.sum()} nodes, "
    f"contours within {farthest:.1f} m (99 %) over {total} m"
)
