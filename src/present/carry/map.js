// Draws the map on a canvas: one finger moves it, two fingers or the wheel enlarge it, up to 1:2,000.
const map = (() => {
  // a pixel of a page is 1/96 inch
  const PIXEL = 0.0254 / 96, LARGEST = 2000;
  let canvas, part, world, size = [1, 1], redraw = 0, view = { east: 0, north: 0, scale: 0.05 }, shown = {}, names = [], interval = null, onPoint = null, colours = {};

  const ink = () => {
    const style = getComputedStyle(document.documentElement);
    for (const name of ["ink", "soft", "paper", "path", "seldom", "way", "track", "safe", "closed", "site"]) {
      colours[name] = style.getPropertyValue(`--${name}`).trim();
    }
  };
  const toScreen = ([east, north]) => [
    (east - view.east) * view.scale + size[0] / 2, size[1] / 2 - (north - view.north) * view.scale,
  ];
  const toPlane = ([x, y]) => [
    (x - size[0] / 2) / view.scale + view.east, (size[1] / 2 - y) / view.scale + view.north,
  ];
  const denominator = () => 1 / (view.scale * PIXEL);
  const held = () => {
    const reach = world.data.reach_m, least = Math.min(size[0], size[1]) / (2.4 * reach);
    view.scale = Math.min(Math.max(view.scale, Math.max(least, 1e-4)), 1 / (LARGEST * PIXEL));
    view.east = Math.min(Math.max(view.east, -reach), reach);
    view.north = Math.min(Math.max(view.north, -reach), reach);
  };

  const traced = (pen, points) => {
    pen.beginPath();
    points.forEach((point, index) => { const [x, y] = toScreen(point); if (index) pen.lineTo(x, y); else pen.moveTo(x, y); });
  };
  const LETTERS = "600 14px system-ui, sans-serif", HIGH = 18;
  // Names and numbers beside their marks, where no other one stands: { text, box } with left, top, right, bottom.
  // Where there is no room, a number is left out and a safe place overlaps.
  const placed = (pen) => {
    const { data, plane } = world, found = [], [wide, high] = [size[0], size[1]];
    const all = [...data.safe.map((goal) => [goal.name, goal.at, true]), ...data.sites.map((site) => [String(site.id), site.at, false])];
    pen.font = LETTERS;
    for (const [text, at, needed] of all) {
      const [x, y] = toScreen(plane.to(at)), long = pen.measureText(text).width;
      if (x < 0 || y < 0 || x > wide || y > high) continue;
      const corners = [[x + 12, y - HIGH / 2], [x - 12 - long, y - HIGH / 2], [x - long / 2, y - 14 - HIGH], [x - long / 2, y + 12]];
      const boxes = corners.map(([left, top]) => [left, top, left + long, top + HIGH]);
      const free = (box) => box[0] > 0 && box[1] > 0 && box[2] < wide && box[3] < high
        && !found.some(({ box: one }) => box[0] < one[2] + 4 && box[2] > one[0] - 4 && box[1] < one[3] && box[3] > one[1]);
      const box = boxes.find(free) || (needed ? boxes[0] : null);
      if (box) found.push({ text, box });
    }
    return found;
  };
  const lettered = (pen) => {
    pen.font = LETTERS;
    pen.lineWidth = 4;
    pen.strokeStyle = colours.paper;
    pen.fillStyle = colours.ink;
    for (const { text, box } of names) {
      pen.strokeText(text, box[0], box[3] - 4);
      pen.fillText(text, box[0], box[3] - 4);
    }
  };

  const under = (pen) => {
    interval = ground.draw(pen, {
      ...view, wide: size[0], high: size[1], ratio: Math.min(self.devicePixelRatio || 1, 2), denominator: denominator(),
    }, names.map((one) => one.box), draw);
    for (const area of world.closed) {
      pen.beginPath();
      for (const ring of area.rings) {
        ring.forEach((point, index) => { const [x, y] = toScreen(point); if (index) pen.lineTo(x, y); else pen.moveTo(x, y); });
        pen.closePath();
      }
      pen.globalAlpha = 0.35;
      pen.fillStyle = colours.closed;
      pen.fill("evenodd");
      pen.globalAlpha = 1;
      pen.lineWidth = 3;
      pen.strokeStyle = colours.closed;
      pen.stroke();
    }
  };

  const network = (pen) => {
    const { net } = world;
    if (!net) return;
    if (!net.points) net.points = net.places.map((place) => world.plane.to(place));
    for (const often of [false, true]) {
      pen.beginPath();
      net.from.forEach((from, edge) => {
        if (net.passes[edge] === 0 || (net.passes[edge] >= paths.OFTEN) !== often) return;
        pen.moveTo(...toScreen(net.points[from]));
        pen.lineTo(...toScreen(net.points[net.to[edge]]));
      });
      pen.lineWidth = often ? 3.5 : 1.8;
      pen.setLineDash(often ? [] : [7, 4]);
      pen.strokeStyle = often ? colours.path : colours.seldom;
      pen.stroke();
    }
    pen.setLineDash([]);
  };

  const marks = (pen) => {
    const track = shown.track ? shown.track() : [];
    if (track.length > 1) {
      traced(pen, track.map((point) => world.plane.to(point.at)));
      pen.lineWidth = 3;
      pen.setLineDash([2, 5]);
      pen.strokeStyle = colours.track;
      pen.stroke();
      pen.setLineDash([]);
    }
    if (shown.way) {
      traced(pen, shown.way);
      pen.lineWidth = 6;
      pen.strokeStyle = colours.way;
      pen.stroke();
    }
    for (const site of world.data.sites) {
      const at = toScreen(world.plane.to(site.at));
      pen.beginPath();
      pen.arc(...at, Math.max(site.radius_m * view.scale, 6), 0, 7);
      pen.lineWidth = 3;
      pen.strokeStyle = colours.site;
      pen.setLineDash(site.generalised ? [4, 4] : []);
      pen.stroke();
      pen.setLineDash([]);
    }
    for (const find of shown.finds || []) {
      if (!find.at) continue;
      const [x, y] = toScreen(world.plane.to(find.at));
      pen.fillStyle = colours.site;
      pen.fillRect(x - 4, y - 4, 8, 8);
    }
    for (const goal of world.data.safe) {
      const [x, y] = toScreen(world.plane.to(goal.at));
      pen.beginPath();
      pen.moveTo(x, y - 11);
      pen.lineTo(x + 9, y + 7);
      pen.lineTo(x - 9, y + 7);
      pen.closePath();
      pen.fillStyle = colours.safe;
      pen.fill();
    }
    if (shown.here) {
      const at = toScreen(world.plane.to(shown.here.at));
      pen.beginPath();
      pen.arc(...at, Math.max(shown.here.radius * view.scale, 4), 0, 7);
      pen.lineWidth = 2;
      pen.strokeStyle = colours.ink;
      pen.stroke();
      pen.beginPath();
      pen.arc(...at, 6, 0, 7);
      pen.fillStyle = colours.way;
      pen.fill();
      pen.stroke();
    }
  };

  const furniture = (pen) => {
    const wished = 110 / view.scale, power = 10 ** Math.floor(Math.log10(wished));
    const bar = [5, 2, 1].map((one) => one * power).find((one) => one <= wished) || power;
    const y = size[1] - 14;
    pen.fillStyle = colours.paper;
    pen.fillRect(8, y - 22, bar * view.scale + 16, 32);
    pen.fillStyle = colours.ink;
    pen.fillRect(14, y, bar * view.scale, 5);
    pen.font = "600 14px system-ui, sans-serif";
    pen.fillText(bar >= 1000 ? `${bar / 1000} km` : `${bar} m`, 14, y - 6);
    pen.fillText("N", size[0] - 25, 38);
    pen.beginPath();
    pen.moveTo(size[0] - 20, 6);
    pen.lineTo(size[0] - 14, 24);
    pen.lineTo(size[0] - 26, 24);
    pen.fill();
  };

  // asking the page for the size at each point would make it lay itself out as often
  const measured = () => { size = [canvas.clientWidth, canvas.clientHeight]; return size[0] > 0; };
  const paint = () => {
    redraw = 0;
    if (!measured()) return;
    held();
    const ratio = Math.min(self.devicePixelRatio || 1, 2);
    const [wide, high] = [size[0] * ratio, size[1] * ratio].map(Math.round);
    if (canvas.width !== wide || canvas.height !== high) [canvas.width, canvas.height] = [wide, high];
    const pen = canvas.getContext("2d");
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    pen.fillStyle = colours.paper;
    pen.fillRect(0, 0, size[0], size[1]);
    names = placed(pen);
    under(pen);
    [network, marks, furniture].forEach((part) => part(pen));
    lettered(pen);
    const steeper = ground.exaggeration() > 1.05 ? `; shading exaggerated ${ground.exaggeration().toFixed(1)} times` : "";
    const words = interval ? `; contours every ${interval} m${steeper}` : "";
    document.getElementById("map-scale").textContent = `About 1:${Math.round(denominator() / 100) * 100}, true north up${words}.`;
  };
  // a map that is not shown wakes nothing; it is drawn when its part is opened
  const draw = () => { if (!redraw && !part.hidden) redraw = requestAnimationFrame(paint); };

  const zoom = (factor, [x, y] = [size[0] / 2, size[1] / 2]) => {
    measured();
    const before = toPlane([x, y]);
    view.scale *= factor;
    held();
    const after = toPlane([x, y]);
    view.east += before[0] - after[0];
    view.north += before[1] - after[1];
    draw();
  };

  const fingers = () => {
    const down = new Map();
    let moved = 0;
    const at = (event) => { const box = canvas.getBoundingClientRect(); return [event.clientX - box.left, event.clientY - box.top]; };
    canvas.addEventListener("pointerdown", (event) => {
      if (down.size === 0) moved = 0;
      down.set(event.pointerId, at(event));
      canvas.setPointerCapture(event.pointerId);
    });
    canvas.addEventListener("pointermove", (event) => {
      if (!down.has(event.pointerId)) return;
      const before = [...down.values()], last = down.get(event.pointerId), now = at(event);
      down.set(event.pointerId, now);
      moved += Math.hypot(now[0] - last[0], now[1] - last[1]);
      if (before.length === 1) {
        view.east -= (now[0] - last[0]) / view.scale;
        view.north += (now[1] - last[1]) / view.scale;
        draw();
      } else if (before.length === 2) {
        const after = [...down.values()], apart = ([a, b]) => Math.hypot(a[0] - b[0], a[1] - b[1]);
        const middle = [(after[0][0] + after[1][0]) / 2, (after[0][1] + after[1][1]) / 2];
        if (apart(before) > 0) zoom(apart(after) / apart(before), middle);
      }
    });
    const up = (event) => {
      const single = down.size === 1, point = at(event);
      down.delete(event.pointerId);
      if (single && moved < 12 && event.type === "pointerup" && onPoint) onPoint(world.plane.from(toPlane(point)), 12 / view.scale);
    };
    canvas.addEventListener("pointerup", up);
    canvas.addEventListener("pointercancel", up);
    canvas.addEventListener("wheel", (event) => { event.preventDefault(); zoom(event.deltaY < 0 ? 1.25 : 0.8, at(event)); }, { passive: false });
    canvas.addEventListener("keydown", (event) => {
      const step = 60 / view.scale;
      const keys = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, step], ArrowDown: [0, -step] };
      if (keys[event.key]) {
        event.preventDefault();
        view.east += keys[event.key][0];
        view.north += keys[event.key][1];
        draw();
      } else if (event.key === "+" || event.key === "=") zoom(1.5);
      else if (event.key === "-") zoom(1 / 1.5);
    });
  };

  const to = (place, metres) => {
    [view.east, view.north] = world.plane.to(place);
    if (metres && measured()) view.scale = Math.min(...size) / metres;
    draw();
  };

  const begin = (made) => {
    world = made;
    canvas = document.getElementById("canvas");
    part = document.getElementById("map-part");
    ink();
    ground.begin(world);
    fingers();
    for (const query of ["(prefers-color-scheme: dark)", "(forced-colors: active)"]) matchMedia(query).addEventListener("change", () => { ink(); ground.ink(); draw(); });
    addEventListener("resize", draw);
    view.scale = 360 / Math.min(2000, 2 * world.data.reach_m);
    to(world.data.safe[0].at, 0);
  };
  const show = (more) => { Object.assign(shown, more); draw(); };
  const pointed = (call) => { onPoint = call; };

  return { begin, show, draw, zoom, to, pointed, scale: denominator, names: () => names };
})();
