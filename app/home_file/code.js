"use strict";
/* Hands the answers over without a network: as short text, as a QR code of it, and as a file.
   Facts of the code: ISO/IEC 18004 (byte mode, error level M, versions 1 to 20). */
const Code = (() => {
  const MARK = "LG2", LARGEST = 20;
  const ORDER = {
    screens: "form size_in shape side movable distance_cm reach top_above_desk_cm".split(" "),
    reading: ["what", "distance_cm"],
  };

  /* Two letters of each word of an id: general_progressive is gepr, main screen is masc. */
  const short = id => id.split(/[_ ]/).map(word => word.slice(0, 2)).join("");

  function plain(value) {
    if (value === null || value === undefined) return "";
    if (typeof value === "boolean") return value ? "1" : "0";
    return typeof value === "string" ? short(value) : String(value);
  }

  function list(field, value) {
    if (!Array.isArray(value)) {
      return Object.entries(value).map(([name, one]) => short(name) + ":" + plain(one)).join(",");
    }
    const order = ORDER[field];
    return value.map(one => order ? order.map(name => plain(one[name])).join("/") : plain(one))
      .join(",");
  }

  /* Three digits that change when a part of the text is lost or altered. */
  function sum(text) {
    let total = 0;
    for (const letter of text) total = (total * 31 + letter.charCodeAt(0)) % 997;
    return "#" + String(total).padStart(3, "0");
  }

  /* Write answers as text, without what is not answered: LG2 fl= ag=5559 gl=gepr ... #123. */
  function pack(answers) {
    const words = [MARK];
    for (const [field, value] of Object.entries(answers)) {
      if (value === null || value === undefined || value === false) continue;
      if (field === "skipped" && !value.length) continue;
      const said = typeof value === "object" ? list(field, value) : plain(value);
      words.push(short(field) + "=" + said);
    }
    const text = words.join(" ");
    return text + " " + sum(text);
  }

  /* Write the same answers as the file to bring along. */
  function file(answers) {
    return JSON.stringify({ file: "levelgaze home check", version: 1, answers }, null, 1) + "\n";
  }

  /* Error words of each block, and the number of blocks, of versions 1 to 20 at level M. */
  const ERROR_WORDS = [10, 16, 26, 18, 24, 16, 18, 22, 22, 26, 30, 22, 22, 24, 24, 28, 28, 26, 26,
    26];
  const BLOCKS = [1, 1, 1, 2, 2, 4, 4, 4, 5, 5, 5, 8, 9, 9, 10, 10, 11, 13, 14, 16];

  /* Products of bytes, by powers of 2 in the field of x^8 + x^4 + x^3 + x^2 + 1. */
  const POWER = [1], LOG = [];
  for (let at = 0; at < 255; at++) {
    LOG[POWER[at]] = at;
    const next = POWER[at] << 1;
    POWER.push(next > 255 ? next ^ 0x11d : next);
  }
  const times = (a, b) => a && b ? POWER[(LOG[a] + LOG[b]) % 255] : 0;

  function generator(degree) {
    let found = [1];
    for (let root = 0; root < degree; root++) {
      const next = [...found, 0];
      found.forEach((factor, at) => { next[at + 1] ^= times(factor, POWER[root]); });
      found = next;
    }
    return found;
  }

  function errorWords(data, divisor) {
    const rest = [...data, ...Array(divisor.length - 1).fill(0)];
    data.forEach((_, at) => {
      const lead = rest[at];
      divisor.forEach((factor, place) => { rest[at + place] ^= times(factor, lead); });
    });
    return rest.slice(data.length);
  }

  /* A value with the remainder of its division by a polynomial, both as bits. */
  function withRemainder(value, divisor, bits) {
    let rest = value << bits;
    for (let at = 31 - Math.clz32(rest); at >= bits; at--) {
      if (rest >> at & 1) rest ^= divisor << at - bits;
    }
    return value << bits | rest;
  }

  /* All that does not hold data; null where data goes. Rows from the top, true is dark. */
  function frame(version) {
    const size = 17 + 4 * version, last = size - 7;
    const grid = Array.from({ length: size }, () => Array(size).fill(null));
    const square = (row, column, reach, light) => {
      for (let y = -reach; y <= reach; y++) for (let x = -reach; x <= reach; x++) {
        if (row + y in grid && column + x in grid) {
          grid[row + y][column + x] = !light.includes(Math.max(Math.abs(x), Math.abs(y)));
        }
      }
    };
    const between = Math.floor(version / 7) + 1;
    const step = 2 * Math.ceil((last - 6) / between / 2);
    const middles = [6];
    for (let at = between - 1; version > 1 && at >= 0; at--) middles.push(last - at * step);
    for (let at = 0; at < size; at++) grid[6][at] = grid[at][6] = at % 2 === 0;
    for (const row of middles) for (const column of middles) {
      const far = Math.max(row, column);
      if (Math.min(row, column) > 6 || far > 6 && far < last) square(row, column, 2, [1]);
    }
    for (const [row, column] of [[3, 3], [3, size - 4], [size - 4, 3]]) {
      square(row, column, 4, [2, 4]);
    }
    const says = withRemainder(version, 0x1f25, 12);
    for (let at = 0; version >= 7 && at < 18; at++) {
      const a = Math.floor(at / 3), b = size - 11 + at % 3;
      grid[a][b] = grid[b][a] = (says >> at & 1) === 1;
    }
    format(grid, 0);
    return grid;
  }

  /* Write which mask was taken; level M is 00. */
  function format(grid, mask) {
    const size = grid.length, says = withRemainder(mask, 0x537, 10) ^ 0x5412;
    for (let at = 0; at < 15; at++) {
      const dark = (says >> at & 1) === 1;
      if (at < 8) grid[at < 6 ? at : at + 1][8] = grid[8][size - 1 - at] = dark;
      else grid[8][at === 8 ? 7 : 14 - at] = grid[size - 15 + at][8] = dark;
    }
    grid[size - 8][8] = true;
  }

  const free = grid => grid.flat().filter(one => one === null).length;

  /* The bits of a text in a version: its blocks, then their error words; null if too long. */
  function bitsOf(bytes, version, room) {
    const words = room >> 3, blocks = BLOCKS[version - 1], errors = ERROR_WORDS[version - 1];
    const held = words - blocks * errors, count = version < 10 ? 8 : 16;
    const bits = [];
    const put = (value, length) => {
      for (let at = length - 1; at >= 0; at--) bits.push(value >> at & 1);
    };
    put(4, 4);
    put(bytes.length, count);
    bytes.forEach(byte => put(byte, 8));
    if (bits.length > 8 * held) return null;
    put(0, Math.min(4, 8 * held - bits.length));
    put(0, (8 - bits.length % 8) % 8);
    for (let pad = 0xec; bits.length < 8 * held; pad ^= 0xec ^ 0x11) put(pad, 8);
    const data = Array.from({ length: held }, (_, at) =>
      bits.slice(8 * at, 8 * at + 8).reduce((byte, bit) => 2 * byte + bit, 0));
    const least = Math.floor(held / blocks), shorter = blocks - held % blocks;
    const parts = [], divisor = generator(errors);
    for (let block = 0, from = 0; block < blocks; block++) {
      const to = from + least + (block >= shorter ? 1 : 0);
      parts.push(data.slice(from, to));
      from = to;
    }
    const out = [];
    for (const all of [parts, parts.map(part => errorWords(part, divisor))]) {
      for (let at = 0; at < Math.max(least + 1, errors); at++) {
        for (const part of all) if (at < part.length) out.push(part[at]);
      }
    }
    bits.length = 0;
    out.forEach(byte => put(byte, 8));
    return bits;
  }

  const MASKS = [
    (y, x) => (y + x) % 2, y => y % 2, (y, x) => x % 3, (y, x) => (y + x) % 3,
    (y, x) => ((y >> 1) + Math.floor(x / 3)) % 2, (y, x) => y * x % 2 + y * x % 3,
    (y, x) => (y * x % 2 + y * x % 3) % 2, (y, x) => ((y + x) % 2 + y * x % 3) % 2,
  ];

  /* Fill the free places in pairs of columns from the right, up and down in turn, under a mask. */
  function filled(empty, bits, mask) {
    const grid = empty.map(row => [...row]), size = grid.length;
    let next = 0, up = true;
    for (let right = size - 1; right > 0; right -= 2, up = !up) {
      if (right === 6) right = 5;
      for (let step = 0; step < size; step++) {
        const y = up ? size - 1 - step : step;
        for (const x of [right, right - 1]) {
          if (grid[y][x] === null) grid[y][x] = (bits[next++] === 1) !== (MASKS[mask](y, x) === 0);
        }
      }
    }
    format(grid, mask);
    return grid;
  }

  /* How hard a grid is to read: long runs, blocks, what looks like a corner, too dark or light. */
  function penalty(grid) {
    const size = grid.length;
    const rows = grid.map(row => row.map(Number).join(""));
    const columns = grid.map((_, x) => grid.map(row => Number(row[x])).join(""));
    let total = 0, dark = 0;
    for (const line of [...rows, ...columns]) {
      for (const run of line.match(/0{5,}|1{5,}/g) || []) total += run.length - 2;
      const edged = `0000${line}0000`;
      for (let at = 4; (at = edged.indexOf("1011101", at)) > 0;) {
        const lit = [edged.slice(at - 4, at), edged.slice(at + 7, at + 11)].includes("0000");
        total += lit ? 40 : 0;
        at += lit ? 7 : 4;
      }
    }
    for (let y = 0; y < size; y++) for (let x = 0; x < size; x++) {
      const one = grid[y][x];
      dark += one ? 1 : 0;
      if (y && x && one === grid[y - 1][x] && one === grid[y][x - 1] && one === grid[y - 1][x - 1]) {
        total += 3;
      }
    }
    return total + 10 * Math.floor(Math.abs(20 * dark / (size * size) - 10));
  }

  /* The rows of a text's code, true is dark. A mask is chosen by the penalty unless one is given. */
  function matrix(text, { version = 1, mask = null } = {}) {
    const bytes = [...new TextEncoder().encode(text)];
    for (let tried = version; tried <= LARGEST; tried++) {
      const empty = frame(tried), bits = bitsOf(bytes, tried, free(empty));
      if (bits === null) continue;
      if (mask !== null) return filled(empty, bits, mask);
      const all = MASKS.map((_, one) => filled(empty, bits, one));
      const costs = all.map(penalty);
      return all[costs.indexOf(Math.min(...costs))];
    }
    throw new RangeError("too long for a code");
  }

  /* Draw a text's code with the light edge that readers need; black on white in any theme. */
  function svg(text) {
    const grid = matrix(text), size = grid.length + 8;
    const dots = grid.map((row, y) => row.map((dark, x) =>
      dark ? `M${x + 4} ${y + 4}h1v1h-1z` : "").join("")).join("");
    return `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${size} ${size}" role="img"`
      + ` aria-label="QR code" shape-rendering="crispEdges">`
      + `<path fill="#fff" d="M0 0h${size}v${size}H0z"/><path fill="#000" d="${dots}"/></svg>`;
  }

  return { pack, file, matrix, svg };
})();
