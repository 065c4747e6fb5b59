// What a step risks near closed areas: of the positions that the radius leaves open, the share from which it enters
// one. The error is taken as circular and normal, with the radius as its 95 %.
const risk = (() => {
  // rings in parts of the radius, the number of places on each, and the share of positions that they stand for:
  // exp(-3 x x) of a circular normal error lies beyond x times the radius
  const RINGS = [[0.1, 6], [0.33, 10], [0.58, 14], [0.82, 18], [1.1, 22], [1.4, 26]], BOUNDS = [0, 0.2, 0.45, 0.7, 0.95, 1.25, 1.6];
  const FARTHEST = BOUNDS[BOUNDS.length - 1];
  const SPREAD = RINGS.flatMap(([off, count], ring) => {
    const share = (Math.exp(-3 * BOUNDS[ring] ** 2) - Math.exp(-3 * BOUNDS[ring + 1] ** 2)) / count;
    return Array.from({ length: count }, (_, index) => {
      const angle = 2 * Math.PI * (index + ring % 2 / 2) / count;
      return [off * Math.sin(angle), off * Math.cos(angle), share];
    });
  });

  const held = (areas, at) => areas.some((area) => closed.within(area, at, 0) && closed.inside(area, at));
  // The areas that matter at a place, with their edges there.
  const near = (areas, at, radius, step) => closed.around(areas, at, FARTHEST * radius + step);
  // [east, north, share] of the places that are not closed, and the share of those that are.
  const places = (areas, at, radius) => {
    const all = SPREAD.map(([east, north, share]) => [at[0] + east * radius, at[1] + north * radius, share]);
    const open = all.filter((one) => !held(areas, one));
    return { open, closed: Math.max(1 - open.reduce((sum, one) => sum + one[2], 0), 0) };
  };
  // Whether a step leads more than a share of the places into a closed area.
  const PARTS = [0.34, 0.67, 1];
  const enters = (areas, { open }, on, step, most) => {
    let sum = 0;
    for (const [east, north, share] of open) {
      if (PARTS.some((part) => held(areas, [east + on[0] * step * part, north + on[1] * step * part]))) sum += share;
      if (sum > most) return true;
    }
    return false;
  };

  return { near, places, enters };
})();
