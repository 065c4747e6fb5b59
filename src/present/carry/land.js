// The field of least times across open ground: heights, times to the nearest safe place, and the move that begins
// the quickest way, on a grid of cells about the middle of the area.
const land = (() => {
  const NEARBY = [3, 80], NOWHERE = 255, NEVER = 65535, CERTAIN = 12;

  const unpacked = (stated, bytes, plane) => {
    const count = stated.columns * stated.rows;
    let at = 0;
    const numbers = () => {
      const list = new Uint16Array(count);
      let before = 0;
      for (let index = 0; index < count; index += 1) {
        before = (before + bytes[at + index] + (bytes[at + count + index] << 8)) & 0xffff;
        list[index] = before;
      }
      at += 2 * count;
      return list;
    };
    const inward = () => {
      const times = numbers(), moves = bytes.subarray(at, at + count), goals = bytes.subarray(at + count, at + 2 * count);
      at += 2 * count;
      return { times, moves, goals };
    };
    const common = { ...stated, data: null, moves_list: stated.moves, plane, heights: numbers() };
    const field = { ...common, ...inward() };
    return { ...field, wide: stated.wide ? { ...common, ...inward() } : null };
  };

  const cellAt = (field, [east, north]) => [(east - field.corner_m[0]) / field.spacing_m, (north - field.corner_m[1]) / field.spacing_m];
  const cellOf = (field, place) => cellAt(field, field.plane.to(place));
  const placeOf = (field, [column, row]) =>
    field.plane.from([field.corner_m[0] + column * field.spacing_m, field.corner_m[1] + row * field.spacing_m]);
  const index = (field, column, row) =>
    (column >= 0 && row >= 0 && column < field.columns && row < field.rows ? row * field.columns + column : -1);

  // Metres above sea level at a point of the plane, bilinear; null where unknown.
  const heightAt = (field, point) => {
    const [x, y] = cellAt(field, point);
    const column = Math.floor(x), row = Math.floor(y), right = x - column, up = y - row;
    let sum = 0;
    for (const [across, along, share] of [[0, 0, (1 - right) * (1 - up)], [1, 0, right * (1 - up)], [0, 1, (1 - right) * up], [1, 1, right * up]]) {
      if (share <= 0) continue;
      const at = index(field, column + across, row + along);
      if (at < 0 || field.heights[at] === 0) return null;
      sum += share * (field.base_m + (field.heights[at] - 1) * field.height_step_m);
    }
    return sum;
  };

  const height = (field, place) => heightAt(field, field.plane.to(place));

  const open = (field, column, row) => {
    const at = index(field, column, row);
    return at >= 0 && field.times[at] !== NEVER ? at : -1;
  };

  // The nearest cell with a way, within three cells or 80 m, that is not behind a closed area.
  const nearest = (field, place, allowed) => {
    const [x, y] = cellOf(field, place), reach = Math.max(NEARBY[0], Math.ceil(NEARBY[1] / field.spacing_m));
    const found = [];
    for (let across = -reach; across <= reach; across += 1) for (let along = -reach; along <= reach; along += 1) {
      const cell = [Math.round(x) + across, Math.round(y) + along];
      if (open(field, ...cell) >= 0) found.push({ off: Math.hypot(cell[0] - x, cell[1] - y), cell });
    }
    const best = found.sort((a, b) => a.off - b.off).find((one) => !allowed || allowed(place, placeOf(field, one.cell)));
    return best ? best.cell : null;
  };

  // Whether every cell that a straight piece touches can be walked.
  const clear = (field, from, to) => {
    const steps = Math.max(Math.ceil(Math.hypot(to[0] - from[0], to[1] - from[1]) * 4), 1);
    for (let step = 0; step <= steps; step += 1) {
      const share = step / steps;
      const column = Math.round(from[0] + (to[0] - from[0]) * share), row = Math.round(from[1] + (to[1] - from[1]) * share);
      if (open(field, column, row) < 0) return false;
    }
    return true;
  };

  // The cells to keep so that the line stays within a tolerance and crosses no cell that cannot be walked.
  const corners = (field, cells, tolerance) => {
    const keep = new Set([0, cells.length - 1]), waiting = [[0, cells.length - 1]];
    while (waiting.length) {
      const [from, to] = waiting.pop();
      if (to - from < 2) continue;
      let farthest = -1, most = -1;
      for (let at = from + 1; at < to; at += 1) {
        const off = line.aside(cells[at], cells[from], cells[to]);
        if (off > most) [farthest, most] = [at, off];
      }
      if (most > tolerance || !clear(field, cells[from], cells[to])) {
        keep.add(farthest);
        waiting.push([from, farthest], [farthest, to]);
      }
    }
    return [...keep].sort((a, b) => a - b).map((at) => cells[at]);
  };

  // A way of cells begins and ends at the places themselves: the middle of a cell beside one would be a detour.
  const between = (field, from, cells, to) => {
    const own = (place, cell) => place.every((one, axis) => Math.round(one) === cell[axis]);
    const line = [...cells], [begin, end] = [cellOf(field, from), cellOf(field, to)];
    if (own(begin, line[0])) line[0] = begin; else line.unshift(begin);
    if (line.length > 1 && own(end, line[line.length - 1])) line[line.length - 1] = end; else line.push(end);
    return line;
  };

  // The way from a place to one of the goals: { goal, seconds, places }, or null.
  const traced = (field, from, goals, allowed) => {
    let cell = nearest(field, from, allowed);
    if (!cell) return null;
    const first = index(field, ...cell), cells = [cell];
    for (let step = 0; step < field.columns * field.rows; step += 1) {
      const move = field.moves[index(field, ...cell)];
      if (move === NOWHERE) break;
      cell = [cell[0] + field.moves_list[move][0], cell[1] + field.moves_list[move][1]];
      if (open(field, ...cell) < 0) return null;
      cells.push(cell);
    }
    const goal = field.goals[first], ends = between(field, from, cells, goals[goal].at);
    const places = corners(field, ends, 0.8).map((one) => placeOf(field, one));
    return { goal, seconds: field.times[first] * field.time_step_s, places: [from, ...places.slice(1, -1), goals[goal].at] };
  };

  // With the wider margin where the position is less certain and such a way exists.
  const trace = (field, from, goals, radius, allowed) =>
    (field.wide && radius > CERTAIN && traced(field.wide, from, goals, allowed)) || traced(field, from, goals, allowed);

  // Seconds from the cell of a point of the plane; null where no way is known from it.
  const seconds = (field, point) => {
    const [column, row] = cellAt(field, point), at = open(field, Math.round(column), Math.round(row));
    return at < 0 ? null : field.times[at] * field.time_step_s;
  };

  return { unpacked, seconds, height, heightAt, trace, cellOf, placeOf, index, NEVER };
})();
