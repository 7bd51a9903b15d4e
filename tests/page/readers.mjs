// Readers that share nothing with the project: what is saved is read back by these.

/** Group codes and values of a DXF text. */
export function pairs(text) {
  const lines = text.split(/\r?\n/);
  return Array.from({ length: Math.floor(lines.length / 2) }, (_, i) => [Number(lines[2 * i]), lines[2 * i + 1].trim()]);
}

/** Centre and radius of every circle of a DXF text. */
export function circles(text) {
  const found = [];
  let now = null;
  for (const [code, value] of pairs(text)) {
    if (code === 0) {
      now = value === "CIRCLE" ? {} : null;
      if (now) found.push(now);
    } else if (now && code === 10) now.x = Number(value);
    else if (now && code === 20) now.y = Number(value);
    else if (now && code === 40) now.r = Number(value);
  }
  return found;
}

/**
 * Follows an RS-274 program (NIST IR 6556). How far the torch moves while it is lit, mm; every lit run with
 * the points it goes through (arcs in fine chords), its straight ends, and its feed.
 */
export function runProgram(text) {
  let [x, y, lit, on, mode, feed, scale] = [0, 0, 0, false, 0, 0, 1];
  const runs = [];
  for (const line of text.replace(/\([^)]*\)/g, "").split(/\r?\n/)) {
    const word = {};
    for (const [, letter, value] of line.replace(/;.*/, "").matchAll(/([A-Z])\s*(-?[\d.]+)/gi)) {
      if (letter === "M" && value === "3") {
        on = true;
        runs.push({ points: [[x, y]], ends: [], feed: 0 });
      }
      if (letter === "M" && value === "5") on = false;
      if (letter === "G" && value === "20") scale = 25.4;
      if (letter === "G" && value === "21") scale = 1;
      if (letter === "G" && Number(value) <= 3) mode = Number(value);
      if (letter === "F") feed = Number(value) * scale;
      word[letter] = Number(value) * (letter === "G" || letter === "M" ? 1 : scale);
    }
    if (word.X === undefined && word.Y === undefined) continue;
    const [nx, ny] = [word.X ?? x, word.Y ?? y];
    let far = Math.hypot(nx - x, ny - y);
    const way = [];
    if (mode >= 2) {
      const [cx, cy] = [x + (word.I ?? 0), y + (word.J ?? 0)];
      const r = Math.hypot(x - cx, y - cy);
      const sign = mode === 3 ? 1 : -1;
      const start = Math.atan2(y - cy, x - cx);
      let sweep = (Math.atan2(ny - cy, nx - cx) - start) * sign;
      while (sweep <= 1e-9) sweep += 2 * Math.PI;
      far = r * sweep;
      for (let k = 1; k < 24; k += 1) way.push([cx + r * Math.cos(start + (sign * sweep * k) / 24), cy + r * Math.sin(start + (sign * sweep * k) / 24)]);
    }
    if (on) {
      lit += far;
      const run = runs.at(-1);
      run.points.push(...way, [nx, ny]);
      run.feed = Math.max(run.feed, feed);
      if (mode === 1) run.ends.push([nx, ny]);
    }
    [x, y] = [nx, ny];
  }
  return { lit, runs };
}

/** Even-odd. */
export function insidePolygon(polygon, [px, py]) {
  let odd = false;
  polygon.forEach((a, i) => {
    const b = polygon[(i + 1) % polygon.length];
    if (a[1] > py !== b[1] > py && px < a[0] + ((py - a[1]) / (b[1] - a[1])) * (b[0] - a[0])) odd = !odd;
  });
  return odd;
}

/** Strokes of a trace file: places by the label in the column `stroke`. */
export function strokes(csv) {
  const rows = csv.split("\n").filter((l) => l && !l.startsWith("#"));
  const head = rows.shift().split(",");
  const [ix, iy, is] = ["x", "y", "stroke"].map((n) => head.indexOf(n));
  const found = new Map();
  for (const row of rows) {
    const cells = row.split(",");
    const label = is < 0 ? "" : cells[is];
    if (!found.has(label)) found.set(label, []);
    found.get(label).push([Number(cells[ix]), Number(cells[iy])]);
  }
  return [...found.values()];
}

/** A two-link arm by the textbook: joint angles for a place, and the place for joint angles. */
export const arm = {
  inverse(a, tip, [x, y]) {
    const [ex, ey] = [a.link2 + tip[0], tip[1]];
    const l2 = Math.hypot(ex, ey);
    const [dx, dy] = [x - a.base[0], y - a.base[1]];
    const cos = (dx * dx + dy * dy - a.link1 ** 2 - l2 ** 2) / (2 * a.link1 * l2);
    const bend = Math.acos(cos) * (a.elbow === "left" ? -1 : 1);
    const first = Math.atan2(dy, dx) - Math.atan2(l2 * Math.sin(bend), a.link1 + l2 * Math.cos(bend)) - (a.base_angle_deg * Math.PI) / 180;
    return [first, bend - Math.atan2(ey, ex)];
  },
  forward(a, tip, [q1, q2]) {
    const first = (a.base_angle_deg * Math.PI) / 180 + q1;
    const last = first + q2;
    const out = a.link2 + tip[0];
    return [
      a.base[0] + a.link1 * Math.cos(first) + out * Math.cos(last) - tip[1] * Math.sin(last),
      a.base[1] + a.link1 * Math.sin(first) + out * Math.sin(last) + tip[1] * Math.cos(last),
    ];
  },
};

/** Length of all polylines of a DXF text on layers of the cut: chords with their bulges, and lone arcs, circles and lines. */
export function polylines(text) {
  let [whole, kind, entity] = [0, "", {}];
  let chain = null;
  const chord = ([ax, ay, bulge], [bx, by]) => {
    const c = Math.hypot(bx - ax, by - ay);
    if (!bulge) return c;
    const sweep = 4 * Math.atan(Math.abs(bulge));
    return (c / (2 * Math.sin(sweep / 2))) * sweep;
  };
  const finish = () => {
    if (kind === "POLYLINE") chain = { closed: (entity[70] & 1) === 1, points: [] };
    if (kind === "VERTEX") chain.points.push([entity[10], entity[20], entity[42] ?? 0]);
    if (kind === "SEQEND") {
      const { points, closed } = chain;
      points.forEach((p, i) => {
        if (i + 1 < points.length) whole += chord(p, points[i + 1]);
        else if (closed) whole += chord(p, points[0]);
      });
    }
    if (kind === "LINE") whole += Math.hypot(entity[11] - entity[10], entity[21] - entity[20]);
    if (kind === "CIRCLE") whole += 2 * Math.PI * entity[40];
    if (kind === "ARC") whole += (entity[40] * ((((entity[51] - entity[50]) % 360) + 360) % 360) * Math.PI) / 180;
  };
  let inside = false;
  for (const [code, value] of pairs(text)) {
    if (code === 2 && value === "ENTITIES") inside = true;
    if (!inside) continue;
    if (code === 0) {
      finish();
      [kind, entity] = [value, {}];
    } else if (code !== 999) entity[code] = Number(value);
  }
  return whole;
}
