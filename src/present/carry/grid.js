// UTM and MGRS, both ways. Between 80 degrees south and 84 north only.
const grid = (() => {
  const { EQUATOR, FLATTENING, radians, degrees, shortest } = earth;
  const SCALE = 0.9996, TILE = 100000, LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ";
  const n = FLATTENING / (2 - FLATTENING);
  const RECTIFYING = EQUATOR / (1 + n) * (1 + n ** 2 / 4 + n ** 4 / 64);
  const ECCENTRICITY = Math.sqrt(earth.ECCENTRICITY2);
  // Karney 2011, Transverse Mercator with an accuracy of a few nanometers, equations 35 and 36, to the fourth order
  const ALPHA = [
    n / 2 - 2 / 3 * n ** 2 + 5 / 16 * n ** 3 + 41 / 180 * n ** 4,
    13 / 48 * n ** 2 - 3 / 5 * n ** 3 + 557 / 1440 * n ** 4,
    61 / 240 * n ** 3 - 103 / 140 * n ** 4,
    49561 / 161280 * n ** 4,
  ];
  const BETA = [
    n / 2 - 2 / 3 * n ** 2 + 37 / 96 * n ** 3 - 1 / 360 * n ** 4,
    1 / 48 * n ** 2 + 1 / 15 * n ** 3 - 437 / 1440 * n ** 4,
    17 / 480 * n ** 3 - 37 / 840 * n ** 4,
    4397 / 161280 * n ** 4,
  ];

  // The zone with the exceptions of south-west Norway and Svalbard.
  const zoneOf = ([latitude, longitude]) => {
    const east = shortest(longitude);
    if (latitude >= 56 && latitude < 64 && east >= 3 && east < 12) return 32;
    if (latitude >= 72 && latitude <= 84 && east >= 0 && east < 42) {
      return east < 9 ? 31 : east < 21 ? 33 : east < 33 ? 35 : 37;
    }
    return Math.floor((east + 180) / 6) % 60 + 1;
  };
  const covers = (place) => place[0] >= -80 && place[0] <= 84;

  const toUtm = (place, wished) => {
    if (!covers(place)) return null;
    const zone = wished || zoneOf(place);
    const east = radians(shortest(place[1] - (zone * 6 - 183)));
    const tangent = Math.tan(radians(place[0]));
    const sigma = Math.sinh(ECCENTRICITY * Math.atanh(ECCENTRICITY * tangent / Math.hypot(1, tangent)));
    const conformal = tangent * Math.hypot(1, sigma) - sigma * Math.hypot(1, tangent);
    const xi = Math.atan2(conformal, Math.cos(east));
    const eta = Math.asinh(Math.sin(east) / Math.hypot(conformal, Math.cos(east)));
    let [x, y] = [eta, xi];
    ALPHA.forEach((term, place2) => {
      const order = 2 * (place2 + 1);
      x += term * Math.cos(order * xi) * Math.sinh(order * eta);
      y += term * Math.sin(order * xi) * Math.cosh(order * eta);
    });
    const north = place[0] >= 0;
    return {
      zone, north,
      easting: 500000 + SCALE * RECTIFYING * x,
      northing: (north ? 0 : 1e7) + SCALE * RECTIFYING * y,
    };
  };

  const fromUtm = ({ zone, north, easting, northing }) => {
    const eta = (easting - 500000) / (SCALE * RECTIFYING);
    const xi = (northing - (north ? 0 : 1e7)) / (SCALE * RECTIFYING);
    let [x, y] = [eta, xi];
    BETA.forEach((term, place) => {
      const order = 2 * (place + 1);
      x -= term * Math.cos(order * xi) * Math.sinh(order * eta);
      y -= term * Math.sin(order * xi) * Math.cosh(order * eta);
    });
    const conformal = Math.sin(y) / Math.hypot(Math.sinh(x), Math.cos(y));
    let tangent = conformal;
    for (let step = 0; step < 5; step += 1) {
      const sigma = Math.sinh(ECCENTRICITY * Math.atanh(ECCENTRICITY * tangent / Math.hypot(1, tangent)));
      const here = tangent * Math.hypot(1, sigma) - sigma * Math.hypot(1, tangent);
      tangent += (conformal - here) / Math.hypot(1, here) * (1 + (1 - earth.ECCENTRICITY2) * tangent ** 2)
        / ((1 - earth.ECCENTRICITY2) * Math.hypot(1, tangent));
    }
    const longitude = zone * 6 - 183 + degrees(Math.atan2(Math.sinh(x), Math.cos(y)));
    return [degrees(Math.atan(tangent)), shortest(longitude)];
  };

  const wrapped = (letters, index) => letters[((index % letters.length) + letters.length) % letters.length];
  const figures = (side) => (side >= 10000 ? 1 : side >= 1000 ? 2 : side >= 100 ? 3 : side >= 10 ? 4 : 5);
  const ROWS = LETTERS.slice(0, 20);

  // The reference of the square with this side that holds the place; empty beyond the grid. NGA.SIG.0012.
  const mgrs = (place, side) => {
    const at = toUtm(place);
    if (!at) return "";
    const count = figures(side), unit = 10 ** (5 - count);
    const band = wrapped(LETTERS, Math.min(Math.max(Math.floor((place[0] + 80) / 8), 0), 19) + 2);
    const column = wrapped(LETTERS, ((at.zone - 1) % 3) * 8 + Math.floor(at.easting / TILE) - 1);
    const row = wrapped(ROWS, Math.floor(at.northing / TILE) + (at.zone % 2 ? 0 : 5));
    const part = (metres) => String(Math.floor((metres % TILE) / unit)).padStart(count, "0");
    return `${String(at.zone).padStart(2, "0")}${band}${column}${row}${part(at.easting)}${part(at.northing)}`;
  };

  // The middle of a referenced square with its side, or null. The band decides between the rows of 2,000 km.
  const fromMgrs = (text) => {
    const found = /^(\d{1,2})([C-HJ-NP-X])([A-HJ-NP-Z])([A-HJ-NP-V])(\d*)$/.exec(text.replace(/\s/g, "").toUpperCase());
    if (!found || found[5].length % 2 || found[5].length > 10) return null;
    const zone = Number(found[1]), half = found[5].length / 2, side = 10 ** (5 - half);
    if (zone < 1 || zone > 60) return null;
    const column = (LETTERS.indexOf(found[3]) - ((zone - 1) % 3) * 8 + 24) % 24 + 1;
    if (column > 8) return null;
    const band = LETTERS.indexOf(found[2]) - 2, north = band >= 10;
    const within = (part) => (half ? Number(part) * side : 0) + side / 2;
    const easting = column * TILE + within(found[5].slice(0, half));
    const row = (ROWS.indexOf(found[4]) - (zone % 2 ? 0 : 5) + 20) % 20;
    const south = band * 8 - 80, top = band === 19 ? 84 : south + 8;
    for (let cycle = 0; cycle < 5; cycle += 1) {
      const northing = (row + cycle * 20) * TILE + within(found[5].slice(half));
      const at = fromUtm({ zone, north, easting, northing });
      if (at[0] > south - 1 && at[0] < top + 1) return { at, side };
    }
    return null;
  };

  return { toUtm, fromUtm, mgrs, fromMgrs, covers };
})();
