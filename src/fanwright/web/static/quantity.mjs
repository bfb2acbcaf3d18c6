// From typed text such as "11/32 in" to SI, by the same grammar as the server's.
//
// quantity = [sign] number [blank] unit; number = whole ["." digits] | "." digits | whole "," digits (Spanish and
// French only) | digits "/" digits | digits ("-" | blank) digits "/" digits. Nothing else is guessed at.

const WHOLE = "(?:[1-9]\\d{0,2}(?:,\\d{3})+|[1-9]\\d{0,2}(?: \\d{3})+|\\d+)";
const SHAPE = new RegExp(
  `^(?<sign>[+-]?) ?(?:(?:(?<units>\\d+)(?:-| ))?(?<top>\\d+)/(?<bottom>\\d+)` +
    `|(?<comma>\\d+,(?!\\d{3}(?!\\d))\\d+)` +
    `|(?<decimal>${WHOLE}(?:\\.\\d+)?|\\.\\d+))(?![\\d.,]|/\\d) ?(?<unit>\\S.*)?$`,
);
const COMMA_LANGUAGES = ["es", "fr"];
const MOST_DIGITS = 15;

/** Bring blanks, minus signs and strokes to the plain ones. */
function cleaned(typed) {
  return typed
    .replace(/[\u00a0\u202f\u2009\t]/g, " ")
    .replace(/\u2212/g, "-")
    .replace(/\u2044/g, "/")
    .split(/\s+/)
    .filter(Boolean)
    .join(" ");
}

/** Find the unit of a dimension that is spelled so; case is forgiven where only one unit fits. */
export function findUnit(spelling, units) {
  const exact = units.find((unit) => unit.spellings.includes(spelling));
  if (exact) return exact;
  const lower = spelling.toLowerCase();
  const close = units.filter((unit) => unit.spellings.some((known) => known.toLowerCase() === lower));
  return close.length === 1 ? close[0] : null;
}

/**
 * Read a typed quantity.
 *
 * @param {string} typed what was typed
 * @param {Array<{spellings: string[], factor: number, offset: number}>} units the units of what is measured
 * @param {string} language `en`, `es` or `fr`
 * @returns {{si: number, fraction: boolean, unit: object} | null} the value in SI, or null where it cannot be read
 */
export function read(typed, units, language = "en") {
  if (typeof typed !== "string") return null;
  const shape = SHAPE.exec(cleaned(typed))?.groups;
  if (!shape || !shape.unit) return null;
  const digits = [shape.units, shape.top, shape.bottom, shape.comma, shape.decimal].join("").replace(/\D/g, "");
  if (digits.length > MOST_DIGITS) return null;
  if (shape.comma && !COMMA_LANGUAGES.includes(language)) return null;
  const unit = findUnit(shape.unit, units);
  const value = number(shape);
  if (!unit || value === null) return null;
  const signed = shape.sign === "-" ? -value : value;
  return { si: (signed + unit.offset) * unit.factor, fraction: Boolean(shape.top), unit };
}

/** The number itself, without sign; null where it is no proper fraction. */
function number(shape) {
  if (!shape.top) return Number(shape.comma ? shape.comma.replace(",", ".") : shape.decimal.replace(/[, ]/g, ""));
  const [top, bottom] = [Number(shape.top), Number(shape.bottom)];
  if (!(bottom > 0 && bottom <= 1000) || (shape.units && top >= bottom)) return null;
  return Number(shape.units ?? 0) + top / bottom;
}
