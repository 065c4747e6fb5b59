// Reads a position as people write it: decimal degrees, degrees and minutes, degrees, minutes and seconds, UTM,
// MGRS, a geo: address, a link with a position. Latitude comes first unless letters say otherwise. Returns
// { at, open } with the metres that the digits leave open, or { why }.
const position = (() => {
  const METRES = 111195;
  const refuse = (why) => ({ why });

  const ofLink = (text) => {
    const geo = /^geo:(-?[\d.]+),(-?[\d.]+)(?:,[^;]*)?(;.*)?$/i.exec(text);
    if (geo) {
      if (/;crs=/i.test(geo[3] || "") && !/;crs=wgs84/i.test(geo[3])) return refuse("the geo: address is not on WGS 84");
      const written = /;u=([^;]*)/i.exec(geo[3] || ""), stated = written && /^\d+(?:\.\d+)?$/.exec(written[1]);
      if (written && !stated) return refuse("the uncertainty of the geo: address is not a number of metres");
      const read = decimal(geo[1], geo[2]);
      return stated && !read.why ? { ...read, stated: Number(stated[0]) } : read;
    }
    if (!/^https?:/i.test(text)) return null;
    const pairs = [...text.matchAll(/(-?\d{1,2}\.\d{3,})(?:,|%2C|\/)\+?(-?\d{1,3}\.\d{3,})/gi)];
    if (pairs.length === 0) return refuse("the link has no position");
    if (new Set(pairs.map((pair) => `${pair[1]} ${pair[2]}`)).size > 1) return refuse("the link has several positions");
    return decimal(pairs[0][1], pairs[0][2]);
  };

  const places = (text) => (text.split(".")[1] || "").length;
  const checked = (latitude, longitude, open) => {
    if (Math.abs(latitude) > 90) return refuse("the first number exceeds 90: latitude comes first");
    if (Math.abs(longitude) > 180) return refuse("the longitude exceeds 180");
    return { at: [latitude, longitude], open };
  };
  const decimal = (first, second) => {
    const open = 0.5 * METRES * 10 ** -Math.min(places(first), places(second)) * Math.SQRT2;
    return checked(Number(first), Number(second), open);
  };

  const ofUtm = (text) => {
    const found = /^(\d{1,2})\s*([A-Z])\s*(\d{6})(?:\s*M?\s*E)?[\s,]+(\d{7})(?:\s*M?\s*N)?$/i.exec(text);
    if (!found) return null;
    const letter = found[2].toUpperCase(), zone = Number(found[1]);
    if (zone < 1 || zone > 60 || !/[C-HJ-NP-X]/.test(letter)) return refuse("there is no such UTM zone");
    // S can be the band of 32 to 40 degrees north or stand for the southern half
    const candidates = letter === "S" ? [true, false] : letter === "N" ? [true] : [letter > "M"];
    const read = candidates.map((north) => grid.fromUtm({ zone, north, easting: Number(found[3]), northing: Number(found[4]) }));
    const fits = letter === "S" ? read.filter((at, index) => index === 1 || (at[0] >= 32 && at[0] <= 40)) : read;
    if (fits.length > 1) return refuse("S can be the band or the southern half: write the MGRS reference");
    return { at: fits[0], open: Math.SQRT1_2 };
  };

  // One coordinate: its value, and what its last digit leaves open in degrees.
  const angle = (numbers) => {
    const [d, m = "0", s = "0"] = numbers;
    if (numbers.length > 3 || Number(m) >= 60 || Number(s) >= 60) return null;
    if (numbers.slice(0, -1).some((number) => number.includes("."))) return null;
    const value = Math.abs(Number(d)) + Number(m) / 60 + Number(s) / 3600;
    const unit = 60 ** -(numbers.length - 1) * 10 ** -places(numbers[numbers.length - 1]);
    return { value: d.startsWith("-") ? -value : value, open: unit / 2 };
  };

  const ofAngles = (text) => {
    const marked = text.toUpperCase().replace(/[\u00b0\u00ba\u2032\u2033'"\u2019\u201d:]/g, " ").replace(/,/g, " ");
    const letters = marked.match(/[NSEW]/g) || [];
    if (/[^\d\s.+\-NSEW]/.test(marked)) return refuse("it has letters other than N, S, E and W");
    let parts;
    if (letters.length === 2) {
      const leads = /^\s*[NSEW]/.test(marked);
      const shape = leads ? /([NSEW])([^NSEW]*)/g : /([^NSEW]*)([NSEW])/g;
      parts = [...marked.matchAll(shape)].map((found) => (leads ? [found[1], found[2]] : [found[2], found[1]]));
    } else if (letters.length === 0) {
      const numbers = marked.trim().split(/\s+/);
      if (numbers.length % 2) return refuse("latitude and longitude need as many numbers each");
      const half = numbers.length / 2;
      parts = [["N", numbers.slice(0, half).join(" ")], ["E", numbers.slice(half).join(" ")]];
    } else {
      return refuse("mark both with letters, or neither");
    }
    const read = {};
    for (const [letter, numbers] of parts) {
      const list = numbers.trim().split(/\s+/).filter(Boolean);
      if (!list.length || list.some((number) => !/^[+-]?\d+(\.\d+)?$/.test(number))) return refuse("a number cannot be read");
      const found = angle(list);
      if (!found) return refuse("minutes and seconds must be below 60");
      if (letters.length && found.value < 0) return refuse("a letter and a minus sign exclude each other");
      const turned = letter === "S" || letter === "W" ? -1 : 1;
      read[letter === "N" || letter === "S" ? "latitude" : "longitude"] = { ...found, value: turned * found.value };
    }
    if (!read.latitude || !read.longitude) return refuse("one must be marked N or S, the other E or W");
    const open = METRES * Math.hypot(read.latitude.open, read.longitude.open);
    return checked(read.latitude.value, read.longitude.value, open);
  };

  const read = (text) => {
    const plain = text.trim().replace(/\u2212/g, "-");
    if (!plain) return refuse("nothing is written");
    const link = ofLink(plain);
    if (link) return link;
    const utm = ofUtm(plain);
    if (utm) return utm;
    const square = grid.fromMgrs(plain);
    if (square) return { at: square.at, open: square.side * Math.SQRT1_2 };
    return ofAngles(plain);
  };

  return { read };
})();
