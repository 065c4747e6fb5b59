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
  const side = (p, q, r) => (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0]);
  const meet = (a, b, c, d) => side(a, b, c) * side(a, b, d) < 0 && side(c, d, a) * side(c, d, b) < 0;
  const edges = (area) => area.flatMap((ring) => ring.map((from, index) => [from, ring[(index + 1) % ring.length]]));
  const above = (at, a, b) => (a[0] > at[0]) !== (b[0] > at[0])
    && (b[1] - a[1]) * (at[0] - a[0]) / (b[0] - a[0]) + a[1] > at[1];

  const prepared = (areas, plane) => areas.map((area) => {
    const rings = area.map((ring) => ring.map((place) => plane.to(place)));
    const all = rings.flat(), list = edges(rings);
    const bound = (axis, pick) => all.reduce((value, point) => pick(value, point[axis]), all[0][axis]);
    return { edges: list, box: [bound(0, Math.min), bound(1, Math.min), bound(0, Math.max), bound(1, Math.max)], rings };
  });
  const inside = (area, at) => area.edges.filter(([a, b]) => above(at, a, b)).length % 2 === 1;
  const outOf = (area, from, to) => Math.max(from[0], to[0]) < area.box[0] || Math.min(from[0], to[0]) > area.box[2]
    || Math.max(from[1], to[1]) < area.box[1] || Math.min(from[1], to[1]) > area.box[3];
  // Whether an area's box comes within a distance of a point.
  const within = (area, at, off) => at[0] > area.box[0] - off && at[0] < area.box[2] + off && at[1] > area.box[1] - off && at[1] < area.box[3] + off;
  // Whether a piece of line leads into, through or out of an area.
  const crosses = (areas, from, to) => areas.some((area) => !outOf(area, from, to)
    && (inside(area, from) || inside(area, to) || area.edges.some(([a, b]) => meet(from, to, a, b))));
  // The nearest edge of any area: { off, at, inside }; null without areas.
  const nearest = (areas, at) => {
    let best = null;
    for (const area of areas) {
      const within = inside(area, at);
      for (const [a, b] of area.edges) {
        const foot = line.foot(at, a, b).at, off = Math.hypot(at[0] - foot[0], at[1] - foot[1]);
        if (!best || (within && !best.inside) || (within === best.inside && off < best.off)) best = { off, at: foot, inside: within };
      }
    }
    return best;
  };
  // How near a piece of line comes to an area: 0 where it crosses one.
  const clearance = (areas, from, to) => {
    if (crosses(areas, from, to)) return 0;
    let least = Infinity;
    for (const area of areas) for (const [a, b] of area.edges) {
      least = Math.min(least, line.aside(a, from, to), line.aside(from, a, b), line.aside(to, a, b));
    }
    return least;
  };
  return { prepared, inside, within, crosses, nearest, clearance };
})();
