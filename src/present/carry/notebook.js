// The day's notebook: numbers, finds, and the files that `trug import` reads. Nothing here touches the page.
const notebook = (() => {
  // Headings in the words of the field label, in the order of the table.
  const FIELDS = [
    ["photos", "Photographs"], ["name", "Name"], ["host", "Host"], ["substrate", "Substrate"], ["habitat", "Habitat"],
    ["quantity", "Quantity"], ["colour", "Colour"], ["smell", "Smell"], ["taste", "Taste"], ["bruising", "Bruising"],
    ["latex", "Latex"], ["print", "Spore print"], ["container", "Container"], ["notes", "Notes"],
  ];

  // The number after this one: its last run of digits counts on, with its zeros.
  const following = (number) => {
    const found = /^(.*?)(\d+)(\D*)$/.exec(number);
    if (!found) return `${number}-2`;
    const next = (BigInt(found[2]) + 1n).toString().padStart(found[2].length, "0");
    return `${found[1]}${next}${found[3]}`;
  };
  const next = (finds, first) => {
    const used = new Set(finds.map((find) => find.number));
    let number = finds.length ? following(finds[finds.length - 1].number) : first;
    while (used.has(number)) number = following(number);
    return number;
  };

  const cell = (text) => {
    const plain = String(text === undefined || text === null ? "" : text).replace(/\r\n?/g, "\n");
    return /[",\n;]/.test(plain) ? `"${plain.replace(/"/g, '""')}"` : plain;
  };

  // +10:00, so that a time is read alike without a position.
  const fromUtc = (seconds) => {
    const minutes = Math.round(Math.abs(seconds) / 60), two = (number) => String(number).padStart(2, "0");
    return `${seconds < 0 ? "-" : "+"}${two(Math.floor(minutes / 60))}:${two(minutes % 60)}`;
  };

  // One line for each find. Positions stay empty where none was known.
  const table = (finds, offsets) => {
    const heads = ["Number", "Date", "Time", "Latitude", "Longitude", "Datum", "Uncertainty (m)", ...FIELDS.map(([, head]) => head)];
    const rows = finds.map((find) => {
      const clock = light.clock(find.time, offsets), at = find.at;
      return [
        find.number, clock.date, `${clock.time}:${clock.seconds}${fromUtc(clock.offset)}`,
        at ? at[0].toFixed(6) : "", at ? at[1].toFixed(6) : "", at ? "WGS 84" : "", at ? Math.ceil(find.radius) : "",
        ...FIELDS.map(([name]) => find[name]),
      ];
    });
    return `${[heads, ...rows].map((row) => row.map(cell).join(",")).join("\r\n")}\r\n`;
  };

  const escaped = (text) => text.replace(/[&<>"]/g, (letter) => `&#${letter.charCodeAt(0)};`);

  // The track as GPX 1.1, a segment from gap to gap.
  const gpx = (track, name) => {
    const segments = [];
    track.forEach((point, index) => {
      if (index === 0 || track[index - 1].gap) segments.push([]);
      segments[segments.length - 1].push(point);
    });
    const points = (list) => list.map((point) =>
      `      <trkpt lat="${point.at[0].toFixed(7)}" lon="${point.at[1].toFixed(7)}"><time>${new Date(point.time * 1000).toISOString()}</time></trkpt>`);
    return [
      '<?xml version="1.0" encoding="UTF-8"?>',
      '<gpx version="1.1" creator="page to carry" xmlns="http://www.topografix.com/GPX/1/1">',
      `  <trk>`, `    <name>${escaped(name)}</name>`,
      ...segments.flatMap((list) => ["    <trkseg>", ...points(list), "    </trkseg>"]),
      "  </trk>", "</gpx>", "",
    ].join("\n");
  };

  return { FIELDS, following, next, table, gpx };
})();
