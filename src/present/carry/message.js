// One text message of at most 160 characters of the GSM 7-bit alphabet (3GPP TS 23.038).
const message = (() => {
  const LONGEST = 160;
  const ALPHABET = new Set("@\u00a3$\u00a5\u00e8\u00e9\u00f9\u00ec\u00f2\u00c7\n\u00d8\u00f8\r\u00c5\u00e5\u0394_\u03a6\u0393\u039b\u03a9\u03a0\u03a8\u03a3\u0398\u039e\u00c6\u00e6\u00df\u00c9 !\"#\u00a4%&'()*+,-./0123456789:;<=>?\u00a1ABCDEFGHIJKLMNOPQRSTUVWXYZ\u00c4\u00d6\u00d1\u00dc\u00a7\u00bfabcdefghijklmnopqrstuvwxyz\u00e4\u00f6\u00f1\u00fc\u00e0");
  const fits = (text) => [...text].length <= LONGEST && [...text].every((letter) => ALPHABET.has(letter));
  const STROKED = { "\u0141": "L", "\u0142": "l", "\u0110": "D", "\u0111": "d" };
  // letters without their accents where the alphabet lacks them, else a full stop
  const plain = (text) => [...text].map((letter) => {
    if (ALPHABET.has(letter) && letter !== "\n" && letter !== "\r") return letter;
    const bare = STROKED[letter] || letter.normalize("NFD")[0];
    return /[A-Za-z]/.test(bare) ? bare : letter === "\u2019" ? "'" : ".";
  }).join("");
  // whether the alphabet loses at most one letter in ten of a name
  const sendable = (text) => {
    const letters = [...text].filter((letter) => letter.trim() !== ""), stops = (one) => [...one].filter((letter) => letter === ".").length;
    return letters.length > 0 && (stops(plain(text)) - stops(text)) * 10 <= letters.length;
  };
  const named = (text) => (sendable(text) ? plain(text) : "goal");
  const metres = (distance) => (distance < 9999.5 ? `${Math.round(distance)}m` : `${(distance / 1000).toFixed(1)}km`);
  const three = (bearing) => String(Math.round(bearing) % 360).padStart(3, "0");

  const dark = (day, now, clock) => {
    if (!day.known) return "light not known";
    if (day.at(now) === 0) {
      const first = day.firstLight(now);
      return first === null ? "dark all day" : `dark till ${clock(first)}`;
    }
    const from = day.darkFrom(now);
    return from === null ? "no dark for 24h" : `dark ${clock(from)}`;
  };

  const due = (answer, clock) => {
    const night = dark(answer.day, answer.from.now, clock), best = answer.ways[0];
    const { advice } = best.verdict, arrival = Math.ceil(best.verdict.arrival / 60) * 60;
    if (best.closed && advice !== "do-not-set-out") return `CLOSED GROUND BETWEEN: go round. ${night}.`;
    if (advice === "comfortable") return `Due ${clock(arrival)}, ${night}.`;
    if (advice === "tight") return `TIGHT: due ${clock(arrival)}, ${night}.`;
    return `DON'T SET OUT, STAY PUT: ${night}.`;
  };

  const legs = (answer, count) => {
    const best = answer.ways[0];
    if (best.kind === "direct" || best.closed || best.verdict.advice === "do-not-set-out") return "";
    const name = { retrace: "Your track", known: "Old paths", mapped: "Map paths", terrain: "By land" }[best.kind];
    if (count === 0) return `${name} ${metres(best.distance)}.`;
    const list = best.legs.slice(0, count).map((leg, index) => {
      const range = index === 0 ? wayout.bearingRange(answer.from.radius, leg.distance) : 0;
      if (range >= 180) return `look within ${metres(leg.distance + answer.from.radius)}`;
      return `${three(leg.magnetic)}${range >= 1 ? `+-${Math.ceil(range)}` : ""} ${metres(leg.distance)}`;
    });
    return count < best.legs.length ? `${name} ${metres(best.distance)}: ${list.join(",")},..` : `${name}: ${list.join(",")}.`;
  };

  const place = (from, clock, reference) => {
    const digits = from.radius < 15 ? 5 : 4;
    const square = reference ? grid.mgrs(from.at, 10) : "";
    return `${clock(from.when || from.now)} at ${from.at[0].toFixed(digits)},${from.at[1].toFixed(digits)}+-${Math.round(from.radius)}m${square ? ` (${square})` : ""}`;
  };

  const compose = (answer, clock) => {
    const written = ({ name, count, reference, caution }) => {
      const { direct, goal } = answer;
      const range = answer.range >= 10 ? `+-${Math.round(answer.range)}` : "";
      return [
        place(answer.from, clock, reference),
        `to ${named(goal.name).slice(0, name).trimEnd()}: MAG ${three(direct.magnetic)}${range} ${metres(direct.distance)}.`,
        legs(answer, count), due(answer, clock),
        caution ? "Hurt/dark:stay,112,6 blasts/min." : "Hurt/dark:stay,112.",
      ].filter(Boolean).join(" ");
    };
    const most = Math.min(answer.ways[0].legs.length, 9);
    for (let count = most; count >= 0; count -= 1) {
      for (const room of [{ reference: true, caution: true }, { reference: false, caution: true }, { reference: false, caution: false }]) {
        const text = written({ name: 20, count, ...room });
        if (fits(text)) return text;
      }
    }
    const least = written({ name: 8, count: 0, reference: false, caution: false });
    return fits(least) ? least : plain(least).slice(0, LONGEST);
  };

  // Where somebody is, without a way.
  const here = (from, clock) =>
    `${place(from, clock, true)}. Hurt/dark:stay,112,6 blasts/min.`.slice(0, LONGEST);

  const cut = (text, most) => [...plain(text)].slice(0, most).join("").trim();

  // For whoever waits at home, as the desk writes it: times are texts of the local clock, `day` is a date. A name that
  // the alphabet cannot write is left out. Setting out is left out first, then dark, then the name of the place of the
  // car; whom to call is never shortened. { text }, or { why } where it cannot be sent.
  const plan = ({ day, car, at, set, turn, back, dark: night, alarm, whom }) => {
    const called = plain(whom).trim(), lost = [...whom].find((letter) => plain(letter) === "." && letter !== ".");
    if (lost) return { why: `Text messages have no ${lost}: write whom to call in Latin letters and figures.` };
    const where = `${at[0].toFixed(4)},${at[1].toFixed(4)}`;
    const written = ([name, out, until]) => {
      // a place that was given by its position has no other name
      const known = /\p{Alphabetic}/u.test(car) && sendable(car);
      const place = [known ? cut(car, name) : "", where].filter(Boolean).join(" ");
      return [
        `${light.dayOf(day).replace("\u00a0", " ")}: car at ${place}.`, set && out ? `Out ${set}.` : "", turn ? `Turn back ${turn}.` : "",
        `Back by ${back}${night && until ? `, dark ${night}` : ""}.`, `No word by ${alarm}: call ${called}.`,
      ].filter(Boolean).join(" ");
    };
    const rooms = [[20, true, true], [20, false, true], [20, false, false], [10, false, false], [0, false, false]];
    const text = rooms.map(written).find(fits);
    return text ? { text } : { why: `Too long for one text message: shorten whom to call, which is not cut.` };
  };

  return { compose, here, plan, fits, plain };
})();
