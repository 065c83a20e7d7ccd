//! The run-time of SCORM 1.2: what is said to the platform's `API` object, and when.
//!
//! Source: ADL, SCORM Run-Time Environment 1.2, 3.3 and 3.4 (from memory); an emulator and a strict reader of our own in
//! `tests/browser/lms` agree. No browser here: the object stands behind [`Api`].

use super::answered::{Answered, AtLaunch, Response, Standing};
use std::collections::BTreeMap;
use volute_lessons::results::Kind;

/// Most characters of `cmi.suspend_data`: `CMIString4096`.
pub const LONGEST_MEMORY: usize = 4096;
/// Most characters of a location, an id or a response: `CMIString255`.
pub const LONGEST_TEXT: usize = 255;
/// The error that a platform gives for what it does not keep: 401, not implemented.
const NOT_KEPT: &str = "401";

/// The platform's `API` object.
pub trait Api {
    /// Calls a function; nothing if there is none, or if it throws.
    fn call(&self, function: &str, arguments: &[&str]) -> Option<String>;
}

/// What a platform refused, for a person.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refusal {
    /// What was to be done: a function or an element.
    pub what: String,
    /// The platform's own code and words.
    pub why: String,
}

/// A session with a platform.
#[derive(Debug)]
pub struct Session<A> {
    api: A,
    begun_ms: f64,
    read_only: bool,
    /// The pass mark, per cent.
    pass_pct: Option<f64>,
    /// Number of the next answer; nothing where the platform keeps none.
    next: Option<u32>,
    /// What was written last: nothing is said twice.
    written: BTreeMap<String, String>,
    over: bool,
    refusals: Vec<Refusal>,
}

impl<A: Api> Session<A> {
    /// Begins. `pass_pct` is the package's own pass mark, for a platform that does not hand it back. Errors: the platform
    /// refuses.
    pub fn begin(api: A, pass_pct: Option<f64>, now_ms: f64) -> Result<(Self, AtLaunch), Refusal> {
        if !is_true(&api.call("LMSInitialize", &[""])) {
            return Err(refusal(&api, "LMSInitialize"));
        }
        let get = |element: &str| api.call("LMSGetValue", &[element]).unwrap_or_default();
        let read_only = matches!(get("cmi.core.lesson_mode").as_str(), "browse" | "review");
        let pass_pct = get("cmi.student_data.mastery_score")
            .trim()
            .parse()
            .ok()
            .filter(|pct| (0.0..=100.0).contains(pct))
            .or(pass_pct);
        let keeps = get("cmi.interactions._children");
        let next = if keeps.is_empty() { None } else { get("cmi.interactions._count").trim().parse().ok() };
        let kept = AtLaunch {
            learner: get("cmi.core.student_id"),
            memory: get("cmi.suspend_data"),
            read_only,
            language: None,
        };
        let status = get("cmi.core.lesson_status");
        let mut session = Self {
            api,
            begun_ms: now_ms,
            read_only,
            pass_pct,
            next: next.filter(|_| !read_only),
            written: BTreeMap::new(),
            over: false,
            refusals: Vec::new(),
        };
        // What is passed or completed stays so, whatever this visit brings.
        if matches!(status.as_str(), "passed" | "completed" | "failed") {
            session.written.insert(STATUS.into(), status);
        } else {
            session.set(STATUS, "incomplete");
        }
        // The bounds first: some platforms hold a score against them.
        session.set("cmi.core.score.min", "0");
        session.set("cmi.core.score.max", "100");
        // However the window closes, the next visit goes on.
        session.set("cmi.core.exit", "suspend");
        session.commit(now_ms);
        Ok((session, kept))
    }

    /// Tells what has happened. `clock` is the time of day, `HH:MM:SS`.
    pub fn tell(
        &mut self,
        standing: Standing,
        answers: &[Answered],
        memory: &str,
        here: &str,
        now_ms: f64,
        clock: &str,
    ) {
        if self.read_only || self.over {
            return;
        }
        for answer in answers {
            self.interaction(answer, clock);
        }
        self.set("cmi.core.lesson_location", &text(here));
        // The caller keeps it short enough; what is cut here could not be read again.
        if memory.chars().count() <= LONGEST_MEMORY {
            self.set("cmi.suspend_data", memory);
        }
        self.standing(standing);
        self.commit(now_ms);
    }

    /// Ends. Nothing is said after it.
    pub fn end(&mut self, now_ms: f64) {
        if self.over {
            return;
        }
        self.commit(now_ms);
        self.over = true;
        if !is_true(&self.api.call("LMSFinish", &[""])) {
            self.refusals.push(refusal(&self.api, "LMSFinish"));
        }
    }

    /// What the platform has refused since the last call.
    pub fn refusals(&mut self) -> Vec<Refusal> {
        std::mem::take(&mut self.refusals)
    }

    /// Score and status.
    ///
    /// Where there is a pass mark, a platform turns any score that it is given into "passed" or "failed" by itself, also in
    /// the middle of the work. So the score is told once it stands: the mark is reached, or everything was tried.
    fn standing(&mut self, standing: Standing) {
        let passed = self.pass_pct.map(|pct| standing.passes(pct));
        let stands = standing.complete || passed != Some(false);
        if let Some(points) = standing.points_pct.filter(|_| stands) {
            self.set("cmi.core.score.raw", &points.to_string());
        }
        let status = match (passed, standing.complete) {
            (Some(true), _) => "passed",
            (Some(false), true) => "failed",
            (None, true) => "completed",
            (_, false) => "incomplete",
        };
        let was = self.written.get(STATUS).map_or("", String::as_str);
        let rank = |status: &str| match status {
            "passed" | "completed" => 2,
            "failed" => 1,
            _ => 0,
        };
        if rank(was) < rank(status) {
            self.set(STATUS, status);
        }
    }

    fn interaction(&mut self, answer: &Answered, clock: &str) {
        let Some(n) = self.next else { return };
        let (sort, response) = said(answer);
        let result = match answer.right {
            Some(true) => "correct",
            Some(false) => "wrong",
            None => "neutral",
        };
        let id = text(&format!("{}_{}", answer.lesson, answer.item));
        let time = span(f64::from(answer.seconds));
        let facts = [
            ("id", id.as_str()),
            ("time", clock),
            ("type", sort),
            ("weighting", if answer.right.is_some() { "1" } else { "0" }),
            ("student_response", &response),
            ("result", result),
            ("latency", &time),
        ];
        let mut kept = false;
        for (name, value) in facts {
            // Each answer is new, even where it says what another said.
            kept |= self.write(&format!("cmi.interactions.{n}.{name}"), value);
        }
        // A number that holds nothing must be used again: gaps are an error.
        if kept {
            self.next = n.checked_add(1);
        }
    }

    fn set(&mut self, element: &str, value: &str) {
        if self.read_only || self.written.get(element).is_some_and(|was| was == value) {
            return;
        }
        if self.write(element, value) {
            self.written.insert(element.into(), value.into());
        }
    }

    fn write(&mut self, element: &str, value: &str) -> bool {
        let done = is_true(&self.api.call("LMSSetValue", &[element, value]));
        if !done {
            let refusal = refusal(&self.api, element);
            // What a platform may leave out is not a fault of anybody.
            if !refusal.why.starts_with(NOT_KEPT) {
                self.refusals.push(refusal);
            }
        }
        done
    }

    fn commit(&mut self, now_ms: f64) {
        if self.read_only {
            return;
        }
        let time = span((now_ms - self.begun_ms) / 1000.0);
        self.set("cmi.core.session_time", &time);
        if !is_true(&self.api.call("LMSCommit", &[""])) {
            self.refusals.push(refusal(&self.api, "LMSCommit"));
        }
    }
}

const STATUS: &str = "cmi.core.lesson_status";

/// Some platforms answer with a text, some with a boolean, some with 1.
fn is_true(answer: &Option<String>) -> bool {
    matches!(answer.as_deref(), Some("true" | "1"))
}

fn refusal(api: &impl Api, what: &str) -> Refusal {
    let code = api.call("LMSGetLastError", &[]).unwrap_or_else(|| "no answer".into());
    let words = api.call("LMSGetErrorString", &[&code]).unwrap_or_default();
    Refusal { what: what.into(), why: format!("{code} {words}").trim().into() }
}

/// A span of time, `HHHH:MM:SS.ss`.
fn span(seconds: f64) -> String {
    let hundredths = (seconds.clamp(0.0, 9999.0 * 3600.0) * 100.0).round() as u64;
    let (seconds, rest) = (hundredths / 100, hundredths % 100);
    format!("{:04}:{:02}:{:02}.{rest:02}", seconds / 3600, seconds / 60 % 60, seconds % 60)
}

/// A text that any platform takes: at most 255 characters, no line ends or other control characters, no pairs of UTF-16.
fn text(text: &str) -> String {
    let plain = |c: char| if c.is_control() || c > '\u{ffff}' { ' ' } else { c };
    text.chars().map(plain).take(LONGEST_TEXT).collect()
}

/// Type and response of an answer.
fn said(answer: &Answered) -> (&'static str, String) {
    let letters = |picks: &[u32]| {
        let letters = picks.iter().map(|pick| char::from(b'a' + (pick % 26) as u8).to_string());
        letters.collect::<Vec<_>>().join(",")
    };
    match (&answer.response, answer.kind) {
        (Response::Picks(picks), Kind::Order) => ("sequencing", letters(picks)),
        (Response::Picks(picks), _) => ("choice", letters(picks)),
        (Response::Curve(heights), _) => {
            // As many points as there is room for, evenly.
            let step = heights.len().div_ceil(LONGEST_TEXT / 6).max(1);
            let shown: Vec<String> = heights.iter().step_by(step).map(|h| h.clamp(&-9999, &9999).to_string()).collect();
            ("performance", text(&shown.join(" ")))
        }
        (Response::Text(words), Kind::Task) => ("performance", text(words)),
        // A number as it was typed, its unit behind it: `numeric` would have room for the number alone.
        (Response::Text(words), _) => ("fill-in", text(words)),
    }
}

#[cfg(test)]
mod tests {
    use super::super::answered::tests::{item, made, report};
    use super::super::answered::{Standing, answers};
    use super::*;
    use std::cell::RefCell;
    use std::rc::Rc;
    use volute_lessons::results::Report;

    /// A platform that keeps everything and is as strict as the standard.
    #[derive(Debug, Default)]
    struct Platform {
        values: BTreeMap<String, String>,
        calls: Vec<String>,
        begun: bool,
        error: &'static str,
    }

    impl Platform {
        fn judge(&self, element: &str, value: &str) -> &'static str {
            let length = value.chars().count();
            let good = match element {
                "cmi.core.lesson_status" => matches!(value, "incomplete" | "completed" | "passed" | "failed"),
                "cmi.suspend_data" => length <= 4096,
                "cmi.core.lesson_location" => length <= 255,
                "cmi.core.exit" => matches!(value, "suspend" | "logout" | "time-out" | ""),
                "cmi.core.session_time" => is_span(value),
                "cmi.core.score.raw" | "cmi.core.score.min" | "cmi.core.score.max" => {
                    value.parse::<f64>().is_ok_and(|v| (0.0..=100.0).contains(&v))
                }
                _ => {
                    let Some(rest) = element.strip_prefix("cmi.interactions.") else { return "201" };
                    let Some((n, name)) = rest.split_once('.') else { return "201" };
                    let count =
                        self.values.keys().filter(|k| k.starts_with("cmi.interactions.") && k.ends_with(".id")).count();
                    let n: usize = n.parse().unwrap_or(usize::MAX);
                    if n > count || n == count && name != "id" {
                        return "201";
                    }
                    match name {
                        "id" => {
                            !value.is_empty()
                                && length <= 255
                                && value.bytes().all(|b| b.is_ascii_alphanumeric() || b"-_".contains(&b))
                        }
                        "type" => matches!(value, "choice" | "fill-in" | "performance" | "sequencing"),
                        "student_response" => length <= 255 && !value.chars().any(char::is_control),
                        "result" => matches!(value, "correct" | "wrong" | "neutral"),
                        "weighting" => value.parse::<f64>().is_ok(),
                        "latency" => is_span(value),
                        "time" => value.len() == 8,
                        _ => false,
                    }
                }
            };
            if good { "0" } else { "405" }
        }
    }

    fn is_span(value: &str) -> bool {
        let bytes = value.as_bytes();
        bytes.len() == 13
            && bytes.iter().enumerate().all(|(i, b)| match i {
                4 | 7 => *b == b':',
                10 => *b == b'.',
                _ => b.is_ascii_digit(),
            })
    }

    impl Api for Rc<RefCell<Platform>> {
        fn call(&self, function: &str, arguments: &[&str]) -> Option<String> {
            let mut own = self.borrow_mut();
            own.calls.push(format!("{function} {}", arguments.join(" ")).trim().to_string());
            let answer = match (function, arguments) {
                ("LMSInitialize", [""]) => {
                    own.begun = true;
                    "true".into()
                }
                ("LMSFinish", [""]) => {
                    let ok = std::mem::replace(&mut own.begun, false);
                    ok.to_string()
                }
                ("LMSCommit", [""]) => own.begun.to_string(),
                ("LMSGetValue", [element]) => match *element {
                    "cmi.interactions._children" => "id,time".into(),
                    "cmi.interactions._count" => own
                        .values
                        .keys()
                        .filter(|k| k.ends_with(".id") && k.contains("interactions"))
                        .count()
                        .to_string(),
                    element => own.values.get(element).cloned().unwrap_or_default(),
                },
                ("LMSSetValue", [element, value]) => {
                    own.error = own.judge(element, value);
                    if own.error == "0" {
                        own.values.insert(element.to_string(), value.to_string());
                    }
                    (own.error == "0").to_string()
                }
                ("LMSGetLastError", []) => own.error.into(),
                ("LMSGetErrorString", [_]) => "words".into(),
                _ => return None,
            };
            Some(answer)
        }
    }

    fn value(platform: &Rc<RefCell<Platform>>, element: &str) -> String {
        platform.borrow().values.get(element).cloned().unwrap_or_default()
    }

    fn begin(platform: &Rc<RefCell<Platform>>, pass: Option<f64>) -> (Session<Rc<RefCell<Platform>>>, AtLaunch) {
        Session::begin(platform.clone(), pass, 0.0).expect("it begins")
    }

    fn tell(session: &mut Session<Rc<RefCell<Platform>>>, before: &Report, after: &Report) {
        let mut answers = answers(before, after);
        answers.iter_mut().for_each(|answer| answer.seconds = 65);
        session.tell(Standing::of(after), &answers, "1;memory", "a-lesson", 61_000.0, "10:20:30");
        assert_eq!(session.refusals(), []);
    }

    #[test]
    fn by_hand_a_lesson_from_launch_to_relaunch() {
        let platform = Rc::new(RefCell::new(Platform::default()));
        platform.borrow_mut().values.insert("cmi.core.student_id".into(), "ann".into());
        let (mut session, kept) = begin(&platform, Some(70.0));
        assert_eq!(kept, AtLaunch { learner: "ann".into(), ..AtLaunch::default() });
        assert_eq!(value(&platform, STATUS), "incomplete");
        let start = report(vec![item("p", Kind::Number, &[]), item("q", Kind::Choice, &[])], false);
        let half = report(
            vec![item("p", Kind::Number, &[made(0, false), made(1, true)]), item("q", Kind::Choice, &[])],
            false,
        );
        tell(&mut session, &start, &half);
        assert_eq!(value(&platform, "cmi.interactions.0.result"), "wrong");
        assert_eq!(value(&platform, "cmi.interactions.1.result"), "correct");
        assert_eq!(value(&platform, "cmi.interactions.1.id"), "a-lesson_p");
        assert_eq!(value(&platform, "cmi.interactions.1.latency"), "0000:01:05.00");
        assert_eq!(value(&platform, "cmi.core.score.raw"), "", "50 of 70 % would be taken for failed");
        assert_eq!(value(&platform, STATUS), "incomplete");
        session.end(62_000.0);
        session.end(63_000.0);
        assert_eq!(value(&platform, "cmi.core.session_time"), "0001:01:02.00".replace("0001", "0000"));
        assert_eq!(platform.borrow().calls.iter().filter(|call| *call == "LMSFinish").count(), 1);

        let (mut again, kept) = begin(&platform, Some(70.0));
        assert_eq!(kept.memory, "1;memory");
        let all = report(
            vec![item("p", Kind::Number, &[made(0, false), made(1, true)]), item("q", Kind::Choice, &[made(0, true)])],
            true,
        );
        tell(&mut again, &half, &all);
        assert_eq!(value(&platform, "cmi.interactions.2.id"), "a-lesson_q", "numbers go on without a gap");
        assert_eq!((value(&platform, STATUS), value(&platform, "cmi.core.score.raw")), ("passed".into(), "100".into()));
    }

    #[test]
    fn by_hand_status_by_pass_mark() {
        let wrong = report(vec![item("p", Kind::Number, &[made(0, false)])], true);
        let right = report(vec![item("p", Kind::Number, &[made(0, true)])], true);
        let open = report(vec![item("p", Kind::Number, &[made(0, true)]), item("q", Kind::Number, &[])], false);
        for (pass, mastery, after, status, score) in [
            (Some(70.0), "", &wrong, "failed", "0"),
            (Some(70.0), "", &right, "passed", "100"),
            (Some(70.0), "", &open, "incomplete", ""),
            (Some(50.0), "", &open, "passed", "50"),
            // The platform's own mark goes before the package's.
            (Some(50.0), "80", &open, "incomplete", ""),
            (Some(70.0), "nonsense", &wrong, "failed", "0"),
            (None, "", &wrong, "completed", "0"),
            (None, "", &open, "incomplete", "50"),
        ] {
            let platform = Rc::new(RefCell::new(Platform::default()));
            platform.borrow_mut().values.insert("cmi.student_data.mastery_score".into(), mastery.into());
            let (mut session, _) = begin(&platform, pass);
            tell(&mut session, &Report::default(), after);
            assert_eq!(
                (value(&platform, STATUS).as_str(), value(&platform, "cmi.core.score.raw").as_str()),
                (status, score),
                "{pass:?} {mastery}"
            );
        }
    }

    #[test]
    fn by_hand_what_was_passed_stays_passed() {
        let platform = Rc::new(RefCell::new(Platform::default()));
        platform.borrow_mut().values.insert(STATUS.into(), "passed".into());
        let (mut session, _) = begin(&platform, Some(70.0));
        tell(&mut session, &Report::default(), &report(vec![item("p", Kind::Number, &[made(0, false)])], true));
        assert_eq!(value(&platform, STATUS), "passed");
    }

    #[test]
    fn by_hand_a_second_look_writes_nothing() {
        for mode in ["browse", "review"] {
            let platform = Rc::new(RefCell::new(Platform::default()));
            platform.borrow_mut().values.insert("cmi.core.lesson_mode".into(), mode.into());
            let (mut session, kept) = begin(&platform, Some(70.0));
            assert!(kept.read_only);
            tell(&mut session, &Report::default(), &report(vec![item("p", Kind::Number, &[made(0, true)])], true));
            session.end(9.0);
            let calls = platform.borrow().calls.clone();
            assert!(
                !calls.iter().any(|call| call.starts_with("LMSSetValue") || call.starts_with("LMSCommit")),
                "{calls:?}"
            );
            assert_eq!(calls.last().map(String::as_str), Some("LMSFinish"));
        }
    }

    #[test]
    fn by_hand_a_platform_that_refuses_is_heard() {
        #[derive(Debug)]
        struct Refuses;
        impl Api for Refuses {
            fn call(&self, function: &str, _: &[&str]) -> Option<String> {
                match function {
                    "LMSGetLastError" => Some("101".into()),
                    "LMSGetErrorString" => Some("General exception".into()),
                    _ => Some("false".into()),
                }
            }
        }
        let refused = Session::begin(Refuses, None, 0.0).expect_err("refused");
        assert_eq!(refused, Refusal { what: "LMSInitialize".into(), why: "101 General exception".into() });
    }

    #[test]
    fn by_hand_hostile_answers_fit() {
        let long = "\u{1f600}\n\0<script>".repeat(500);
        for (kind, response) in [
            (Kind::Words, Response::Text(long.clone())),
            (Kind::Task, Response::Text(long)),
            (Kind::Sketch, Response::Curve(vec![-100_000; 101])),
            (Kind::Order, Response::Picks((0..60).collect())),
        ] {
            let platform = Rc::new(RefCell::new(Platform::default()));
            let (mut session, _) = begin(&platform, None);
            let answer = Answered {
                lesson: "a-lesson".into(),
                item: "p".into(),
                kind,
                response,
                right: None,
                points_pct: 0,
                seconds: u32::MAX,
            };
            let standing = Standing { points_pct: None, complete: false };
            session.tell(standing, &[answer], &"x".repeat(4097), &"here".repeat(100), f64::NAN, "10:20:30");
            assert_eq!(session.refusals(), [], "{kind:?}");
            assert_eq!(value(&platform, "cmi.interactions.0.latency"), "9999:00:00.00");
            assert_eq!(value(&platform, "cmi.suspend_data"), "", "rather none than half");
        }
    }

    #[test]
    fn by_hand_spans() {
        for (seconds, text) in
            [(0.0, "0000:00:00.00"), (59.999, "0000:01:00.00"), (3661.5, "0001:01:01.50"), (-5.0, "0000:00:00.00")]
        {
            assert_eq!(span(seconds), text);
        }
    }
}
