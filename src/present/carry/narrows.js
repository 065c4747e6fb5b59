// The way out of a place between closed areas that the cells of the field are too large for: the quickest one on a
// finer grid about the place to ground from which the field knows a way, with room to both sides where there is some.
const narrows = (() => {
  // metres and cells to each side; the speed off paths; a step beside an edge counts as up to four
  const CELL = 8, HALF = 110, SPEED = 0.84, ROOM = 24, CROWDED = 3, EDGE = 2;
  const STEPS = [[1, 0, 1], [-1, 0, 1], [0, 1, 1], [0, -1, 1], [1, 1, Math.SQRT2], [1, -1, Math.SQRT2], [-1, 1, Math.SQRT2], [-1, -1, Math.SQRT2]];

  // `seconds` gives the time of the way that the field knows from a point, or null. Points from the place to such a one,
  // or null.
  const out = (areas, at, seconds) => {
    const wide = 2 * HALF + 1, cost = new Float64Array(wide * wide).fill(Infinity), before = new Int32Array(wide * wide).fill(-1), room = new Float32Array(wide * wide).fill(-1);
    const near = areas.filter((area) => closed.within(area, at, (HALF + 4) * CELL));
    const point = (node) => [at[0] + (node % wide - HALF) * CELL, at[1] + (Math.floor(node / wide) - HALF) * CELL];
    const clearance = (node) => {
      if (room[node] < 0) {
        const edge = closed.nearest(near, point(node));
        room[node] = !edge ? ROOM : edge.inside ? 0 : Math.min(edge.off, ROOM);
      }
      return room[node];
    };
    const waiting = paths.heap(), begin = HALF * wide + HALF;
    let best = null;
    cost[begin] = 0;
    waiting.put([0, begin]);
    while (waiting.size) {
      const [here, node] = waiting.take();
      if (here > cost[node]) continue;
      if (best && here >= best.whole) break;
      const more = node === begin ? null : seconds(point(node));
      if (more !== null && (!best || here + more < best.whole)) best = { whole: here + more, node };
      const column = node % wide, row = Math.floor(node / wide);
      for (const [across, along, length] of STEPS) {
        if (column + across < 0 || column + across >= wide || row + along < 0 || row + along >= wide) continue;
        const next = node + along * wide + across, free = clearance(next);
        if (free < EDGE) continue;
        const there = here + length * CELL / SPEED * (1 + CROWDED * (1 - free / ROOM));
        // an edge farther off than a step is long is not crossed by it
        const beside = Math.min(free, clearance(node)) <= 1.5 * CELL;
        if (there < cost[next] && !(beside && closed.crosses(near, point(node), point(next)))) {
          cost[next] = there;
          before[next] = node;
          waiting.put([there, next]);
        }
      }
    }
    if (!best) return null;
    const points = [];
    for (let node = best.node; node >= 0; node = before[node]) points.push(point(node));
    points.reverse();
    // as few corners as keep the line within some metres and off the edges
    const kept = line.corners(points, CELL / 2);
    const bad = kept.slice(1).some((end, index) => closed.crosses(near, points[kept[index]], points[end]));
    return bad ? points : kept.map((index) => points[index]);
  };

  return { out };
})();
