"""Makes tests/reference/data/circular_and_kernel.csv.

Usage: python tests/outside/makers/circular_and_kernel.py DATA OUT
DATA is the folder `data` of pycircstat2. Needs numpy, scipy, scikit-learn and statsmodels.
"""
import csv
import sys

import numpy as np
import scipy
import sklearn
import statsmodels
from scipy import stats
from sklearn.neighbors import KernelDensity
from statsmodels.nonparametric.bandwidths import bw_silverman

data, out = sys.argv[1:]
with open(f"{data}/fisher/B1.csv") as file:
    clocks = [row[1].split(":") for row in list(csv.reader(file))[1:]]
hours = np.array([int(hour) + int(minute) / 60 for hour, minute in clocks])
random = np.random.default_rng(11)
points = np.round(np.concatenate([random.normal(0, 40, (30, 2)), random.normal((150, 60), 15, (20, 2))]), 3)
with open(out, "w") as file:
    print("# Arrival times at an intensive care unit (Cox & Lewis 1966, 254-5; Fisher 1993, data B.1), as held by"
          " pycircstat2 0.1.15 (MIT).", file=file)
    print(f"# Circular mean and resultant length by scipy {scipy.__version__}; Silverman's bandwidth by statsmodels"
          f" {statsmodels.__version__}; kernel sums by scikit-learn {sklearn.__version__} KernelDensity (BSD"
          " licences). Made by tests/outside/makers/circular_and_kernel.py.", file=file)
    print("# hour,value | circular,mean as a share of the day,resultant | silverman,bandwidth of the hours |"
          " point,x,y | sum,bandwidth,x,y,kernel sum", file=file)
    for hour in hours:
        print(f"hour,{hour:.10f}", file=file)
    mean = stats.circmean(hours, high=24) / 24
    resultant = 1 - stats.circvar(hours, high=24)
    print(f"circular,{mean:.12f},{resultant:.12f}", file=file)
    print(f"silverman,{bw_silverman(hours):.12f}", file=file)
    for x, y in points:
        print(f"point,{x},{y}", file=file)
    for bandwidth in (4.0, 12.0, 30.0, 90.0):
        model = KernelDensity(kernel="gaussian", bandwidth=bandwidth, rtol=0, atol=0).fit(points)
        # the middles of cells of 10 by 10
        for place in [(5, 5), (-35, 15), (145, 65), (85, 35), (155, 55), (-95, -95)]:
            value = np.exp(model.score_samples([place])[0]) * len(points)
            print(f"sum,{bandwidth},{place[0]},{place[1]},{value:.12e}", file=file)
