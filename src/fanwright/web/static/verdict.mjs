// The preliminary verdict, made on the tablet from the same limits as data. The server's verdict is the record.
//
// What cannot be judged here (no network, a nominal that is not known) gives null or "not_judged", never a guess.

import { between } from "./chances.mjs";
import { read } from "./quantity.mjs";

const WORST_LAST = ["good", "watch", "act_now", "stand_down"];
const COARSEST_APART = 2.5;

/**
 * Turn what was typed into a value with its uncertainty, as the server does.
 *
 * @param {object} catalogue the answer of /api/catalogue
 * @param {object} test one of its tests
 * @param {object} entry `{value, instrument}`; a value is a word, a quantity, or a list of either
 * @returns {{word: string} | {si: number, half: number, spread: number, implausible: boolean} | null}
 */
export function measured(catalogue, test, entry) {
  const items = Array.isArray(entry.value) ? entry.value : [entry.value];
  const words = test.outcomes.map((outcome) => outcome.word);
  if (!items.length || (items.length > 1 && !test.list_means)) return null;
  if (items.every((item) => words.includes(item))) {
    return { word: items.reduce((one, other) => (words.indexOf(other) > words.indexOf(one) ? other : one)) };
  }
  if (!test.dimension) return null;
  const single = [];
  for (const item of items) {
    const quantity = read(item, catalogue.units[test.dimension], catalogue.language);
    if (!quantity) return null;
    const instrument = instrumentFor(catalogue, test, entry.instrument, quantity.fraction);
    single.push({ si: quantity.si, half: instrument.division_si / 2, spread: instrument.normal_sd_si });
  }
  const outside = ({ si }) => test.plausible_si && !(test.plausible_si[0] <= si && si <= test.plausible_si[1]);
  return { ...combined(test, single), implausible: single.some(outside) };
}

function instrumentFor(catalogue, test, named, fraction) {
  const own = catalogue.instruments[named];
  if (own && own.dimension === test.dimension) return own;
  return catalogue.instruments[fraction && test.fraction_instrument ? test.fraction_instrument : test.instrument];
}

function combined(test, single) {
  if (single.length === 1) return single[0];
  const pick = (better) => single.reduce((one, other) => (better(other.si, one.si) ? other : one));
  if (test.combine === "lowest") return pick((a, b) => a < b);
  if (test.combine === "highest") return pick((a, b) => a > b);
  const mean = single.reduce((sum, one) => sum + one.si, 0) / single.length;
  const variance = single.reduce((sum, one) => sum + (one.si - mean) ** 2, 0) / (single.length - 1);
  const widest = single.reduce((one, other) => (other.half > one.half ? other : one));
  const ofMean = Math.sqrt(variance / single.length);
  return { si: mean, half: widest.half, spread: Math.hypot(widest.spread, ofMean) };
}

/**
 * Judge one entry.
 *
 * @param {object} catalogue the answer of /api/catalogue
 * @param {{test: string, value: (string|string[]), instrument: (string|undefined)}} entry what was entered
 * @param {object} context `{grips_by, volts, lift_off_gauge_pa, target_tone_hz, belt_span_m, others}`; others holds
 *   for each test already read its `{si, half, spread}` or `{word}`
 * @returns {{verdict: string, chances: object, repeat: boolean, reason: string, todo: string} | null} null where
 *   nothing can be said on the tablet
 */
export function preliminary(catalogue, entry, context) {
  const test = catalogue.tests[entry.test];
  if (!test) return null;
  const limits = test.limits;
  const found = measured(catalogue, test, entry);
  if (!found) return null;
  const reason = (context.grips_by === "spring" ? limits.reason_spring : limits.reason_air) || limits.reason;
  const say = (verdict, chances = {}, repeat = false, why = reason, todo = limits.todo) => ({
    verdict,
    chances,
    repeat,
    reason: why,
    todo: WORST_LAST.indexOf(verdict) > 0 ? todo : "",
  });
  if (found.word !== undefined) return say(limits.words[found.word]);
  if (found.implausible || refused(catalogue, entry.test, found, context)) return say("not_judged");
  if (!limits.bands.length) return byItsWord(test, limits, found, context, say);
  const others = context.others ?? {};
  const nominal = test.relative_to ? nominalOf(test.relative_to, context, others) : undefined;
  const heavy = context.volts > 18;
  if (test.relative_to && nominal === null && !limits.bands_without_nominal.length) return say("not_judged");
  const known = typeof nominal === "number";
  const judged = known ? share(found, nominal) : found;
  const first = weigh(catalogue, judged, bandsFor(limits, heavy, known || !test.relative_to));
  const second = against(catalogue, limits.against, found, others);
  if (second === "missing" && first.verdict === "good") return say("not_judged");
  const weighed = second && second !== "missing" ? [first, second] : [first];
  const worst = weighed.reduce((one, other) => (rank(other) > rank(one) ? other : one));
  const repeat = weighed.some((one) => one.repeat);
  const by = worst === first ? limits : limits.against;
  return say(worst.verdict, worst.chances, repeat, worst === first ? reason : by.reason, by.todo);
}

function rank(weighed) {
  return WORST_LAST.indexOf(weighed.verdict);
}

function byItsWord(test, limits, found, context, say) {
  if (Object.values(limits.words).every((verdict) => verdict === "none")) return say("none");
  const table = context.volts > 18 && test.outcomes_24v.length ? test.outcomes_24v : test.outcomes;
  const outcome = table.find((one) => holds(one, found.si));
  return outcome ? say(limits.words[outcome.word]) : say("not_judged");
}

function holds(outcome, value) {
  const { above_si: above, at_least_si: least, up_to_si: upTo, under_si: under } = outcome;
  if ([above, least, upTo, under].every((edge) => edge === null)) return false;
  const lowest = Math.max(above ?? -Infinity, least ?? -Infinity);
  const highest = Math.min(upTo ?? Infinity, under ?? Infinity);
  const same = (edge) => Math.abs(value - edge) <= 1e-9 * Math.max(Math.abs(value), Math.abs(edge));
  return (same(lowest) ? least !== null : value > lowest) && (same(highest) ? upTo !== null : value < highest);
}

/** Whether the state of the truck forbids a verdict on a time. */
function refused(catalogue, test, found, context) {
  const others = context.others ?? {};
  if (test === "fill_time") {
    const inlet = others.supply_gauge_still?.si;
    return inlet === undefined || inlet < catalogue.fill_from_inlet_pa;
  }
  if (test === "vent_time") {
    const sent = others.drive_gauge_air_on;
    const edge = catalogue.tests.drive_gauge_air_on.limits.bands.find((band) => band.up_to_si !== null)?.up_to_si;
    if (sent?.si === undefined || edge === undefined) return false;
    return sent.si < edge - COARSEST_APART * Math.hypot(sent.half / Math.sqrt(3), sent.spread);
  }
  return false;
}

function nominalOf(what, context, others) {
  if (what === "nominal_volts") return context.volts ?? null;
  if (what === "expected_current") {
    const ohms = others.coil_ohms?.si;
    return ohms && ohms < 200 ? context.volts / ohms : null;
  }
  const kept = { target_tone: "target_tone_hz", belt_span: "belt_span_m", lift_off_spec: "lift_off_gauge_pa" };
  return context[kept[what]] ?? null;
}

function share(found, nominal) {
  return { si: found.si / nominal, half: found.half / nominal, spread: found.spread / nominal };
}

function bandsFor(limits, heavy, known) {
  if (known || !limits.bands_without_nominal.length) {
    return heavy && limits.bands_24v.length ? limits.bands_24v : limits.bands;
  }
  return heavy && limits.bands_without_nominal_24v.length
    ? limits.bands_without_nominal_24v
    : limits.bands_without_nominal;
}

function against(catalogue, rule, found, others) {
  if (!rule) return null;
  const other = others[rule.other];
  if (other?.si === undefined) return catalogue.tests[rule.other] ? null : "missing";
  const [wide, narrow] = found.half >= other.half ? [found, other] : [other, found];
  const spread = Math.hypot(wide.spread, Math.hypot(narrow.half / Math.sqrt(3), narrow.spread));
  return weigh(catalogue, { si: other.si - found.si, half: wide.half, spread }, rule.bands);
}

function weigh(catalogue, found, bands) {
  const chances = {};
  for (const band of bands) {
    chances[band.verdict] = (chances[band.verdict] ?? 0) + between(band.above_si, band.up_to_si, found);
  }
  const chance = (word) => chances[word] ?? 0;
  const severe = [...WORST_LAST].reverse();
  const likely = WORST_LAST.reduce((one, other) => (chance(other) > chance(one) ? other : one));
  const verdict = severe.find((word) => chance(word) >= catalogue.caution_share) ?? likely;
  return { verdict, chances, repeat: Math.max(...Object.values(chances)) < catalogue.sure_share };
}
