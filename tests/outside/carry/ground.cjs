// What a page holds of base maps, and the water on straight lines: `ground.cjs PAGE "[[[lat, lon], [lat, lon]], ...]"`.
"use strict";
const { modules } = require("./modules.cjs");

const [page, lines] = process.argv.slice(2);
const m = modules(page);
m.load.world(m.data).then((world) => {
  const kinds = world.base.map((one) => [one.kind, one.name, one.shape, one.lines.map((line) => line.map((point) => world.plane.from(point)))]);
  const crossed = JSON.parse(lines).map((line) => m.waters.crossed(world.base, line.map((place) => world.plane.to(place))));
  process.stdout.write(JSON.stringify({ kinds, crossed, words: crossed.map((one) => one && m.waters.words(one)), data: m.data.base.length, land: m.data.land && m.data.land.data.length }));
}).catch((error) => { console.error(error); process.exit(1); });
