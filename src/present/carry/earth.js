"use strict";
// Distances, bearings and a plane on WGS 84. Positions are [latitude, longitude] in degrees; lengths are metres.
const earth = (() => {
  const EQUATOR = 6378137, FLATTENING = 1 / 298.257223563, POLE = EQUATOR * (1 - FLATTENING);
  const ECCENTRICITY2 = FLATTENING * (2 - FLATTENING);
  const radians = (degrees) => degrees * Math.PI / 180;
  const degrees = (angle) => angle * 180 / Math.PI;
  const turned = (angle) => ((angle % 360) + 360) % 360;
  // to -180 up to 180
  const shortest = (angle) => turned(angle + 180) - 180;

  // Distance and true bearing at the start. Vincenty 1975, Survey Review 23 (176), 88-93, the inverse solution.
  // Between points that lie nearly opposite on the Earth it does not converge; the page has none.
  const leg = (from, to) => {
    const turn = radians(shortest(to[1] - from[1]));
    const reduced = (latitude) => Math.atan((1 - FLATTENING) * Math.tan(radians(latitude)));
    const u1 = reduced(from[0]), u2 = reduced(to[0]);
    const [s1, c1, s2, c2] = [Math.sin(u1), Math.cos(u1), Math.sin(u2), Math.cos(u2)];
    let along = turn, sine = 0, cosine = 1, sigma = 0, square = 1, middle = 0, azimuth = 0;
    for (let step = 0; step < 100; step += 1) {
      const [sl, cl] = [Math.sin(along), Math.cos(along)];
      sine = Math.hypot(c2 * sl, c1 * s2 - s1 * c2 * cl);
      cosine = s1 * s2 + c1 * c2 * cl;
      sigma = Math.atan2(sine, cosine);
      if (sine === 0) return [0, 0];
      const alpha = c1 * c2 * sl / sine;
      square = 1 - alpha * alpha;
      middle = square > 1e-15 ? cosine - 2 * s1 * s2 / square : 0;
      const c = FLATTENING / 16 * square * (4 + FLATTENING * (4 - 3 * square));
      const before = along;
      along = turn + (1 - c) * FLATTENING * alpha
        * (sigma + c * sine * (middle + c * cosine * (2 * middle * middle - 1)));
      azimuth = Math.atan2(c2 * Math.sin(along), c1 * s2 - s1 * c2 * Math.cos(along));
      if (Math.abs(along - before) < 1e-13) break;
    }
    const u = square * (EQUATOR * EQUATOR - POLE * POLE) / (POLE * POLE);
    const a = 1 + u / 16384 * (4096 + u * (-768 + u * (320 - 175 * u)));
    const b = u / 1024 * (256 + u * (-128 + u * (74 - 47 * u)));
    const m2 = middle * middle;
    const off = b * sine * (middle + b / 4 * (cosine * (2 * m2 - 1)
      - b / 6 * middle * (4 * sine * sine - 3) * (4 * m2 - 3)));
    return [POLE * a * (sigma - off), turned(degrees(azimuth))];
  };

  // Radii of curvature: of the meridian and of the prime vertical.
  const radii = (latitude) => {
    const w = 1 - ECCENTRICITY2 * Math.sin(latitude) ** 2;
    return [EQUATOR * (1 - ECCENTRICITY2) / (w * Math.sqrt(w)), EQUATOR / Math.sqrt(w)];
  };

  // The length of a short line by the radii of curvature at its middle: a millimetre up to 2 km.
  const short = (from, to) => {
    const middle = radians((from[0] + to[0]) / 2);
    const [meridian, normal] = radii(middle);
    const north = radians(to[0] - from[0]) * meridian;
    return Math.hypot(north, radians(shortest(to[1] - from[1])) * normal * Math.cos(middle));
  };

  // A plane that touches the ellipsoid at its origin: transverse Mercator about its meridian by series, turned
  // to true distances from the origin. Snyder 1987, USGS Professional Paper 1395, chapters 8 and 25.
  const plane = (origin) => {
    const at = radians(origin[0]);
    const [m, n] = radii(at);
    const mean = Math.sqrt(m * n);
    const to = (place) => {
      const latitude = radians(place[0]), east = radians(shortest(place[1] - origin[1]));
      const sine = Math.sin(latitude), cosine = Math.cos(latitude);
      const tangent2 = (sine / cosine) ** 2, normal = radii(latitude)[1];
      const curve = ECCENTRICITY2 / (1 - ECCENTRICITY2) * cosine * cosine;
      const along = east * cosine, along2 = along * along;
      const middle = radii((at + latitude) / 2)[0];
      const arc = (latitude - at) * (m + 4 * middle + radii(latitude)[0]) / 6;
      const x = normal * along * (1 + along2 / 6 * (1 - tangent2 + curve)
        + along2 * along2 / 120 * (5 - 18 * tangent2 + tangent2 * tangent2));
      const y = arc + normal * sine / cosine * along2 / 2 * (1 + along2 / 12 * (5 - tangent2 + 9 * curve));
      const u = x / mean, v = y / mean;
      return [x * (1 - (u * u - v * v) / 6), y * (1 - u * u / 3)];
    };
    const from = ([east, north]) => {
      let latitude = origin[0], longitude = origin[1], e = east, n2 = north;
      for (let step = 0; step < 6; step += 1) {
        const [meridian, normal] = radii(radians(latitude));
        latitude += degrees(n2 / meridian);
        longitude += degrees(e / (normal * Math.cos(radians(latitude))));
        const got = to([latitude, longitude]);
        e = east - got[0];
        n2 = north - got[1];
        if (Math.abs(e) + Math.abs(n2) < 1e-6) break;
      }
      return [latitude, shortest(longitude)];
    };
    return { to, from };
  };

  // A point on a line, by its share; good to a centimetre on lines of some kilometres.
  const between = (from, to, share) => [
    from[0] + (to[0] - from[0]) * share,
    shortest(from[1] + shortest(to[1] - from[1]) * share),
  ];

  return { EQUATOR, FLATTENING, ECCENTRICITY2, radians, degrees, turned, shortest, leg, short, plane, between };
})();
