"""Do the grids and lines of `trug density` say what they should? GDAL finds both grids in their place, the
values are those of scipy's exact kernel sum over the finds on searched ground, relative risk too, the two grids agree, effort, rate and
its error fit together, bands are named, and the lines about half and 95 in 100 of the finds are GeoJSON as RFC 7946 wants it, hold those
shares, and lie one within the other.

Gets the path of trug in TRUG and an empty folder in WORK. Needs GDAL's Python, numpy and scipy.
"""

import json
import os
import pathlib
import re
import subprocess

import numpy as np
from osgeo import gdal, ogr, osr
from scipy.stats import gaussian_kde

HERE = pathlib.Path(__file__).resolve().parent
DAYS = HERE.parent.parent / "sample-tracks"
TRUG = os.environ["TRUG"]
WORK = pathlib.Path(os.environ["WORK"])
BANDWIDTH = 60.0

gdal.UseExceptions()
osr.UseExceptions()
ogr.UseExceptions()


def trug(*arguments):
    done = subprocess.run([TRUG, "--quiet", *map(str, arguments)], capture_output=True, text=True)
    assert done.returncode in (0, 1), f"trug {arguments}: {done.stderr}"
    return done.stdout


class Fixed(gaussian_kde):
    """The same kernel in all directions, whatever the scatter of the points."""

    def _compute_covariance(self):
        self.factor = BANDWIDTH
        self.covariance = np.eye(2) * BANDWIDTH**2
        self._data_cho_cov = np.eye(2)
        self.cho_cov = np.eye(2) * BANDWIDTH
        self.log_det = 2 * np.log(np.diag(self.cho_cov * np.sqrt(2 * np.pi))).sum()


def grid(name, measure):
    path = WORK / name
    trug("density", "--store", WORK / "a.gpkg", "--bandwidth", BANDWIDTH, "--cells", 90,
         "--measure", measure, "--grid", path)
    opened = gdal.Open(str(path))
    band = opened.GetRasterBand(1)
    # not by GDAL's own arrays: those want the numpy that it was built with
    raw = band.ReadRaster(buf_type=gdal.GDT_Float64)
    values = np.frombuffer(raw).reshape(opened.RasterYSize, opened.RasterXSize).copy()
    values[values == band.GetNoDataValue()] = np.nan
    return opened, values


trug("import", DAYS / "earlier-years" / "2025", "--store", WORK / "a.gpkg")
finds = json.loads(trug("finds", "--store", WORK / "a.gpkg", "--format", "geojson"))["features"]
places = np.array([find["geometry"]["coordinates"][:2] for find in finds if find["geometry"]])

tiff, density = grid("finds.tif", "finds")
system = osr.SpatialReference(wkt=tiff.GetProjection())
assert system.IsProjected() and "Lambert_Azimuthal" in system.ExportToWkt(), system
globe = osr.SpatialReference()
globe.ImportFromEPSG(4326)
globe.SetAxisMappingStrategy(osr.OAMS_TRADITIONAL_GIS_ORDER)
system.SetAxisMappingStrategy(osr.OAMS_TRADITIONAL_GIS_ORDER)
to_plane = osr.CoordinateTransformation(globe, system)
points = np.array([to_plane.TransformPoint(*place)[:2] for place in places.tolist()]).T

west, step, _, north, _, down = tiff.GetGeoTransform()
assert step == -down > 0
columns, rows = np.meshgrid(np.arange(tiff.RasterXSize), np.arange(tiff.RasterYSize))
middles = np.stack([west + (columns + 0.5) * step, north + (rows + 0.5) * down])
exact = Fixed(points)(middles.reshape(2, -1)).reshape(density.shape) * points.shape[1] * 1e4
known = ~np.isnan(density)
assert 0.1 < known.mean() < 0.9, "some ground is searched, some is masked"
# a hectare is one of searched ground: the sum is divided by the share of the kernel on searched cells
searched = Fixed(middles[:, known])(middles.reshape(2, -1)).reshape(density.shape) * known.sum() * step**2
assert 0 < searched[known].min() and searched[known].max() < 1.001
exact = np.where(known, exact / searched, 0)
off = np.abs(density - exact)[known].max() / exact.max()
assert off < 5e-4, f"off by {off:.1e} of the peak"

plain, again = grid("finds.asc", "finds")
assert osr.SpatialReference(wkt=plain.GetProjection()).IsSame(system, ["CRITERION=EQUIVALENT"])
assert np.allclose(plain.GetGeoTransform(), tiff.GetGeoTransform(), rtol=0, atol=1e-6)
assert np.array_equal(np.isnan(again), ~known)
assert np.allclose(again[known], density[known], rtol=1e-4, atol=1e-4 * exact.max())

_, rate = grid("rate.tif", "per-km")
_, effort = grid("effort.tif", "effort")
_, error = grid("error.tif", "error")
opened = gdal.Open(str(WORK / "rate.tif"))
band = opened.GetRasterBand(1)
assert band.GetDescription() == "finds per searched km" and band.GetUnitType() == "1/km"
assert opened.GetGeoTransform()[1] in (1, 2, 2.5, 5, 10, 20, 25, 50), "cells are round"
assert np.array_equal(np.isnan(rate), ~known) and np.array_equal(np.isnan(error), ~known)
# where finds lie close to the track the rate is the quotient, drawn towards the mean: never beyond either
reported = trug("density", "--store", WORK / "a.gpkg", "--bandwidth", BANDWIDTH)
mean = float(re.search(r"([\d.]+) \(95 %: [\d.]+ to [\d.]+\) finds per searched km", reported)[1])
assert 0 < np.nanmin(rate) < mean < np.nanmax(rate) and np.nanmin(error) > 0
quotient = density[known] / effort[known]
middle = np.corrcoef(np.log(quotient), np.log(rate[known]))[0, 1]
assert middle > 0.9, f"rate and quotient agree: {middle:.2f}"

# relative risk: the kind's density over that of all finds, each summing to one, with a floor in both
KIND = "Cortinarius"
path = WORK / "risk.tif"
trug("density", "--store", WORK / "a.gpkg", "--bandwidth", BANDWIDTH, "--cells", 90,
     "--taxon", KIND, "--against", "all", "--grid", path)
opened = gdal.Open(str(path))
band = opened.GetRasterBand(1)
risk = np.frombuffer(band.ReadRaster(buf_type=gdal.GDT_Float64))
risk = risk.reshape(opened.RasterYSize, opened.RasterXSize).copy()
risk[risk == band.GetNoDataValue()] = np.nan
plane = osr.SpatialReference(wkt=opened.GetProjection())
plane.SetAxisMappingStrategy(osr.OAMS_TRADITIONAL_GIS_ORDER)
onto = osr.CoordinateTransformation(globe, plane)
named = [str(find["properties"].get("scientificName", "")).startswith(KIND) for find in finds if find["geometry"]]
every = np.array([onto.TransformPoint(*place)[:2] for place in places.tolist()]).T
of_kind = every[:, np.array(named)]
assert 5 < of_kind.shape[1] < every.shape[1]
left, cell, _, top, _, fall = opened.GetGeoTransform()
columns, rows = np.meshgrid(np.arange(opened.RasterXSize), np.arange(opened.RasterYSize))
spots = np.stack([left + (columns + 0.5) * cell, top + (rows + 0.5) * fall]).reshape(2, -1)
wide, own = (Fixed(part)(spots).reshape(risk.shape) for part in (every, of_kind))
floor = 0.01 * wide.max()
expected = (own + floor) / (wide + floor)
seen = ~np.isnan(risk)
assert 0.1 < seen.mean() < 0.9
# the kernel sums are within 1e-4 of their peaks, and so is the floor, a hundredth of the peak
apart = np.abs(risk / expected - 1)[seen].max()
assert apart < 0.01, f"relative risk off by {apart:.1e}"

trug("density", "--store", WORK / "a.gpkg", "--bandwidth", BANDWIDTH, "--cells", 90,
     "--contours", WORK / "lines.geojson")
features = json.loads((WORK / "lines.geojson").read_text())["features"]
shapes = {}
for feature in features:
    for polygon in feature["geometry"]["coordinates"]:
        for place, ring in enumerate(polygon):
            assert ring[0] == ring[-1] and len(ring) >= 4
            # about the globe's origin the sum loses digits; about the ring's first corner it does not
            x, y = ring[0]
            turn = sum((a[0] - x) * (b[1] - y) - (b[0] - x) * (a[1] - y) for a, b in zip(ring, ring[1:]))
            assert (turn > 0) == (place == 0), "outer rings run against the clock, holes with it"
    shape = ogr.CreateGeometryFromJson(json.dumps(feature["geometry"]))
    assert shape.IsValid()
    shapes[feature["properties"]["share"]] = shape
assert set(shapes) == {0.5, 0.95}
assert shapes[0.95].Buffer(1e-5).Contains(shapes[0.5])
for share, shape in shapes.items():
    inside = np.zeros(exact.shape, bool)
    from_plane = osr.CoordinateTransformation(system, globe)
    for row in range(exact.shape[0]):
        for column in range(exact.shape[1]):
            if exact[row, column] > 1e-6 * exact.max():
                x, y, _ = from_plane.TransformPoint(*middles[:, row, column].tolist())
                point = ogr.Geometry(ogr.wkbPoint)
                point.AddPoint_2D(x, y)
                inside[row, column] = shape.Contains(point)
    held = exact[inside].sum() / exact.sum()
    assert abs(held - share) < 0.02, f"the line of {share} holds {held:.3f}"
print(f"density: {points.shape[1]} finds, {known.sum()} cells within {off:.1e} of the peak; "
      f"relative risk within {apart:.1e}; lines hold their shares")
