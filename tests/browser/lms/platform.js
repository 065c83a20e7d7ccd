// A learning platform: the emulator scorm-again, and in front of it a reader of our own that checks every call against SCORM
// 1.2. The emulator accepts longer texts than the standard allows, so lengths are checked here.
import { Scorm12API } from "./scorm12.min.js";

const span = /^\d{4}:\d{2}:\d{2}\.\d{2}$/;
const text = (most) => (value) => value.length <= most && /^[^\u0000-\u001f\u007f]*$/.test(value);
const ascii = (most) => (value) => value.length <= most && /^[\u0020-\u007e]*$/.test(value);
const percent = (value) => /^\d+(\.\d+)?$/.test(value) && Number(value) <= 100;
const one = (...words) => (value) => words.includes(value);
const RULES = [
  [/^cmi\.core\.lesson_status$/, one("incomplete", "completed", "passed", "failed")],
  [/^cmi\.core\.score\.(raw|min|max)$/, percent],
  [/^cmi\.core\.exit$/, one("suspend", "")],
  [/^cmi\.core\.session_time$/, (value) => span.test(value)],
  [/^cmi\.core\.lesson_location$/, ascii(255)],
  [/^cmi\.suspend_data$/, ascii(4096)],
  [/^cmi\.interactions\.\d+\.id$/, (value) => /^[A-Za-z0-9_-]{1,255}$/.test(value)],
  [/^cmi\.interactions\.\d+\.type$/, one("true-false", "choice", "fill-in", "matching", "performance", "likert", "sequencing", "numeric")],
  [/^cmi\.interactions\.\d+\.student_response$/, text(255)],
  [/^cmi\.interactions\.\d+\.result$/, one("correct", "wrong", "unanticipated", "neutral")],
  [/^cmi\.interactions\.\d+\.weighting$/, (value) => /^\d+(\.\d+)?$/.test(value)],
  [/^cmi\.interactions\.\d+\.latency$/, (value) => span.test(value)],
  [/^cmi\.interactions\.\d+\.time$/, (value) => /^\d\d:\d\d:\d\d(\.\d{1,2})?$/.test(value)],
];

const kept = JSON.parse(sessionStorage.getItem("kept") ?? "null")?.cmi;
const settings = JSON.parse(sessionStorage.getItem("settings") ?? "{}");
const emulator = new Scorm12API({ autocommit: false, mastery_override: true, logLevel: 3 });
const core = {
  student_id: "ann.b",
  student_name: "B, Ann",
  lesson_mode: settings.mode ?? "normal",
  credit: "credit",
  entry: kept ? "resume" : "ab-initio",
};
emulator.loadFromJSON({
  core: { ...(kept?.core ?? {}), ...core },
  student_data: { mastery_score: settings.mastery ?? "" },
  ...(kept ? { suspend_data: kept.suspend_data } : {}),
}, "cmi");

// What was said, what was wrong with it, and how many answers there are so far.
window.calls = [];
window.faults = [];
let state = "before";
let answers = 0;

function judge(name, args) {
  if (args.some((arg) => typeof arg !== "string")) return `${name}: every argument is a text`;
  if (name === "LMSInitialize" || name === "LMSFinish" || name === "LMSCommit") {
    if (args.length !== 1 || args[0] !== "") return `${name} takes one empty text`;
  }
  if (name === "LMSInitialize") return state === "before" ? ((state = "on"), null) : "LMSInitialize twice";
  if (name.startsWith("LMSGetErr") || name === "LMSGetLastError" || name === "LMSGetDiagnostic") return null;
  if (state !== "on") return `${name} ${state} the session`;
  if (name === "LMSFinish") state = "after";
  if (name !== "LMSSetValue") return null;
  const [element, value] = args;
  const rule = RULES.find(([pattern]) => pattern.test(element));
  if (!rule) return `${element} is no element that may be written`;
  if (!rule[1](value)) return `${element} may not be "${value}" (${value.length} characters)`;
  const n = /^cmi\.interactions\.(\d+)\.(\w+)$/.exec(element);
  if (n && n[2] === "id" && Number(n[1]) !== answers++) return `${element}: the next answer is number ${answers - 1}`;
  if (n && n[2] !== "id" && Number(n[1]) !== answers - 1) return `${element}: no such answer`;
  return null;
}

window.API = Object.fromEntries(
  ["LMSInitialize", "LMSFinish", "LMSGetValue", "LMSSetValue", "LMSCommit", "LMSGetLastError", "LMSGetErrorString", "LMSGetDiagnostic"].map((name) => [
    name,
    (...args) => {
      const fault = judge(name, args);
      if (fault) window.faults.push(fault);
      const answer = emulator[name](...args);
      window.calls.push([name, ...args, answer]);
      if (name === "LMSFinish") sessionStorage.setItem("kept", emulator.renderCMIToJSONString());
      return answer;
    },
  ]),
);
window.value = (element) => element.split(".").reduce((at, step) => at?.[step], JSON.parse(emulator.renderCMIToJSONString()));
window.ready = true;
