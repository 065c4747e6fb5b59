// Serves a folder on this machine, as a web space would, and counts what is asked for.
"use strict";
const fs = require("node:fs");
const http = require("node:http");
const path = require("node:path");

const KINDS = { ".html": "text/html", ".js": "text/javascript", ".webmanifest": "application/manifest+json", ".svg": "image/svg+xml" };

exports.served = (folder) => new Promise((resolve) => {
  const seen = { asked: [] };
  const server = http.createServer((request, response) => {
    const name = request.url === "/" ? "/index.html" : new URL(request.url, "http://x").pathname;
    seen.asked.push(name);
    const file = path.join(folder, path.basename(name));
    if (!fs.existsSync(file)) { response.writeHead(404).end(); return; }
    response.writeHead(200, { "content-type": KINDS[path.extname(file)] || "text/plain" });
    response.end(fs.readFileSync(file));
  });
  server.listen(0, "127.0.0.1", () => resolve({ server, seen, address: `http://127.0.0.1:${server.address().port}/` }));
});
