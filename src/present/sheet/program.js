"use strict";
// Enlarges the map, links photographs, map, walk and table by the chosen find, filters and sorts. The sheet
// can be read without it.
(() => {
  const all = (selector, from = document) => [...from.querySelectorAll(selector)];
  const named = (id) => document.getElementById(id);
  const held = (value, low, high) => Math.min(Math.max(value, low), high);
  const made = (name, properties, ...inside) => {
    const element = Object.assign(document.createElement(name), properties);
    element.append(...inside);
    return element;
  };
  const map = named("map");
  let chosen = null;

  // everything that stands for a find, by its number
  const parts = new Map();
  const enter = (find, element) => {
    if (!parts.has(find)) parts.set(find, []);
    parts.get(find).push(element);
  };

  // a card is made when its find is chosen, all of them for paper
  const texts = new Map();
  for (const text of (named("cards")?.textContent ?? "").split(/(?=<article )/)) {
    const find = /^<article [^>]*id="find-(\d+)"/.exec(text);
    if (find) texts.set(find[1], text);
  }
  const elements = (text) => {
    const template = document.createElement("template");
    template.innerHTML = text;
    return [...template.content.children];
  };
  // the photographs of cards as they are asked for, and where those of a card begin
  const pictures = [], firsts = new Map(), unread = [...texts];
  const readPictures = (count) => {
    for (const [find, text] of unread.splice(0, count)) {
      const [number, ...images] = elements((text.match(/<b class="number">.*?<\/b>|<img [^>]*>/g) || []).join(""));
      firsts.set(find, pictures.length);
      for (const image of images) pictures.push({ find, number: number.textContent, src: image.getAttribute("src"), alt: image.alt });
    }
  };
  readPictures(12);
  const enlarge = (() => {
    let at = 0, dialog = null;
    const image = made("img", { alt: "" }), words = made("p", {});
    const turn = (by) => {
      at = (at + by + pictures.length) % pictures.length;
      image.src = pictures[at].src;
      image.alt = pictures[at].alt;
      words.textContent = `${pictures[at].alt} (${at + 1} of ${pictures.length})`;
    };
    const button = (text, act) => {
      const one = made("button", { type: "button", textContent: text });
      one.addEventListener("click", act);
      return one;
    };
    const build = () => {
      const built = made("dialog", {}, image, words, button("Previous", () => turn(-1)), " ", button("Next", () => turn(1)), " ", button("Close", () => built.close()));
      built.setAttribute("aria-label", "Photograph");
      built.addEventListener("keydown", (event) => {
        const by = { ArrowLeft: -1, ArrowRight: 1 }[event.key];
        if (by) turn(by);
      });
      document.body.append(built);
      return built;
    };
    return (find, place) => {
      fillStrip();
      dialog ??= build();
      at = firsts.get(find) + place;
      turn(0);
      dialog.showModal();
    };
  })();
  const cards = new Map();
  const card = (find) => {
    if (!texts.has(find)) return null;
    if (cards.has(find)) return cards.get(find);
    const [element] = elements(texts.get(find)), title = element.querySelector("h3");
    title.id = `find-${find}-title`;
    element.setAttribute("aria-labelledby", title.id);
    element.tabIndex = -1;
    for (const [place, image] of all("img", element).entries()) {
      const open = made("button", { type: "button" });
      open.setAttribute("aria-label", `Enlarge ${image.alt}`);
      image.replaceWith(open);
      open.append(image);
      open.addEventListener("click", () => enlarge(find, place));
    }
    cards.set(find, element);
    enter(find, element);
    named("panel").append(element);
    return element;
  };
  addEventListener("beforeprint", () => named("panel")?.append(...[...texts.keys()].map(card)));

  const strip = (() => {
    const strip = named("strip");
    if (!strip || ![...texts.values()].some((text) => text.includes("<img "))) return null;
    const shown = new Map();
    const add = ({ find, number, src, alt }) => {
      const small = made("img", { alt: "", loading: "lazy", decoding: "async", src });
      const button = made("button", { type: "button", tabIndex: strip.children.length ? -1 : 0, className: "choice" }, small, number);
      button.setAttribute("aria-label", alt);
      button.setAttribute("aria-pressed", "false");
      button.dataset.find = find;
      strip.append(button);
      if (!shown.has(find)) shown.set(find, button);
      return button;
    };
    let count = 0;
    const fill = () => pictures.slice(count, count = pictures.length).map(add);
    fill();
    strip.hidden = false;
    strip.parentElement.parentElement.classList.add("strip");
    const bring = (find) => {
      const button = shown.get(find);
      if (!button) return;
      strip.scrollTo({
        top: button.offsetTop - strip.offsetTop - (strip.clientHeight - button.offsetHeight) / 2,
        left: button.offsetLeft - strip.offsetLeft - (strip.clientWidth - button.offsetWidth) / 2,
      });
    };
    return { bring, fill };
  })();
  // the strip begins with the photographs that are seen first; the others come while nothing else is to be done
  const fillStrip = (cards = Infinity) => {
    readPictures(cards);
    for (const button of strip ? strip.fill() : []) {
      enter(button.dataset.find, button);
      if (button.dataset.find === chosen) button.setAttribute("aria-pressed", "true");
    }
  };

  const move = (() => {
    if (!map) return null;
    const world = named("world"), scale = named("scale"), arrow = named("arrow"), grid = named("grid");
    const wide = map.viewBox.baseVal.width, high = map.viewBox.baseVal.height;
    const metres = Number(map.dataset.metres);
    const drawn = (name, attributes, ...inside) => {
      const element = document.createElementNS("http://www.w3.org/2000/svg", name);
      for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
      element.append(...inside);
      return element;
    };
    // labels for which there is no room yet
    for (const [x, y, words] of JSON.parse(map.dataset.others)) {
      const text = drawn("text", { x: 5.4, y: 2.38 }, words);
      world.append(drawn("g", { class: "pin", transform: `translate(${x} ${y})` }, drawn("g", { class: "other", visibility: "hidden" }, text)));
    }
    const place = (pin) => /translate\(([-\d.]+) ([-\d.]+)\)/.exec(pin.getAttribute("transform")).slice(1).map(Number);
    const pins = all(".pin", world).map((pin) => [pin, ...place(pin)]);
    const finds = new Map(all(".pin > .choice", world).map((mark) => [mark.dataset.find, place(mark.parentElement)]));
    let size = 1, left = 0, top = 0, box = { x: 0, y: 0, w: wide, h: high, unit: 1 };

    // the part of the drawing that the element shows; more than the drawing where its form is another
    const look = () => {
      const matrix = map.getScreenCTM(), frame = map.getBoundingClientRect();
      if (!matrix || !matrix.a) return;
      box = { x: (frame.left - matrix.e) / matrix.a, y: (frame.top - matrix.f) / matrix.d, w: frame.width / matrix.a, h: frame.height / matrix.d, unit: matrix.a };
      rem = parseFloat(getComputedStyle(document.documentElement).fontSize) / 16;
    };
    let rem = 1;
    // marks are drawn larger where the map is small, so that names stay legible
    const marks = () => held(10.5 * rem / (6.8 * box.unit), 1, 3.2 * Math.max(1, rem));
    const bar = () => {
      const boxes = all("rect", scale), words = all("text:not(.rim)", scale), rims = all("text.rim", scale);
      const inset = (grid && grid.children.length ? 20 : 10) * marks();
      scale.setAttribute("transform", `translate(${box.x + inset} ${box.y + box.h - 16 * marks()}) scale(${marks()})`);
      // both halves of the bar and the figure at its end stay on the map
      const wished = Math.min(60 * marks(), 0.5 * (box.w - inset - 16 * marks())) * metres / size;
      const power = 10 ** Math.floor(Math.log10(wished));
      const half = [5, 2, 1].map((first) => first * power).find((step) => step <= wished) || power;
      const long = half * size / metres / marks();
      boxes.forEach((one, place) => { one.setAttribute("x", place * long); one.setAttribute("width", long); });
      words.forEach((text, place) => {
        const length = half * place;
        const reported = length === 0 ? "0" : length >= 1000 ? `${length / 1000} km` : `${Number(length.toPrecision(3))} m`;
        for (const letters of [text, rims[place]].filter(Boolean)) {
          letters.setAttribute("x", place * long);
          // the figure in the middle needs room between the others
          letters.setAttribute("visibility", place === 1 && long < 26 ? "hidden" : "visible");
          letters.textContent = reported;
        }
      });
    };

    // the UTM grid: a line at round metres, its figure where it meets the edge
    const figures = drawn("g", { id: "figures" });
    if (grid) map.insertBefore(figures, arrow);
    const numbers = (map.dataset.grid || "").split(" ").map(Number);
    const lines = () => {
      if (numbers.length !== 15) return;
      const [east, north, unit] = numbers, cx = numbers.slice(3, 9), cy = numbers.slice(9, 15);
      const of = (c, u, v) => c[0] + c[1] * u + c[2] * v + c[3] * u * u + c[4] * u * v + c[5] * v * v;
      const to = (u, v) => [of(cx, u, v), of(cy, u, v)];
      const back = (x, y) => {
        const dx = x - cx[0], dy = y - cy[0], d = cx[1] * cy[2] - cx[2] * cy[1];
        return [(dx * cy[2] - dy * cx[2]) / d, (cx[1] * dy - cy[1] * dx) / d];
      };
      const corners = [[0, 0], [1, 0], [0, 1], [1, 1]].map(([x, y]) => back((box.x + x * box.w - left) / size, (box.y + y * box.h - top) / size));
      const least = 62 * marks() * metres / size, power = 10 ** Math.floor(Math.log10(least));
      const step = [1, 2, 5, 10].map((first) => first * power).find((one) => one >= least * 0.999);
      const words = named("grid-words");
      words.textContent = words.textContent.replace(/a line every [\d.]+ k?m/, `a line every ${step >= 1000 ? `${step / 1000} km` : `${Number(step.toPrecision(3))} m`}`);
      const gridLines = [], written = [], mark = marks(), letters = 6 * mark;
      const figure = (metres, letter) => `${Math.floor(metres / 1000)} ${String(Math.round(metres % 1000)).padStart(3, "0")} ${letter}`;
      const cross = (points, along, across, value) => {
        for (let at = 1; at < points.length; at += 1) {
          const [from, to] = [points[at - 1], points[at]], share = (value - from[along]) / (to[along] - from[along]);
          if (share >= 0 && share <= 1) return from[across] + share * (to[across] - from[across]);
        }
        return null;
      };
      const write = (x, y, text, turn) => {
        const common = { x, y, "font-size": letters, "text-anchor": "middle" };
        if (turn) common.transform = `rotate(-90 ${x} ${y})`;
        written.push(drawn("text", { ...common, class: "rim", "aria-hidden": "true", "stroke-width": 0.3 * letters, "stroke-linejoin": "round" }, text), drawn("text", common, text));
      };
      for (const [axis, other, middle, letter] of [[0, 1, east, "E"], [1, 0, north, "N"]]) {
        const ends = corners.map((corner) => middle + unit * corner[axis]);
        const span = corners.map((corner) => corner[other]), low = Math.min(...span) - 0.05, highest = Math.max(...span) + 0.05;
        for (let value = Math.ceil(Math.min(...ends) / step) * step, count = 0; value <= Math.max(...ends) && count < 40; value += step, count += 1) {
          const at = (value - middle) / unit;
          const points = [0, 1, 2, 3, 4].map((part) => {
            const along = low + (highest - low) * part / 4;
            return axis === 0 ? to(at, along) : to(along, at);
          });
          gridLines.push(drawn("path", { d: `M${points.map((point) => point.map((one) => one.toFixed(3)).join(" ")).join("L")}` }));
          const seen = points.map(([x, y]) => [x * size + left, y * size + top]);
          if (axis === 0) {
            const y = box.y + box.h - 2.5 * mark, x = cross(seen, 1, 0, y);
            if (x > box.x + 24 * mark && x < box.x + box.w - 24 * mark) write(x, y, figure(value, letter), false);
          } else {
            const x = box.x + 7.5 * mark, y = cross(seen, 0, 1, x);
            if (y > box.y + 24 * mark && y < box.y + box.h - 34 * mark) write(x, y, figure(value, letter), true);
          }
        }
      }
      grid.replaceChildren(...gridLines);
      figures.replaceChildren(...written);
    };

    // a label that would lie on another is left out until the map is enlarged; crowds have a key until then
    const places = new Map(pins.map(([pin, x, y]) => [pin, [x, y]]));
    const labels = all(".pin text:not(.rim)", world).map((text) => {
      const pin = text.closest(".pin");
      return { text, pin, key: pin.querySelector(".key"), other: pin.querySelector(".other"), at: places.get(pin) };
    });
    const names = labels.filter(({ key }) => !key);
    // names and figures of the ground keep the size of their letters too
    const ground = all("#names > *", world).map((group) => {
      const text = [...group.querySelectorAll("text:not(.rim)")].pop();
      const [x, y] = ["x", "y"].map((name) => Number(text.getAttribute(name)));
      return { text, pin: group, ground: group.getAttribute("transform") || "", at: [x, y] };
    });
    const mine = (find) => {
      const at = finds.get(find);
      return at && names.find((one) => Math.hypot(one.at[0] - at[0], one.at[1] - at[1]) < 1.6)?.pin;
    };
    // what else stands for a find on the map: its circle, its number or the key of its crowd
    const circles = new Map();
    for (const circle of all("circle[cx]", world)) {
      const at = `${Number(circle.getAttribute("cx"))} ${Number(circle.getAttribute("cy"))}`;
      circles.set(at, [...circles.get(at) || [], circle]);
    }
    const apart = (one, at) => Math.hypot(one.at[0] - at[0], one.at[1] - at[1]);
    const owned = new Map();
    const own = (part, find) => owned.set(part, [...owned.get(part) || [], find]);
    const numbered = labels.filter(({ text, other }) => other || text.getAttribute("font-weight") === "bold");
    const [plainNumbers, keys] = [numbered.filter((one) => !one.key), numbered.filter((one) => one.key)];
    for (const [find, at] of finds) {
      for (const circle of circles.get(at.join(" ")) || []) own(circle, find);
      const nearest = (some) => some.reduce((a, b) => (a && apart(a, at) <= apart(b, at) ? a : b), null);
      const number = nearest(plainNumbers);
      const label = number && apart(number, at) < 1.6 ? number : nearest(keys);
      if (label) own(label.pin, find);
    }
    // a part goes when all of its finds are filtered out
    const filtered = (out) => {
      for (const [part, its] of owned) part.classList.toggle("out", its.every((find) => out.has(find)));
    };
    const spots = [...finds].map(([find, at]) => ({ at, pin: world.querySelector(`.choice[data-find="${find}"]`).parentElement }));
    const sparse = () => {
      const frame = map.getBoundingClientRect();
      // marks of other finds are not covered
      const reach = 3.4 * marks() * box.unit;
      const obstacles = spots.filter(({ pin }) => !pin.classList.contains("out")).map(({ at }) => {
        const x = frame.left + (at[0] * size + left - box.x) * box.unit, y = frame.top + (at[1] * size + top - box.y) * box.unit;
        return { at, left: x - reach, right: x + reach, top: y - reach, bottom: y + reach };
      });
      const own = mine(chosen);
      // its rim keeps the ring of the choice off the letters
      if (own && world.lastElementChild !== own) world.append(own);
      const order = labels.map((one) => ({ ...one, rank: one.pin === own ? 0 : one.other ? 2 : 1 })).sort((a, b) => a.rank - b.rank);
      // as it was made, the words of the ground lie beside all others
      const made = size === 1 && marks() === 1;
      order.push(...ground.map((one) => ({ ...one, rank: 3 })));
      const furniture = [...all("text:not(.rim)", figures), scale, arrow];
      const fixed = made ? [] : furniture.map((one) => one.getBoundingClientRect());
      // a hidden text has its box too
      for (const one of order) one.box = one.text.getBoundingClientRect();
      const shown = [];
      for (const { box: own, pin, key, other, rank, at } of order) {
        const meets = (other) => own.left < other.right && other.left < own.right && own.top < other.bottom && other.top < own.bottom;
        const away = own.right < frame.left || own.left > frame.right || own.bottom < frame.top || own.top > frame.bottom;
        const stale = key && size > 1;
        const cut = !away && (own.left < frame.left || own.right > frame.right || own.top < frame.top || own.bottom > frame.bottom);
        const covers = () => shown.some(meets) || (rank > 0 && fixed.some(meets)) || obstacles.some((mark) => meets(mark) && apart(mark, at) >= 1.6);
        const hidden = stale || cut || (size === 1 && rank === 2) || (!away && !(made && rank === 3) && covers());
        if (!hidden && !away && own.width) shown.push(own);
        if (hidden !== pin.hasAttribute("visibility")) pin.toggleAttribute("visibility");
        if (hidden) pin.setAttribute("visibility", "hidden");
        const state = hidden ? "hidden" : "visible";
        if (other && other.getAttribute("visibility") !== state) other.setAttribute("visibility", state);
      }
      // the number of the chosen find goes before a figure of the grid
      for (const figure of all("text", figures)) {
        const own = figure.getBoundingClientRect();
        const covered = !made && shown.some((other) => own.left < other.right && other.left < own.right && own.top < other.bottom && other.top < own.bottom);
        figure.setAttribute("visibility", covered ? "hidden" : "visible");
      }
    };
    // the arrow keeps to its corner of what is seen
    const room = arrow.dataset.room.split(" ").map(Number);
    const point = () => {
      const right = room[0] > wide / 2, low = room[1] > high / 2, mark = Math.min(marks(), 0.4 * box.w / (room[2] - room[0]));
      const [fromX, fromY] = [right ? room[2] : room[0], low ? room[3] : room[1]];
      const [toX, toY] = [right ? box.x + box.w - 5 : box.x + 5, low ? box.y + box.h - 5 : box.y + 5];
      arrow.setAttribute("transform", `translate(${toX} ${toY}) scale(${mark}) translate(${-fromX} ${-fromY})`);
    };
    // as they were made, marks need no scale
    let later = 0, drawnMark = 1;
    const draw = () => {
      left = held(left, wide * (1 - size), 0);
      top = held(top, high * (1 - size), 0);
      world.setAttribute("transform", `translate(${left} ${top}) scale(${size})`);
      const mark = marks() / size;
      if (mark !== drawnMark) for (const [pin, x, y] of pins) pin.setAttribute("transform", `translate(${x} ${y}) scale(${mark})`);
      if (mark !== drawnMark) for (const { pin, at: [x, y], ground: own } of ground) pin.setAttribute("transform", `translate(${x} ${y}) scale(${mark}) translate(${-x} ${-y}) ${own}`);
      drawnMark = mark;
      point();
      map.classList.toggle("enlarged", size > 1);
      lines();
      bar();
      clearTimeout(later);
      later = setTimeout(sparse, 60);
    };
    // the chosen find stays in view
    const keep = () => {
      const at = finds.get(chosen);
      if (!at) return;
      const edge = 22 * marks();
      const x = at[0] * size + left, y = at[1] * size + top;
      left += held(x, box.x + edge, box.x + box.w - edge) - x;
      top += held(y, box.y + edge, box.y + box.h - edge) - y;
    };
    const zoom = (factor, x, y) => {
      const at = finds.get(chosen);
      if (x === undefined) [x, y] = at ? [at[0] * size + left, at[1] * size + top] : [box.x + box.w / 2, box.y + box.h / 2];
      const next = held(size * factor, 1, 400);
      left = x - (x - left) * next / size;
      top = y - (y - top) * next / size;
      size = next;
      keep();
      draw();
    };
    const shift = (x, y) => { left += x; top += y; draw(); };
    const whole = () => { size = 1; left = 0; top = 0; draw(); };
    const within = (event) => {
      const frame = map.getBoundingClientRect();
      return [box.x + (event.clientX - frame.left) / box.unit, box.y + (event.clientY - frame.top) / box.unit];
    };

    // one finger scrolls the page, two move and enlarge the map
    let fingers = null;
    const pair = (event) => {
      const [a, b] = [...event.touches].map(within);
      return { apart: Math.hypot(a[0] - b[0], a[1] - b[1]), x: (a[0] + b[0]) / 2, y: (a[1] + b[1]) / 2 };
    };
    map.addEventListener("touchstart", (event) => {
      if (event.touches.length !== 2) return;
      if (event.cancelable) event.preventDefault();
      fingers = pair(event);
    }, { passive: false });
    map.addEventListener("touchmove", (event) => {
      if (!fingers || event.touches.length !== 2) return;
      if (event.cancelable) event.preventDefault();
      const now = pair(event);
      left += now.x - fingers.x;
      top += now.y - fingers.y;
      if (fingers.apart > 1) zoom(now.apart / fingers.apart, now.x, now.y);
      fingers = now;
    }, { passive: false });
    for (const name of ["touchend", "touchcancel"]) map.addEventListener(name, () => { fingers = null; });

    let drag = null, dragged = 0;
    map.addEventListener("pointerdown", (event) => {
      dragged = 0;
      if (event.pointerType !== "touch") drag = within(event);
    });
    map.addEventListener("pointermove", (event) => {
      if (!drag || event.pointerType === "touch") return;
      const now = within(event);
      dragged += Math.hypot(now[0] - drag[0], now[1] - drag[1]);
      if (dragged > 4 && size > 1) {
        if (!map.hasPointerCapture(event.pointerId)) map.setPointerCapture(event.pointerId);
        shift(now[0] - drag[0], now[1] - drag[1]);
      }
      drag = now;
    });
    for (const name of ["pointerup", "pointercancel", "pointerleave"]) map.addEventListener(name, () => { drag = null; });
    map.addEventListener("wheel", (event) => {
      // the wheel alone scrolls the page, as everywhere else
      if (!event.ctrlKey && !event.metaKey) return;
      event.preventDefault();
      zoom(event.deltaY < 0 ? 1.25 : 0.8, ...within(event));
    }, { passive: false });
    map.addEventListener("keydown", (event) => {
      const step = 60;
      const keys = { "+": () => zoom(1.5), "=": () => zoom(1.5), "-": () => zoom(1 / 1.5), "0": whole };
      const moves = {
        ArrowLeft: () => shift(step, 0), ArrowRight: () => shift(-step, 0),
        ArrowUp: () => shift(0, step), ArrowDown: () => shift(0, -step),
      };
      const act = event.shiftKey && moves[event.key] || keys[event.key];
      if (!act) return;
      event.preventDefault();
      act();
    });
    const tools = { in: () => zoom(1.6), out: () => zoom(1 / 1.6), all: whole };
    for (const button of all("[data-map]")) button.addEventListener("click", () => tools[button.dataset.map]());
    const again = () => { look(); draw(); };
    addEventListener("resize", again);
    // on paper the map is drawn as it was made
    addEventListener("beforeprint", () => { box = { x: 0, y: 0, w: wide, h: high, unit: 1.25 }; whole(); sparse(); });
    addEventListener("afterprint", again);
    look();
    draw();
    return {
      dragged: () => dragged > 4,
      reveal: () => { look(); keep(); draw(); },
      sparse,
      filtered,
    };
  })();
  for (const tools of all(".tools")) tools.hidden = false;
  if (!map) for (const button of all("[data-map]")) button.hidden = true;

  const choose = named("choose");
  if (choose) choose.hidden = false;
  // the ring that shows focus and choice; drawn where it is needed first
  const ringed = (mark) => {
    if (!mark?.matches("g.choice") || mark.querySelector(".target")) return;
    const ring = document.createElementNS("http://www.w3.org/2000/svg", "circle");
    ring.setAttribute("class", "target");
    ring.setAttribute("r", "8");
    mark.prepend(ring);
  };
  const state = (find, on) => {
    for (const part of parts.get(find) || []) {
      if (on) ringed(part);
      if (part.hasAttribute("aria-pressed")) part.setAttribute("aria-pressed", String(on));
      else if (part.classList.contains("card")) part.classList.toggle("shown", on);
      else if (part.tagName === "TR") part.classList.toggle("chosen", on);
    }
  };
  const show = (find, bring) => {
    if (chosen !== null && chosen !== find) state(chosen, false);
    chosen = find;
    if (choose) choose.hidden = find !== null;
    if (find !== null) {
      if (!firsts.has(find)) fillStrip();
      const own = card(find);
      state(find, true);
      if (strip) strip.bring(find);
      if (own && bring) { own.scrollIntoView({ block: "nearest" }); own.focus({ preventScroll: true }); }
    }
    if (move) move.reveal();
  };

  // Of a group only one element is reached by the tab key; arrows go to the others.
  const rove = (root, selector) => {
    const items = () => all(selector, root).filter((item) => !item.closest(".out"));
    for (const [place, item] of all(selector, root).entries()) {
      const reached = place ? "-1" : "0";
      if (item.getAttribute("tabindex") !== reached) item.setAttribute("tabindex", reached);
    }
    root.addEventListener("focusin", (event) => {
      const item = event.target.closest(selector);
      if (!item) return;
      for (const other of all(`${selector}[tabindex="0"]`, root)) other.setAttribute("tabindex", "-1");
      item.setAttribute("tabindex", "0");
    });
    root.addEventListener("keydown", (event) => {
      const item = event.target.closest(selector);
      if (!item || event.shiftKey || event.ctrlKey || event.metaKey || event.altKey) return;
      const list = items(), at = list.indexOf(item);
      const to = { ArrowRight: at + 1, ArrowDown: at + 1, ArrowLeft: at - 1, ArrowUp: at - 1, Home: 0, End: list.length - 1 }[event.key];
      if (to === undefined || !list[to]) return;
      event.preventDefault();
      list[to].focus();
    });
    return () => {
      const list = items();
      if (!list.length || list.some((item) => item.tabIndex === 0)) return;
      list[0].setAttribute("tabindex", "0");
    };
  };
  const groups = [];

  // The find nearest to the point is chosen; the next one where several lie there.
  const nearest = (root, event) => {
    const touch = event.pointerType ? event.pointerType === "touch" : matchMedia("(pointer: coarse)").matches;
    const marks = all(".choice", root).filter((mark) => !mark.closest(".out")).map((mark) => {
      const box = mark.querySelector("path").getBoundingClientRect();
      const x = (box.left + box.right) / 2, y = (box.top + box.bottom) / 2;
      return { mark, x, y, far: Math.hypot(event.clientX - x, event.clientY - y) };
    });
    const best = marks.reduce((a, b) => (b.far < a.far ? b : a), { far: Infinity });
    if (best.far > (touch ? 36 : 16)) return null;
    const here = marks.filter((one) => Math.hypot(one.x - best.x, one.y - best.y) < 4).map((one) => one.mark.dataset.find);
    return here[(here.indexOf(chosen) + 1) % here.length];
  };
  document.addEventListener("click", (event) => {
    const one = event.target.closest("button.choice, a[data-find]");
    if (!one) return;
    event.preventDefault();
    show(one.dataset.find, one.tagName === "A");
  });
  document.addEventListener("keydown", (event) => {
    const mark = event.target.closest("g.choice");
    if (!mark || (event.key !== "Enter" && event.key !== " ")) return;
    event.preventDefault();
    show(mark.dataset.find, false);
  });
  addEventListener("keydown", (event) => {
    if (event.key === "Escape" && chosen !== null && !document.querySelector("dialog[open]") && event.target !== named("filter")) show(null, false);
  });

  const filter = named("filter");
  if (filter) {
    let words = null;
    const apply = () => {
      unfoldAll();
      words ??= all("[data-row]").map((row) => [row.dataset.row, row.textContent.toLowerCase()]);
      const wanted = filter.value.toLowerCase().split(/\s+/).filter(Boolean);
      let count = 0;
      const gone = new Set();
      for (const [find, text] of words) {
        const out = !wanted.every((word) => text.includes(word));
        count += out ? 0 : 1;
        if (out) gone.add(find);
        for (const part of parts.get(find)) {
          const element = part.closest(".pin") || part.closest("li") || part;
          if (!part.classList.contains("card") && !element.closest(".without")) element.classList.toggle("out", out);
        }
      }
      named("matches").textContent = wanted.length ? `${count} of ${words.length} finds` : "";
      for (const mend of groups) mend();
      if (move) { move.filtered(gone); move.sparse(); }
    };
    filter.addEventListener("input", apply);
  }

  const more = named("processing-all");
  if (more) {
    more.hidden = false;
    more.addEventListener("click", () => {
      more.hidden = true;
      unfoldAll();
      const list = document.querySelector(".processing");
      list.classList.add("all");
      all("a[data-find]", list)[5].focus();
    });
  }

  const value = (row, column, kind) => {
    const cell = row.cells[column];
    if (kind !== "number") return cell.textContent.trim();
    return cell.dataset.value === undefined ? Infinity : Number(cell.dataset.value);
  };
  const sort = (table, heading, column, down = heading.getAttribute("aria-sort") === "ascending") => {
    for (const other of all("thead th", table)) other.removeAttribute("aria-sort");
    heading.setAttribute("aria-sort", down ? "descending" : "ascending");
    const body = table.tBodies[0], kind = heading.dataset.kind;
    const order = (a, b) => kind === "number" ? a - b : a.localeCompare(b, undefined, { numeric: true });
    const rows = [...body.rows].map((row) => [value(row, column, kind), row]);
    rows.sort((a, b) => (a[0] === b[0] ? 0 : order(a[0], b[0])) * (down ? -1 : 1));
    body.append(...rows.map(([, row]) => row));
  };
  const sortable = (table) => {
    const headings = all("thead th", table);
    const select = made("select", {}, ...headings.map((heading, place) => made("option", { value: place, textContent: heading.textContent })));
    select.addEventListener("change", () => sort(table, headings[select.value], Number(select.value), false));
    if (table.id === "finds") table.before(made("label", { className: "sorter" }, "Sort by ", select));
    headings.forEach((heading, column) => {
      const button = made("button", { type: "button", textContent: heading.textContent });
      heading.replaceChildren(button);
      button.addEventListener("click", () => sort(table, heading, column));
    });
  };

  // links a part of the page with the others
  const wire = (part) => {
    const within = (selector) => all(selector, part);
    for (const element of within("[data-find], [data-row]")) enter(element.dataset.find ?? element.dataset.row, element);
    for (const root of within("#map, #profile, #timeline, #strip")) {
      for (const mark of all("g.choice", root)) {
        mark.setAttribute("role", "button");
        mark.setAttribute("aria-pressed", "false");
      }
      groups.push(rove(root, ".choice"));
      if (root.id === "strip") continue;
      for (const event of ["pointerover", "focusin"]) root.addEventListener(event, ({ target }) => ringed(target.closest(".choice")));
      root.addEventListener("click", (event) => {
        if (root === map && move.dragged()) return;
        const find = nearest(root, event);
        if (find !== null) show(find, false);
      });
    }
    for (const root of within("#finds, .processing")) groups.push(rove(root, "a[data-find]"));
    for (const table of within("table.sorts")) sortable(table);
    if (chosen !== null) state(chosen, true);
  };
  // what lies below the map is text until it comes near the screen or nothing else is to be done
  const folded = new Set(all("noscript.later"));
  const unfold = (one) => {
    if (!folded.delete(one)) return;
    const fresh = elements(one.textContent);
    const into = one.dataset.into && document.querySelector(one.dataset.into);
    if (into) {
      for (const list of fresh) into.append(...list.children);
      one.remove();
      for (const element of all("[data-find]", into)) if (!(parts.get(element.dataset.find) || []).includes(element)) enter(element.dataset.find, element);
    } else {
      const whole = made("div", {}, ...fresh);
      one.replaceWith(whole);
      wire(whole);
    }
  };
  const unfoldAll = () => { fillStrip(); [...folded].forEach(unfold); };
  addEventListener("beforeprint", unfoldAll);
  const near = new IntersectionObserver((seen) => {
    for (const { isIntersecting, target } of seen) if (isIntersecting) all("noscript.later", target).forEach(unfold);
  }, { rootMargin: "300px" });
  for (const one of folded) if (!one.dataset.into) near.observe(one.parentElement);
  const idle = self.requestIdleCallback || ((act) => setTimeout(act, 100));
  const next = () => {
    const [one] = folded;
    if (one) unfold(one);
    else if (unread.length) fillStrip(25);
    else return;
    idle(next, { timeout: 2000 });
  };
  wire(document);
  const asked = /^#find-(\d+)$/.exec(location.hash);
  if (asked && texts.has(asked[1])) show(asked[1], false);
  addEventListener("load", () => setTimeout(() => idle(next, { timeout: 2000 }), 200));
})();
