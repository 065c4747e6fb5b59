// The light against the walk, by the rules of the desk: never comfortable if any of the walk or its reserve is in
// twilight or dark. Instants are seconds since 1970; intervals are [light, from, to] with 0 dark, 1 civil twilight,
// 2 day.
const light = (() => {
  const DAY = 86400, HALF = 43200, AHEAD = 259200, LEAST_RESERVE = 1200;
  const reserve = (walk) => Math.max(walk * 0.25, LEAST_RESERVE);

  // The light about a moment: half a day before to three days after.
  const about = (intervals, moment) => {
    const first = moment - HALF, last = moment + AHEAD;
    const cut = intervals
      .map(([one, from, to]) => [one, Math.max(from, first), Math.min(to, last)])
      .filter(([, from, to]) => from < to);
    const known = cut.length > 0 && cut[0][1] === first && cut[cut.length - 1][2] === last;
    const at = (instant) => {
      const part = cut.find(([, from, to]) => from <= instant && instant < to);
      return part ? part[0] : 0;
    };
    const darkest = (from, to) => {
      if (!cut.length || from < cut[0][1] || to > cut[cut.length - 1][2]) return 0;
      const parts = cut.filter(([, start, end]) => end > from && start < to);
      return parts.reduce((least, [one]) => Math.min(least, one), at(from));
    };
    const changes = (from, within) => cut.slice(1)
      .map((part, index) => ({ at: part[1], before: cut[index][0], after: part[0] }))
      .filter((change) => change.at > from && change.at <= from + within);
    const darkFrom = (now) => {
      const change = changes(now, DAY).find((one) => one.after === 0);
      return change ? change.at : null;
    };
    const firstLight = (now) => {
      const change = changes(now, DAY).find((one) => one.before === 0 && one.after > 0);
      return change ? change.at : null;
    };
    // The day that holds the moment or begins within a day after it; where none does, civil twilight.
    const window = (now) => {
      const soon = ([, from, to]) => to > now && from - now <= DAY;
      const best = [2, 1].map((wanted) => cut.find((part) => part[0] === wanted && soon(part))).find(Boolean);
      if (!best) return null;
      let first = cut.indexOf(best);
      while (first > 0 && cut[first - 1][0] > 0) first -= 1;
      return { from: cut[first][1], dayFrom: best[1], to: best[2], open: best[2] >= cut[cut.length - 1][2] };
    };
    return { moment, known, at, darkest, changes, darkFrom, firstLight, window, cut };
  };

  const onFoot = (walk) => walk >= 0 && walk <= DAY;

  const latestStart = (now, walk, day) => {
    if (!onFoot(walk)) return { code: "too-long" };
    const window = day.window(now);
    if (!window) return { code: "no-light" };
    if (window.open && window.from <= now) return { code: "any-time" };
    const by = window.to - walk - reserve(walk);
    const darkUntil = window.from > now ? window.from : null;
    if (by >= Math.max(window.from, now)) return { code: "at", by, notBefore: darkUntil };
    if (darkUntil === null && by >= window.from) return { code: "passed", was: by };
    return { code: "light-too-short" };
  };

  // comfortable, tight or do-not-set-out, with the reason.
  const verdict = (now, walk, day) => {
    const arrival = now + walk, slow = arrival + reserve(walk);
    const result = (advice, reason, more) => ({
      advice, reason, arrival, slow, ...more, latest: latestStart(now, walk, day),
    });
    if (!day.known) return result("do-not-set-out", "light-not-known");
    if (!onFoot(walk)) return result("do-not-set-out", "too-long");
    if (day.at(now) === 0) {
      const first = day.firstLight(now);
      return result("do-not-set-out", first === null ? "polar-night" : "dark-now", { first });
    }
    const dark = day.darkFrom(now);
    const darkest = day.darkest(now, slow);
    if (darkest === 2) {
      // changes are of whole minutes: one may be at the very end of the walk
      const set = day.changes(slow - 1, DAY).find((change) => change.before === 2);
      return result("comfortable", set ? "before-sunset" : "no-sunset", { sunset: set ? set.at : null });
    }
    if (day.darkest(now, arrival) === 0) return result("do-not-set-out", "dark-on-the-way", { dark });
    return result("tight", dark === null ? "twilight" : "before-dark", { dark });
  };

  // The local clock: offsets are [from, seconds].
  const clock = (instant, offsets) => {
    const held = offsets.filter(([from]) => from <= instant);
    const offset = (held.length ? held[held.length - 1] : offsets[0] || [0, 0])[1];
    const local = new Date((Math.floor(instant) + offset) * 1000);
    const two = (number) => String(number).padStart(2, "0");
    return {
      time: `${two(local.getUTCHours())}:${two(local.getUTCMinutes())}`,
      seconds: two(local.getUTCSeconds()),
      date: `${local.getUTCFullYear()}-${two(local.getUTCMonth() + 1)}-${two(local.getUTCDate())}`,
      offset,
    };
  };

  const span = (seconds) => {
    const minutes = Math.round(Math.abs(seconds) / 60);
    if (minutes < 60) return `${minutes} min`;
    if (minutes < 2880) return `${Math.floor(minutes / 60)} h ${String(minutes % 60).padStart(2, "0")} min`;
    return `${Math.floor(minutes / 1440)} days`;
  };

  // 17 May
  const MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
  const dayOf = (date) => { const [, month, day] = date.split("-").map(Number); return `${day}\u00a0${MONTHS[month - 1]}`; };

  return { about, verdict, latestStart, clock, dayOf, span, reserve };
})();
