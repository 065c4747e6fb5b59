// What the page does with a position: the way that it follows, the next leg, or why it gives none. Nothing here
// touches the page; the walks of the checks run it too.
const lead = (() => {
  const OLD = 3600;
  // Seconds without a bearing until it stays away; the part of the radius, and the metres besides it, that end that.
  const SETTLED = 30, BETTER = 0.7, ELSEWHERE = 50;
  // A walk of so many minutes within so many metres leads nowhere.
  const MINUTES = 20, ROOM = 60, WALKING = 0.3;
  // Metres around a narrow place, on from a start beside one, and of places that are left aside at the most.
  const ASIDE = 30, ON = 40, MOST = 6;

  // { at, radius, time, live, sure, agreed, note } in `fixed`; a way chosen by hand is kept while it exists.
  const begin = (world) => ({ world, fixed: null, answer: null, led: null, chosen: null, computed: 0, kept: null, minutes: [], walked: 0, before: 0, narrow: [] });

  const follow = (state, way) => {
    state.led = guide.begin(way, state.world);
  };
  const again = (state) => Object.assign(state, { kept: null, minutes: [], walked: 0 });
  // Bearings are given again, after a choice or another position by hand; narrow places are no longer left aside.
  const afresh = (state) => Object.assign(again(state), { narrow: [] });

  // Of the ways to all safe places the best one that keeps off the narrow places before which bearings were withheld,
  // and on which a bearing can be given, other than a way that led nowhere: { answer, way }, or null.
  const roundabout = (state, radius, { now, track, only }, left = null) => {
    const { fixed, world } = state, found = [];
    const goals = only === null || only === undefined ? world.data.safe.map((_, index) => index) : [only];
    for (const goal of goals) {
      const answer = wayout.answer(world, { at: fixed.at, radius, now, track: track(), only: goal });
      for (const way of answer.ways || []) if (!way.closed && !(left && left.kind === way.kind && left.goal === way.goal)) found.push({ answer, way });
    }
    const passes = (led) => led.lengths.some((end, index) => index > 0 && end > ON && state.narrow.some((spot) => {
      const from = guide.pointAt(led, Math.max(led.lengths[index - 1], ON));
      return closed.gap(spot, from, led.points[index]) < ASIDE;
    }));
    const leads = ({ way }) => {
      const led = guide.begin(way, world);
      return !passes(led) && !guide.next(led, world, fixed.at, radius).narrow;
    };
    return found.sort((a, b) => wayout.weight(a.way) - wayout.weight(b.way)).find(leads) || null;
  };

  const answered = (state, answer, now) => {
    if (answer.from) answer.from.when = state.fixed.time;
    Object.assign(state, { answer, computed: now, led: null });
  };
  const seek = (state, radius, asked) => {
    const { fixed, world } = state, { now, track, only } = asked;
    const other = state.narrow.length && !state.chosen ? roundabout(state, radius, asked) : null;
    const answer = other ? other.answer : wayout.answer(world, { at: fixed.at, radius, now, track: track(), only });
    answered(state, answer, now);
    if (other) follow(state, other.way);
    if (other || answer.refuse || answer.within) return;
    const same = answer.ways.find((way) => way.kind === state.chosen);
    if (!same) state.chosen = null;
    follow(state, same || answer.ways[0]);
  };

  const place = (state, fixed) => {
    if (!state.fixed || state.fixed.live !== fixed.live || !fixed.live) {
      state.led = null;
      afresh(state);
    }
    state.fixed = fixed;
  };

  // Positions a minute of walking apart, while the page leads.
  const walkedOn = (state, now) => {
    const { fixed, world } = state, step = now - state.before;
    state.before = now;
    if (!fixed.live || step > 60 || fixed.speed < WALKING) return;
    state.walked += step;
    if (state.walked < 60) return;
    state.walked = 0;
    state.minutes = [...state.minutes.slice(1 - MINUTES), world.plane.to(fixed.at)];
  };
  const apart = (a, b) => Math.hypot(a[0] - b[0], a[1] - b[1]);
  const toAndFro = ({ minutes }) => {
    const middle = [0, 1].map((axis) => minutes.reduce((sum, one) => sum + one[axis], 0) / minutes.length);
    return minutes.length >= MINUTES && minutes.every((one) => apart(one, middle) < ROOM);
  };

  // The only ways known lead across closed areas, and nobody chose one by hand.
  const barred = ({ led, chosen }) => led.way.closed && led.way.kind !== chosen;

  // Before a place too narrow for the position, or where bearings led nowhere: whether another way leads on.
  const turned = (state, radius, asked) => {
    const { kept, world, led } = state;
    if (!kept || kept.tried || state.chosen || asked.now - kept.from < SETTLED || state.narrow.length >= MOST) return false;
    kept.tried = true;
    state.narrow.push(guide.narrowest(led, world, kept.at));
    const other = roundabout(state, radius, asked, led.way);
    if (!other) {
      state.narrow.pop();
      return false;
    }
    answered(state, other.answer, asked.now);
    follow(state, other.way);
    again(state);
    return true;
  };

  // What withholds bearings now, held until the position is better or another one.
  const withheld = (state, leg, radius, now) => {
    const at = state.world.plane.to(state.fixed.at), { kept } = state;
    if (kept && now - kept.since > SETTLED) {
      if (radius > BETTER * kept.radius && apart(at, kept.at) < ELSEWHERE + kept.radius) return kept.why;
      again(state);
    }
    const why = leg.narrow ? "narrow" : toAndFro(state) ? "stalled" : barred(state) ? "barred" : null;
    if (!why) state.kept = null;
    else if (why !== "barred" && (!state.kept || state.kept.why !== why)) state.kept = { why, since: why === "narrow" ? now : 0, from: now, at, radius, tried: false };
    return why;
  };

  // What to show: { says, radius, old, sought } with `leg` where one is known, and `why` where says is "wait". The way
  // is kept while it is followed; it is sought again where it was left.
  const update = (state, asked) => {
    const { fixed, world } = state, { now, fresh } = asked, old = now - fixed.time;
    const radius = fixed.live ? fixes.aged(fixed.radius, old) : fixed.radius;
    const seen = { says: "", radius, old, sought: false, leg: null };
    const said = (says, more) => Object.assign(seen, { says, ...more });
    if (fixed.live && old > OLD) return said("old");
    if (fixed.live && !fixed.sure) {
      state.led = null;
      return said("unsure");
    }
    const sought = () => { seek(state, radius, asked); seen.sought = true; };
    const ended = () => state.answer.refuse || state.answer.within;
    if (!state.led || (fresh && fixed.note && fixed.note !== "jump")) sought();
    if (ended()) return said(state.answer.refuse ? "refuse" : "within");
    let leg = guide.next(state.led, world, fixed.at, radius);
    const why = fixed.live ? guide.held(world, leg, fixed.at, radius, old) : null;
    if (why) return said("wait", { why });
    const repeated = leg.again || (barred(state) && now - state.computed > SETTLED);
    if (repeated && fresh && !seen.sought) {
      sought();
      if (ended()) return said(state.answer.refuse ? "refuse" : "within");
      leg = guide.next(state.led, world, fixed.at, radius);
    }
    let reason = withheld(state, leg, radius, now);
    if (reason && fresh && turned(state, radius, asked)) {
      seen.sought = true;
      leg = guide.next(state.led, world, fixed.at, radius);
      reason = withheld(state, leg, radius, now);
    }
    if (!reason) walkedOn(state, now);
    return said(reason || "leg", { leg });
  };

  return { begin, place, follow, afresh, update };
})();
