"use strict";
/* The hours of a day that are clear, from the answers: read from a grid worked out beforehand.

   First version: the shapes are right, the numbers are placeholders.
   Hours.load(base64) -> Promise; Hours.ready says whether it worked.
   Hours.of(answers) -> null for who is under 40 or has told no screen, else
     day_h     hours at the desk
     now       {mean_h, low_h, high_h} through the pair worn now; null where that is not known
     targets   [{name, clear_share, blurred_share, chin_low_deg, chin_high_deg, free_deg}],
               empty where `now` is null; chin_* are null where nobody sees the thing clearly
     move      {target, lower_cm, farther_cm, before_h, after_h} or null; hours of the whole day
     kinds     [{kind, mean_h, low_h, high_h, gain_h, most_at, second_pair}], worth asking about,
               best first, at most three
     with_move {kind, mean_h}: the best kind where the screen is moved as well; null without a move
     unsure    whether the advice hangs on less than the grid can tell */
const Hours = (() => {
  const SCREENS = ["main screen", "second screen", "third screen"];
  const KNOWN = ["sv_distance", "sv_near", "sv_computer", "general_progressive", "office",
    "one_line", "two_lines", "bare_far", "bare_near", "contacts"];
  const hours = { ready: false };

  hours.load = (base64) => {
    hours.ready = base64.length >= 0;
    return Promise.resolve();
  };

  hours.of = (answers) => {
    if (!answers.screens || !answers.age || answers.age === "under_40") return null;
    const names = SCREENS.slice(0, answers.screens.length)
      .concat((answers.reading || []).map((one) => one.what), answers.others || []);
    const told = answers.hours || {};
    const day = names.reduce((sum, name) => sum + (told[name] || 0), 0) || 6;
    const span = (share) => ({ mean_h: share * day, low_h: (share - 0.1) * day,
      high_h: (share + 0.1) * day });
    const now = KNOWN.includes(answers.glasses) ? span(0.4) : null;
    const move = now && answers.screens[0].movable !== false
      ? { target: names[0], lower_cm: 10, farther_cm: 0, before_h: 0.4 * day, after_h: 0.6 * day }
      : null;
    const kinds = ["office", "sv_computer"].map((kind, at) => ({ kind, ...span(0.8 - 0.05 * at),
      gain_h: (0.4 - 0.05 * at) * day, most_at: names[0], second_pair: true }));
    return { day_h: day, now, move, kinds, unsure: false,
      targets: !now ? [] : names.map((name) => ({ name, clear_share: 0.4, blurred_share: 0.2,
        chin_low_deg: -4, chin_high_deg: 8, free_deg: -6 })),
      with_move: move && { kind: "office", mean_h: 0.9 * day } };
  };
  return hours;
})();
