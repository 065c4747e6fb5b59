// The way out of a place between closed areas that the cells of the field are too large for: the quickest one on a
// finer grid about the place to ground from which the field knows a way, with room to both sides where there is some.
const narrows = (() => {
  // metres and cells to each side; the speed off paths; a step beside an edge counts as up to four
  const CELL = 8, HALF = 110, SPEED = 0.84, ROOM = 24, CROWDED = 3, EDGE = 2, SQUARE = 8, STEEPEST = Math.tan(40 * Math.PI / 180);
  const STEPS = [[1, 0, 1], [-1, 0, 1], [0, 1, 1], [0, -1, 1], [1, 1, Math.SQRT2], [1, -1, Math.SQRT2], [-1, 1, Math.SQRT2], [-1, -1, Math.SQRT2]];

  // `seconds` gives the time of the way that the field knows from a point, or null, `height` metres above sea level or
  // null. Points from the place to one with a way, or null.
  const out = (areas, at, seconds, height) => {
    const wide = 2 * HALF + 1, cost = new Float64Array(wide * wide).fill(Infinity), before = new Int32Array(wide * wide).fill(-1), room = new Float32Array(wide * wide).fill(-1);
    const near = areas.filter((area) => closed.within(area, at, (HALF + 4) * CELL));
    const point = (node) => [at[0] + (node % wide - HALF) * CELL, at[1] + (Math.floor(node / wide) - HALF) * CELL];
    // the edges within reach of each square of the window
    const squares = new Map(), squareOf = (node) => Math.floor(node % wide / SQUARE) * wide + Math.floor(Math.floor(node / wide) / SQUARE);
    const edgesOf = (node) => {
      const name = squareOf(node);
      if (!squares.has(name)) {
        const middle = [0, 1].map((axis) => at[axis] + ([Math.floor(name / wide), name % wide][axis] * SQUARE + (SQUARE - 1) / 2 - HALF) * CELL);
        squares.set(name, near.flatMap((area) => area.edges.filter(closed.beside(middle, SQUARE * CELL / 2 + ROOM))));
      }
      return squares.get(name);
    };
    const clearance = (node) => {
      if (room[node] < 0) {
        const place = point(node);
        let least = near.some((area) => closed.inside(area, place)) ? 0 : ROOM;
        if (least > 0) for (const [a, b] of edgesOf(node)) least = Math.min(least, closed.gap(place, a, b));
        room[node] = least;
      }
      return room[node];
    };
    // between two neighbours that are both open
    const barred = (node, next) => {
      const [from, to] = [point(node), point(next)];
      return edgesOf(node).some(([a, b]) => closed.meet(from, to, a, b));
    };
    // ground too steep to walk, as in the field
    const heights = new Map();
    const heightOf = (node) => { if (!heights.has(node)) heights.set(node, height(point(node))); return heights.get(node); };
    const sheer = (node, next, length) => {
      const [from, to] = [heightOf(node), heightOf(next)];
      return from !== null && to !== null && Math.abs(to - from) > STEEPEST * length * CELL;
    };
    const waiting = paths.heap(), begin = HALF * wide + HALF;
    let best = null;
    cost[begin] = 0;
    waiting.put(0, begin);
    while (waiting.size) {
      const node = waiting.take(), here = waiting.cost;
      if (here > cost[node]) continue;
      if (best && here >= best.whole) break;
      const more = node === begin ? null : seconds(point(node));
      if (more !== null && (!best || here + more < best.whole)) best = { whole: here + more, node };
      // from here the field knows the quickest way
      if (more !== null) continue;
      const column = node % wide, row = Math.floor(node / wide);
      for (const [across, along, length] of STEPS) {
        if (column + across < 0 || column + across >= wide || row + along < 0 || row + along >= wide) continue;
        const next = node + along * wide + across, free = clearance(next);
        if (free < EDGE) continue;
        const there = here + length * CELL / SPEED * (1 + CROWDED * (1 - free / ROOM));
        // an edge farther off than a step is long is not crossed by it
        const beside = Math.min(free, clearance(node)) <= 1.5 * CELL;
        if (there < cost[next] && !(beside && barred(node, next)) && !sheer(node, next, length)) {
          cost[next] = there;
          before[next] = node;
          waiting.put(there, next);
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
