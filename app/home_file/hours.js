"use strict";
/* The hours of a day that are clear, from the answers: read from a grid worked out beforehand.
   Hours.load(base64) -> Promise, without a request; Hours.ready says whether it is done.
   Hours.of(answers) -> null for who is under 40 or has told no screen, else {
     day_h, now: {mean_h, low_h, high_h} or null where the pair worn is not known,
     targets: [{name, clear_share, blurred_share, chin_low_deg, chin_high_deg, free_deg}], none
       without `now`; chin_* null where hardly anybody sees the thing,
     move: {target, lower_cm, farther_cm, before_h, after_h} or null; hours of the whole day,
     kinds: [{kind, mean_h, low_h, high_h, gain_h, most_at, second_pair}] to ask about, best first,
     with_move: {kind, mean_h}, the best kind where the screen is moved too, or null,
     every: {kind: mean_h}, unsure: whether the move hangs on less than the grid can tell }
   The grid says what people see of a point so many degrees aside and down and so far away. It is a
   matrix, nodes by columns, kept as two narrow ones: a thing looked at becomes a row of a few
   numbers (`rowOf`), and a column makes a share of it (`value`). engine/home/grid.py makes it. */
const Hours = (() => {
  const hours = { ready: false };
  const rad = Math.PI / 180, same = 1e-9;
  const SCREENS = ["main screen", "second screen", "third screen"];
  const sum = (list, of) => list.reduce((total, one, at) => total + of(one, at), 0);
  let grid;

  hours.load = async (base64) => {
    const bytes = Uint8Array.from(atob(base64.trim()), (one) => one.charCodeAt(0));
    let at = 4 + new DataView(bytes.buffer).getUint32(0, true);
    grid = JSON.parse(new TextDecoder().decode(bytes.subarray(4, at)));
    for (const name of ["clear", "head"]) {
      const part = grid.matrices[name], numbers = part.nodes * part.scale.length;
      part.rows = new Int8Array(bytes.buffer, at, numbers);
      part.columns = new Int8Array(bytes.buffer, at + numbers, part.count * part.scale.length);
      at += numbers + part.columns.length;
    }
    hours.ready = true;
  };

  /** What lies on the nodes as `fill` weighs them: a few numbers. */
  function rowOf(name, fill) {
    const { nodes, rows, scale } = grid.matrices[name], rank = scale.length;
    const weights = new Float64Array(nodes), row = new Float64Array(rank);
    fill(weights);
    for (let node = 0; node < nodes; node++) {
      if (!weights[node]) continue;
      for (let at = 0; at < rank; at++) row[at] += weights[node] * rows[node * rank + at];
    }
    return row.map((one, at) => one * scale[at]);
  }

  function value(name, row, column) {
    const { columns } = grid.matrices[name];
    let total = 0;
    for (let at = 0; at < row.length; at++) total += row[at] * columns[column * row.length + at];
    return total;
  }

  const within = (share) => Math.min(1, Math.max(0, share));
  const clearShare = (one, column) => within(value("clear", one.clear, column)) * one.legible;

  /** Where a number lies on an axis: the step before it, and how far on to the next, 0 to 1. */
  function between(axis, number) {
    let at = axis.length - 2;
    while (at > 0 && (axis[at] - number) * (axis[1] - axis[0]) > 0) at--;
    return [at, within((number - axis[at]) / (axis[at + 1] - axis[at]))];
  }

  /** Share a weight among the eight nodes round a point: degrees aside and down, cm away. */
  function addPoint(weights, axes, aside, down, away, weight) {
    const [x, right] = between(axes[0], aside), [y, below] = between(axes[1], down);
    const [z, nearer] = between(axes[2], 100 / away);
    for (let corner = 0; corner < 8; corner++) {
      const [i, j, k] = [corner & 1, (corner >> 1) & 1, corner >> 2];
      const node = ((x + i) * axes[1].length + y + j) * axes[2].length + z + k;
      weights[node] += weight * (i ? right : 1 - right) * (j ? below : 1 - below)
        * (k ? nearer : 1 - nearer);
    }
  }

  function sizeOf(screen) {
    const ratio = grid.ratios[screen.form === "laptop" ? "laptop" : screen.shape || "usual"];
    const height = screen.size_in * 2.54 / Math.hypot(1, ratio);
    return [height * ratio, height];
  }

  /** The usual screen whose values a screen has until measured. */
  function usualOf(screen) {
    const off = (one) => Math.abs(one.diagonal_in - screen.size_in);
    if (screen.form === "laptop") return grid.laptops[+(screen.size_in >= grid.laptop_between_in)];
    return grid.screens.reduce((best, one) => (off(one) < off(best) ? one : best));
  }

  /** How far the middle of a screen stands to the side, the pictures side by side. */
  function offsetOf(screens, screen) {
    const isAhead = (one) => (one.side || "ahead") === "ahead", ahead = screens.find(isAhead);
    if (isAhead(screen)) return 0;
    const half = (ahead ? sizeOf(ahead)[0] : -grid.gap_cm) / 2;
    return Math.round(10 * (half + sizeOf(screen)[0] / 2 + grid.gap_cm)) / 10;
  }

  /** A screen as told, and as usual where it was not measured. */
  function screenOf(answers, place) {
    const screen = answers.screens[place], usual = usualOf(screen), { spread } = grid;
    const [width, height] = sizeOf(screen), usualOffset = offsetOf(answers.screens, screen);
    const eyes = answers.eyes_above_desk_cm, told = screen.top_above_desk_cm;
    const knowsHeight = eyes != null && told != null, knowsAway = screen.distance_cm != null;
    let offset = usualOffset, top = knowsHeight ? told - eyes : usual.top_above_eye_cm;
    const highest = knowsHeight ? Math.max(Math.abs(top), height / 2 - top) : height / 4;
    const away = knowsAway ? screen.distance_cm : Math.max(Math.hypot(usual.distance_cm, offset),
      Math.hypot(highest, offset) / grid.reach);
    const beside = (cm) => Math.sqrt(Math.max((grid.reach * away) ** 2 - cm ** 2, 0));
    if (offset > beside(highest)) offset = Math.floor(beside(highest));
    const room = knowsHeight || !knowsAway ? Infinity : beside(offset);
    top = Math.min(room, Math.max(top, height / 2 - room));
    const tilt = usual.tilt_deg * rad;
    return { width, height, offset, away, tilt, text: usual.text_height_mm,
      centre: top - height / 2 * Math.cos(tilt),
      desk: eyes == null ? grid.limits.desk_below_eye_cm : eyes,
      isLaptop: screen.form === "laptop", isMovable: screen.movable !== false,
      away_sd: Math.hypot(spread.away, knowsAway ? 0 : spread.away_assumed),
      height_sd: Math.hypot(spread.height, knowsHeight ? 0 : spread.height_assumed) };
  }

  /** A screen, of n points a side, on a matrix; its errors counted in by five places each way. */
  const rowOfScreen = (name, screen, n) => rowOf(name, (weights) =>
    grid.errors.forEach(([off, part]) => grid.errors.forEach(([up, share]) =>
      addScreen(weights, grid.axes[name], screen, n, off * screen.away_sd, up * screen.height_sd,
        part * share))));

  function addScreen(weights, axes, screen, n, farther, higher, weight) {
    const aside = screen.offset, up = screen.centre + higher, middle = (n - 1) / 2;
    const least = Math.max(Math.hypot(up, aside) / 0.9, grid.nearest_cm);
    const reach = grid.stop_cm + Math.max(screen.away + farther, least);
    const forward = Math.sqrt(reach ** 2 - up ** 2 - aside ** 2);
    const level = Math.hypot(forward, aside), most = axes[0][axes[0].length - 1];
    for (let row = 0; row < n; row++) {
      const rise = (middle - row) / n * screen.height;
      const back = rise * Math.sin(screen.tilt), high = up + rise * Math.cos(screen.tilt);
      for (let column = aside ? 0 : middle; column < n; column++) {
        const across = (column - middle) / n * screen.width;
        const ahead = forward + (back * forward - across * aside) / level;
        const right = Math.abs(aside + (back * aside + across * forward) / level);
        const turned = Math.atan2(right, ahead) / rad, flat = Math.hypot(ahead, right);
        if (n > 1 && turned >= most) continue;
        addPoint(weights, axes, turned, Math.atan2(-high, flat) / rad,
          Math.max(Math.hypot(flat, high) - grid.stop_cm, 1),
          weight * (aside || column === middle ? 1 : 2) / n ** 2);
      }
    }
  }

  const arcmin = (mm, cm) => 2 * Math.atan(mm / 20 / cm) / rad * 60;

  /** What is seen of a screen, and by what share of people its text is large enough for. */
  function seen(screen) {
    const least = grid.limits.illegible_arcmin / arcmin(screen.text, screen.away);
    const legible = 1 / (1 + Math.exp(1.702 * (least - 1) * screen.text / grid.spread.text_mm));
    return { clear: rowOfScreen("clear", screen, grid.points), legible };
  }

  /** A thing with nodes of its own: one of them, and part of the next. */
  const rowOfNode = (name, node, part) => rowOf(name, (weights) => {
    const first = node + grid.axes[name].reduce((product, axis) => product * axis.length, 1);
    weights[first] = 1 - part;
    if (part) weights[first + 1] = part;
  });

  /** Everything looked at: its name, its rows, degrees below the eyes, hours of the day. */
  function things(answers) {
    const down = (above, away) => Math.asin(-above / (away + grid.stop_cm)) / rad;
    const found = answers.screens.map((_, place) => {
      const screen = screenOf(answers, place);
      return { name: SCREENS[place], screen, ...seen(screen), weight: grid.day.screen_weight,
        head: rowOfScreen("head", screen, 1), down: down(screen.centre, screen.away) };
    });
    const add = (name, node, part, weight, more) => found.push({ name, weight, legible: 1, ...more,
      clear: rowOfNode("clear", node, part), head: rowOfNode("head", node, part) });
    for (const { what, distance_cm: cm } of answers.reading || []) {
      const page = grid.pages[what], away = cm == null ? page.distance_cm : cm;
      const [at, on] = cm == null ? [grid.page_cm.length, 0] : between(grid.page_cm, cm);
      const above = Math.min(1, away / page.distance_cm) * page.centre_above_eye_cm;
      add(what, page.first + at, on, grid.day.reading_weight, { down: down(above, away) });
    }
    for (const what of answers.others || []) {
      const { first, centre_above_eye_cm: above, distance_cm: away } = grid.others[what];
      add(what, first, 0, grid.day.others_weight, { down: down(above, away) });
    }
    const told = answers.hours || {}, isTold = found.some((one) => told[one.name] > 0);
    const all = sum(found, (one) => one.weight);
    return found.map((one) => ({ ...one,
      hours: isTold ? told[one.name] || 0 : one.weight / all * grid.day.assumed_hours }));
  }

  const total = (parts) => sum(parts, (one) => one.weight * one.mean);

  /** Hours of the people of one add through one column. They differ as if each saw all of a thing
      or nothing, times a factor fitted to the engine's people. */
  function hoursOf(found, weight, column, differ) {
    const shares = found.map((one) => clearShare(one, column));
    return { weight, shares, mean: sum(found, (one, at) => one.hours * shares[at]),
      sd: differ * sum(found, (one, at) => one.hours * Math.sqrt(shares[at] * (1 - shares[at]))) };
  }

  /** Mean and range of the hours of all adds, as if they were spread normally. */
  function range(parts, day) {
    const mean_h = total(parts);
    const off = grid.range * Math.sqrt(sum(parts, (one) =>
      one.weight * ((one.mean - mean_h) ** 2 + one.sd ** 2)));
    return { mean_h, low_h: Math.max(0, mean_h - off), high_h: Math.min(day, mean_h + off) };
  }

  const throughWorn = (found, band, worn) => band.map(([add, weight]) =>
    hoursOf(found, weight, grid.adds[add].worn[worn][0], grid.differ.worn[worn]));

  /** Each add gets its best design; designs as good come in the order in which they are taken. */
  function throughKind(found, band, kind) {
    return band.map(([add, weight]) => {
      const [first, count] = grid.adds[add].kinds[kind];
      const designs = Array.from({ length: count }, (_, at) =>
        hoursOf(found, weight, first + at, grid.differ.kinds[kind]));
      const most = Math.max(...designs.map((one) => one.mean));
      return designs.find((one) => one.mean >= most - grid.limits.same_design_h - same);
    });
  }

  /** The hours through every kind that all can be made, and those to ask about, best first. */
  function throughKinds(found, band, worn) {
    const kinds = grid.kinds.filter((kind) => band.every(([add]) => kind.id in grid.adds[add].kinds))
      .map((kind) => ({ ...kind, parts: throughKind(found, band, kind.id) }))
      .map((kind) => ({ ...kind, mean_h: total(kind.parts) }))
      .sort((one, other) => other.mean_h - one.mean_h);
    const asked = kinds.filter((kind) => !kind.lined || grid.lined.includes(worn));
    return { every: Object.fromEntries(kinds.map((kind) => [kind.id, kind.mean_h])), asked };
  }

  /** Those that beat the pair worn and are about as good as the best of them. */
  function worthAsking(found, day, asked, now) {
    const now_h = now ? total(now) : 0, { worth_h, best_within_share } = grid.limits;
    const least = Math.max(now_h + worth_h, asked[0].mean_h - best_within_share * day);
    const share = (parts, at) => sum(parts || [], (one) => one.weight * one.shares[at]);
    return asked.filter((kind) => kind.mean_h >= least).slice(0, grid.most_kinds).map((kind) => {
      const gain = found.map((one, at) => one.hours * (share(kind.parts, at) - share(now, at)));
      return { kind: kind.id, ...range(kind.parts, day), gain_h: kind.mean_h - now_h,
        most_at: found[gain.indexOf(Math.max(...gain))].name, second_pair: !kind.distance };
    });
  }

  /** The head at each thing through the pair worn now, of those who see its middle. */
  function held(found, band, worn, now) {
    return found.map((one, place) => {
      const [share, chin, square] = [0, 1, 2].map((at) => sum(band, ([add, weight]) =>
        weight * value("head", one.head, grid.adds[add].worn[worn][1] + at)));
      const middle = chin / share * grid.chin_deg, isSeen = share > 0.05;
      const off = grid.range * Math.sqrt(Math.max(square / share * grid.chin_deg ** 2 - middle ** 2, 0));
      return { name: one.name, blurred_share: 1 - within(share),
        clear_share: sum(now, (part) => part.weight * part.shares[place]),
        chin_low_deg: isSeen ? middle - off : null, chin_high_deg: isSeen ? middle + off : null,
        free_deg: -grid.slope * one.down };
    });
  }

  /** Whether a screen may go there: the same rules as for a move that an optician is told. */
  function mayGo(screen, lower, farther) {
    const { limits } = grid, away = screen.away + farther, centre = screen.centre - lower;
    const half = screen.height / 2 * Math.cos(screen.tilt);
    const flat = (away + grid.stop_cm) ** 2 - centre ** 2, level = Math.sqrt(Math.max(flat, 1));
    const nearer = screen.height / 2 * Math.sin(screen.tilt);
    return flat > screen.offset ** 2 && Math.hypot(lower, farther) <= limits.move_cm + same
      && !(screen.isLaptop && lower > 0)
      && away >= limits.near_cm - same && away <= limits.far_cm + same
      && centre + half <= same && centre - half >= limits.above_desk_cm - screen.desk - same
      && Math.atan2(half - centre, Math.max(level - nearer, 1)) / rad <= limits.below_deg + same
      && (farther <= 0 || arcmin(screen.text, away) >= limits.legible_arcmin - same);
  }

  /** The smallest move of the screen most looked at that brings the most of it. */
  function bestMove(found, band, worn) {
    const one = found.filter((thing) => thing.screen)
      .reduce((most, thing) => (thing.hours > most.hours ? thing : most));
    const { screen } = one;
    if (!screen.isMovable) return null;
    const tried = [[0, 0], ...grid.moves.filter((move) => mayGo(screen, ...move))]
      .map(([lower, farther]) => {
        const place = { ...screen, away: screen.away + farther, centre: screen.centre - lower };
        const there = { ...one, ...seen(place) };
        const share = sum(band, ([add, weight]) =>
          weight * clearShare(there, grid.adds[add].worn[worn][0]));
        return { lower, farther, there, share, size: lower + Math.abs(farther) };
      });
    const most = Math.max(...tried.map((place) => place.share));
    const [best] = tried.filter((place) => place.share >= most - grid.limits.equal_places_share)
      .sort((place, other) => place.size - other.size || other.share - place.share);
    return { ...best, gain_h: (best.share - tried[0].share) * one.hours };
  }

  hours.of = (answers) => {
    if (!(answers.age in grid.ages) || !answers.screens) return null;
    const isArtificial = (answers.tell || []).includes(grid.no_accommodation);
    const band = grid.ages[isArtificial ? grid.oldest : answers.age];
    const found = things(answers), worn = grid.worn[answers.glasses];
    const day = sum(found, (one) => one.hours), now = worn && throughWorn(found, band, worn);
    const best = worn && bestMove(found, band, worn), { move_worth_h } = grid.limits;
    const { every, asked } = throughKinds(found, band, worn);
    let move = null, withMove = null;
    if (best && best.gain_h >= move_worth_h) {
      move = { target: best.there.name, lower_cm: best.lower, farther_cm: best.farther,
        before_h: total(now), after_h: total(now) + best.gain_h };
      const moved = found.map((one) => (one.name === move.target ? best.there : one));
      const [first] = throughKinds(moved, band, worn).asked;
      withMove = { kind: first.id, mean_h: first.mean_h };
    }
    return { day_h: day, now: now ? range(now, day) : null, move, with_move: withMove, every,
      targets: now ? held(found, band, worn, now) : [], kinds: worthAsking(found, day, asked, now),
      unsure: !!best && Math.abs(best.gain_h - move_worth_h) < grid.unsure_h };
  };
  return hours;
})();
