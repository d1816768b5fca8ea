// Loudspeakers that note what sounds; listeners that press buttons; random numbers with a seed.
let playing = [], drawn = 0, seed = SEED, fakeRandom = FAKE;
class Param { constructor() { this.value = 1; } cancelScheduledValues() {}
  setValueAtTime(v) { this.value = v; } linearRampToValueAtTime(v) { this.value = v; } }
class Loudspeaker {
  constructor(o) { this.sampleRate = o.sampleRate; this.currentTime = 0; this.destination = {}; }
  createBuffer(c, n) { return { length: n, copyToChannel(p) { this.data = p; } }; }
  createBufferSource() { const s = { connect: (g) => (s.out = g), start() { playing.push(s); },
    stop() { playing = playing.filter((one) => one !== s); } }; return s; }
  createGain() { return { gain: new Param(), connect() {} }; } }
window.AudioContext = Loudspeaker;
function mulberry() { seed = (seed + 0x6D2B79F5) | 0; let t = Math.imul(seed ^ (seed >>> 15), 1 | seed);
  t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t; return (t ^ (t >>> 14)) >>> 0; }
const real = crypto.getRandomValues.bind(crypto);
crypto.getRandomValues = (a) => { drawn += 1; if (!fakeRandom) return real(a); a[0] = mulberry(); return a; };
const $ = (q) => document.querySelector(q);
const sound = () => { const on = playing.filter((s) => s.out.gain.value === 1);
  if (on.length !== 1) throw new Error(on.length + " sounds at a time"); return on[0].buffer.data; };
const mean = (data) => data.reduce((sum, x) => sum + x, 0) / data.length;
const seen = new Set();
const slots = () => [...document.querySelectorAll("[data-slot]")];
const listeners = {
  hears(values) { const m = values.map(mean);
    if ($("[data-slot=X]")) return Math.abs(m[2] - m[0]) < Math.abs(m[2] - m[1]) ? 0 : 1;
    const far = m.map((x, i) => Math.min(...m.filter((_, k) => k !== i).map((y) => Math.abs(x - y))));
    return far.indexOf(Math.max(...far)); },
  guesses() { return mulberry() % document.querySelectorAll("[data-answer]").length; },
  // All there is but the sound itself: page, sizes, names, timers, globals; anything new is a hint.
  cheats(values) { const page = document.documentElement.outerHTML.replace(/Question [0-9]+/, "");
    const hint = JSON.stringify([page.length, page, values.map((v) => v.length),
      performance.getEntriesByType("resource").map((e) => [e.name, e.transferSize]),
      Object.keys(window).length, localStorage.length, document.images.length]);
    seen.add(hint); return [...seen].indexOf(hint) % document.querySelectorAll("[data-answer]").length; },
};
function take(listener, keys) {
  const press = keys
    ? (k) => document.body.dispatchEvent(new KeyboardEvent("keydown", { key: k, bubbles: true }))
    : null;
  $("#level-play").click(); $("#begin").click();
  let guard = 0;
  while ($("#end").hidden && (guard += 1) < 100) {
    if (press) press(" "); else $("#play").click();
    if (!$("#next").disabled) throw new Error("next before an answer");
    const early = [...document.querySelectorAll("[data-answer]")].some((b) => !b.disabled);
    if (early) throw new Error("answers before the sounds");
    const values = slots().map((b) => {
      if (press) press(b.dataset.slot.toLowerCase()); else b.click(); return sound(); });
    if (new Set(values.map((v) => v[100])).size < values.length) throw new Error("a pluck twice");
    slots()[0].click();
    const answer = listeners[listener](values);
    if (press) press(String(answer + 1)); else document.querySelectorAll("[data-answer]")[answer].click();
    if (press) press("n"); else $("#next").click();
    if (playing.length) throw new Error("still playing");
  }
  return { result: $("#result").value, said: $("#said").textContent, name: $("#save").download };
}
addEventListener("DOMContentLoaded", () => {
  const told = {};
  try {
    told.first = take(LISTENER, true);
    told.drawn = drawn;
    seen.clear();  // the page as first loaded holds its own script too
    told.right = []; told.answers = "";
    for (let run = 0; run < RUNS; run += 1) {
      document.body.innerHTML = BODY;
      new Function(SCRIPT)();
      const trials = JSON.parse(take(LISTENER, false).result).trials;
      told.right.push(trials.filter(([a, b]) => a === b).length);
      told.answers += trials.map(([a]) => a).join("");
    }
    told.seen = seen.size;
  } catch (error) { told.error = String(error.stack); }
  document.title = "told|" + JSON.stringify(told);
});
