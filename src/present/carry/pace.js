// Walking times by Tobler 1993 and by Naismith 1892 with Langmuir's corrections; the longer one counts.
const pace = (() => {
  const FASTEST = 6 / 3.6, OFF_PATH = 0.6, SAMPLE = 30;
  // metres a second at a slope (rise over run)
  const tobler = (slope, path) => FASTEST * Math.exp(-3.5 * Math.abs(slope + 0.05)) * (path ? 1 : OFF_PATH);
  const naismith = (length, rise, path) => {
    const climb = Math.max(rise, 0), descent = Math.max(-rise, 0);
    const fall = earth.degrees(Math.atan2(descent, length));
    const per300 = fall >= 5 && fall <= 12 ? -600 : fall > 12 ? 600 : 0;
    return Math.max(length / (path ? 5000 : 4000) * 3600 + climb / 600 * 3600 + descent / 300 * per300, 0);
  };

  // Unknown heights between known ones lie on the line between them.
  const filled = (heights) => {
    const known = heights.map((height, index) => (height === null ? -1 : index)).filter((index) => index >= 0);
    if (!known.length) return heights;
    return heights.map((height, index) => {
      if (height !== null) return height;
      const before = known.filter((one) => one < index).pop(), after = known.find((one) => one > index);
      if (before === undefined || after === undefined) return null;
      return heights[before] + (heights[after] - heights[before]) * (index - before) / (after - before);
    });
  };

  // Times, climb and the steepest slope of a straight leg; `height` gives a height or null at a place.
  const over = (from, to, path, height) => {
    const [distance, bearing] = earth.leg(from, to);
    const count = Math.min(Math.max(Math.ceil(distance / SAMPLE), 1), 10000);
    const places = Array.from({ length: count + 1 }, (_, step) => earth.between(from, to, step / count));
    const heights = filled(height ? places.map(height) : places.map(() => null));
    const sum = { distance, bearing, tobler: 0, naismith: 0, climb: 0, descent: 0, steepest: 0, known: height ? heights.every((one) => one !== null) : false };
    const length = distance / count;
    for (let step = 0; step < count; step += 1) {
      const both = heights[step] !== null && heights[step + 1] !== null;
      const rise = both ? heights[step + 1] - heights[step] : 0;
      if (length > 0) sum.tobler += length / tobler(rise / length, path);
      sum.naismith += naismith(length, rise, path);
      sum.climb += Math.max(rise, 0);
      sum.descent += Math.max(-rise, 0);
      if (length > 1) sum.steepest = Math.max(sum.steepest, earth.degrees(Math.atan2(Math.abs(rise), length)));
    }
    return sum;
  };

  return { tobler, naismith, over };
})();
