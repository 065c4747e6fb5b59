"""skimage.graph.MCP_Geometric on the grid that benches/terrain.rs hands over: eight neighbours,
isotropic cost by the slope of the cell, since it knows no direction. Prints seconds of the
processor and memory."""

import resource
import sys
import time

import numpy as np
import skimage
from skimage.graph import MCP_Geometric

side = int(sys.argv[2])
heights = np.fromfile(sys.argv[1], dtype="<f4").reshape(side, side)
north, east = np.gradient(heights.astype(np.float64), 30.0)
slope = np.hypot(north, east)
costs = 1.0 / (6.0 / 3.6 * 0.6 * np.exp(-3.5 * np.abs(slope + 0.05)))
del north, east, slope, heights

times = []
for _ in range(2):
    solver = MCP_Geometric(costs, sampling=(30.0, 30.0))
    begun = time.process_time()
    solver.find_costs([(20, 20)], [(side - 21, side - 21)])
    times.append(time.process_time() - begun)
print(f"scikit-image {skimage.__version__} MCP_Geometric, 8 neighbours, no direction")
print(f"seconds to the goal: {min(times):.3f}")
solver = MCP_Geometric(costs, sampling=(30.0, 30.0))
begun = time.process_time()
solver.find_costs([(20, 20)])
print(f"seconds to all cells: {time.process_time() - begun:.3f}")
print(f"peak memory: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MiB")
