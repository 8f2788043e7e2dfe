// Put into every page before its own scripts: knows whether the page has anything left to do.
// `lgStill(looks)` resolves when it had nothing to do at so many looks running, 25 ms apart.
// `lgDrawn()` resolves when a page is there. `lgPaste(field, text)` fills a field.
(() => {
  const LOOK_MS = 25, LONGEST_MS = 500;
  const later = window.setTimeout.bind(window), never = window.clearTimeout.bind(window);
  const waiting = new Set();
  let asked = 0;

  // Timers of up to half a second are work to come: a pause in typing, a part drawn a little later.
  // (The library has one of 0.6 s after each change of size, for lists that are open.)
  window.setTimeout = (work, delay = 0, ...given) => {
    const number = later((...late) => {
      waiting.delete(number);
      if (typeof work === 'function') work(...late);
    }, delay, ...given);
    if (delay <= LONGEST_MS) waiting.add(number);
    return number;
  };
  window.clearTimeout = number => { waiting.delete(number); never(number); };

  const send = XMLHttpRequest.prototype.send;
  XMLHttpRequest.prototype.send = function (...given) {
    asked += 1;
    this.addEventListener('loadend', () => { asked -= 1; }, {once: true});
    return send.apply(this, given);
  };
  const get = window.fetch.bind(window);
  window.fetch = (...given) => {
    asked += 1;
    return get(...given).finally(() => { asked -= 1; });
  };

  // Steps back and forward within the page.
  window.lgPopped = 0;
  window.addEventListener('popstate', () => { window.lgPopped += 1; });

  const moving = one => one.playState === 'running'
    && one.effect?.getComputedTiming().endTime !== Infinity;
  const unfinished = () => document.querySelector('[data-testid=stSkeleton]')
    || [...document.querySelectorAll('[data-testid=stVegaLiteChart]')]
      .some(one => one.checkVisibility() && !one.querySelector('svg, canvas'));
  const rests = () => {
    if (location.protocol === 'file:') return document.readyState === 'complete';
    const app = document.querySelector('[data-testid=stApp]');
    return Boolean(app) && app.dataset.testScriptState === 'notRunning'
      && app.dataset.testConnectionState === 'CONNECTED';
  };
  // Who asked for less motion (as these tests do) still sees parts unfold: that is brought to its end.
  const moves = () => document.getAnimations().filter(moving).map(one => one.finish()).length > 0;
  const still = () => rests() && !waiting.size && !asked && !unfinished() && !moves();

  window.lgStill = looks => new Promise(done => {
    let left = looks;
    const look = () => {
      left = still() ? left - 1 : looks;
      if (left <= 0) done(true); else later(look, LOOK_MS);
    };
    look();
  });
  window.lgDrawn = () => new Promise(done => {
    const look = () => {
      if (rests() && document.querySelector('[data-testid=stMainBlockContainer]')) done(true);
      else later(look, LOOK_MS);
    };
    look();
  });
  window.lgBusy = () => [rests(), waiting.size, asked, Boolean(unfinished()),
    document.getAnimations().filter(moving).length];
  // Text pasted into a field. The library draws the field at once, between two steps of a script,
  // and all else after the script: however many fields it fills, the page answers once.
  window.lgPaste = async (field, text) => {
    field.focus();
    field.select();
    await null;
    document.execCommand('insertText', false, text);
    await null;
    return field.value === text;
  };
  // Reading what can be seen lays the page out, so it waits for a change, or for ten looks.
  window.lgWords = (selector, words) => new Promise(done => {
    let looks = 0, changed = true;
    const watch = new MutationObserver(() => { changed = true; });
    watch.observe(document, {subtree: true, childList: true, characterData: true, attributes: true});
    const look = () => {
      if (changed || looks % 10 === 0) {
        changed = false;
        const seen = document.querySelector(selector)?.innerText.replaceAll('\u00a0', ' ') || '';
        if (seen.includes(words)) { watch.disconnect(); done(true); return; }
      }
      looks += 1;
      later(look, LOOK_MS);
    };
    look();
  });
})();
