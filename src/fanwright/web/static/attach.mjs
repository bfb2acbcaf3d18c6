// Photo, voice and note of a test: kept on the tablet like a reading, sent after it.

import { button, el } from "./dom.mjs";
import { t } from "./words.mjs";

const LONGEST_SIDE = 2000;
const LONGEST_VOICE_MS = 120_000;
const FILES = [
  ["air_trace", "pressure trace", ".csv,.txt"],
  ["recording", "recorded traffic", ".log,.asc,.blf,.trc,.csv,.txt,.mf4,.db,.sqlite"],
  ["sheet", "sheet", ".pdf,.png,.jpg,.jpeg,.csv"],
];

/** Make the part of a sheet where photos, voice, notes and files are added. */
export function attachments(page, id) {
  const said = el("p.quiet", { role: "status" });
  const send = async (what, blob, name) => {
    try {
      await page.enter({ kind: "file", what: page.after && what in AFTER ? AFTER[what] : what, test: id, after: page.after, name }, blob, name);
      said.textContent = t("{name} is kept here and will be sent", { name });
    } catch (error) {
      said.textContent = t("not kept: {why}", { why: String(error?.message ?? error) });
    }
  };
  const moment = () => new Date().toISOString().slice(11, 19).replaceAll(":", "");
  const photo = picker("photo", "image/*", async (file) => {
    const smaller = await shrunk(file);
    send("photos", smaller, `${id}-${moment()}.${smaller.type === "image/jpeg" ? "jpg" : extension(file.name)}`);
  }, { capture: "environment" });
  const note = el("textarea", { id: "note-text", maxlength: "2000", rows: "2" });
  const keepNote = () => note.value.trim() && page.enter({ kind: "note", test: id, after: page.after, value: note.value.trim() }, null, note.value)
    .then(() => { note.value = ""; said.textContent = t("the note is kept"); });
  return el("details.attach", {}, el("summary", {}, t("photo, voice, note, file")),
    el("div.outcomes", {}, photo, voice((blob) => send("voice", blob, `${id}-${moment()}.${blob.type.includes("mp4") ? "m4a" : "webm"}`), said),
      ...FILES.map(([what, words, accept]) => picker(words, accept, (file) => send(what, file, file.name)))),
    el("label", { for: "note-text" }, t("note")), note, button(t("save note"), keepNote), said);
}

const AFTER = { air_trace: "air_trace_after", recording: "recording_after" };
const extension = (name) => (name.match(/\.(\w{1,5})$/) ?? [])[1]?.toLowerCase() ?? "bin";

function picker(words, accept, take, given = {}) {
  const input = el("input.file", { type: "file", accept, ...given, onchange: () => {
    if (input.files[0]) take(input.files[0]);
    input.value = "";
  } });
  return el("label.button", {}, input, t(words));
}

/** Make a photo small enough for a poor network; one that the browser cannot read is sent as it is. */
async function shrunk(file) {
  try {
    const image = await createImageBitmap(file);
    const scale = Math.min(1, LONGEST_SIDE / Math.max(image.width, image.height));
    const canvas = el("canvas", { width: Math.round(image.width * scale), height: Math.round(image.height * scale) });
    canvas.getContext("2d").drawImage(image, 0, 0, canvas.width, canvas.height);
    return await new Promise((resolve) => canvas.toBlob((blob) => resolve(blob ?? file), "image/jpeg", 0.85));
  } catch {
    return file;
  }
}

function voice(done, said) {
  if (!globalThis.MediaRecorder || !navigator.mediaDevices?.getUserMedia) {
    return picker("voice", "audio/*", (file) => done(file), { capture: "user" });
  }
  let recorder = null;
  const press = button(t("voice"), async () => {
    if (recorder) return recorder.stop();
    try {
      const stream = await navigator.mediaDevices.getUserMedia({ audio: true });
      const parts = [];
      recorder = new MediaRecorder(stream);
      recorder.ondataavailable = (event) => parts.push(event.data);
      recorder.onstop = () => {
        stream.getTracks().forEach((track) => track.stop());
        press.textContent = t("voice");
        done(new Blob(parts, { type: recorder.mimeType || "audio/webm" }));
        recorder = null;
      };
      recorder.start();
      setTimeout(() => recorder?.stop(), LONGEST_VOICE_MS);
      press.textContent = t("stop and keep");
    } catch {
      said.textContent = t("the microphone is not given to this page");
    }
  });
  return press;
}
