"use strict";
// Enlarges the map, shows the chosen find, sorts the table. The sheet can be read without it.
(() => {
  const all = (selector, from = document) => [...from.querySelectorAll(selector)];
  const map = document.getElementById("map");

  const move = (() => {
    if (!map) return null;
    const world = document.getElementById("world");
    const scale = document.getElementById("scale");
    const wide = map.viewBox.baseVal.width, high = map.viewBox.baseVal.height;
    const corner = scale ? scale.getAttribute("transform") : "";
    const pins = all(".pin", world).map((pin) => [pin, pin.getAttribute("transform")]);
    const metres = scale ? Number(scale.dataset.metres) : 0;
    let size = 1, left = 0, top = 0;

    const held = (value, low, highest) => Math.min(Math.max(value, low), highest);
    // on a small screen the marks are drawn larger, so that names stay as large as other text
    const marks = () => held(1.6 * wide / Math.max(map.clientWidth, 1), 1, 2.2);
    const bar = () => {
      const boxes = all("rect", scale), words = all("text:not(.rim)", scale), rims = all("text.rim", scale);
      scale.setAttribute("transform", `${corner} scale(${marks()})`);
      const wished = 60 * marks() * metres / size;
      const power = 10 ** Math.floor(Math.log10(wished));
      const half = [5, 2, 1].map((first) => first * power).find((step) => step <= wished) || power;
      const long = half * size / metres / marks();
      boxes.forEach((box, place) => { box.setAttribute("x", place * long); box.setAttribute("width", long); });
      words.forEach((text, place) => {
        const length = half * place;
        const reported = length === 0 ? "0" : length >= 1000 ? `${length / 1000} km` : `${Number(length.toPrecision(3))} m`;
        for (const letters of [text, rims[place]].filter(Boolean)) {
          letters.setAttribute("x", place * long);
          letters.textContent = reported;
        }
      });
    };
    // a name that would lie on another is left out until the map is enlarged
    const names = all("text:not(.rim)", world).filter((text) => text.closest(".pin")).map((text) => [text, text.closest(".pin")]);
    const sparse = () => {
      for (const [, pin] of names) pin.removeAttribute("visibility");
      const boxes = names.map(([text, pin]) => [text.getBoundingClientRect(), pin]);
      const shown = [];
      for (const [box, pin] of boxes) {
        const meets = (other) => box.left < other.right && other.left < box.right && box.top < other.bottom && other.top < box.bottom;
        if (shown.some(meets)) pin.setAttribute("visibility", "hidden");
        else shown.push(box);
      }
    };
    const draw = () => {
      left = held(left, wide * (1 - size), 0);
      top = held(top, high * (1 - size), 0);
      world.setAttribute("transform", `translate(${left} ${top}) scale(${size})`);
      const mark = marks() / size;
      for (const [pin, base] of pins) pin.setAttribute("transform", `${base} scale(${mark})`);
      sparse();
      map.classList.toggle("enlarged", size > 1);
      if (scale) bar();
    };
    const zoom = (factor, x = wide / 2, y = high / 2) => {
      const next = held(size * factor, 1, 60);
      left = x - (x - left) * next / size;
      top = y - (y - top) * next / size;
      size = next;
      draw();
    };
    const shift = (x, y) => { left += x; top += y; draw(); };
    const whole = () => { size = 1; left = 0; top = 0; draw(); };
    const place = (event) => {
      const box = map.getBoundingClientRect();
      return [(event.clientX - box.left) * wide / box.width, (event.clientY - box.top) * high / box.height];
    };

    const fingers = new Map();
    let dragged = 0;
    map.addEventListener("pointerdown", (event) => {
      fingers.set(event.pointerId, place(event));
      dragged = 0;
    });
    map.addEventListener("pointermove", (event) => {
      const before = fingers.get(event.pointerId);
      if (!before) return;
      const now = place(event);
      dragged += Math.hypot(now[0] - before[0], now[1] - before[1]);
      if (fingers.size === 2) {
        const other = [...fingers].find(([id]) => id !== event.pointerId)[1];
        const apart = (a) => Math.hypot(a[0] - other[0], a[1] - other[1]);
        if (apart(before) > 1) zoom(apart(now) / apart(before), (now[0] + other[0]) / 2, (now[1] + other[1]) / 2);
      } else if (dragged > 4 && size > 1) {
        if (!map.hasPointerCapture(event.pointerId)) map.setPointerCapture(event.pointerId);
        shift(now[0] - before[0], now[1] - before[1]);
      }
      fingers.set(event.pointerId, now);
    });
    const lifted = (event) => fingers.delete(event.pointerId);
    for (const name of ["pointerup", "pointercancel", "pointerleave"]) map.addEventListener(name, lifted);
    map.addEventListener("wheel", (event) => {
      // the wheel alone scrolls the page, as everywhere else
      if (!event.ctrlKey && !event.metaKey) return;
      event.preventDefault();
      zoom(event.deltaY < 0 ? 1.25 : 0.8, ...place(event));
    }, { passive: false });
    map.addEventListener("keydown", (event) => {
      const step = 60;
      const keys = {
        "+": () => zoom(1.5), "=": () => zoom(1.5), "-": () => zoom(1 / 1.5), "0": whole,
        ArrowLeft: () => shift(step, 0), ArrowRight: () => shift(-step, 0),
        ArrowUp: () => shift(0, step), ArrowDown: () => shift(0, -step),
      };
      if (!keys[event.key] || (size === 1 && event.key.startsWith("Arrow"))) return;
      event.preventDefault();
      keys[event.key]();
    });
    const tools = { in: () => zoom(1.6), out: () => zoom(1 / 1.6), all: whole };
    for (const tools_ of all(".tools")) tools_.hidden = false;
    for (const button of all("[data-map]")) button.addEventListener("click", () => tools[button.dataset.map]());
    addEventListener("resize", draw);
    draw();
    return { dragged: () => dragged > 4 };
  })();

  const cards = all(".card");
  const choose = document.getElementById("choose");
  const show = (find, bring) => {
    for (const card of cards) card.hidden = card.id !== `find-${find}`;
    if (choose) choose.hidden = true;
    for (const mark of all(".choice")) mark.setAttribute("aria-pressed", String(mark.dataset.find === find));
    for (const row of all("[data-row]")) row.classList.toggle("chosen", row.dataset.row === find);
    const card = document.getElementById(`find-${find}`);
    if (card && bring) { card.scrollIntoView({ block: "nearest" }); card.focus({ preventScroll: true }); }
  };
  if (cards.length) {
    for (const card of cards) card.hidden = true;
    if (choose) choose.hidden = false;
  }
  for (const mark of all(".choice")) {
    const inMap = map && map.contains(mark);
    mark.addEventListener("click", () => { if (!(inMap && move.dragged())) show(mark.dataset.find, false); });
    mark.addEventListener("keydown", (event) => {
      if (event.key !== "Enter" && event.key !== " ") return;
      event.preventDefault();
      show(mark.dataset.find, !inMap);
    });
  }
  for (const link of all("a[data-find]")) {
    link.addEventListener("click", (event) => { event.preventDefault(); show(link.dataset.find, true); });
  }

  const asked = /^#find-(\d+)$/.exec(location.hash);
  if (asked && cards[Number(asked[1])]) show(asked[1], false);

  const value = (row, column, kind) => {
    const cell = row.cells[column];
    if (kind !== "number") return cell.textContent.trim();
    return cell.dataset.value === undefined ? Infinity : Number(cell.dataset.value);
  };
  const sort = (table, heading, column) => {
    const down = heading.getAttribute("aria-sort") === "ascending";
    for (const other of all("thead th", table)) other.removeAttribute("aria-sort");
    heading.setAttribute("aria-sort", down ? "descending" : "ascending");
    const body = table.tBodies[0], kind = heading.dataset.kind;
    const order = (a, b) => kind === "number" ? a - b : a.localeCompare(b, undefined, { numeric: true });
    const rows = [...body.rows].map((row) => [value(row, column, kind), row]);
    rows.sort((a, b) => (a[0] === b[0] ? 0 : order(a[0], b[0])) * (down ? -1 : 1));
    for (const [, row] of rows) body.append(row);
  };
  for (const table of all("table.sorts")) all("thead th", table).forEach((heading, column) => {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = heading.textContent;
    heading.textContent = "";
    heading.append(button);
    button.addEventListener("click", () => sort(table, heading, column));
  });
})();
