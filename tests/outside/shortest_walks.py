"""Shortest paths by scipy.sparse.csgraph.dijkstra, for the checks in tests/reference/wayout.

1. terrain_dijkstra.csv: a field of 40 x 40 cells of 25 m, sixteen neighbours, Tobler off the path by
   the slope of each move, moves steeper than 1.2 left out: seconds from one cell to every cell.
2. lattice_dijkstra.csv: random lattices of lines walked one to four times: seconds between corners.

Run without arguments; writes into tests/reference/data.
"""

import pathlib

import numpy as np
import scipy
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import dijkstra

DATA = pathlib.Path(__file__).parent.parent / "reference" / "data"
STEPS = [(1, 0), (-1, 0), (0, 1), (0, -1), (1, 1), (-1, 1), (1, -1), (-1, -1),
         (2, 1), (-2, 1), (2, -1), (-2, -1), (1, 2), (-1, 2), (1, -2), (-1, -2)]


def tobler(slope, factor):
    return 6.0 / 3.6 * factor * np.exp(-3.5 * np.abs(slope + 0.05))


def terrain(random):
    side, spacing, start = 40, 25.0, (3, 5)
    x, y = np.meshgrid(np.arange(side), np.arange(side))
    heights = np.round(400 + 60 * np.sin(x / 6.1) * np.cos(y / 4.3) + 2.5 * x + random.normal(0, 3, x.shape), 1)
    rows, columns, seconds = [], [], []
    for row in range(side):
        for column in range(side):
            for across, along in STEPS:
                to = (column + across, row + along)
                if not (0 <= to[0] < side and 0 <= to[1] < side):
                    continue
                length = spacing * np.hypot(across, along)
                slope = (heights[to[1], to[0]] - heights[row, column]) / length
                if abs(slope) > 1.2:
                    continue
                rows.append(row * side + column)
                columns.append(to[1] * side + to[0])
                seconds.append(length / tobler(slope, 0.6))
    graph = csr_matrix((seconds, (rows, columns)), shape=(side * side, side * side))
    costs = dijkstra(graph, indices=start[1] * side + start[0])
    with open(DATA / "terrain_dijkstra.csv", "w") as file:
        file.write(f"# scipy {scipy.__version__} (BSD licence), scipy.sparse.csgraph.dijkstra, by tests/outside/shortest_walks.py:\n")
        file.write(f"# {side} x {side} cells of {spacing:.0f} m, from column {start[0]}, row {start[1]}; sixteen neighbours, Tobler off the path.\n")
        file.write("height_m,seconds\n")
        for height, cost in zip(heights.ravel(), costs):
            file.write(f"{height:.1f},{cost:.4f}\n")


def lattices(random):
    with open(DATA / "lattice_dijkstra.csv", "w") as file:
        file.write(f"# scipy {scipy.__version__} (BSD licence), scipy.sparse.csgraph.dijkstra, by tests/outside/shortest_walks.py:\n")
        file.write("# random lattices of 6 x 6 corners 120 m apart; edges: corner-corner*passes; level, on the path from three\n")
        file.write("# passes on, else off it; seconds from corner 0 to every corner (inf: not connected).\n")
        file.write("edges,seconds\n")
        for _ in range(12):
            side, edges, matrix = 6, [], np.zeros((36, 36))
            for a in range(side * side):
                for b in ([a + 1] if a % side < side - 1 else []) + ([a + side] if a + side < side * side else []):
                    if random.random() < 0.75:
                        passes = int(random.integers(1, 5))
                        edges.append(f"{a}-{b}*{passes}")
                        matrix[a, b] = matrix[b, a] = 120.0 / tobler(0.0, 1.0 if passes >= 3 else 0.6)
            costs = dijkstra(csr_matrix(matrix), indices=0)
            file.write(" ".join(edges) + "," + " ".join(f"{cost:.3f}" for cost in costs) + "\n")


terrain(np.random.default_rng(1))
lattices(np.random.default_rng(2))
