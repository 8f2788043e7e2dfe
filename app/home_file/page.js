"use strict";
/* The home check: asks one question at a time and says what was found. D is what build.py writes
   from the tables; `typed` holds what is in the fields, and goes with the page. What is typed comes
   on the page as text; markup comes from our own drawings, which hold no word of the wearer. */
const Check = (() => {
  const D = JSON.parse(document.getElementById("data").textContent), N = D.numbers;
  const STEPS = D.questions.map((one) => one.id), ORDER = [...STEPS, "result"];
  const MEASURED = ["distances", "heights", "hours"], RAD = Math.PI / 180;
  const CM = { cm: 1, mm: 0.1, m: 100, in: 2.54, a4: N.a4_long_cm, letter: N.letter_long_cm };
  const AMOUNT = /^([-−]?\d+[.,]?\d*|[-−]?[.,]\d+)\s*(cm|mm|m|in|inch|inches|"|”|″|''|h|hours?)?$/i;
  const isOld = Date.now() > Date.parse(D.date) + N.new_page_months * 30.4 * 86400e3;
  let typed, done, step, returning, notes, problem, warned;

  // Words and elements ------------------------------------------------------------------------
  const say = (id, values = {}) => D.texts[id].replace(/\{(\w+)\}/g, (_, name) => values[name]);
  const first = (text) => text.charAt(0).toUpperCase() + text.slice(1);
  const thing = (name) => D.things[name];
  const and = (all) => [all.slice(0, -1).join(", "), ...all.slice(-1)].filter(Boolean).join(" and ");
  const label = (question, id) => (D.choices[question].find(([one]) => one === id) || [])[1];
  const tenth = (value) => Math.round(value * 10) / 10;
  const length = (cm) => `${Math.round(cm)} cm (${Math.round(cm / 2.54)} in)`;
  const atLeast = (cm) => `${Math.ceil(cm)} cm (${Math.ceil(cm / 2.54)} in)`;
  const degrees = (value, whole = Math.abs(Math.round(value))) =>
    whole === 1 ? "1 degree" : `${whole} degrees`;
  const wanted = (...entries) => entries.filter(([so]) => so).map(([, text]) => text());
  function h(tag, given = {}, ...inner) {
    const made = document.createElement(tag);
    for (const [name, value] of Object.entries(given)) {
      if (name.startsWith("on")) made.addEventListener(name.slice(2), value);
      else if (name === "value") made.value = value;
      else if (value !== false && value !== undefined) made.setAttribute(name, value);
    }
    made.append(...inner.flat(3).filter((one) => one || one === 0));
    return made;
  }
  const drawn = (svg, kind) => Object.assign(h("div", { class: kind }), { innerHTML: svg });
  const ready = (id) => document.getElementById(id).content.cloneNode(true);
  const button = (id, act, kind = "") =>
    h("button", { type: "button", id, class: kind, onclick: act }, say(id));
  const buttons = (...inner) => h("div", { class: "buttons" }, inner);
  const title = (text) => h("h2", { id: "title", tabindex: -1 }, text);
  const list = (all) => all.length > 0 && h("ul", {}, all.map((one) => h("li", {}, one)));
  const part = (id, ...inner) => inner.flat().some(Boolean)
    && h("section", { class: id }, h("h3", {}, say(id)), inner);
  const scrolled = (id, ...inner) =>
    h("div", { class: "scroll", tabindex: 0, role: "region", "aria-label": say(id) }, inner);

  // Reading what is typed ---------------------------------------------------------------------
  const asked = (id) => D.questions[STEPS.indexOf(id)];
  const count = () => Number(typed.count || 1);
  const screens = (make) => D.screens.slice(0, count()).map((screen, at) => make(at, { screen }));
  const ticked = (name) => D.choices[name].map(([id]) => id).filter((id) => typed[`${name}.${id}`]);
  const things = () => [...screens((at) => D.screens[at]), ...ticked("reading"), ...ticked("others")];
  const worn = () => D.worn[typed.glasses] || {};
  const stopped = () => ticked("flags").length > 0 && !typed.seen;
  const known = (all) => Object.fromEntries(Object.entries(all).filter(([, one]) => one !== undefined));
  const FIELDS = {
    screens: () => screens((at) => `s${at}.size`),
    distances: () => screens((at) => `s${at}.distance`),
    heights: () => ["eyes", ...screens((at) => `s${at}.top`)],
    reading: () => ticked("reading").map((what) => `page.${what}`),
    hours: () => things().map((name) => `hours.${name}`),
  };
  const fieldsOf = (id) => (FIELDS[id] || (() => []))();
  function amount(name) {
    const text = (typed[name] || "").trim(), kind = name.replace(/^s\d\./, "").split(".")[0];
    const [low, high] = D.limits[kind], [, digits, written] = AMOUNT.exec(text) || [];
    if (!text) return {};
    const unit = (written || "").toLowerCase(), isTime = unit.startsWith("h");
    const shown = { size: (one) => `${one} in`, hours: String }[kind] || length;
    const fits = { low: (shown === length ? atLeast : shown)(low), high: shown(high) };
    if (!digits || (unit && isTime !== (kind === "hours")))
      return { wrong: say("not_number", { value: text, ...fits, such: D.such[kind] }) };
    const usual = kind === "size" ? "in" : typed.unit || "cm", cm = CM[unit || usual] || CM.in;
    const scale = { hours: 1, size: cm / CM.in }[kind] || cm;
    const value = tenth(scale * digits.replace("−", "-").replace(",", "."));
    if (value >= low && value <= high) return { value };
    const bare = kind === "hours" || CM[usual] > CM.in ? shown(value) : `${text} ${usual}`;
    return { wrong: say("out_of_range", { value: written ? text : bare, ...fits }) };
  }
  const value = (name) => amount(name).value;
  const hours = () => known(Object.fromEntries(things().map((name) => [name, value(`hours.${name}`)])));
  function answers() {
    const many = ["flags", "coping", "others", "needs", "bothers", "tell"];
    return known({
      ...Object.fromEntries(many.map((name) => [name, ticked(name)])),
      seen_by_doctor: Boolean(typed.seen), age: typed.age, glasses: typed.glasses,
      lens_part: worn().parts ? typed.lens_part : undefined, eyes_above_desk_cm: value("eyes"),
      screens: screens((at) => known({ form: typed[`s${at}.form`] || "screen",
        size_in: value(`s${at}.size`), shape: typed[`s${at}.shape`] || "usual",
        side: at ? typed[`s${at}.side`] || "left" : "ahead", movable: !typed[`s${at}.fixed`],
        distance_cm: value(`s${at}.distance`), reach: typed[`s${at}.reach`],
        top_above_desk_cm: value(`s${at}.top`) })),
      reading: ticked("reading").map((what) => known({ what, distance_cm: value(`page.${what}`) })),
      hours: done.hours === "skipped" ? undefined : hours(),
      skipped: STEPS.filter((one) => done[one] === "skipped"),
    });
  }

  // What cannot be right ----------------------------------------------------------------------
  function sizeOf(screen) {
    const [wide, high] = D.aspects[screen.form === "laptop" ? "laptop" : screen.shape];
    return [wide, high].map((one) => one * screen.size_in * CM.in / Math.hypot(wide, high));
  }
  function doubts() {
    const told = answers(), found = [], eyes = told.eyes_above_desk_cm;
    const doubt = (so, fields, id, values = {}, blocks = false) =>
      so && found.push({ fields, blocks, text: say(`doubt_${id}`, values) });
    told.screens.filter((screen) => screen.size_in).forEach((screen, at) => {
      const cm = screen.distance_cm, top = screen.top_above_desk_cm, high = sizeOf(screen)[1];
      const near = `s${at}.distance`, up = `s${at}.top`, words = { target: thing(D.screens[at]) };
      words.cm = cm && length(cm);
      doubt(cm < N.inches_below_cm, [near], "inches", words);
      doubt(screen.reach === "touch" && cm > N.touch_most_cm, [near], "touch", words);
      doubt(screen.reach === "no" && cm < N.reach_least_cm, [near], "reach", words);
      doubt(top < Math.cos(N.most_tilt_deg * RAD) * high, [up], "bottom");
      const ends = [top - eyes, top - eyes - high / 2].filter((one) => !Number.isNaN(one));
      const least = Math.max(0, ...ends.map(Math.abs)) / N.steepest_share;
      Object.assign(words, { height: ends.length ? against(top - eyes) : "", least: atLeast(least) });
      doubt(cm < least, [near, "eyes", up], "slant", words, true);
    });
    doubt(eyes > N.eyes_high_cm, ["eyes"], "eyes_high", { cm: eyes && length(eyes) });
    doubt(eyes < N.eyes_low_cm, ["eyes"], "eyes_low", { cm: eyes && length(eyes) });
    const page = {};
    for (const { what, distance_cm: cm } of told.reading) {
      page[what] = cm;
      doubt(cm > N.page_far_cm, [`page.${what}`], "page", { cm: cm && length(cm) });
      doubt(cm < N.page_inches_below_cm, [`page.${what}`], "inches", { cm: cm && length(cm) });
    }
    doubt(page.phone - page.papers > N.phone_beyond_page_cm, ["page.papers", "page.phone"], "phone");
    return found.sort((a, b) => b.blocks - a.blocks);
  }
  const clash = () => doubts().some((one) => one.blocks);

  // Fields ------------------------------------------------------------------------------------
  function fields() {
    const made = ready(`ask-${step}`);
    for (const field of made.querySelectorAll("input")) {
      const { id, name, type } = field, note = notes[id];
      if (type === "radio" && typed[name]) field.checked = typed[name] === field.value;
      if (type === "checkbox") field.checked = Boolean(typed[id]);
      if (type === "text" || type === "range") field.value = typed[id] || field.value;
      if (note) field.setAttribute("aria-invalid", "true");
      if (note) field.nextElementSibling.replaceWith(h("p", { id: `${id}-note`,
        class: note.blocks ? "wrong" : "doubt" }, note.text));
    }
    return made;
  }
  /* Show what is asked only of some, and the ruler as wide as its bar says. */
  function show() {
    const met = new Set([...things(), ...ticked("flags"), worn().parts && "parts", typed.age,
      ...screens((at) => typed[`s${at}.form`] !== "laptop" && `own${at}`)]);
    for (const one of document.querySelectorAll("[data-if]")) one.hidden = !met.has(one.dataset.if);
    const place = document.getElementById("ruler"), wide = Number(typed.card || 204);
    if (!place) return;
    const cm = wide / N.card_short_cm, marks = [...Array(16).keys()].map((at) =>
      `<path d="M${at * cm + 8} 60v14"/><text x="${at * cm + 8}" y="90">${at}</text>`);
    place.innerHTML = `<svg role="img" aria-label="${say("card_bar")}" width="${15 * cm + 20}"
      height="96"><rect x="8" y="2" width="${wide}" height="48" rx="6" class="bar"/>
      <g class="tick"><path d="M8 60H${15 * cm + 8}"/>${marks.join("")}</g></svg>`;
  }
  function kept({ target: { id, name, type, value: to, checked } }) {
    if (name === "unit") {
      const all = ["distances", "heights", "reading"].flatMap(fieldsOf).filter(value);
      for (const one of all) typed[one] = String(Math.round(value(one) / CM[to] * 100) / 100);
    }
    if (id.startsWith("flags.")) typed.seen = false;
    typed[type === "radio" ? name : id] = type === "checkbox" ? checked : to;
    return name === "unit" || stopped() ? draw(id) : show();
  }

  // Going on ----------------------------------------------------------------------------------
  function check() {
    const needed = { age: "choose_age", glasses: "choose_one" }, fields = fieldsOf(step);
    const sum = tenth(Object.values(hours()).reduce((a, b) => a + b, 0)), skipped = { skip: say("skip") };
    notes = {};
    problem = wanted([step === "flags" && !ticked("flags").length && !typed["flags.none"],
      () => say("tick_one")], [needed[step] && !typed[step], () => say(needed[step])],
    [step === "hours" && sum > 24, () => say("hours_sum", { sum })]).join(" ");
    fields.forEach((name, at) => {
      const { wrong, value: found } = amount(name);
      const open = found === undefined && (step === "hours" ? !sum && !at : step !== "reading");
      const missing = say(step === "screens" ? "size_needed" : "number_needed", skipped);
      if (wrong || open) notes[name] = { text: wrong || missing, blocks: true };
    });
    for (const { fields: about, text: words, blocks } of doubts()) {
      const here = about.filter((name) => fields.includes(name) && !notes[name]).pop();
      if (here && (blocks || !warned.has(words))) notes[here] = { text: words, blocks };
      if (here && !blocks) warned.add(words);
    }
    const all = Object.values(notes), held = all.some((note) => note.blocks);
    if (held) problem = problem || say(MEASURED.includes(step) ? "mend_or_skip" : "to_mend", skipped);
    else if (all.length) problem = say("look_again", { next: say(returning ? "to_result" : "next") });
    return !problem;
  }
  const leave = (to) => check() ? go(to, "answered") : draw(Object.keys(notes)[0] || "problem");
  function skip() {
    const drop = () => { for (const name of Object.keys(notes)) typed[name] = ""; };
    drop();
    for (check(); Object.keys(notes).some((name) => typed[name]); check()) drop();
    go(returning ? "result" : onward(), "skipped");
  }
  const onward = () => ORDER[ORDER.indexOf(step) + 1];
  const reached = () => !done.flags || stopped() ? "flags" : !typed.age || !done.age ? "age"
    : done.screens ? "result" : "screens";
  function go(to, how, remember = true, focus = "title") {
    if (how) done[step] = how;
    step = ORDER[Math.min(ORDER.indexOf(to), ORDER.indexOf(reached()))];
    [notes, problem, returning] = [{}, "", returning && step !== "result"];
    if (step === "result" && clash()) { [step, returning] = ["heights", true]; check(); }
    if (remember && window.top === window) history.pushState(step, "");
    draw(focus);
    scrollTo(0, 0);
  }
  function begin(pressed) {
    [typed, done, warned, returning] = [{}, {}, new Set(), false];
    go("flags", "", false, pressed && "title");
  }
  const edit = (to) => { returning = true; go(to); };

  // Pages -------------------------------------------------------------------------------------
  function question() {
    const number = STEPS.indexOf(step), row = asked(step), last = STEPS.length - 1;
    return [number ? h("p", { class: "progress" }, say("progress", { number, count: last }),
      h("progress", { max: last, value: number, "aria-hidden": "true" }))
      : h("p", {}, say("lead")),
    title(row.title), h("p", {}, row.help), fields(),
    h("p", { id: "problem", role: "alert", tabindex: -1, class: "wrong" }, problem),
    buttons(returning && button("to_result", () => leave("result"), "main"),
      button("next", () => leave(onward()), returning ? "" : "main"),
      MEASURED.includes(step) && button("skip", skip),
      number > 0 && (!returning || clash()) && button("back", () => go(STEPS[number - 1])))];
  }
  const stop = () => [ready("stop"), buttons(button("stop_mistake", () => {
    for (const flag of ticked("flags")) typed[`flags.${flag}`] = false;
    go("flags");
  }), button("stop_seen", () => {
    typed.seen = true;
    go(returning ? "result" : "age", "answered");
  }))];
  function draw(focus) {
    if (!ticked("flags").length) typed.seen = false;
    const shown = stopped() ? stop() : step === "result" ? result() : question();
    document.getElementById("check").replaceChildren(...[h("h1", {}, say("title")),
      isOld && h("p", { class: "doubt" }, say("old_page", D)), ...shown,
      h("footer", {}, buttons(button("delete", begin), button("print_blank", () => print("blank"))),
        h("p", {}, say("made", D)))].flat(3).filter(Boolean));
    show();
    const target = document.getElementById(stopped() ? "title" : focus);
    if (target) target.focus({ preventScroll: focus === "title" });
  }
  const print = (what) => { document.body.className = what; window.print(); };

  // The result --------------------------------------------------------------------------------
  const kindName = (kind) => D.kinds[kind].name;
  const hoursTold = (told) => Object.values(told.hours || {}).some(Boolean);
  const against = (cm) => Math.abs(cm) < 0.5 ? say("level")
    : say(cm > 0 ? "above" : "below", { cm: length(Math.abs(cm)) });
  const placed = (told, name, one = told.screens[D.screens.indexOf(name)]) =>
    told.eyes_above_desk_cm && one.distance_cm && one.top_above_desk_cm;
  const isBlurred = (one) => one.chin_low_deg === null || one.blurred_share > N.mostly_blurred_share;
  function today(told, found) {
    const lead = wanted([worn().near_only && told.needs.length,
      () => say("near_only", { kind: kindName(worn().kind) })]);
    if (!found) return [say(told.age === "under_40" ? "today_young" : "too_old"), ...lead];
    const { move, now } = found, movable = told.screens[0].movable;
    const words = { target: thing(D.screens[0]), worn: say(`worn_${worn().words || "glasses"}`),
      day: tenth(found.day_h), now: now && tenth(now.mean_h) };
    if (move && placed(told, move.target)) {
      const far = move.farther_cm, down = length(move.lower_cm), cm = far ? length(Math.abs(far)) : down;
      const id = ["move", ...wanted([move.lower_cm, () => "lower"], [far > 0, () => "farther"],
        [far < 0, () => "nearer"])].join("_");
      return [say(id, { target: thing(move.target), down, cm }), say("move_gain", { ...words,
        before: tenth(move.before_h), after: tenth(move.after_h) }), ...lead];
    }
    return [...wanted([!now, () => say("move_unknown")],
      [now, () => say(move ? "today_measure" : movable ? "move_none" : "move_fixed", words)],
      [now, () => say("now_hours", words)],
      [told.screens[0].form === "laptop", () => say("move_laptop")]), ...lead];
  }
  function visit(told, found) {
    const lead = wanted([told.tell.some((id) => D.see_first.includes(id)),
      () => say("see_first", { first: say("first") })]);
    if (!found) return [...lead, say("visit_young")];
    const best = found.kinds[0], now = found.now;
    const both = found.move && placed(told, found.move.target) && found.with_move;
    if (!best) return [...lead, say("as_good")];
    const words = { kind: kindName(best.kind), hours: tenth(best.mean_h), day: tenth(found.day_h),
      now: now && tenth(now.mean_h) };
    return [...lead, say(now ? "ask_kind_now" : "ask_kind_only", words),
      ...wanted([best.kind === worn().kind, () => say("ask_kind_same")],
        [both, () => say(both.mean_h < best.mean_h ? "ask_kind_unmoved" : "ask_kind_moved",
          { kind: kindName(both.kind), hours: tenth(both.mean_h) })],
        [found.unsure, () => say("unsure")])];
  }
  function unknown(told) {
    const noHours = (name) => hoursTold(told) ? told.hours[name] === undefined : name === D.screens[0];
    const seen = told.screens.map((one, at) => ({ ...one, what: D.screens[at] }));
    const of = (id, all) => [all.length, () => say(id, { things: and(all) })];
    const named = (all) => all.map(({ what }) => thing(what)), far = ({ distance_cm: cm }) => !cm;
    const high = [...named(seen.filter((one) => !one.top_above_desk_cm)),
      ...wanted([!told.eyes_above_desk_cm, () => say("known_eyes")])];
    const bare = high.length > count() && seen.every(far);
    const open = wanted(of("known_distance", named([...seen, ...told.reading].filter(far))),
      of("known_top", high), of("known_hours", things().filter(noHours).map(thing)),
      [told.glasses === "unknown", () => say("known_glasses")]);
    const some = () => say("known_some", { list: open.map(first).join(". ") });
    return [bare ? say("known_nothing") : open.length ? some() : say("known_all"),
      ...doubts().map(({ text: words }) => say("known_again", { text: words }))];
  }
  const lines = (told, found) => h("dl", {}, Object.entries({ today, visit, unknown }).map(
    ([id, about]) => [h("dt", {}, say(id)), h("dd", {}, about(told, found).join(" "))]));
  function firstThings(told) {
    const tells = [...told.tell, ...wanted([told.glasses === "contacts", () => "contact_lenses"])];
    return [...told.flags.map((flag) => say("seen", { sign: label("flags", flag) })),
      ...[...new Set(tells)].map((id) => D.tells[id])];
  }
  function chin(low, high) {
    const down = Math.round(low), up = Math.round(high);
    if (!down && !up) return say("head_level");
    if (down < 0 && up > 0) return say("head_across", { down: degrees(down), up: degrees(up) });
    const [least, most] = [Math.abs(down), Math.abs(up)].sort((a, b) => a - b);
    const span = least === most ? degrees(most) : `${least || "up"} to ${degrees(most)}`;
    return say(up > 0 ? "head_up" : "head_down", { span });
  }
  function posture(seen) {
    const Target = first(thing(seen.name)), low = seen.chin_low_deg, high = seen.chin_high_deg;
    if (isBlurred(seen)) return say("posture_blurred", { Target });
    const same = Math.abs((low + high) / 2 - seen.free_deg) <= N.same_chin_deg;
    return [say("posture", { Target, chin: chin(low, high) }),
      say(same ? "posture_same" : "posture_free", { chin: chin(seen.free_deg, seen.free_deg) }),
      ...wanted([seen.blurred_share >= 0.05,
        () => say("posture_some", { share: Math.round(10 * seen.blurred_share) })])].join(" ");
  }
  function answered(told, found) {
    const seen = (found ? found.targets : []).filter(({ name }) => D.screens.includes(name));
    const blurred = seen.some(isBlurred);
    const lifted = blurred || seen.some((one) => one.chin_high_deg >= N.chin_up_felt_deg);
    const fits = (id, so) => say(`${id}_${!seen.length ? "unknown" : so ? "fits" : "not"}`);
    const own = { chin_up: fits("chin_up", lifted), screen_blurred: fits("blurred", blurred) };
    return [...[...told.coping, ...told.bothers].map((id) => own[id] || D.answers[id]),
      ...wanted([worn().parts && !worn().near_only && told.needs.includes("stairs"),
        () => say("parted_stairs")])];
  }
  function kinds(told, found) {
    const about = found.kinds.map((one) => h("p", {}, h("b", {}, `${first(kindName(one.kind))}. `),
      [D.kinds[one.kind].why, say("kind_hours", { hours: tenth(one.mean_h),
        day: tenth(found.day_h), low: tenth(one.low_h), high: tenth(one.high_h) }),
      say("kind_most", { target: thing(one.most_at) }), D.kinds[one.kind].but].join(" ")));
    return [...about, list(wanted([about.length > 1, () => say("kinds_close")],
      [told.needs.length && found.kinds.some((one) => one.second_pair), () => say("kind_second")],
      [!hoursTold(told), () => say("hours_assumed")]))];
  }
  function toAsk(told, found) {
    const all = found ? found.kinds : [], ticks = [told.glasses, ...told.needs, ...told.bothers];
    const two = told.needs.length && all.some((one) => one.second_pair);
    return [say("ask_distances"), ...all.slice(0, 2).map(({ kind }) => D.kinds[kind].ask),
      say("ask_try"), ...wanted([two, () => say("ask_two")]),
      ...new Set(ticks.map((id) => D.asks[id]).filter(Boolean))];
  }
  function facts(told) {
    const near = (cm) => cm ? length(cm) : say("not_measured"), eyes = told.eyes_above_desk_cm;
    const row = (name, ...cells) => h("tr", {}, h("th", { scope: "row" }, first(thing(name))),
      [...cells, (told.hours || {})[name]].map((cell) => h("td", {}, cell)));
    return scrolled("facts", h("table", {},
      h("thead", {}, h("tr", {}, ["thing", "distance", "top", "size", "hours"].map((id) =>
        h("th", { scope: "col" }, say(`fact_${id}`))))),
      h("tbody", {}, told.screens.map((one, at) => row(D.screens[at], near(one.distance_cm),
        eyes && one.top_above_desk_cm ? against(one.top_above_desk_cm - eyes) : say("not_measured"),
        `${one.size_in} inch`)),
      told.reading.map((one) => row(one.what, near(one.distance_cm), "", "")),
      told.others.map((name) => row(name, "", "", "")))));
  }
  const about = (told) => ["age", "glasses", "lens_part", "coping", "bothers", "needs", "tell"].map((q) =>
    [told[q]].flat().filter(Boolean).map((id) => (D.leads[q] || "") + label(q, id)).join(". "));

  // The wearer at the main screen as measured, from the eye, y down, ten units a cm.
  function sideView({ screens: [main], eyes_above_desk_cm: eyes }, found) {
    const seen = found && found.targets.find(({ name }) => name === D.screens[0]);
    const cm = main.distance_cm, top = main.top_above_desk_cm - eyes, F = D.figure;
    if (!seen || seen.chin_low_deg === null || !cm || Number.isNaN(top)) return "";
    const high = sizeOf(main)[1], middle = top - high / 2, lean = F.tilt_deg[main.form] * RAD;
    const ahead = Math.sqrt(Math.max(cm ** 2 - middle ** 2, 100));
    const pitch = (seen.chin_low_deg + seen.chin_high_deg) / 2, [px, py] = F.pivot_cm;
    const at = (share) => [ahead + Math.sin(lean) * high * share,
      -middle - Math.cos(lean) * high * share].map((one) => Math.round(10 * one)).join(" ");
    const grow = (eyes - F.shoulder_cm) / (F.arm_desk_cm - F.shoulder_cm), down = 10 * F.shoulder_cm;
    const up = -10 * Math.max(21, top + 7), right = 10 * (ahead + 14), desk = 10 * eyes;
    const says = say("picture_says", { target: first(thing(D.screens[0])), cm: length(cm),
      height: against(top), chin: chin(pitch, pitch) });
    return `<svg class="side" role="img" aria-label="${says}"
      viewBox="-250 ${up} ${right + 250} ${Math.max(desk + 70, 10 * (high - top)) - up}">${F.trunk}
      <path d="M140 ${desk}H${right}" class="desk"/><g transform="translate(0 ${down})
      scale(1 ${grow.toFixed(3)}) translate(0 ${-down})">${F.arm}</g>
      <path d="M0 0H${right}" class="level"/><path d="M${at(0.5)}L${at(-0.5)}" class="screenline"/>
      <path d="M0 0L${at(0.5)}M0 0L${at(0)}M0 0L${at(-0.5)}" class="gaze"/>
      <g transform="rotate(${-pitch} ${10 * px} ${-10 * py})">${F.head}</g><text x="-235" y="${up + 60}">
      ${say("picture_yours")}</text><text x="${4 * ahead}" y="${desk + 54}">${length(cm)}</text></svg>`;
  }
  function result() {
    const told = answers(), found = Hours.ready ? Hours.of(told) : null, packed = Code.pack(told);
    const picture = sideView(told, found), shown = found ? found.targets.map(posture) : [];
    const near = told.screens.some((one) => !one.distance_cm);
    const unseen = Object.keys(D.texts).filter((id) => id.startsWith("unseen_")).map((id) => say(id));
    const bring = ready("bring");
    bring.querySelector("textarea").value = packed;
    return [title(say("result")), h("p", { class: "on_paper" }, say("sheet_name")),
      lines(told, found), !told.screens.every((_, at) => placed(told, D.screens[at]))
        && buttons(button("measure", () => edit(near ? "distances" : "heights"), "main")),
      part("first", list(firstThings(told))),
      part("postures", picture && drawn(picture, "picture"), list(shown),
        shown.some((one) => /degree/.test(one)) && h("p", {}, say("degrees"))),
      part("told", list(answered(told, found))), part("kinds", found && kinds(told, found)),
      part("ask", list(toAsk(told, found))), part("facts", facts(told)),
      part("about", list(about(told).filter(Boolean))),
      part("bring", drawn(Code.svg(packed), "code"), bring,
        buttons(button("file", () => save(told)), button("print", () => print("mine")))),
      part("unseen", list(unseen)),
      part("change", buttons(D.questions.map(({ id, short }) =>
        h("button", { type: "button", id: `change.${id}`, onclick: () => edit(id) }, short))))];
  }
  function save(told) {
    const file = new Blob([Code.file(told)], { type: "application/json" });
    const link = h("a", { href: URL.createObjectURL(file), download: "my-desk.json" });
    link.click();
    URL.revokeObjectURL(link.href);
  }

  document.getElementById("check").addEventListener("input", kept);
  window.addEventListener("popstate", (event) => event.state && go(event.state, "", false));
  document.getElementById("plain").hidden = true;
  history.replaceState("flags", "");
  begin();
  Hours.load(document.getElementById("grid").textContent)
    .then(() => step === "result" && draw("title"));
  return { answers, doubts };
})();
