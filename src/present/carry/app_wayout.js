// The part of the page that leads: position, verdict, ways, next leg, message.
const leading = (() => {
  const $ = (id) => document.getElementById(id);
  const AGAIN = 15, OLD = 3600;
  let world, fixed = null, filter = null, watching = null, chosen = null, led = null, answer = null, computed = 0, ownTrack = () => [], onFix = () => {};
  let heading = null, target = null, wakeups = 0;

  const now = () => Date.now() / 1000;
  const clock = (instant) => light.clock(instant, world.data.offsets).time;
  // with the date where it is another one than today's
  const clockOn = (instant) => {
    const then = light.clock(instant, world.data.offsets), today = light.clock(now(), world.data.offsets).date;
    return then.date === today ? then.time : `${then.time} on ${then.date}`;
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

  const here = () => {
    if (!fixed) return;
    const old = now() - fixed.time, radius = fixed.live ? fixes.aged(fixed.radius, old) : fixed.radius;
    const square = grid.mgrs(fixed.at, radius < 50 ? 10 : 100);
    const how = fixed.live ? `${age(old)} old, mean of ${fixed.fixes} ${fixed.fixes === 1 ? "fix" : "fixes"}` : fixed.how;
    said("here", `${fixed.at[0].toFixed(5)} ${fixed.at[1].toFixed(5)} within ${Math.ceil(radius)} m (95 %), ${how}. ${square}`);
    return radius;
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

  const lead = (radius) => {
    const leg = guide.next(led, world, fixed.at, radius);
    figures(leg, radius);
    const goal = world.data.safe[led.way.goal].name, legs = led.way.legs.length - leg.legs;
    const states = {
      there: `${goal} lies within the radius of your position: look for it.`,
      off: `Off the way by ${metres(leg.off)}: back to it first.`,
      on: leg.goal ? `Last leg, to ${goal}` : `Leg ${Math.min(legs, led.way.legs.length)} of ${led.way.legs.length}`,
    };
    $("leg-title").textContent = states[leg.state];
    $("leg").dataset.state = leg.state;
    $("leg").dataset.target = JSON.stringify(leg.to);
    let warning = "";
    if (leg.edge && leg.edge.inside) warning = `You are inside a closed area: leave it by ${three(leg.edge.bearing - wayout.declination(world, fixed.at))}\u00b0 (compass), ${metres(leg.edge.off)}.`;
    else if (leg.edge) warning = `A closed area begins about ${metres(Math.max(leg.edge.off - radius, 0))} away, towards ${three(leg.edge.bearing - wayout.declination(world, fixed.at))}\u00b0 (compass).`;
    else if (leg.crosses && leg.state !== "there") warning = "Closed ground lies between you and the next point: go round it.";
    if (!warning && world.plane.to(fixed.at).some((one) => Math.abs(one) > world.data.reach_m)) {
      warning = "This position lies outside the area of the page: paths, closed ground and light are not known here.";
    }
    said("notice", warning);
    return leg;
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

  const listed = () => {
    $("ways").replaceChildren(...answer.ways.map((way) => {
      const button = document.createElement("button"), name = document.createElement("b"), rest = document.createElement("span");
      button.type = "button";
      button.dataset.kind = way.kind;
      button.setAttribute("aria-pressed", String(led !== null && led.way.kind === way.kind));
      name.textContent = `${way.words}${way.closed ? ": ACROSS CLOSED GROUND" : ""}`;
      const known = way.kind === "direct" ? "; for checking only, obstacles are not known" : "";
      const steep = way.steep ? "; steep ground, risk of falling" : "", gap = way.gap ? "; across a gap in the track" : "";
      const level = way.heights ? "" : "; time for level ground";
      if (way.water === undefined) way.water = waters.crossed(world.base, [way.legs[0].from, ...way.legs.map((leg) => leg.to)].map((place) => world.plane.to(place)));
      const water = way.water ? `; ${waters.words(way.water)}` : "";
      rest.textContent = `${metres(way.distance)}, ${light.span(way.seconds)}, ${ADVICE[way.verdict.advice].toLowerCase()}${known}${steep}${gap}${water}${level}`;
      button.append(name, rest);
      button.addEventListener("click", () => { chosen = way.kind; follow(way); update(false); });
      return button;
    }));
    const missing = answer.missing.map((one) => { const item = document.createElement("li"); item.textContent = `Not ${one.words}: ${one.why}.`; return item; });
    if (world.lacking) { const item = document.createElement("li"); item.textContent = world.lacking; missing.push(item); }
    $("missing").replaceChildren(...missing);
  };

  const follow = (way) => {
    led = guide.begin(way, world);
    legsOf(way);
    map.show({ way: led.points });
  };

  // The rules fold up once there is a way to follow, and open again where it is better to stay.
  const visible = (on) => {
    if (on && $("result").hidden) $("rules").open = answer.ways[0].verdict.advice === "do-not-set-out";
    $("result").hidden = !on;
    $("choices").hidden = !on;
  };

  const compute = (radius) => {
    const wished = $("goal").value;
    const track = ownTrack();
    answer = wayout.answer(world, { at: fixed.at, radius, now: now(), track, only: wished === "" ? null : Number(wished) });
    answer.from && (answer.from.when = fixed.time);
    computed = now();
    if (answer.refuse || answer.within) {
      led = null;
      visible(false);
      said("notice", answer.refuse || `${answer.within.name} lies within the radius of your position (${Math.ceil(radius)} m): it may be in any direction. Look for it.`);
      const text = answer.within ? message.here(answer.from, clock) : "";
      said("message", text);
      $("message-part").hidden = !text;
      return;
    }
    const same = answer.ways.find((way) => way.kind === chosen);
    if (!same) chosen = null;
    follow(same || answer.ways[0]);
    const text = message.compose(answer, clock);
    $("message-part").hidden = false;
    said("message", text);
    $("send").href = `sms:?body=${encodeURIComponent(text)}`;
    visible(true);
  };

  // After a new position or choice. The way is kept while it is followed; it is sought again where it was left.
  const update = (fresh) => {
    if (!fixed) return;
    const radius = here(), old = now() - fixed.time;
    map.show({ here: { at: fixed.at, radius } });
    if (fixed.live && old > OLD) {
      visible(false);
      said("notice", "The last position is more than an hour old: too old for a bearing. Find your position again, or type it.");
      return;
    }
    if (fixed.live && !fixed.sure) {
      led = null;
      visible(false);
      said("notice", `Stand still: ${fixed.agreed} of ${fixes.SURE} positions that agree. One alone may be far off.`);
      return;
    }
    if (!led || (fresh && fixed.note && fixed.note !== "jump") || answer.refuse || answer.within) compute(radius);
    if (!led) return;
    let leg = lead(radius);
    const why = fixed.live ? guide.held(world, leg, fixed.at, radius, old) : null;
    if (why) {
      visible(false);
      const reason = { closed: "a closed area may be near", passed: "you may be past the end of the leg" }[why];
      said("notice", `No position for ${age(old)}, and ${reason}. Stand still until there is one, in the open if you can.`);
      return;
    }
    if ($("result").hidden) visible(true);
    if (leg.again && fresh) {
      compute(radius);
      if (led) leg = lead(radius);
    } else if (now() - computed > AGAIN) {
      const day = light.about(world.data.light, now()), rest = leg.left / Math.max(led.way.distance, 1);
      answer.day = day;
      led.way.verdict = light.verdict(now(), led.way.seconds * Math.min(rest, 1.5), day);
    }
    if (led) {
      verdict(led.way);
      listed();
    }
  };

  const took = (stated) => {
    fixed = stated;
    led = null;
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
      const mean = filter.add(fix), first = !fixed || !fixed.live;
      fixed = { ...mean, live: true };
      if (first) led = null;
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
    ownTrack = track;
    onFix = fix;
    const list = $("goal");
    const option = (value, text) => { const one = document.createElement("option"); one.value = value; one.textContent = text; return one; };
    list.append(option("", "the safe place nearest in time"), ...world.data.safe.map((goal, index) => option(String(index), goal.name)));
    list.addEventListener("change", () => { led = null; update(true); });
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

  return { begin, took, update, here: () => fixed, watching: () => watching !== null, wakeups: () => wakeups, watch };
})();
