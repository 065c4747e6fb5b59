// The part of the page that leads: position, verdict, ways, next leg, message.
const leading = (() => {
  const $ = (id) => document.getElementById(id);
  const AGAIN = 15;
  let world, state = null, filter = null, watching = null, ownTrack = () => [], onFix = () => {};
  let heading = null, target = null, wakeups = 0;

  const watched = fixes.clock(() => Date.now() / 1000), { now } = watched;
  const clock = (instant) => light.clock(instant, world.data.offsets).time;
  // with the date where it is another one than today's
  const clockOn = (instant) => {
    const then = light.clock(instant, world.data.offsets), today = light.clock(now(), world.data.offsets).date;
    return then.date === today ? then.time : `${then.time} on ${light.dayOf(then.date)}`;
  };
  const three = (bearing) => String(Math.round(earth.turned(bearing)) % 360).padStart(3, "0");
  const metres = (length) => (length < 9999.5 ? `${Math.round(length)} m` : `${(length / 1000).toFixed(1)} km`);
  const rounded = (length, radius) => { const step = 10 ** Math.floor(Math.log10(Math.max(radius, 1))); return Math.round(length / step) * step; };
  const said = (id, text, state) => {
    const one = $(id);
    one.hidden = !text;
    if (one.textContent !== text) one.textContent = text;
    if (state !== undefined) one.dataset.advice = state;
  };
  const age = (seconds) => (seconds < 90 ? `${Math.round(seconds)} s` : light.span(seconds));

  const here = ({ radius, old }) => {
    const { fixed } = state, square = grid.mgrs(fixed.at, radius < 50 ? 10 : 100);
    const how = fixed.live ? `${age(old)} old, mean of ${fixed.fixes} ${fixed.fixes === 1 ? "fix" : "fixes"}` : fixed.how;
    const off = watched.off(), wrong = off ? ` The clock of the telephone is ${light.span(Math.abs(off))} ${off > 0 ? "behind" : "ahead of"} the time that its positions state: times here are those of the positions.` : "";
    said("here", `${fixed.at[0].toFixed(5)} ${fixed.at[1].toFixed(5)} within ${Math.ceil(radius)} m (95 %), ${how}. ${square}${wrong}`);
  };

  const ADVICE = {
    comfortable: "Comfortable", tight: "Tight", "do-not-set-out": "Do not set out",
  };
  const why = (verdict) => {
    const words = {
      "before-sunset": () => `sunset ${clockOn(verdict.sunset)}`, "no-sunset": () => "the sun does not set",
      "before-dark": () => `dark from ${clockOn(verdict.dark)}`, twilight: () => "twilight all night",
      "dark-on-the-way": () => `dark from ${clock(verdict.dark)}, on the way. Stay put, keep warm, make yourself seen`,
      "dark-now": () => `it is dark until ${clockOn(verdict.first)}. Stay put, keep warm, make yourself seen`,
      "polar-night": () => "no light within a day. Stay put, keep warm, make yourself seen",
      "too-long": () => "the way is longer than a day",
      "light-not-known": () => "this page has no sun times for now: make it again",
    };
    return words[verdict.reason]();
  };
  const latest = (verdict) => {
    const { latest: one } = verdict;
    if (one.code === "at" && one.notBefore !== null) return ` In the next light, from ${clockOn(one.notBefore)}, set out by ${clockOn(one.by)}.`;
    if (one.code === "at") return ` Set out by ${clockOn(one.by)}.`;
    if (one.code === "passed") return ` The latest time to set out was ${clockOn(one.was)}.`;
    if (one.code === "light-too-short") return " The next light is too short for this way.";
    return "";
  };

  const verdict = (way) => {
    if (way.closed) {
      said("verdict", "Closed ground lies between: do not follow this way as shown, go round.", "closed");
      return;
    }
    const { advice } = way.verdict, arrival = Math.ceil(way.verdict.arrival / 60) * 60;
    const due = advice === "do-not-set-out" ? "" : `: there at ${clockOn(arrival)}`;
    said("verdict", `${ADVICE[advice]}${due}; ${why(way.verdict)}.${latest(way.verdict)}`, advice);
  };

  const figures = (leg, radius) => {
    const any = leg.range >= 180;
    const range = leg.range >= 10 && !any ? ` \u00b1${Math.ceil(leg.range)}\u00b0` : "";
    $("leg-magnetic").textContent = any ? "any side" : `${three(leg.magnetic)}\u00b0${range}`;
    $("leg-true").textContent = any ? "any side" : `${three(leg.bearing)}\u00b0`;
    $("leg-distance").textContent = metres(rounded(leg.distance, radius));
    $("leg-paces").textContent = String(rounded(leg.paces, radius));
    $("leg-left").textContent = metres(rounded(leg.left, radius));
    target = any ? null : leg.magnetic;
    turn();
  };

  const turn = () => {
    const path = $("arrow").querySelector("path");
    $("arrow").classList.toggle("none", target === null);
    const by = target === null ? 0 : target - (heading ? heading.magnetic : 0);
    path.setAttribute("transform", `rotate(${by.toFixed(1)})`);
    path.toggleAttribute("hidden", target === null);
    const words = heading ? `The arrow points where to go. ${heading.trust}` : "The arrow is drawn for a telephone whose top points to magnetic north: turn yourself by the compass.";
    said("trust", words);
  };

  const shown = (leg, radius) => {
    const { fixed, led } = state;
    figures(leg, radius);
    const goal = world.data.safe[led.way.goal].name, legs = led.way.legs.length - leg.legs;
    const states = {
      there: `${goal} lies within the radius of your position: look for it.`,
      off: `Off the way by ${metres(leg.off)}: back to it first.`,
      on: leg.goal ? `Last leg, to ${goal}` : `Leg ${Math.min(legs, led.way.legs.length)} of ${led.way.legs.length}${led.way.kind === "mapped" ? ", mapped path" : ""}`,
    };
    $("leg-title").textContent = states[leg.state];
    $("leg").dataset.state = leg.state;
    $("leg").dataset.target = JSON.stringify(leg.to);
    let warning = "";
    if (leg.edge && leg.edge.inside) warning = `Your position lies inside a closed area, ${metres(leg.edge.off)} from its edge: the leg leads out of it.`;
    else if (leg.edge) warning = `A closed area begins about ${metres(Math.max(leg.edge.off - radius, 0))} away, towards ${three(leg.edge.bearing - wayout.declination(world, fixed.at))}\u00b0 (compass).`;
    else if (leg.crosses && leg.state !== "there") warning = "Closed ground lies between you and the next point: go round it.";
    if (!warning && world.plane.to(fixed.at).some((one) => Math.abs(one) > world.data.reach_m)) {
      warning = "This position lies outside the area of the page: paths, closed ground and light are not known here.";
    }
    const round = state.narrow.length ? "The quicker way leads between closed areas nearer to each other than your position is certain: this one goes round. If you see the way, choose it below. " : "";
    said("notice", `${round}${warning}`);
  };

  const legsOf = (way) => {
    const body = $("legs");
    body.replaceChildren(...way.legs.map((leg, index) => {
      const row = document.createElement("tr");
      const cells = [index + 1, `${three(leg.magnetic)}\u00b0`, `${three(leg.bearing)}\u00b0`, metres(leg.distance), leg.paces, leg.known ? `${Math.round(leg.climb)} m` : "not known"];
      row.append(...cells.map((text, column) => {
        const cell = document.createElement(column ? "td" : "th");
        if (!column) cell.scope = "row";
        cell.textContent = text;
        return cell;
      }));
      return row;
    }));
  };

  // What a button says of a way.
  const described = (way) => {
    const known = way.kind === "direct" ? "; for checking only, obstacles are not known" : "";
    const steep = way.steep ? "; steep ground, risk of falling" : "", gap = way.gap ? "; across a gap in the track" : "";
    const mapped = way.kind === "mapped" ? `; ${metres(way.mapped)} of it only mapped: whether a path is there and open to you is not known` : "";
    const level = way.heights ? "" : "; time for level ground";
    if (way.water === undefined) way.water = waters.crossed(world.base, [way.legs[0].from, ...way.legs.map((leg) => leg.to)].map((place) => world.plane.to(place)));
    const water = way.water ? `; ${waters.words(way.water)}` : "";
    return `${metres(way.distance)}, ${light.span(way.seconds)}, ${ADVICE[way.verdict.advice].toLowerCase()}${known}${mapped}${steep}${gap}${water}${level}`;
  };
  const chosen = (kind) => {
    const way = state.answer.ways.find((one) => one.kind === kind);
    if (!way) return;
    state.chosen = kind;
    lead.afresh(state);
    lead.follow(state, way);
    followed();
    update(false);
  };
  const choice = (kind) => {
    const button = document.createElement("button");
    button.type = "button";
    button.dataset.kind = kind;
    button.append(document.createElement("b"), document.createElement("span"));
    button.addEventListener("click", () => chosen(kind));
    return button;
  };
  const worded = (one, text) => { if (one.textContent !== text) one.textContent = text; };
  // The buttons stay while their ways do: one that is made again under a finger is never pressed.
  const listed = () => {
    const { answer, led } = state, list = $("ways"), held = [...list.children];
    const buttons = answer.ways.map((way) => held.find((one) => one.dataset.kind === way.kind) || choice(way.kind));
    if (buttons.length !== held.length || buttons.some((one, index) => one !== held[index])) list.replaceChildren(...buttons);
    answer.ways.forEach((way, index) => {
      const [name, rest] = buttons[index].children;
      buttons[index].setAttribute("aria-pressed", String(led !== null && led.way.kind === way.kind));
      worded(name, `${way.words}${way.closed ? ": ACROSS CLOSED GROUND" : ""}`);
      worded(rest, described(way));
    });
    const lacking = [...answer.missing.map((one) => `Not ${one.words}: ${one.why}.`), ...(world.lacking ? [world.lacking] : [])];
    const shownNow = [...$("missing").children].map((one) => one.textContent);
    if (lacking.join() === shownNow.join()) return;
    $("missing").replaceChildren(...lacking.map((text) => { const item = document.createElement("li"); item.textContent = text; return item; }));
  };

  const followed = () => {
    legsOf(state.led.way);
    map.show({ way: state.led.points });
  };

  // The rules fold up once there is a way to follow, and open again where it is better to stay.
  const visible = (on) => {
    const first = on && $("result").hidden;
    if (first) $("rules").open = state.answer.ways[0].verdict.advice === "do-not-set-out";
    $("result").hidden = !on;
    $("choices").hidden = !on;
    // the answer stands above what was pressed
    const { activeElement: pressed } = document;
    if (first && pressed && pressed.closest("#find-me, #typed")) $("way-title").scrollIntoView();
  };

  const sent = (text) => {
    $("message-part").hidden = !text;
    said("message", text);
    $("send").href = `sms:?body=${encodeURIComponent(text)}`;
  };

  // What to do where the page gives no bearing.
  const byEye = ({ leg, radius }) => {
    const path = state.led.way.kind === "known" && leg.off <= radius + 10 ? "If you see the path that you know, follow it: it does not enter the closed area. "
      : state.led.way.kind === "mapped" && leg.off <= radius + 10 ? "If you see the path of the map, follow it: by the map it does not enter the closed area. " : "";
    const back = state.answer.ways.some((way) => way.kind === "retrace") ? "go back the way you came by what you see, " : "";
    return `What you see decides. ${path}Stand still in the open for a better position, ${back}point out on the map where you are, or choose another way or safe place below.`;
  };
  // Why no bearing is shown.
  const WHY = {
    old: () => "The last position is more than an hour old: too old for a bearing. Find your position again, or type it.",
    unsure: () => `Stand still: ${state.fixed.agreed} of ${fixes.SURE} positions that agree. One alone may be far off.`,
    refuse: () => state.answer.refuse,
    within: ({ radius }) => `${state.answer.within.name} lies within the radius of your position (${Math.ceil(radius)} m): it may be in any direction. Look for it.`,
    wait: ({ old, why }) => {
      const reason = { closed: "a closed area may be near", passed: "you may be past the end of the leg" }[why];
      return `No position for ${age(old)}, and ${reason}. Stand still until there is one, in the open if you can.`;
    },
    narrow: (seen) => `No bearing: from somewhere within the radius of your position (about ${Math.ceil(seen.radius / 10) * 10} m) any bearing could lead you into a closed area. ${byEye(seen)}`,
    barred: (seen) => `No bearing: no way that keeps off the closed areas is known from here. ${byEye(seen)}`,
    stalled: (seen) => `No bearing: in 20 minutes of walking these bearings kept you within 60 m. The position is not good enough here, or something bars the way. ${byEye(seen)}`,
  };
  // After a new position or choice.
  const update = (fresh) => {
    if (!state || !state.fixed) return;
    const wished = $("goal").value;
    const seen = lead.update(state, { now: now(), fresh, track: ownTrack, only: wished === "" ? null : Number(wished) });
    here(seen);
    map.show({ here: { at: state.fixed.at, radius: seen.radius } });
    if (seen.sought) {
      const { answer } = state;
      if (state.led) followed();
      sent(answer.within ? message.here(answer.from, clock) : state.led ? message.compose(answer, clock) : "");
    }
    if (seen.says !== "leg") {
      visible(false);
      if (seen.leg) {
        $("choices").hidden = false;
        listed();
      }
      said("notice", WHY[seen.says](seen));
      return;
    }
    shown(seen.leg, seen.radius);
    const { led } = state;
    if (!seen.sought && now() - state.computed > AGAIN) {
      const rest = seen.leg.left / Math.max(led.way.distance, 1);
      state.answer.day = light.about(world.data.light, now());
      led.way.verdict = light.verdict(now(), led.way.seconds * Math.min(rest, 1.5), state.answer.day);
    }
    visible(true);
    verdict(led.way);
    listed();
  };

  const took = (stated) => {
    lead.place(state, stated);
    said("notice", "");
    update(true);
  };

  const watch = () => {
    if (!navigator.geolocation) { said("notice", "This browser gives no position: type it or point it out on the map."); return; }
    if (watching !== null) return;
    filter = fixes.filter(world.plane);
    said("here", "Waiting for a position. Stand in the open and hold the telephone still.");
    watching = navigator.geolocation.watchPosition((found) => {
      wakeups += 1;
      const { latitude, longitude, accuracy } = found.coords;
      const fix = { at: [latitude, longitude], accuracy: Math.max(accuracy, 1), time: found.timestamp / 1000 };
      const mean = filter.add(fix);
      watched.observed(fix.time);
      lead.place(state, { ...mean, live: true });
      onFix({ ...fix, radius: Math.ceil(fix.accuracy * fixes.TO_95) }, mean);
      update(true);
      if (mean.note === "jump") said("here", `${$("here").textContent}. The last fix lies far off and is not used.`);
    }, (error) => {
      const words = {
        1: "The position is not allowed. Allow it for this page in the browser's settings, type it, or point it out on the map.",
        2: "No position: no satellites in view. Go to open ground, type it, or point it out on the map.",
        3: "No position in time. Go to open ground, type it, or point it out on the map.",
      };
      if (error.code === 1) { watching = null; }
      said("notice", words[error.code] || "No position. Type it, or point it out on the map.");
    }, { enableHighAccuracy: true, maximumAge: 0, timeout: 60000 });
    $("find-me").setAttribute("aria-pressed", "true");
  };

  const compass = () => {
    const seen = (event) => {
      let magnetic = null, trust = "";
      const screenTurn = (screen.orientation && screen.orientation.angle) || 0;
      if (typeof event.webkitCompassHeading === "number" && event.webkitCompassHeading >= 0) {
        magnetic = event.webkitCompassHeading + screenTurn;
        const off = event.webkitCompassAccuracy;
        trust = off > 0 && off < 180 ? `The telephone states \u00b1${Math.round(off)}\u00b0.` : "The telephone does not know how good its compass is: do not trust it before you have turned it in a figure of eight.";
      } else if (event.absolute && event.alpha !== null) {
        magnetic = 360 - event.alpha + screenTurn;
        trust = "The telephone states no error: 15\u00b0 and more are common near metal, magnets and cases. Compare it with a compass.";
      }
      if (magnetic === null) return;
      heading = { magnetic: earth.turned(magnetic), trust: `${trust} Hold it level.` };
      turn();
    };
    const listen = () => {
      addEventListener("deviceorientationabsolute", seen);
      addEventListener("deviceorientation", seen);
      setTimeout(() => { if (!heading) said("trust", "This telephone gives no compass: use the bearing with a compass of your own."); }, 3000);
    };
    const { DeviceOrientationEvent: events } = self;
    if (events && events.requestPermission) {
      events.requestPermission().then((state) => { if (state === "granted") listen(); else said("trust", "The compass of the telephone is not allowed."); }).catch(() => said("trust", "The compass of the telephone is not allowed."));
    } else listen();
  };

  const begin = (made, { track, fix }) => {
    world = made;
    state = lead.begin(world);
    ownTrack = track;
    onFix = fix;
    const list = $("goal");
    const option = (value, text) => { const one = document.createElement("option"); one.value = value; one.textContent = text; return one; };
    list.append(option("", "the nearest in time"), ...world.data.safe.map((goal, index) => option(String(index), goal.name)));
    list.addEventListener("change", () => { state.led = null; lead.afresh(state); update(true); });
    $("find-me").addEventListener("click", watch);
    $("compass").addEventListener("click", compass);
    $("typed").addEventListener("submit", (event) => {
      event.preventDefault();
      const read = position.read($("typed-text").value);
      if (read.why) { said("notice", `Not a position: ${read.why}.`); return; }
      const radius = read.stated ? Math.hypot(read.stated, read.open) : 30 + read.open;
      took({ at: read.at, radius, time: now(), live: false, how: "as typed" });
    });
    setInterval(() => update(false), 5000);
  };

  return { begin, took, update, now, here: () => state.fixed, watching: () => watching !== null, wakeups: () => wakeups, watch };
})();
