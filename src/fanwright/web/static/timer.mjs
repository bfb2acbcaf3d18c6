// A timer for fill and vent: pressed when the air changes, pressed again when the needle arrives.
//
// What it adds of its own (two presses of a thumb, a needle that lags) is known as the instrument "tablet_timer".

import { button, el } from "./dom.mjs";
import { t } from "./words.mjs";

export const INSTRUMENT = "tablet_timer";
export const TIMED = ["fill_time", "vent_time"];
const LONGEST_S = 60;

/**
 * Make a timer.
 *
 * @param {string} test what is timed
 * @param {(text: string) => void} done called with a text such as `2.1 s`
 */
export function timer(test, done) {
  const shown = el("span.clock", { "aria-hidden": "true" }, "–.– s");
  const [start, stop] = test === "fill_time"
    ? [t("air sent: start"), t("needle at 90 psi: stop")]
    : [t("needle leaves 90 psi: start"), t("needle at zero: stop")];
  let began = null;
  let ticking = 0;
  const tick = () => {
    const elapsed = (performance.now() - began) / 1000;
    shown.textContent = `${elapsed.toFixed(1)} s`;
    if (elapsed > LONGEST_S) end();
    else ticking = requestAnimationFrame(tick);
  };
  const end = () => {
    const seconds = (performance.now() - began) / 1000;
    cancelAnimationFrame(ticking);
    began = null;
    press.textContent = start;
    press.classList.remove("running");
    shown.textContent = `${seconds.toFixed(1)} s`;
    if (seconds <= LONGEST_S) done(`${seconds.toFixed(1)} s`);
    else shown.textContent = t("over a minute: never arrived");
  };
  const press = button(start, null, { class: "go timer" });
  press.addEventListener("pointerdown", (event) => {
    event.preventDefault();
    go(event.timeStamp);
  });
  press.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" && event.key !== " ") return;
    event.preventDefault();
    if (!event.repeat) go(event.timeStamp);
  });
  let last = 0;
  const go = (moment) => {
    last = performance.now();
    if (began === null) {
      began = moment || last;
      press.textContent = stop;
      press.classList.add("running");
      tick();
    } else {
      end();
    }
  };
  // a press that no finger and no key made comes from a screen reader
  press.addEventListener("click", () => performance.now() - last > 500 && go(0));
  return el("div.timing", {}, shown, press);
}
