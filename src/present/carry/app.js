// Puts the page together: parts, map, plan, sites, wiping.
(() => {
  const $ = (id) => document.getElementById(id);
  const data = JSON.parse($("data").textContent);
  const clock = (instant) => light.clock(instant, data.offsets);
  const { now } = leading;
  const item = (text) => { const one = document.createElement("li"); one.textContent = text; return one; };

  const shown = (part) => {
    for (const section of document.querySelectorAll("main > section")) section.hidden = section.id !== part;
    for (const button of document.querySelectorAll("nav button")) {
      if (button.dataset.part === part) button.setAttribute("aria-current", "page");
      else button.removeAttribute("aria-current");
    }
    if (part !== "way") $("rules").open = false;
    if (part === "map-part") map.draw();
  };

  const copied = async (id, button) => {
    try {
      await navigator.clipboard.writeText($(id).textContent);
      button.textContent = "Copied";
    } catch (error) {
      getSelection().selectAllChildren($(id));
      button.textContent = "Selected: copy it";
    }
    setTimeout(() => { button.textContent = "Copy"; }, 3000);
  };

  const sun = () => {
    const [first] = data.light[0].slice(1), last = data.light[data.light.length - 1][2];
    const days = [];
    for (let day = Date.parse(`${data.day}T00:00:00Z`) / 1000, count = 0; count < 15; count += 1, day += 86400) {
      const start = day - clock(day).offset, inside = (instant) => instant >= start && instant < start + 86400;
      const change = (before, after) => {
        const index = data.light.findIndex((part, place) => place > 0 && inside(part[1]) && before(data.light[place - 1][0]) && after(part[0]));
        return index < 0 ? "\u2013" : clock(data.light[index][1]).time;
      };
      days.push([light.dayOf(new Date(day * 1000).toISOString().slice(0, 10)),
        change((one) => one === 0, (one) => one > 0), change((one) => one < 2, (one) => one === 2),
        change((one) => one === 2, (one) => one < 2), change((one) => one > 0, (one) => one === 0)]);
    }
    $("sun").querySelector("tbody").replaceChildren(...days.map((cells) => {
      const row = document.createElement("tr");
      row.append(...cells.map((text, column) => { const cell = document.createElement(column ? "td" : "th"); if (!column) cell.scope = "row"; cell.textContent = text; return cell; }));
      return row;
    }));
    const side = (data.reach_m / 500).toFixed(0);
    $("light-note").textContent = `Local time (${data.zone}), the darkest place of the ${side} km around ${data.centre[0].toFixed(3)} ${data.centre[1].toFixed(3)}, level horizon. In a valley and under trees it is dark earlier. Dark: the sun is more than 6\u00b0 below the horizon. Times are known from ${clock(first).date} to ${clock(last).date}.`;
  };

  const unknown = (world) => {
    const { declination } = data;
    const compass = { good: "", sluggish: " Near the magnetic pole a compass is unreliable here.", useless: " Near the magnetic pole a compass is unusable here." }[declination.compass];
    const list = [
      "Obstacles: fallen trees, floods, fences, cliffs, closures and hunting since the page was made.",
      "Whether a path that was walked before is still open. Paths only walked once or twice are drawn broken.",
      "Hills and trees on the horizon, cloud, your condition, injuries, load and weather: the times are for a fit walker.",
      `Magnetic anomalies. Declination ${wayout.declination(world, data.centre).toFixed(1)}\u00b0 (east positive) on ${declination.date}, \u00b1${declination.uncertainty_deg.toFixed(1)}\u00b0 (one standard deviation)${declination.stated ? ", as stated" : ", World Magnetic Model 2025"}.${compass}`,
      "Whether the clock of the telephone is right: the light is judged by it.",
    ];
    if (world.mapped) list.push("Whether a path that is only mapped is there, and open to you: the map is not your own walk.");
    if (data.paths_withheld) list.push("Known paths in the cells of sensitive finds that only outings to such finds walked: they are left out unless the passphrase opens them. The safe places and paths that other outings walked are here.");
    if (!data.land) list.push("Heights: no elevations were given, so no way across open ground is known and the times are for level ground.");
    $("unknown").replaceChildren(...list.map(item));
  };

  const sites = (world) => {
    const rows = data.sites.map((site) => {
      const name = site.name ? `${site.id} ${site.name}` : `Site ${site.id}`;
      const what = site.generalised ? `sensitive: only known within ${Math.ceil(site.radius_m)} m here` : `${site.taxa.join(", ") || "no name"}; last found ${site.last || "not known"}`;
      return item(`${name}: ${what}`);
    });
    $("sites").replaceChildren(...rows);
    $("sites-note").textContent = data.sites.length ? `${data.sites.length} on this page; ${data.withheld} generalised or withheld by a sensitivity rule.` : "This page holds no sites.";
    const { round } = data;
    $("round").hidden = !round;
    if (round) {
      $("round").textContent = round.sites.length
        ? `Round: ${round.sites.join(" \u2013 ")}. Set out ${clock(round.start).time}, turn back by ${clock(round.turn_back_by).time}, back about ${clock(round.back).time}. ${round.remark}`
        : round.remark || "No round fits.";
    }
    $("unlock").hidden = !data.sealed;
  };
  const unlocking = (world) => {
    $("unlock").addEventListener("submit", async (event) => {
      event.preventDefault();
      if (!(self.crypto && crypto.subtle)) { $("unlocked").textContent = "This browser has no cryptography for this page: open it from a secure address or as a file."; return; }
      $("unlocked").textContent = "Opening\u2026";
      try {
        const secret = await seal.open(data.sealed, $("passphrase").value);
        const ids = new Set(secret.sites.map((site) => site.id));
        data.sites = [...data.sites.filter((site) => !ids.has(site.id)), ...secret.sites];
        data.withheld = 0;
        data.sealed = null;
        if (secret.paths) await load.withPaths(world, secret.paths);
        data.paths_withheld = false;
        sites(world);
        unknown(world);
        map.draw();
        $("unlocked").textContent = "Opened until the page is closed.";
      } catch (error) {
        $("unlocked").textContent = "The passphrase does not open it.";
      }
      $("passphrase").value = "";
    });
  };

  const planned = () => {
    const chosen = $("plan-car").value, goal = data.safe[chosen === "" ? -1 : Number(chosen)];
    const back = $("plan-back").value, day = light.about(data.light, Date.parse(`${data.day}T12:00:00Z`) / 1000 - clock(Date.parse(`${data.day}T12:00:00Z`) / 1000).offset);
    const dark = day.darkFrom(day.moment);
    const late = dark !== null && back > clock(dark).time;
    $("plan-warning").hidden = !late;
    if (late) $("plan-warning").textContent = `On ${data.day} it is dark from ${clock(dark).time}: be back before.`;
    const marked = (text) => (text && data.zone === "UTC" ? `${text}Z` : text);
    const [set, turn, home, alarm] = ["plan-set", "plan-turn", "plan-back", "plan-alarm"].map((id) => marked($(id).value));
    // of times of day, the later one is that within the following half day
    const after = (first, second) => { const [a, b] = [first, second].map((text) => Number(text.slice(0, 2)) * 60 + Number(text.slice(3, 5))); return (b - a + 1440) % 1440 <= 720; };
    const missing = !goal ? "Choose where the car is." : !home ? "Write when you will be back." : !alarm ? "Write when to call without word from you." : !$("plan-whom").value.trim() ? "Write whom to call."
      : !after(home, alarm) ? "The call would come before you are due back." : turn && !after(turn, home) ? "You would turn back after you are due back." : "";
    const made = missing ? { why: missing } : message.plan({ day: data.day, car: goal.name, at: goal.at, set, turn, back: home, dark: dark === null ? null : marked(clock(dark).time), alarm, whom: $("plan-whom").value });
    const text = made.text || made.why;
    $("plan-send").hidden = !made.text;
    $("plan-message").textContent = text;
    $("plan-send").href = `sms:?body=${encodeURIComponent(text)}`;
  };
  const plan = () => {
    const option = (value, text) => { const one = document.createElement("option"); one.value = value; one.textContent = text; return one; };
    const places = data.safe.map((goal, index) => option(String(index), goal.name));
    // with several places the nearest would be a guess
    $("plan-car").replaceChildren(...(places.length > 1 ? [option("", "choose the place")] : []), ...places);
    const { round } = data;
    if (round && round.sites.length) {
      $("plan-set").value = clock(round.start).time;
      $("plan-turn").value = clock(round.turn_back_by).time;
      $("plan-back").value = clock(round.back).time;
      $("plan-alarm").value = clock(round.back + 3600).time;
    }
    $("plan-form").addEventListener("input", planned);
    $("plan-form").addEventListener("submit", (event) => event.preventDefault());
    planned();
  };

  const kept = async () => {
    const worker = document.body.dataset.worker;
    const opens = (text) => { $("kept").textContent = text; };
    if (!worker) { opens("This page is one file: it opens without a network wherever the file is kept."); return; }
    if (!("serviceWorker" in navigator)) { opens("This browser does not keep the page here: open it from an https address, or use the single file."); return; }
    try {
      await navigator.serviceWorker.register(worker);
      await navigator.serviceWorker.ready;
      opens("This page is kept: it opens without a network. Try it in flight mode before you leave.");
    } catch (error) {
      opens("This page is not kept: open it from an https address, or use the single file.");
    }
  };

  const wiping = () => {
    const asked = (on) => { $("wipe").hidden = on; $("wipe-yes").hidden = !on; $("wipe-no").hidden = !on; };
    $("wipe").addEventListener("click", () => asked(true));
    $("wipe-no").addEventListener("click", () => asked(false));
    $("wipe-yes").addEventListener("click", async () => {
      keeping.emptied();
      await storage.wipe();
      const main = document.createElement("main"), head = document.createElement("h1"), words = document.createElement("p");
      head.textContent = "Wiped";
      words.className = "warns";
      words.textContent = "Track, finds and the kept page are gone. Delete the file or the folder itself too.";
      main.append(head, words);
      document.body.replaceChildren(main);
    });
  };

  const about = () => {
    const [count, positions] = keeping.count();
    $("about").textContent = `Made by trug ${data.version} on ${new Date(data.made * 1000).toISOString().slice(0, 10)} for ${data.day}. It asks the network for nothing after loading. Kept here: ${count} finds, ${positions} positions.`;
    $("battery").textContent = `While a position is sought the telephone wakes for each fix: ${leading.wakeups()} so far; without it the page wakes every five seconds. Satellites and a lit screen use the battery most: carry a spare one.`;
  };

  const pointing = () => {
    $("point-out").addEventListener("click", () => {
      shown("map-part");
      $("pointing").hidden = false;
      map.pointed((at, room) => {
        map.pointed(null);
        $("pointing").hidden = true;
        leading.took({ at, radius: Math.max(50, room), time: now(), live: false, how: "pointed out on the map" });
        shown("way");
      });
    });
    const tools = {
      in: () => map.zoom(1.6), out: () => map.zoom(1 / 1.6),
      here: () => { const here = leading.here(); if (here) map.to(here.at, 600); },
      all: () => map.to(data.centre, 2.2 * data.reach_m),
    };
    for (const button of document.querySelectorAll("[data-map]")) button.addEventListener("click", tools[button.dataset.map]);
    const key = [["often", "path, three outings or more"], ["seldom", "walked once or twice"], ["way", "your way"], ["track", "your track"], ["closed", "closed"], ["safe", "safe place"], ["site", "site"], ...ground.key()];
    $("key").replaceChildren(...key.map(([mark, words]) => { const one = item(words), swatch = document.createElement("span"); swatch.dataset.mark = mark; one.prepend(swatch); return one; }));
  };

  const start = async () => {
    const world = await load.world(data);
    map.begin(world);
    leading.begin(world, { track: keeping.all, fix: keeping.fix });
    await keeping.begin(world);
    pointing();
    sun();
    unknown(world);
    sites(world);
    unlocking(world);
    plan();
    wiping();
    for (const button of document.querySelectorAll("nav button")) button.addEventListener("click", () => { shown(button.dataset.part); about(); scrollTo(0, 0); });
    $("copy").addEventListener("click", () => copied("message", $("copy")));
    $("plan-copy").addEventListener("click", () => copied("plan-message", $("plan-copy")));
    about();
    kept();
    // the search from the safe places is done before the first position comes
    wayout.answer(world, { at: data.centre, radius: 1, now: now(), track: null });
    document.body.dataset.ready = "yes";
  };
  start();
})();
