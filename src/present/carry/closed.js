// Straight lines and closed areas on the plane of the area. A ring is a list of [east, north]; an area is its
// outline with its holes.
const line = (() => {
  const foot = (point, from, to) => {
    const x = to[0] - from[0], y = to[1] - from[1], length2 = x * x + y * y;
    const share = length2 > 0 ? Math.min(Math.max(((point[0] - from[0]) * x + (point[1] - from[1]) * y) / length2, 0), 1) : 0;
    return { at: [from[0] + x * share, from[1] + y * share], share };
  };
  const aside = (point, from, to) => {
    const at = foot(point, from, to).at;
    return Math.hypot(point[0] - at[0], point[1] - at[1]);
  };
  // Indices of the corners to keep, so that what is left out lies within a tolerance. Douglas & Peucker 1973.
  const corners = (points, tolerance) => {
    const keep = new Set([0, points.length - 1]), waiting = [[0, points.length - 1]];
    while (waiting.length) {
      const [from, to] = waiting.pop();
      let farthest = -1, most = -1;
      for (let at = from + 1; at < to; at += 1) {
        const off = aside(points[at], points[from], points[to]);
        if (off >= most) [farthest, most] = [at, off];
      }
      if (farthest >= 0 && most > tolerance) {
        keep.add(farthest);
        waiting.push([from, farthest], [farthest, to]);
      }
    }
    return [...keep].sort((a, b) => a - b);
  };
  return { foot, aside, corners };
})();

const closed = (() => {
  const COLUMN = 40;
  const side = (p, q, r) => (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0]);
  const meet = (a, b, c, d) => side(a, b, c) * side(a, b, d) < 0 && side(c, d, a) * side(c, d, b) < 0;
  const edges = (area) => area.flatMap((ring) => ring.map((from, index) => [from, ring[(index + 1) % ring.length]]));
  // Metres from a point to a piece of line.
  const gap = (point, from, to) => {
    const x = to[0] - from[0], y = to[1] - from[1], length2 = x * x + y * y, east = point[0] - from[0], north = point[1] - from[1];
    const share = length2 > 0 ? Math.min(Math.max((east * x + north * y) / length2, 0), 1) : 0;
    return Math.hypot(east - x * share, north - y * share);
  };

  // Areas with their box and their edges, these also by columns, since a question concerns the edges of one column.
  const prepared = (areas, plane) => areas.map((area) => {
    const rings = area.map((ring) => ring.map((place) => plane.to(place)));
    const all = rings.flat(), list = edges(rings);
    const bound = (axis, pick) => all.reduce((value, point) => pick(value, point[axis]), all[0][axis]);
    const box = [bound(0, Math.min), bound(1, Math.min), bound(0, Math.max), bound(1, Math.max)];
    const columns = Array.from({ length: Math.floor((box[2] - box[0]) / COLUMN) + 1 }, () => []);
    for (const edge of list) {
      const [first, last] = [Math.min(edge[0][0], edge[1][0]), Math.max(edge[0][0], edge[1][0])].map((east) => Math.floor((east - box[0]) / COLUMN));
      for (let column = first; column <= last; column += 1) columns[column].push(edge);
    }
    return { edges: list, columns, box, rings };
  });
  // Whether a line to the north meets an odd number of edges.
  const inside = ({ columns, box }, [x, y]) => {
    if (x < box[0] || x > box[2] || y < box[1] || y > box[3]) return false;
    let odd = false;
    for (const [a, b] of columns[Math.floor((x - box[0]) / COLUMN)]) {
      if ((a[0] > x) !== (b[0] > x) && (b[1] - a[1]) * (x - a[0]) / (b[0] - a[0]) + a[1] > y) odd = !odd;
    }
    return odd;
  };
  const outOf = (area, from, to) => Math.max(from[0], to[0]) < area.box[0] || Math.min(from[0], to[0]) > area.box[2]
    || Math.max(from[1], to[1]) < area.box[1] || Math.min(from[1], to[1]) > area.box[3];
  // Whether an area's box comes within a distance of a point.
  const within = (area, at, off) => at[0] > area.box[0] - off && at[0] < area.box[2] + off && at[1] > area.box[1] - off && at[1] < area.box[3] + off;
  const beside = (at, off) => ([a, b]) => Math.min(a[0], b[0]) < at[0] + off && Math.max(a[0], b[0]) > at[0] - off
    && Math.min(a[1], b[1]) < at[1] + off && Math.max(a[1], b[1]) > at[1] - off;
  // The areas about a point with their edges there alone: for questions that concern no edge farther away.
  const around = (areas, at, off) => areas.filter((area) => within(area, at, off)).map((area) => {
    const near = area.edges.filter(beside(at, off));
    return { ...area, edges: near.length || !inside(area, at) ? near : area.edges };
  }).filter((area) => area.edges.length);
  // Whether a piece of line leads into, through or out of an area.
  const crosses = (areas, from, to) => areas.some((area) => !outOf(area, from, to)
    && (inside(area, from) || inside(area, to) || area.edges.some(([a, b]) => meet(from, to, a, b))));
  // The nearest edge of any area: { off, at, inside }; null without areas.
  const nearest = (areas, at) => {
    let best = null, edge = null;
    for (const area of areas) {
      if (best && !best.inside && !within(area, at, best.off + 1e-6)) continue;
      const held = inside(area, at);
      for (const one of area.edges) {
        const off = gap(at, one[0], one[1]);
        if (!best || (held && !best.inside) || (held === best.inside && off < best.off)) {
          best = { off, inside: held };
          edge = one;
        }
      }
    }
    return best && { ...best, at: line.foot(at, edge[0], edge[1]).at };
  };
  // How near a piece of line comes to an area: 0 where it crosses one.
  const clearance = (areas, from, to) => {
    if (crosses(areas, from, to)) return 0;
    let least = Infinity;
    for (const area of areas) for (const [a, b] of area.edges) least = Math.min(least, gap(a, from, to), gap(from, a, b), gap(to, a, b));
    return least;
  };
  return { prepared, around, beside, inside, within, meet, gap, crosses, nearest, clearance };
})();
