// Streams and standing water of base maps that a way crosses. The map shows no bridge and no ford.
const waters = (() => {
  // Features as { kind, name, shape, lines, box }, each line a list of [east, north].
  const unpacked = (rows) => rows.map(([kind, name, shape, packed]) => {
    const lines = packed.map((steps) => {
      const points = [];
      for (let at = 0, east = 0, north = 0; at < steps.length; at += 2) {
        east += steps[at];
        north += steps[at + 1];
        points.push([east / 2, north / 2]);
      }
      return points;
    });
    const all = lines.flat(), bound = (axis, pick) => all.reduce((value, point) => pick(value, point[axis]), all[0][axis]);
    return { kind, name, shape, lines, box: [bound(0, Math.min), bound(1, Math.min), bound(0, Math.max), bound(1, Math.max)] };
  });

  const side = (p, q, r) => (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0]);
  const meet = (a, b, c, d) => side(a, b, c) * side(a, b, d) <= 0 && side(c, d, a) * side(c, d, b) < 0;
  const meetings = (points, feature) => {
    const [west, south, east, north] = feature.box;
    let count = 0;
    for (let leg = 1; leg < points.length; leg += 1) {
      const [a, b] = [points[leg - 1], points[leg]];
      if (Math.max(a[0], b[0]) < west || Math.min(a[0], b[0]) > east || Math.max(a[1], b[1]) < south || Math.min(a[1], b[1]) > north) continue;
      for (const one of feature.lines) {
        for (let at = 1; at < one.length; at += 1) if (meet(a, b, one[at - 1], one[at])) count += 1;
        if (feature.shape === 2 && meet(a, b, one[one.length - 1], one[0])) count += 1;
      }
    }
    // into standing water and out of it again
    return feature.shape === 2 ? Math.ceil(count / 2) : count;
  };

  // { count, names } of the crossings of a way of [east, north]; null without one
  const crossed = (base, points) => {
    let count = 0;
    const names = new Set();
    for (const feature of base) {
      if (feature.shape === 0 || (feature.kind !== "stream" && feature.kind !== "water")) continue;
      const found = meetings(points, feature);
      count += found;
      if (found && feature.name) names.add(feature.name);
    }
    return count ? { count, names: [...names] } : null;
  };
  const words = ({ count, names }) => {
    const some = names.slice(0, 3).join(", ") + (names.length > 3 ? ` and ${names.length - 3} more` : "");
    return `crosses water of the base map ${count === 1 ? "once" : `${count} times`}${some ? ` (${some})` : ""}, bridge or ford not known`;
  };

  return { unpacked, crossed, words };
})();
