// The ways out from a position, by the rules of the desk: along known paths, along paths of base maps, back along the own
// track, across open ground, straight; with legs, times, verdicts and a rank. Nothing here touches the page.
const wayout = (() => {
  const MOST_GOALS = 8, FARTHEST = 96000, NARROWEST = 8, WIDEST = 25, SAME_PATH = 2;
  const WEIGHTS = { known: 1, retrace: 1, mapped: 1.1, terrain: 1.2, direct: 1.5 };
  const WORDS = {
    known: "along known paths", mapped: "along mapped paths, not walked by you", retrace: "back along your own track",
    terrain: "across open ground", direct: "straight line",
  };

  // Declination at a place: bilinear between three by three values, row by row from the south-west.
  const declination = (world, place) => {
    const { data, plane } = world, reach = data.reach_m, values = data.declination.grid_deg;
    const [east, north] = plane.to(place);
    const x = Math.min(Math.max((east / reach + 1), 0), 2), y = Math.min(Math.max((north / reach + 1), 0), 2);
    const column = Math.min(Math.floor(x), 1), row = Math.min(Math.floor(y), 1), right = x - column, up = y - row;
    const at = (across, along) => values[(row + along) * 3 + column + across];
    // near a pole the declination can pass 180
    const first = at(0, 0), off = (value) => first + earth.shortest(value - first);
    return first * (1 - right) * (1 - up) + off(at(1, 0)) * right * (1 - up) + off(at(0, 1)) * (1 - right) * up + off(at(1, 1)) * right * up;
  };

  // Degrees to each side that the radius of the position leaves open; 180 where the end lies within it.
  const bearingRange = (radius, distance) =>
    (radius < distance ? earth.degrees(Math.asin(radius / distance)) : 180);

  const leg = (world, from, to, path) => {
    const over = pace.over(from, to, path, world.height);
    return {
      from, to, path, ...over,
      magnetic: earth.turned(over.bearing - declination(world, from)),
      paces: Math.round(over.distance / 100 * world.data.paces),
      steep: over.steepest > world.data.steep_deg,
      closed: closed.crosses(world.closed, world.plane.to(from), world.plane.to(to)),
    };
  };

  const route = (world, kind, goal, corners, path, more) => {
    const legs = corners.slice(1)
      .map((to, index) => leg(world, corners[index], to, path(index)))
      .filter((one, index, all) => one.distance > 0.5 || all.length === 1);
    const sum = (name) => legs.reduce((total, one) => total + one[name], 0);
    const times = { tobler: sum("tobler"), naismith: sum("naismith") };
    return {
      kind, goal, legs, ...times, words: WORDS[kind], distance: sum("distance"),
      climb: sum("climb"), descent: sum("descent"), heights: legs.every((one) => one.known),
      seconds: Math.max(times.tobler, times.naismith, more && more.least ? more.least : 0),
      steep: legs.some((one) => one.steep), closed: legs.some((one) => one.closed),
      gap: Boolean(more && more.gap), mapped: (more && more.mapped) || 0,
    };
  };

  // A way along a network as legs between the corners that are needed. Where leaving a corner out would lead
  // across a closed area, it is kept.
  const alongPaths = (world, kind, found) => {
    const points = found.places.map((place) => world.plane.to(place));
    const widest = Math.min(Math.max(found.radius, NARROWEST), WIDEST);
    let kept = [];
    for (const tolerance of [widest, NARROWEST, 3, 0]) {
      kept = line.corners(points, tolerance);
      const bad = kept.slice(1).some((end, index) => end - kept[index] > 1
        && closed.crosses(world.closed, points[kept[index]], points[end]));
      if (!bad) break;
    }
    const often = (index) => {
      const walked = found.passes.slice(kept[index], kept[index + 1]);
      return walked.filter((passes) => passes >= paths.OFTEN).length * 2 > walked.length;
    };
    const gap = found.gaps.some(Boolean);
    return route(world, kind, found.goal, kept.map((index) => found.places[index]), often, { gap, mapped: found.mapped });
  };

  // From between closed areas to ground from which the field knows a way, and on.
  const outOfNarrows = (world, from) => {
    const { plane } = world, at = plane.to(from);
    const out = narrows.out(world.closed, at, (point) => land.seconds(world.land, point), (point) => land.heightAt(world.land, point));
    const on = out && land.trace(world.land, plane.from(out[out.length - 1]), world.data.safe, 0, world.allowed);
    return on && { ...on, places: [from, ...out.slice(1).map((point) => plane.from(point)), ...on.places.slice(1)] };
  };

  const acrossLand = (world, from, radius) => {
    const found = world.land && (land.trace(world.land, from, world.data.safe, radius, world.allowed) || outOfNarrows(world, from));
    if (!found) return null;
    const near = SAME_PATH * Math.max(world.land.spacing_m, 10);
    const corners = found.places;
    const often = (index) => {
      const middle = world.plane.to(earth.between(corners[index], corners[index + 1], 0.5));
      return world.often.some((point) => Math.hypot(point[0] - middle[0], point[1] - middle[1]) < near);
    };
    // the field times the way between the middles of cells, which can each lie a diagonal of half a cell off its end
    const within = Math.SQRT2 * world.land.spacing_m / pace.tobler(0, false);
    return route(world, "terrain", found.goal, corners, often, { least: found.seconds - within });
  };

  const weight = (way) => way.seconds * WEIGHTS[way.kind] * (way.steep ? 1.3 : 1) * (way.gap ? 1.2 : 1)
    * (way.closed ? 5 : 1);
  const better = (a, b) => Number(a.closed) - Number(b.closed) || weight(a) - weight(b);
  // how much longer a way may take because the start lies elsewhere within its radius
  const farther = (radius) => Math.max(radius - 100, 0) / pace.tobler(0, false);

  // From inside a closed area the ways begin beyond its nearest edge.
  const outOfClosed = (world, at) => {
    const point = world.plane.to(at), edge = closed.nearest(world.closed, point);
    if (!edge || !edge.inside) return null;
    const on = (edge.off + 12) / Math.max(edge.off, 1e-6);
    return world.plane.from(point.map((one, axis) => one + (edge.at[axis] - one) * on));
  };

  // The own track as a network.
  const ownPaths = (world, track) => {
    let net = world.retraced && world.retraced.of(track);
    if (!net) {
      world.retraced = paths.growing();
      net = world.retraced.of(track);
    }
    return paths.joined(net, world.allowed);
  };

  // The quickest way along a network to one of the goals; the search from them is kept.
  const alongNet = (world, net, goals, at) => {
    const key = goals.map((goal) => goal.index).sort((a, b) => a - b), name = `${net === world.net} ${key.join(" ")}`;
    if (!world.fields.has(name)) world.fields.set(name, paths.towards(net, key.map((index) => world.data.safe[index].at), world.height));
    const way = paths.quickest(world.fields.get(name), at);
    return way && { ...way, goal: key[way.goal] };
  };

  // What the page says at a position: { from, goal, ways, day } or { refuse }.
  const answer = (world, { at: stated, radius, now, track, only }) => {
    const exit = outOfClosed(world, stated), at = exit || stated;
    const safe = world.data.safe.map((goal, index) => ({ ...goal, index, off: earth.leg(at, goal.at)[0] }));
    const wanted = safe.filter((goal) => only === undefined || only === null || goal.index === only);
    const goals = wanted.sort((a, b) => a.off - b.off).slice(0, MOST_GOALS).filter((goal) => goal.off <= FARTHEST);
    if (!goals.length) return { refuse: "No safe place within 96 km of this position: check the position." };
    const places = goals.map((goal) => goal.at);
    const found = [], missing = [];
    const add = (kind, way, why) => { if (way) found.push(way); else missing.push({ kind, words: WORDS[kind], why }); };
    if (world.net) {
      const way = alongNet(world, world.net, goals, at);
      add("known", way && alongPaths(world, "known", way), "you or the safe place are more than 500 m from known paths, or they do not lead there");
    } else missing.push({ kind: "known", words: WORDS.known, why: "this page holds no known paths of the area" });
    if (world.mapped) {
      const way = alongNet(world, world.mapped, goals, at);
      // without a piece of a base map it is the way along known paths
      if (!way || way.mapped > 0) add("mapped", way && alongPaths(world, "mapped", way), "you or the safe place are more than 500 m from paths, or they do not lead there");
    }
    if (world.land) {
      const way = acrossLand(world, at, radius);
      const other = way && !goals.some((goal) => goal.index === way.goal);
      add("terrain", other ? null : way, other ? `the quickest way across open ground leads to ${world.data.safe[way.goal].name}` : "no way across open ground is known from here");
    } else missing.push({ kind: "terrain", words: WORDS.terrain, why: "this page holds no elevations and no closed areas" });
    if (track && track.length > 1) {
      const own = ownPaths(world, track);
      let way = null;
      for (const [index, goal] of goals.entries()) {
        way = paths.quickest(paths.towards(own, [places[index]], world.height), at);
        if (way) {
          way.goal = goal.index;
          break;
        }
      }
      add("retrace", way && alongPaths(world, "retrace", way), "your own track does not lead there");
    } else missing.push({ kind: "retrace", words: WORDS.retrace, why: "no track was recorded" });
    const best = [...found].sort(better)[0];
    const goal = best ? goals.find((one) => one.index === best.goal) : goals[0];
    const day = light.about(world.data.light, now);
    if (goal.off <= radius) return { within: goal, from: { at: stated, radius, now }, day };
    const ways = found.filter((way) => way.goal === goal.index);
    ways.push(route(world, "direct", goal.index, [at, goal.at], () => false));
    ways.sort(better);
    for (const way of ways) way.verdict = light.verdict(now, way.seconds + farther(radius), day);
    return {
      from: { at: stated, radius, now }, exit, goal, ways, missing, day,
      direct: ways.find((way) => way.kind === "direct").legs.slice(-1)[0],
      range: bearingRange(radius, goal.off),
    };
  };

  return { answer, declination, bearingRange, leg, weight, WORDS };
})();
