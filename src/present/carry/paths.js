// The network of known paths and of paths of base maps: built from tracks or unpacked, and the quickest ways along it to
// the goals. One search from the goals answers for every position. A piece that no outing walked is of a base map.
const paths = (() => {
  const REACH = 500, FARTHER = 25, DETOUR = 1.3, OFTEN = 3, SPACING = 10, MEET = [10, 20], CELL = 20;

  const milliseconds = (metres, slope, path) =>
    Math.min(Math.max(Math.ceil(metres / pace.tobler(slope, path) * 1000), 0), 4e9);
  const across = (off) => milliseconds(off * DETOUR, 0, false);
  const along = (metres, rise, passes) => {
    const length = Math.max(metres, 0.1);
    return milliseconds(length, Math.min(Math.max(rise / length, -1), 1), passes >= OFTEN);
  };

  // Lists of neighbours from lists of edges; `allowed` refuses edges, `least` those that fewer outings walked.
  const joined = (net, allowed, least = 0) => {
    const kept = [];
    for (let edge = 0; edge < net.from.length; edge += 1) {
      if (net.passes[edge] < least) continue;
      if (!allowed || allowed(net.places[net.from[edge]], net.places[net.to[edge]])) kept.push(edge);
    }
    const first = new Uint32Array(net.places.length + 1);
    for (const edge of kept) {
      first[net.from[edge] + 1] += 1;
      first[net.to[edge] + 1] += 1;
    }
    for (let node = 0; node < net.places.length; node += 1) first[node + 1] += first[node];
    const next = first.slice(), ends = new Uint32Array(kept.length * 2), edges = new Uint32Array(kept.length * 2);
    for (const edge of kept) {
      for (const [one, other] of [[net.from[edge], net.to[edge]], [net.to[edge], net.from[edge]]]) {
        ends[next[one]] = other;
        edges[next[one]] = edge;
        next[one] += 1;
      }
    }
    const metres = net.from.map((from, edge) => Math.fround(earth.short(net.places[from], net.places[net.to[edge]])));
    return { ...net, first, ends, edges, metres, allowed: allowed || null };
  };

  // A binary heap of nodes by cost, and by number where costs are equal. `cost` is that of the node taken last.
  const heap = () => {
    const costs = [], nodes = [];
    const less = (a, b) => costs[a] < costs[b] || (costs[a] === costs[b] && nodes[a] < nodes[b]);
    const swap = (a, b) => {
      const cost = costs[a], node = nodes[a];
      costs[a] = costs[b];
      nodes[a] = nodes[b];
      costs[b] = cost;
      nodes[b] = node;
    };
    const queue = {
      cost: 0,
      get size() { return nodes.length; },
      put(cost, node) {
        costs.push(cost);
        for (let at = nodes.push(node) - 1; at > 0;) {
          const up = (at - 1) >> 1;
          if (!less(at, up)) break;
          swap(at, up);
          at = up;
        }
      },
      take() {
        const last = nodes.length - 1;
        swap(0, last);
        queue.cost = costs.pop();
        const node = nodes.pop();
        for (let at = 0; ;) {
          let least = at;
          for (let down = 2 * at + 1; down <= 2 * at + 2; down += 1) if (down < last && less(down, least)) least = down;
          if (least === at) break;
          swap(at, least);
          at = least;
        }
        return node;
      },
    };
    return queue;
  };

  // Nodes for entering or leaving: the nearest and others hardly farther, those behind a closed area left out.
  const entries = (net, place) => {
    const up = REACH / 110000, aside = up / Math.max(Math.cos(earth.radians(Math.min(Math.abs(place[0]) + up, 90))), 1e-9);
    const near = [];
    for (let node = 0; node < net.places.length; node += 1) {
      const at = net.places[node];
      if (net.first[node] === net.first[node + 1]) continue;
      if (Math.abs(at[0] - place[0]) > up || Math.abs(earth.shortest(at[1] - place[1])) > aside) continue;
      const off = earth.short(place, at);
      if (off <= REACH && (!net.allowed || net.allowed(place, at))) near.push([node, off]);
    }
    const nearest = near.reduce((least, [, off]) => Math.min(least, off), Infinity);
    return near.filter(([, off]) => off <= nearest * 1.5 + FARTHER);
  };

  // Milliseconds from every node to the nearest goal in time, with the next node and the goal.
  const towards = (net, goals, height) => {
    const count = net.places.length;
    const cost = new Float64Array(count).fill(Infinity), next = new Int32Array(count).fill(-1), goal = new Int32Array(count).fill(-1);
    const heights = height ? net.places.map(height) : null;
    const waiting = heap();
    goals.forEach((place, index) => {
      for (const [node, off] of entries(net, place)) {
        const here = across(off);
        if (here < cost[node]) {
          cost[node] = here;
          goal[node] = index;
          waiting.put(here, node);
        }
      }
    });
    while (waiting.size) {
      const node = waiting.take(), here = waiting.cost;
      if (here > cost[node]) continue;
      for (let slot = net.first[node]; slot < net.first[node + 1]; slot += 1) {
        const from = net.ends[slot], edge = net.edges[slot];
        const known = heights && heights[node] !== null && heights[from] !== null;
        const there = here + along(net.metres[edge], known ? heights[node] - heights[from] : 0, net.passes[edge]);
        if (there < cost[from]) {
          cost[from] = there;
          next[from] = node;
          goal[from] = goal[node];
          waiting.put(there, from);
        }
      }
    }
    return { net, goals, cost, next, goal };
  };

  // The quickest way from a place: places, passes and gaps of each piece, the largest radius, the metres that no outing
  // walked; null where there is none.
  const quickest = (field, from) => {
    const { net } = field;
    let best = null;
    for (const [node, off] of entries(net, from)) {
      const whole = across(off) + field.cost[node];
      if (whole < Infinity && (!best || whole < best.cost)) best = { cost: whole, node };
    }
    if (!best) return null;
    const places = [from], passes = [0], gaps = [false];
    let radius = 0, mapped = 0, node = best.node;
    for (let step = 0; step <= net.places.length; step += 1) {
      places.push(net.places[node]);
      radius = Math.max(radius, net.radii[node]);
      const ahead = field.next[node];
      if (ahead < 0) break;
      for (let slot = net.first[node]; slot < net.first[node + 1]; slot += 1) {
        if (net.ends[slot] === ahead) {
          passes.push(net.passes[net.edges[slot]]);
          if (net.passes[net.edges[slot]] === 0) mapped += net.metres[net.edges[slot]];
          gaps.push(net.gaps[net.edges[slot]] === 1);
          break;
        }
      }
      node = ahead;
    }
    const goal = field.goal[best.node];
    places.push(field.goals[goal]);
    return { goal, seconds: best.cost / 1000, places, passes: [...passes, 0], gaps: [...gaps, false], radius, mapped };
  };

  // A network from a track of { at, radius, gap }, joined to itself where it comes within its own uncertainty. What was
  // added before is kept, so that a track that grows costs only its new points.
  const growing = () => {
    const net = { places: [], radii: [], from: [], to: [], passes: [], gaps: [] };
    const cells = new Map(), known = new Map();
    let before = null, gap = false, added = 0, last = null;
    const rowOf = (latitude) => Math.floor(latitude * 111195 / CELL);
    const columnOf = (row, longitude) => Math.floor(longitude * 111195 * Math.max(Math.cos(earth.radians((row + 0.5) * CELL / 111195)), 1e-6) / CELL);
    const named = (row, column) => row * 67108864 + column;
    const nodeOf = (point) => {
      const row = rowOf(point.at[0]), column = columnOf(row, point.at[1]);
      let best = null;
      for (let up = -1; up <= 1; up += 1) for (let aside = -2; aside <= 2; aside += 1) {
        for (const node of cells.get(named(row + up, column + aside)) || []) {
          const off = earth.short(point.at, net.places[node]);
          const meet = Math.min(Math.max(Math.hypot(point.radius, net.radii[node]), MEET[0]), MEET[1]);
          if (off <= meet && (!best || off < best[0])) best = [off, node];
        }
      }
      if (best) return best[1];
      const node = net.places.push(point.at) - 1, place = named(row, column);
      net.radii.push(Math.min(Math.max(Math.ceil(point.radius), 1), 255));
      if (!cells.has(place)) cells.set(place, []);
      cells.get(place).push(node);
      return node;
    };
    const add = (point, ends) => {
      if (before && earth.short(before.at, point.at) < SPACING && !ends && !gap) return;
      const node = nodeOf(point);
      if (before && before.node !== node) {
        const [a, b] = [Math.min(before.node, node), Math.max(before.node, node)], name = named(a, b);
        if (!known.has(name)) {
          known.set(name, net.from.length);
          net.from.push(a);
          net.to.push(b);
          net.passes.push(1);
          net.gaps.push(gap ? 1 : 0);
        } else if (!gap) net.gaps[known.get(name)] = 0;
      }
      before = { node, at: point.at };
      gap = Boolean(point.gap);
    };
    // The network of a track: null where it does not begin with what was added before.
    const of = (track) => {
      if (added > track.length || (added && track[added - 1] !== last)) return null;
      // whether a gap follows the last point is known when the next one comes
      if (added) gap = Boolean(last.gap);
      for (; added < track.length; added += 1) add(track[added], track[added].gap || added + 1 === track.length);
      last = track[added - 1];
      return net;
    };
    return { of };
  };
  const ofTrack = (track) => growing().of(track);

  // From packed bytes; latitudes and longitudes count from the middle of the area.
  const unpacked = (bytes, centre) => {
    const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
    const nodes = view.getUint32(0, true), edges = view.getUint32(4, true);
    let at = 8;
    const numbers = (count) => {
      const list = new Int32Array(count);
      for (let index = 0; index < count; index += 1) list[index] = view.getInt32(at + 4 * index, true);
      at += 4 * count;
      return list;
    };
    const sums = (list) => { for (let index = 1; index < list.length; index += 1) list[index] += list[index - 1]; return list; };
    const latitudes = sums(numbers(nodes)), longitudes = sums(numbers(nodes));
    const places = Array.from(latitudes, (one, index) => [centre[0] + one / 1e7, earth.shortest(centre[1] + longitudes[index] / 1e7)]);
    const bytesOf = (count) => { const part = bytes.subarray(at, at + count); at += count; return Array.from(part); };
    const radii = bytesOf(nodes);
    const from = Array.from(sums(numbers(edges))), off = numbers(edges);
    return { places, radii, from, to: from.map((one, index) => one + off[index]), passes: bytesOf(edges), gaps: bytesOf(edges) };
  };

  return { joined, heap, towards, quickest, growing, ofTrack, unpacked, OFTEN };
})();
