// Unpacks the data of the page into what the other parts work on.
const load = (() => {
  const bytesOf = async (text) => {
    const packed = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
    const stream = new Blob([packed]).stream().pipeThrough(new DecompressionStream("deflate"));
    return new Uint8Array(await new Response(stream).arrayBuffer());
  };

  const withPaths = async (world, packed) => {
    const net = paths.unpacked(await bytesOf(packed), world.data.centre);
    world.net = net.passes.some((passes) => passes > 0) ? paths.joined(net, world.allowed, 1) : null;
    world.mapped = net.passes.includes(0) ? paths.joined(net, world.allowed) : null;
    world.fields = new Map();
    world.often = [];
    net.from.forEach((from, edge) => {
      if (net.passes[edge] >= paths.OFTEN) world.often.push(world.plane.to(net.places[from]), world.plane.to(net.places[net.to[edge]]));
    });
  };

  // { data, plane, closed, net, mapped, base, land, height, fields, often, lacking }
  const world = async (data) => {
    const plane = earth.plane(data.centre);
    const areas = closed.prepared(data.closed, plane);
    const allowed = areas.length ? (from, to) => !closed.crosses(areas, plane.to(from), plane.to(to)) : null;
    const made = { data, plane, closed: areas, allowed, net: null, mapped: null, base: [], land: null, height: null, fields: new Map(), often: [], lacking: "" };
    try {
      if (data.paths) await withPaths(made, data.paths);
      if (data.base) made.base = waters.unpacked(JSON.parse(new TextDecoder().decode(await bytesOf(data.base))));
      if (data.land) {
        made.land = land.unpacked(data.land, await bytesOf(data.land.data), plane);
        made.height = (place) => land.height(made.land, place);
      }
    } catch (error) {
      made.lacking = "This browser cannot unpack known paths and open ground: only straight lines are given.";
    }
    return made;
  };

  return { world, withPaths };
})();
