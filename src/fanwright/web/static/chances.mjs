// How probable it is that the true value lies on either side of an edge: the closed form of the server.
//
// A reading y on a scale of division d may be off by a rectangle of half width d/2 and by a normal part s. The chance
// that the true value is at most an edge is the rectangle convolved with the normal curve, which has a closed form.

const FAR = 38;
const ROOT_HALF = Math.SQRT1_2;

/** Complementary error function: a series near zero, a continued fraction far out; good to 1e-14. */
export function erfc(x) {
  if (x < 0) return 2 - erfc(-x);
  if (x > 27) return 0;
  if (x < 2.5) {
    let term = x;
    let sum = x;
    for (let n = 1; Math.abs(term) > 1e-18 * Math.abs(sum) && n < 200; n += 1) {
      term *= (2 * x * x) / (2 * n + 1);
      sum += term;
    }
    return 1 - (2 / Math.sqrt(Math.PI)) * Math.exp(-x * x) * sum;
  }
  let below = x;
  for (let n = 120; n > 0; n -= 1) below = x + n / 2 / below;
  return Math.exp(-x * x) / Math.sqrt(Math.PI) / below;
}

function normal(z) {
  return 0.5 * erfc(-z * ROOT_HALF);
}

/** Integral of the normal distribution function from minus infinity to z. */
function ramp(z) {
  if (z > FAR) return z;
  return z < -FAR ? 0 : z * normal(z) + Math.exp(-0.5 * z * z) / Math.sqrt(2 * Math.PI);
}

/** Chance that the true value is at most an edge, all in SI. */
export function atMost(edge, measured) {
  const gap = edge - measured.si;
  const { half, spread } = measured;
  if (spread <= 0 && half <= 0) return gap >= 0 ? 1 : 0;
  if (spread <= 0 || half / spread > 1e9) return Math.min(1, Math.max(0, 0.5 + gap / (2 * half)));
  if (half / spread < 1e-6) return normal(gap / spread);
  const [low, high] = [(gap - half) / spread, (gap + half) / spread];
  return Math.min(1, Math.max(0, ((ramp(high) - ramp(low)) * spread) / (2 * half)));
}

/** Chance that the true value lies between two edges; null stands for no edge on that side. */
export function between(low, high, measured) {
  const above = high === null ? 1 : atMost(high, measured);
  const below = low === null ? 0 : atMost(low, measured);
  return Math.max(0, above - below);
}
