// Draws the ground under the map: hill shading, contours with figures, and the features of base maps, in the classes
// of the maps of the desk. What was drawn is kept as a picture while the map moves.
const ground = (() => {
  // metres (common practice); the rule for the interval is that of the maps of the desk (Imhof 1982)
  const INTERVALS = [1, 2, 5, 10, 20, 25, 50, 100, 200, 500, 1000], INDEX = 5, POSTS_PER_INTERVAL = 3, LEGIBLE = 0.95;
  const LIGHT = [-0.5, 0.5, Math.SQRT1_2], SHOWN = 0.45, EXAGGERATED = 4, BLOCK = 16, SETTLED = 140, MARGIN = 1.25, SLICE = 8, ROWS = 12, NAMED = 8;
  const ORDER = ["other", "boundary", "water", "stream", "path", "road"];
  const WORDS = { stream: "stream", water: "water", road: "road", path: "path of the base map", boundary: "boundary", parking: "car park", summit: "summit", place: "place", other: "other" };
  const NAMES = ["contour", "figure", "water", "lake", "waterword", "road", "trail", "boundary", "other", "paper", "soft"];
  let world, relief, blocks = new Map(), colours = {}, dark = false, kept = null, shade = null, waiting = 0, job = null;

  // Slopes eastward and northward at a cell (Horn 1981); null at the edge and beside unknown heights.
  const gradient = (field, column, row) => {
    const { columns, heights } = field;
    if (column < 1 || row < 1 || column + 1 >= columns || row + 1 >= field.rows) return null;
    const at = row * columns + column, h = (across, along) => heights[at + along * columns + across];
    for (let along = -1; along <= 1; along += 1) for (let across = -1; across <= 1; across += 1) if (h(across, along) === 0) return null;
    const over = 8 * field.spacing_m / field.height_step_m;
    return [
      (h(1, -1) + 2 * h(1, 0) + h(1, 1) - h(-1, -1) - 2 * h(-1, 0) - h(-1, 1)) / over,
      (h(-1, 1) + 2 * h(0, 1) + h(1, 1) - h(-1, -1) - 2 * h(0, -1) - h(1, -1)) / over,
    ];
  };

  const measured = function* (field) {
    let least = Infinity, most = 0;
    for (const height of field.heights) if (height > 0) { least = Math.min(least, height); most = Math.max(most, height); }
    if (most === 0) return null;
    const slopes = [];
    for (let row = 1; row < field.rows; row += 3) {
      if (row % ROWS === 1) yield;
      for (let column = 1; column < field.columns; column += 2) {
        const slope = gradient(field, column, row);
        if (slope) slopes.push(Math.hypot(slope[0], slope[1]));
      }
    }
    yield;
    slopes.sort((a, b) => a - b);
    const part = (share) => slopes[Math.round((slopes.length - 1) * share)] || 0;
    const usual = part(0.9);
    return { range: (most - least) * field.height_step_m, steep: part(LEGIBLE), exaggeration: usual < 0.01 ? 1 : Math.min(Math.max(SHOWN / usual, 1), EXAGGERATED) };
  };

  // The interval for a scale; null for level ground.
  const interval = (denominator) => {
    const n = Math.sqrt(denominator / 100 + 1), wished = Math.max(n * Math.log10(n) * relief.steep, world.land.spacing_m / POSTS_PER_INTERVAL);
    const off = (one) => Math.abs(Math.log(one / wished));
    const found = INTERVALS.filter((one) => relief.range / one <= 120).sort((a, b) => off(a) - off(b))[0];
    return found && relief.range >= found ? found : null;
  };

  // The light on a row of cells: shadow over a light page, light over a dark one.
  const shadedRow = (field, image, row) => {
    const level = LIGHT[2];
    for (let column = 0; column < field.columns; column += 1) {
      const slope = gradient(field, column, row);
      if (!slope) continue;
      const [east, north] = slope.map((one) => one * relief.exaggeration);
      const lit = Math.min(Math.max((LIGHT[2] - east * LIGHT[0] - north * LIGHT[1]) / Math.sqrt(1 + east * east + north * north), 0), 1);
      const at = 4 * ((field.rows - 1 - row) * field.columns + column), strength = dark ? 0.2 * lit : 0.3 * Math.min(Math.max((level - lit) / level - 0.03, 0) / 0.65, 1);
      image.data[at] = image.data[at + 1] = image.data[at + 2] = dark ? 255 : 20;
      image.data[at + 3] = Math.round(255 * strength);
    }
  };
  // All of it as a picture.
  const shading = function* (field) {
    const picture = document.createElement("canvas");
    [picture.width, picture.height] = [field.columns, field.rows];
    const pen = picture.getContext("2d"), image = pen.createImageData(field.columns, field.rows);
    for (let row = 0; row < field.rows; row += 1) {
      shadedRow(field, image, row);
      if (row % ROWS === 0) yield;
    }
    pen.putImageData(image, 0, 0);
    return picture;
  };

  // Pieces of contours within a block of cells, by marching squares: east, north, east, north, one after the other.
  const pieces = (field, step, left, low) => {
    const name = `${step} ${left} ${low}`;
    if (blocks.has(name)) return blocks.get(name);
    const { columns, rows, heights, spacing_m: size, corner_m: corner, base_m: base, height_step_m: unit } = field;
    const common = [], strong = [], figures = [];
    for (let row = low; row < Math.min(low + BLOCK, rows - 1); row += 1) for (let column = left; column < Math.min(left + BLOCK, columns - 1); column += 1) {
      const at = row * columns + column, raw = [heights[at], heights[at + 1], heights[at + columns + 1], heights[at + columns]];
      if (!raw[0] || !raw[1] || !raw[2] || !raw[3]) continue;
      const four = raw.map((one) => base + (one - 1) * unit), top = Math.max(...four);
      for (let level = Math.ceil(Math.min(...four) / step) * step; level <= top; level += step) {
        const cuts = [], line = level + 1e-6;
        for (let edge = 0; edge < 4; edge += 1) {
          const a = four[edge] - line, b = four[(edge + 1) & 3] - line;
          if ((a < 0) === (b < 0)) continue;
          const share = a / (a - b), x = [share, 1, 1 - share, 0][edge], y = [0, share, 1, 1 - share][edge];
          cuts.push(corner[0] + (column + x) * size, corner[1] + (row + y) * size);
        }
        const index = Math.round(level / step) % INDEX === 0;
        for (let cut = 0; cut + 3 < cuts.length; cut += 4) {
          (index ? strong : common).push(cuts[cut], cuts[cut + 1], cuts[cut + 2], cuts[cut + 3]);
          if (index && figures.length < 4) figures.push([level, cuts[cut], cuts[cut + 1], cuts[cut + 2], cuts[cut + 3]]);
        }
      }
    }
    if (blocks.size > 4000) blocks.clear();
    const made = { common, strong, figures };
    blocks.set(name, made);
    return made;
  };

  const seen = (view) => {
    const field = world.land, half = [view.wide / 2 / view.scale, view.high / 2 / view.scale], found = [];
    const cell = (metres, axis) => Math.floor((metres - field.corner_m[axis]) / field.spacing_m / BLOCK) * BLOCK;
    for (let low = Math.max(cell(view.north - half[1], 1), 0); low <= cell(view.north + half[1], 1) && low < field.rows; low += BLOCK) {
      for (let left = Math.max(cell(view.east - half[0], 0), 0); left <= cell(view.east + half[0], 0) && left < field.columns; left += BLOCK) found.push([left, low]);
    }
    return found;
  };

  const contours = function* (pen, view) {
    const step = interval(view.denominator);
    if (!step) return null;
    const all = [], figures = [];
    for (const [left, low] of seen(view)) {
      all.push(pieces(world.land, step, left, low));
      yield;
    }
    for (const [kind, width] of [["common", 0.6], ["strong", 1.2]]) {
      pen.beginPath();
      for (const block of all) {
        const list = block[kind];
        for (let at = 0; at < list.length; at += 4) {
          pen.moveTo(view.x(list[at]), view.y(list[at + 1]));
          pen.lineTo(view.x(list[at + 2]), view.y(list[at + 3]));
        }
      }
      pen.lineWidth = width;
      pen.strokeStyle = colours.contour;
      pen.stroke();
    }
    for (const block of all) for (const [level, ...at] of block.figures) figures.push([level, view.x((at[0] + at[2]) / 2), view.y((at[1] + at[3]) / 2), Math.atan2(view.y(at[3]) - view.y(at[1]), view.x(at[2]) - view.x(at[0]))]);
    return { step, figures };
  };

  const word = (pen, text, x, y, size, colour, turn, free) => {
    pen.font = `${size}px system-ui, sans-serif`;
    const wide = pen.measureText(text).width, reach = turn ? wide : wide / 2;
    const box = turn ? [x - reach * 0.6, y - reach * 0.6, x + reach * 0.6, y + reach * 0.6] : [x - reach - 2, y - size * 0.7, x + reach + 2, y + size * 0.7];
    if (box[0] < 2 || box[1] < 2 || box[2] > free.wide - 2 || box[3] > free.high - 2) return;
    if (free.taken.some((one) => box[0] < one[2] && box[2] > one[0] && box[1] < one[3] && box[3] > one[1])) return;
    free.taken.push([box[0] - 6, box[1] - 3, box[2] + 6, box[3] + 3]);
    pen.save();
    pen.translate(x, y);
    if (turn) pen.rotate(turn > Math.PI / 2 ? turn - Math.PI : turn < -Math.PI / 2 ? turn + Math.PI : turn);
    pen.textAlign = "center";
    pen.textBaseline = "middle";
    pen.lineWidth = 3;
    pen.strokeStyle = colours.paper;
    pen.strokeText(text, 0, 0);
    pen.fillStyle = colour;
    pen.fillText(text, 0, 0);
    pen.restore();
  };

  const traced = (pen, view, features, shape) => {
    pen.beginPath();
    for (const feature of features) for (const one of feature.lines) {
      one.forEach((point, index) => { if (index) pen.lineTo(view.x(point[0]), view.y(point[1])); else pen.moveTo(view.x(point[0]), view.y(point[1])); });
      if (shape === 2) pen.closePath();
    }
  };
  const stroke = (pen, colour, width, dash) => {
    pen.strokeStyle = colour;
    pen.lineWidth = width;
    pen.setLineDash(dash || []);
    pen.stroke();
    pen.setLineDash([]);
  };
  const STYLE = {
    stream: (pen) => stroke(pen, colours.water, 1.2),
    water: (pen) => stroke(pen, colours.water, 1),
    road: (pen) => { stroke(pen, colours.road, 4); stroke(pen, colours.paper, 2.2); },
    path: (pen) => stroke(pen, colours.trail, 1.3, [7, 2.5]),
    boundary: (pen) => stroke(pen, colours.boundary, 1.3, [9, 3, 1.5, 3]),
    other: (pen) => stroke(pen, colours.other, 0.8, [2, 2]),
  };

  const visible = (view, feature) => {
    const half = [view.wide / 2 / view.scale, view.high / 2 / view.scale], [west, south, east, north] = feature.box;
    return west < view.east + half[0] && east > view.east - half[0] && south < view.north + half[1] && north > view.north - half[1];
  };
  const mark = (pen, kind, x, y) => {
    pen.beginPath();
    if (kind === "summit") { pen.moveTo(x, y - 5); pen.lineTo(x + 5, y + 4); pen.lineTo(x - 5, y + 4); pen.closePath(); } else if (kind === "parking") pen.rect(x - 7, y - 7, 14, 14); else pen.arc(x, y, 2.5, 0, 7);
    pen.fillStyle = kind === "summit" ? colours.soft : colours.paper;
    pen.fill();
    stroke(pen, colours.soft, 1);
    if (kind !== "parking") return;
    pen.font = "700 11px system-ui, sans-serif";
    pen.textAlign = "center";
    pen.textBaseline = "middle";
    pen.fillStyle = colours.soft;
    pen.fillText("P", x, y + 1);
    pen.textAlign = "left";
    pen.textBaseline = "alphabetic";
  };
  // The vertex in view that lies nearest to the middle of its line; of an area and a place the middle.
  const anchor = (view, feature) => {
    if (feature.shape !== 1) return [(feature.box[0] + feature.box[2]) / 2, (feature.box[1] + feature.box[3]) / 2];
    const half = [view.wide / 2.4 / view.scale, view.high / 2.4 / view.scale];
    const points = feature.lines.flat().filter((point) => Math.abs(point[0] - view.east) < half[0] && Math.abs(point[1] - view.north) < half[1]);
    return points[points.length >> 1] || null;
  };

  const features = function* (pen, view, free, lines) {
    const here = world.base.filter((feature) => visible(view, feature));
    const of = (kind, shape) => here.filter((feature) => feature.kind === kind && feature.shape === shape);
    if (!lines) {
      const lakes = of("water", 2);
      traced(pen, view, lakes, 2);
      pen.fillStyle = colours.lake;
      pen.fill("evenodd");
      for (const kind of ["parking", "summit", "place", ...ORDER]) { traced(pen, view, of(kind, 2), 2); (STYLE[kind] || STYLE.other)(pen); }
      return;
    }
    for (const kind of ORDER) { traced(pen, view, of(kind, 1), 1); STYLE[kind](pen); yield; }
    for (const feature of here.filter((one) => one.shape === 0)) {
      const [x, y] = [view.x(feature.box[0]), view.y(feature.box[1])];
      mark(pen, feature.kind, x, y);
      free.taken.push([x - 7, y - 7, x + 7, y + 7]);
    }
    const rank = (feature) => ["place", "summit", "parking", "water", "stream", "boundary", "road", "path", "other"].indexOf(feature.kind);
    const named = here.filter((feature) => feature.name).sort((a, b) => rank(a) - rank(b)), written = new Set();
    for (const [index, feature] of named.entries()) {
      if (index % NAMED === 0) yield;
      const at = written.has(feature.name) ? null : anchor(view, feature);
      if (!at) continue;
      const water = feature.kind === "water" || feature.kind === "stream", before = free.taken.length;
      word(pen, feature.name, view.x(at[0]), view.y(at[1]) - (feature.shape === 0 ? 15 : 0), 12, water ? colours.waterword : colours.soft, 0, free);
      if (free.taken.length > before) written.add(feature.name);
    }
  };

  // The picture of a view, in pieces, so that the page answers in between.
  const painting = function* (view, names) {
    const picture = document.createElement("canvas");
    [picture.width, picture.height] = [view.wide * view.ratio, view.high * view.ratio].map(Math.round);
    const pen = picture.getContext("2d"), free = { taken: [...names], wide: view.wide, high: view.high };
    pen.setTransform(view.ratio, 0, 0, view.ratio, 0, 0);
    pen.fillStyle = colours.paper;
    pen.fillRect(0, 0, view.wide, view.high);
    if (relief === undefined) {
      relief = world.land ? yield* measured(world.land) : null;
      yield;
    }
    if (relief) {
      const field = world.land, size = field.spacing_m * view.scale;
      shade = shade || (yield* shading(field));
      pen.imageSmoothingQuality = "high";
      pen.drawImage(shade, view.x(field.corner_m[0]) - size / 2, view.y(field.corner_m[1] + (field.rows - 1) * field.spacing_m) - size / 2, field.columns * size, field.rows * size);
    }
    yield* features(pen, view, free, false);
    yield;
    const found = relief ? yield* contours(pen, view) : null;
    yield;
    yield* features(pen, view, free, true);
    yield;
    if (found) for (const [level, x, y, turn] of found.figures) word(pen, String(level), x, y, 11, colours.figure, turn || 1e-9, free);
    return { picture, view, step: found && found.step };
  };

  const work = (mine, again) => {
    if (mine !== job) return;
    const until = performance.now() + SLICE;
    do {
      const piece = mine.pieces.next();
      if (piece.done) {
        [kept, job] = [piece.value, null];
        again();
        return;
      }
    } while (performance.now() < until);
    setTimeout(() => work(mine, again), 0);
  };
  const covered = (by, view) => by && by.scale === view.scale && by.wide === view.wide * MARGIN && by.high === view.high * MARGIN
    && Math.abs(by.east - view.east) * view.scale <= (by.wide - view.wide) / 2 && Math.abs(by.north - view.north) * view.scale <= (by.high - view.high) / 2;

  // Draws the ground for a view { east, north, scale, wide, high, ratio, denominator } as far as it is painted; paints
  // it when the view has settled, and then `again` draws the map once more. `names` are boxes on the screen that stay
  // free. Returns the interval of the contours.
  const draw = (pen, view, names, again) => {
    if (!world.land && !world.base.length) return null;
    if (!covered(kept && kept.view, view) && !covered(job && job.view, view)) {
      job = null;
      clearTimeout(waiting);
      const grown = { ...view, wide: view.wide * MARGIN, high: view.high * MARGIN };
      const aside = [(grown.wide - view.wide) / 2, (grown.high - view.high) / 2];
      grown.x = (east) => (east - view.east) * view.scale + grown.wide / 2;
      grown.y = (north) => grown.high / 2 - (north - view.north) * view.scale;
      const boxes = names.map((box) => box.map((one, side) => one + aside[side % 2]));
      waiting = setTimeout(() => {
        job = { view: grown, pieces: painting(grown, boxes) };
        work(job, again);
      }, kept ? SETTLED : 0);
    }
    if (!kept) return null;
    const factor = view.scale / kept.view.scale;
    const wide = kept.view.wide * factor, high = kept.view.high * factor;
    const x = (kept.view.east - view.east) * view.scale + view.wide / 2 - wide / 2, y = (view.north - kept.view.north) * view.scale + view.high / 2 - high / 2;
    pen.drawImage(kept.picture, x, y, wide, high);
    return kept.step;
  };

  const ink = () => {
    const style = getComputedStyle(document.documentElement);
    for (const name of NAMES) colours[name] = style.getPropertyValue(`--${name}`).trim();
    dark = matchMedia("(prefers-color-scheme: dark)").matches;
    [kept, shade, job] = [null, null, null];
  };
  const begin = (made) => {
    world = made;
    ink();
  };
  // What the key of the map lists: the classes that the page holds, and the exaggeration of the shading.
  const key = () => {
    const kinds = ["stream", "water", "road", "path", "boundary", "parking", "summit", "place", "other"].filter((kind) => world.base.some((one) => one.kind === kind));
    return kinds.map((kind) => [`base-${kind}`, WORDS[kind]]);
  };
  const exaggeration = () => (relief ? relief.exaggeration : 1);

  return { begin, draw, ink, key, exaggeration };
})();
