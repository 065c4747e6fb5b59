// Leads along a chosen way: the next leg from the present position, back to the way when straying, and warnings
// of closed areas.
const guide = (() => {
  const NEAR = [10, 25], STRAY = 25, LOST = 90, AHEAD = 12, WARN = 30, KEEP = 20, ROOM = [1.2, 6], PUSH = 3, HOLD = 0.6, BEYOND = 1.5, FRESH = 10, PACE = 1.4, STEP = 15, MOST = 0.003;

  const begin = (way, world) => {
    const places = [way.legs[0].from, ...way.legs.map((leg) => leg.to)];
    const points = places.map((place) => world.plane.to(place));
    const lengths = [0];
    for (let index = 1; index < points.length; index += 1) {
      lengths.push(lengths[index - 1] + Math.hypot(points[index][0] - points[index - 1][0], points[index][1] - points[index - 1][1]));
    }
    return { way, places, points, lengths, done: 0 };
  };

  // The foot on the way, not more than a little behind what was walked already.
  const foot = (led, at) => {
    let best = null;
    for (let index = 1; index < led.points.length; index += 1) {
      if (led.lengths[index] < led.done - 40) continue;
      const found = line.foot(at, led.points[index - 1], led.points[index]);
      const off = Math.hypot(found.at[0] - at[0], found.at[1] - at[1]);
      const along = led.lengths[index - 1] + found.share * (led.lengths[index] - led.lengths[index - 1]);
      // of two pieces equally near, the one farther on
      if (!best || off < best.off - 1 || (off < best.off + 1 && along > best.along && along < led.done + 80)) best = { off, along, at: found.at, index };
    }
    return best;
  };

  const pointAt = (led, along) => {
    const index = Math.max(led.lengths.findIndex((length) => length >= along), 1);
    const share = (along - led.lengths[index - 1]) / Math.max(led.lengths[index] - led.lengths[index - 1], 1e-9);
    return led.points[index - 1].map((one, axis) => one + (led.points[index][axis] - one) * Math.min(Math.max(share, 0), 1));
  };

  // Of the way ahead the point with the least room to closed areas.
  const NARROWS = 200, EACH = 5;
  const narrowest = (led, world, at) => {
    const begun = Math.max(foot(led, at).along - EACH, 0), end = led.lengths[led.lengths.length - 1];
    let best = null;
    for (let along = begun; along <= Math.min(begun + NARROWS, end); along += EACH) {
      const point = pointAt(led, along), edge = closed.nearest(world.closed, point), off = !edge ? Infinity : edge.inside ? 0 : edge.off;
      if (!best || off < best.off) best = { off, point };
    }
    return best ? best.point : at;
  };

  // Near a closed area the true position may be nearer still: of 36 directions the leg takes the one that leads on
  // and keeps clear of all edges, until they lie outside the radius. It reaches beyond the radius, where a bearing
  // means something, and holds the direction taken before, since in an inlet the best one changes with every error of
  // the receiver. A direction in which, held within 10 degrees, more than a few of the positions that the radius leaves
  // open enter a closed area is never taken; null where all are such: no bearing can be given there.
  const TURNS = 36, round = (turn) => (turn + TURNS) % TURNS;
  const clear = (led, world, at, point, edge, radius, last) => {
    const way = [point[0] - at[0], point[1] - at[1]], length = Math.hypot(...way);
    const safe = ROOM[0] * Math.min(radius, 40) + ROOM[1], near = edge ? risk.near(world.closed, at, radius, STEP + 2 * safe + 25) : [];
    if (!near.some((area) => closed.within(area, at, 1.6 * radius + STEP + safe)) || (length < 0.1 && edge.off >= safe)) {
      led.held = null;
      return point;
    }
    const places = risk.places(near, at, radius), entered = new Array(TURNS).fill(null);
    const directed = (turn) => { const angle = 2 * Math.PI * turn / TURNS; return [Math.sin(angle), Math.cos(angle)]; };
    const into = (turn) => { if (entered[turn] === null) entered[turn] = risk.enters(near, places, directed(turn), STEP, MOST); return entered[turn]; };
    const enters = (turn) => [turn, turn + 1, turn - 1].some((one) => into(round(one)));
    const straight = Math.atan2(...way) * TURNS / (2 * Math.PI), sides = [Math.floor(straight), Math.floor(straight) + 1];
    const step = Math.max(Math.min(length, Math.max(safe, 25)), BEYOND * radius);
    if (!edge.inside && (edge.off >= safe || (last && length < 2 * safe)) && sides.every((turn) => !enters(round(turn)))) {
      led.held = null;
      return point;
    }
    const choices = [];
    for (let turn = 0; turn < TURNS; turn += 1) {
      const on = directed(turn), aim = at.map((one, axis) => one + on[axis] * step), end = closed.nearest(near, aim);
      if (edge.inside ? end.inside : closed.crosses(near, at, aim)) continue;
      const gained = Math.min(end.off, safe) / safe, kept = Math.min(closed.clearance(near, at, aim) / safe, 1);
      const before = led.held ? HOLD * (on[0] * led.held[0] + on[1] * led.held[1]) : 0;
      const ahead = (on[0] * way[0] + on[1] * way[1]) / Math.max(length, 0.1);
      // back only to gain room: where there is room and nothing leads on, turning to and fro would not help
      if (ahead < 0 && length >= 0.1 && !edge.inside && edge.off >= radius) continue;
      choices.push({ aim, worth: ahead + PUSH * (gained + kept) + before, on, turn });
    }
    const best = choices.sort((a, b) => b.worth - a.worth).find(({ turn }) => !enters(turn)) || null;
    led.held = best ? best.on : null;
    return best ? best.aim : null;
  };

  // { state, target, distance, bearing, magnetic, paces, off, left, again, closed, range }
  const next = (led, world, place, radius) => {
    const at = world.plane.to(place), found = foot(led, at), total = led.lengths[led.lengths.length - 1];
    const near = Math.min(Math.max(radius, NEAR[0]), NEAR[1]);
    const goal = led.points[led.points.length - 1];
    led.done = Math.max(led.done, Math.min(found.along, led.done + 150));
    let state = "on", target = led.points.length - 1, point = goal;
    if (Math.hypot(goal[0] - at[0], goal[1] - at[1]) <= Math.max(near, Math.min(radius, 30))) state = "there";
    else if (found.off > STRAY + Math.min(radius, 40)) {
      state = "off";
      point = pointAt(led, Math.min(found.along + AHEAD, total));
    } else {
      const ahead = (index) => index < led.points.length - 1
        && (led.lengths[index] < found.along + AHEAD / 2 || Math.hypot(led.points[index][0] - at[0], led.points[index][1] - at[1]) < near);
      target = found.index;
      while (ahead(target)) target += 1;
      point = led.points[target];
    }
    // a shortcut that would touch a closed area: first to the way itself, then along it
    if (state !== "there" && closed.crosses(world.closed, at, point)) {
      const ahead = [Math.max(BEYOND * radius, AHEAD), AHEAD, 0].map((on) => pointAt(led, Math.min(found.along + on, total)));
      point = ahead.find((one) => !closed.crosses(world.closed, at, one)) || ahead[2];
      if (found.off > 3) state = "off";
    }
    const edge = world.closed.length ? closed.nearest(world.closed, at) : null;
    const aim = clear(led, world, at, point, edge, radius, point === goal);
    const to = world.plane.from(aim || point), leg = wayout.leg(world, place, to, false);
    const warn = edge && (edge.inside || edge.off < radius + WARN) ? edge : null;
    return {
      state, to, distance: leg.distance, bearing: leg.bearing, magnetic: leg.magnetic, paces: leg.paces,
      crosses: leg.closed, off: found.off, left: total - found.along + found.off,
      again: found.off > LOST + radius, narrow: aim === null, legs: led.points.length - 1 - target,
      range: wayout.bearingRange(radius, leg.distance),
      edge: warn && { ...warn, bearing: earth.turned(earth.degrees(Math.atan2(warn.at[0] - at[0], warn.at[1] - at[1]))) },
      goal: target === led.points.length - 1 && state !== "off",
    };
  };

  // Without a new fix a walker can be as far from the last one as a person walks since (1.4 m/s, a brisk pace;
  // common practice): no bearing where a closed area or the end of the leg lies within that. Null, or what is near.
  const held = (world, leg, place, radius, age) => {
    if (age <= FRESH) return null;
    const edge = world.closed.length ? closed.nearest(world.closed, world.plane.to(place)) : null;
    if (edge && (edge.inside || edge.off < radius + PACE * age + KEEP)) return "closed";
    return PACE * age > leg.distance + radius ? "passed" : null;
  };

  return { begin, next, held, pointAt, narrowest };
})();
