// The part of the page that keeps the notebook: finds, track, files.
const keeping = (() => {
  const $ = (id) => document.getElementById(id);
  const QUICK = ["soil", "litter", "moss", "dead wood", "standing dead tree", "living tree", "dung", "fruit body of another fungus"];
  const GAP = 60;
  let world, finds = [], track = [], recording = false, kept = false, open = null, lock = null, last = 0;

  const { now } = leading;
  const clock = (instant) => light.clock(instant, world.data.offsets);
  const words = (find) => {
    const name = find.name || "not determined", where = find.at ? `within ${Math.ceil(find.radius)} m` : "no position";
    const then = clock(find.time), day = then.date === clock(now()).date ? "" : `${then.date} `;
    return `${find.number}, ${day}${then.time}, ${name}, ${where}${find.photos ? `, photographs ${find.photos}` : ""}`;
  };

  const state = () => {
    $("finds").replaceChildren(...finds.map((find) => { const item = document.createElement("li"); item.textContent = words(find); return item; }));
    $("undo").disabled = finds.length === 0;
    // a file without contents would be asked about when it is imported
    $("save-table").hidden = finds.length === 0;
    progress();
    map.show({ finds });
  };

  // What is recorded, added up point by point: a day has tens of thousands.
  const sum = { points: 0, metres: 0, gaps: 0 };
  const progress = () => {
    for (; sum.points < track.length; sum.points += 1) {
      const before = track[sum.points - 1];
      if (!before) continue;
      if (before.gap) sum.gaps += 1;
      else sum.metres += earth.short(before.at, track[sum.points].at);
    }
    $("save-track").hidden = track.length === 0;
    const recorded = `${track.length} positions, ${(sum.metres / 1000).toFixed(2)} km, ${sum.gaps} ${sum.gaps === 1 ? "gap" : "gaps"}`;
    $("track-state").textContent = `${recording ? "Recording" : "Not recording"}: ${recorded}.${kept ? "" : " This browser keeps nothing: save the files before you close the page."}`;
    map.show({ track: all });
  };

  // The files are made when they are asked for.
  const files = () => {
    const [first] = finds.length ? finds : track, day = `${clock(first ? first.time : now()).date}-saved-${clock(now()).time.replace(":", "")}`;
    return {
      "save-table": [notebook.table(finds, world.data.offsets), "text/csv", `finds-${day}.csv`],
      "save-track": [notebook.gpx(track, `Track of ${day.slice(0, 10)}`), "application/gpx+xml", `track-${day}.gpx`],
    };
  };
  const linked = (id) => {
    const link = $(id);
    link.addEventListener("click", () => {
      const [text, type, name] = files()[id];
      if (link.dataset.made) URL.revokeObjectURL(link.dataset.made);
      link.href = URL.createObjectURL(new Blob([text], { type }));
      link.dataset.made = link.href;
      link.download = name;
    });
  };

  // The carried track of the day, then the recorded one: one list that grows.
  let whole = null, carried = 0;
  const all = () => {
    if (!whole) {
      whole = world.data.track.map(([latitude, longitude, time, radius, gap]) => ({ at: [latitude, longitude], time, radius, gap: gap === 1 }));
      carried = whole.length;
    }
    if (carried && track.length) whole[carried - 1].gap = true;
    while (whole.length < carried + track.length) whole.push(track[whole.length - carried]);
    return whole;
  };

  const fix = (found) => {
    if (!recording || found.time <= last) return;
    last = found.time;
    const before = track[track.length - 1];
    if (before && found.time - before.time > GAP) before.gap = true;
    const point = { at: found.at, time: found.time, radius: found.radius, gap: false };
    track.push(point);
    storage.put("track", point).catch(() => { kept = false; });
    progress();
  };

  const fields = () => {
    $("find-fields").replaceChildren(...notebook.FIELDS.flatMap(([name, head]) => {
      const label = document.createElement("label"), input = document.createElement("input");
      input.id = `find-${name}`;
      input.name = name;
      input.type = "text";
      input.autocomplete = "off";
      label.htmlFor = input.id;
      label.textContent = name === "photos" ? "Photographs (numbers)" : name === "name" ? "Name (taxon)" : head;
      return [label, input];
    }));
    const buttons = QUICK.map((text) => {
      const button = document.createElement("button");
      button.type = "button";
      button.textContent = text;
      button.setAttribute("aria-pressed", "false");
      button.addEventListener("click", () => {
        for (const other of buttons) other.setAttribute("aria-pressed", String(other === button));
        $("find-substrate").value = text;
      });
      return button;
    });
    $("quick").append(...buttons);
  };

  const begun = () => {
    const here = leading.here(), fresh = here && (!here.live || now() - here.time < 120);
    open = { time: now(), at: fresh ? here.at : null, radius: fresh ? here.radius : null };
    $("find-number").value = notebook.next(finds, world.data.first_number);
    for (const [name] of notebook.FIELDS) $(`find-${name}`).value = "";
    for (const button of $("quick").querySelectorAll("button")) button.setAttribute("aria-pressed", "false");
    const where = fresh ? `${open.at[0].toFixed(5)} ${open.at[1].toFixed(5)} within ${Math.ceil(open.radius)} m` : "no position is known; the time and your track can still place it";
    $("find-where").textContent = `${clock(open.time).time}, ${where}.`;
    $("find").hidden = false;
    $("new-find").hidden = true;
    $("find-number").focus();
  };
  const closedForm = () => { $("find").hidden = true; $("new-find").hidden = false; open = null; };

  const saved = async (event) => {
    event.preventDefault();
    const number = $("find-number").value.trim();
    if (!number || finds.some((find) => find.number === number)) {
      $("book-state").textContent = number ? `${number} is taken already: give another number.` : "A find needs a number.";
      return;
    }
    const find = { ...open, number };
    for (const [name] of notebook.FIELDS) find[name] = $(`find-${name}`).value.trim();
    find.key = `${find.time} ${number}`;
    finds.push(find);
    await storage.put("finds", find);
    closedForm();
    $("restore").hidden = true;
    $("book-state").textContent = `Saved: ${words(find)}. Write ${number} on paper.`;
    state();
  };
  const undone = async () => {
    const find = finds.pop();
    if (!find) return;
    await storage.put("undone", find);
    await storage.drop("finds", find.key);
    $("restore").hidden = false;
    $("restore").dataset.key = find.key;
    $("book-state").textContent = `Taken out: ${find.number}.`;
    state();
  };
  const restored = async () => {
    const find = (await storage.all("undone")).find((one) => one.key === $("restore").dataset.key);
    $("restore").hidden = true;
    if (!find) return;
    finds.push(find);
    await storage.put("finds", find);
    await storage.drop("undone", find.key);
    $("book-state").textContent = `Back again: ${find.number}.`;
    state();
  };

  const record = (on) => {
    recording = on;
    $("record").setAttribute("aria-pressed", String(on));
    $("record").textContent = on ? "Stop recording" : "Record track";
    storage.put("settings", { key: "recording", value: on });
    if (on) leading.watch();
    else if (track.length) track[track.length - 1].gap = true;
    state();
  };
  const awake = async () => {
    try {
      if (lock) { await lock.release(); lock = null; } else lock = await navigator.wakeLock.request("screen");
    } catch (error) {
      lock = null;
      $("track-state").textContent = "This browser cannot keep the screen on: set it in the telephone's settings.";
    }
    $("awake").setAttribute("aria-pressed", String(lock !== null));
  };

  const share = () => {
    if (!navigator.canShare) return;
    const made = () => Object.entries(files()).filter(([id]) => !$(id).hidden).map(([, [text, type, name]]) => new File([text], name, { type }));
    if (!navigator.canShare({ files: [new File(["Number"], "finds.csv", { type: "text/csv" })] })) return;
    $("share").hidden = false;
    $("share").addEventListener("click", () => { if (made().length) navigator.share({ files: made() }).catch(() => null); });
  };

  const begin = async (made) => {
    world = made;
    kept = await storage.opened();
    finds = (await storage.all("finds")).sort((a, b) => a.time - b.time);
    track = await storage.all("track");
    track.forEach((point, index) => { if (index && point.time - track[index - 1].time > GAP) track[index - 1].gap = true; });
    last = track.length ? track[track.length - 1].time : 0;
    fields();
    share();
    ["save-table", "save-track"].forEach(linked);
    $("new-find").addEventListener("click", begun);
    $("find").addEventListener("submit", saved);
    $("cancel").addEventListener("click", closedForm);
    $("undo").addEventListener("click", undone);
    $("restore").addEventListener("click", restored);
    $("record").addEventListener("click", () => record(!recording));
    $("awake").addEventListener("click", awake);
    state();
    const before = (await storage.all("settings")).find((one) => one.key === "recording");
    if (before && before.value) record(true);
  };

  const emptied = () => { finds = []; track = []; whole = null; recording = false; kept = false; };

  return { begin, fix, all, count: () => [finds.length, track.length], kept: () => kept, emptied };
})();
