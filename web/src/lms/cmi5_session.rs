//! The run-time of cmi5: what the launch link says, and which statements go to the record store, in which order.
//!
//! Source: AICC, cmi5 specification, Quartz 1st edition; the numbers in the tests are those of its requirements. No browser
//! here: the page sends what this says, see [`super::platform::Courier`].

use super::answered::{Answered, Response, Standing};
use crate::language::{msg, t, tf};
use serde_json::{Map, Value, json};
use std::fmt;
use volute_lessons::escape;
use volute_lessons::results::Kind;

const CATEGORY: &str = "https://w3id.org/xapi/cmi5/context/categories/cmi5";
const MOVE_ON: &str = "https://w3id.org/xapi/cmi5/context/categories/moveon";
const MASTERY: &str = "https://w3id.org/xapi/cmi5/context/extensions/masteryscore";
/// The version of xAPI that is spoken.
pub const XAPI_VERSION: &str = "1.0.3";
/// Name of the state document that the platform leaves.
pub const LAUNCH_DATA: &str = "LMS.LaunchData";
/// Name of the profile document of the learner.
pub const PREFERENCES: &str = "cmi5LearnerPreferences";
/// Name of the state document in which the page keeps how far the learner is.
pub const MEMORY: &str = "volute.progress";
/// Longest text of a response in a statement, in characters. Chosen.
const LONGEST_RESPONSE: usize = 2000;

/// What the launch link says.
#[derive(Debug, Clone, PartialEq)]
pub struct Launch {
    /// Where the record store is, with a slash at its end.
    pub endpoint: String,
    /// Where the token is to be had, once.
    pub fetch: String,
    /// Who is learning, unaltered.
    pub actor: Value,
    /// The enrolment.
    pub registration: String,
    /// The platform's own id for this unit.
    pub activity: String,
}

/// Why a launch link does not do.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum LaunchError {
    /// A part is missing.
    Missing(&'static str),
    /// A part is not what it should be.
    Bad(&'static str, &'static str),
}

impl fmt::Display for LaunchError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            LaunchError::Missing(name) => f.write_str(&tf("`{name}` is missing", &[("name", name)])),
            LaunchError::Bad(name, allowed) => {
                f.write_str(&tf("`{name}` should be {allowed}", &[("name", name), ("allowed", t(allowed))]))
            }
        }
    }
}

/// Reads the query of the page's address, with or without `?`, in any order. Nothing if none of it is a launch.
pub fn launch(query: &str) -> Option<Result<Launch, LaunchError>> {
    const NAMES: [&str; 5] = ["endpoint", "fetch", "actor", "registration", "activityId"];
    let mut found: [Option<String>; 5] = Default::default();
    for part in query.trim_start_matches('?').split('&') {
        let (name, value) = part.split_once('=').unwrap_or((part, ""));
        if let Some(i) = NAMES.iter().position(|known| *known == name) {
            found[i] = unescape(value);
        }
    }
    // A page may have an `actor` of its own; a launch has a token to fetch and a place to tell.
    if found[0].is_none() && found[1].is_none() {
        return None;
    }
    Some(read_launch(found, NAMES))
}

fn read_launch(found: [Option<String>; 5], names: [&'static str; 5]) -> Result<Launch, LaunchError> {
    let mut parts = found.into_iter().zip(names).map(|(value, name)| value.ok_or(LaunchError::Missing(name)));
    let mut next = || parts.next().unwrap_or(Err(LaunchError::Missing("")));
    let (mut endpoint, fetch, actor, registration, activity) = (next()?, next()?, next()?, next()?, next()?);
    let web = |address: &str| address.starts_with("https://") || address.starts_with("http://");
    for (name, address) in [("endpoint", &endpoint), ("fetch", &fetch)] {
        if !web(address) {
            return Err(LaunchError::Bad(name, msg("an address that begins with https:// or http://")));
        }
    }
    if !endpoint.ends_with('/') {
        endpoint.push('/');
    }
    let actor: Value = serde_json::from_str(&actor).unwrap_or_default();
    if actor["account"]["name"].as_str().is_none() || actor["account"]["homePage"].as_str().is_none() {
        return Err(LaunchError::Bad("actor", msg("JSON of an agent with an account")));
    }
    let shape = |text: &str| text.bytes().map(|b| if b.is_ascii_hexdigit() { b'x' } else { b }).collect::<Vec<_>>();
    if shape(&registration) != b"xxxxxxxx-xxxx-xxxx-xxxx-xxxxxxxxxxxx" {
        return Err(LaunchError::Bad("registration", msg("a UUID")));
    }
    if !activity.contains(':') {
        return Err(LaunchError::Bad("activityId", msg("a full IRI")));
    }
    Ok(Launch { endpoint, fetch, actor, registration, activity })
}

impl Launch {
    /// The address of a state document.
    pub fn state(&self, document: &str) -> String {
        let (agent, activity) = (escape(&self.actor.to_string()), escape(&self.activity));
        format!(
            "{}activities/state?stateId={}&activityId={activity}&agent={agent}&registration={}",
            self.endpoint,
            escape(document),
            self.registration
        )
    }

    /// The address of the learner's preferences.
    pub fn preferences(&self) -> String {
        format!("{}agents/profile?profileId={PREFERENCES}&agent={}", self.endpoint, escape(&self.actor.to_string()))
    }

    /// The address that takes statements.
    pub fn statements(&self) -> String {
        format!("{}statements", self.endpoint)
    }

    /// Who is learning, as one text that stays.
    pub fn learner(&self) -> String {
        let part = |name: &str| self.actor["account"][name].as_str().unwrap_or_default().to_string();
        format!("{} {}", part("homePage"), part("name"))
    }
}

/// The token out of the answer to the first and only call of `fetch`. Errors: the platform's own words.
pub fn token(answer: &str) -> Result<String, String> {
    let answer: Value = serde_json::from_str(answer).map_err(|_| String::from(t("the answer is not JSON")))?;
    match answer["auth-token"].as_str() {
        Some(token) if !token.is_empty() => Ok(token.into()),
        _ => Err(answer["error-text"].as_str().unwrap_or(t("there is no `auth-token` in the answer")).into()),
    }
}

/// What the platform leaves for the page.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LaunchData {
    /// What every statement's context begins with.
    pub template: Map<String, Value>,
    /// Whether only the beginning and the end may be told.
    pub read_only: bool,
    /// The pass mark, 0 to 1.
    pub mastery: Option<f64>,
    /// Where to go at the end.
    pub return_url: Option<String>,
}

/// Reads the launch data. Errors: what is missing.
pub fn launch_data(text: &str) -> Result<LaunchData, String> {
    let data: Value = serde_json::from_str(text).map_err(|_| String::from(t("the launch data is not JSON")))?;
    let template = data["contextTemplate"].as_object().cloned().ok_or(t("the launch data has no `contextTemplate`"))?;
    let web = |address: &&str| address.starts_with("https://") || address.starts_with("http://");
    Ok(LaunchData {
        template,
        read_only: matches!(data["launchMode"].as_str(), Some("Browse" | "Review")),
        mastery: data["masteryScore"].as_f64().filter(|share| (0.0..=1.0).contains(share)),
        return_url: data["returnURL"].as_str().filter(web).map(str::to_string),
    })
}

/// The language that the learner likes best out of those `spoken`, by the preferences document.
pub fn language(preferences: &str, spoken: &[&str]) -> Option<String> {
    let document: Value = serde_json::from_str(preferences).ok()?;
    let wanted = document["languagePreference"].as_str()?.to_ascii_lowercase();
    let first = |tag: &str| tag.trim().split('-').next().unwrap_or_default().to_string();
    wanted.split(',').map(first).find(|tag| spoken.contains(&tag.as_str()))
}

/// The state document with what the page keeps.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Document {
    /// How far the learner is.
    pub memory: String,
    /// Whether "completed" was said in this enrolment.
    pub completed: bool,
    /// Whether "passed" was said in this enrolment.
    pub passed: bool,
}

impl Document {
    /// As JSON.
    pub fn json(&self) -> String {
        json!({ "version": 1, "memory": self.memory, "completed": self.completed, "passed": self.passed }).to_string()
    }

    /// Reads it; anything else is as if nothing was kept.
    pub fn read(text: &str) -> Self {
        let document: Value = serde_json::from_str(text).unwrap_or_default();
        if document["version"] != 1 {
            return Self::default();
        }
        let flag = |name: &str| document[name].as_bool().unwrap_or(false);
        Self {
            memory: document["memory"].as_str().unwrap_or_default().into(),
            completed: flag("completed"),
            passed: flag("passed"),
        }
    }
}

/// What only the browser has: numbers that nobody else draws, and clocks.
pub trait Stamp {
    /// A fresh UUID.
    fn id(&self) -> String;
    /// The time now, ISO 8601 in UTC.
    fn time(&self) -> String;
    /// A clock that only runs forward, in ms.
    fn now_ms(&self) -> f64;
}

/// A session with a platform.
#[derive(Debug)]
pub struct Session<S> {
    launch: Launch,
    data: LaunchData,
    /// The package's own pass mark, per cent, for a platform that does not hand it back.
    pass_pct: Option<f64>,
    stamp: S,
    begun_ms: f64,
    /// What was said in this enrolment.
    document: Document,
    standing: Standing,
    over: bool,
}

impl<S: Stamp> Session<S> {
    /// Begins: with the statement that must be the first.
    pub fn begin(
        launch: Launch,
        data: LaunchData,
        document: Document,
        pass_pct: Option<f64>,
        stamp: S,
    ) -> (Self, Value) {
        let begun_ms = stamp.now_ms();
        let standing = Standing { points_pct: None, complete: false };
        let session = Self { launch, data, pass_pct, stamp, begun_ms, document, standing, over: false };
        let first = session.defined("initialized", None);
        (session, first)
    }

    /// What has happened, as statements in their order.
    ///
    /// "Passed" can be said once in an enrolment, with a score that then stands. It is said when everything was tried, or at
    /// the end; so a learner who goes on after reaching the mark gets the better score.
    pub fn tell(&mut self, standing: Standing, answers: &[Answered]) -> Vec<Value> {
        if self.over || self.data.read_only {
            return Vec::new();
        }
        self.standing = standing;
        let mut out: Vec<Value> = answers.iter().map(|answer| self.answered(answer)).collect();
        if standing.complete && !self.document.completed {
            self.document.completed = true;
            out.push(self.defined("completed", Some(json!({ "completion": true, "duration": self.duration() }))));
        }
        if standing.complete {
            out.extend(self.passed());
        }
        out
    }

    /// The end: what is still to be said, and the statement that must be the last.
    pub fn end(&mut self) -> Vec<Value> {
        if self.over {
            return Vec::new();
        }
        let mut out = Vec::new();
        if !self.data.read_only {
            out.extend(self.passed());
            // A learner who has tried everything and still comes back may pass in a later session: "failed" is said last.
            if self.standing.complete && !self.document.passed && self.passes() == Some(false) {
                out.push(self.judged("failed", false));
            }
        }
        self.over = true;
        out.push(self.defined("terminated", Some(json!({ "duration": self.duration() }))));
        out
    }

    /// What is to be kept, with `memory` in it; nothing when only looking.
    pub fn keep(&mut self, memory: &str) -> Option<String> {
        self.document.memory = memory.into();
        (!self.data.read_only).then(|| self.document.json())
    }

    /// What the launch said.
    pub fn launch(&self) -> &Launch {
        &self.launch
    }

    /// Where to go at the end.
    pub fn return_url(&self) -> Option<&str> {
        self.data.return_url.as_deref()
    }

    /// Whether only the beginning and the end are told.
    pub fn read_only(&self) -> bool {
        self.data.read_only
    }

    /// Whether the mark is reached; nothing without a mark or without a score.
    fn passes(&self) -> Option<bool> {
        let points = f64::from(self.standing.points_pct?) / 100.0;
        let mark = self.data.mastery.or_else(|| self.pass_pct.map(|pct| pct / 100.0))?;
        Some(mark <= points)
    }

    fn passed(&mut self) -> Option<Value> {
        let now = !self.document.passed && self.passes() == Some(true);
        now.then(|| {
            self.document.passed = true;
            self.judged("passed", true)
        })
    }

    fn judged(&self, verb: &str, success: bool) -> Value {
        let points = self.standing.points_pct.unwrap_or(0);
        let score = json!({ "scaled": f64::from(points) / 100.0, "raw": points, "min": 0, "max": 100 });
        let mut statement =
            self.defined(verb, Some(json!({ "success": success, "score": score, "duration": self.duration() })));
        if let Some(mastery) = self.data.mastery {
            statement["context"]["extensions"][MASTERY] = json!(mastery);
        }
        statement
    }

    /// A statement that cmi5 defines: about the unit itself, in its categories.
    fn defined(&self, verb: &str, result: Option<Value>) -> Value {
        let judges = result.as_ref().is_some_and(|r| r.get("success").is_some() || r.get("completion").is_some());
        let mut context = self.context();
        let category = &mut context["contextActivities"]["category"];
        let mut list = category.as_array().cloned().unwrap_or_default();
        list.push(activity(CATEGORY));
        if judges {
            list.push(activity(MOVE_ON));
        }
        *category = list.into();
        self.statement(verb, json!({ "objectType": "Activity", "id": self.launch.activity }), result, context)
    }

    /// A statement that cmi5 allows: about one question.
    fn answered(&self, answer: &Answered) -> Value {
        let (sort, response) = said(answer);
        let object = json!({
            "objectType": "Activity",
            "id": format!("{}/{}/{}", self.launch.activity.trim_end_matches('/'), answer.lesson, answer.item),
            "definition": {
                "type": "http://adlnet.gov/expapi/activities/cmi.interaction",
                "interactionType": sort,
                "name": { "en": format!("{}: {}", answer.lesson, answer.item) },
            },
        });
        let mut result = json!({ "response": response, "duration": duration(f64::from(answer.seconds)) });
        if let Some(right) = answer.right {
            result["success"] = json!(right);
            result["score"] = json!({ "scaled": f64::from(answer.points_pct.min(100)) / 100.0 });
        }
        self.statement("answered", object, Some(result), self.context())
    }

    /// The platform's template, with nothing of it altered, and the enrolment.
    fn context(&self) -> Value {
        let mut context = Value::Object(self.data.template.clone());
        for part in ["contextActivities", "extensions"] {
            if !context[part].is_object() {
                context[part] = json!({});
            }
        }
        context["registration"] = json!(self.launch.registration);
        context
    }

    fn statement(&self, verb: &str, object: Value, result: Option<Value>, context: Value) -> Value {
        let mut statement = json!({
            "id": self.stamp.id(),
            "timestamp": self.stamp.time(),
            "actor": self.launch.actor,
            "verb": { "id": format!("http://adlnet.gov/expapi/verbs/{verb}"), "display": { "en": verb } },
            "object": object,
            "context": context,
        });
        if let Some(result) = result {
            statement["result"] = result;
        }
        statement
    }

    fn duration(&self) -> String {
        duration((self.stamp.now_ms() - self.begun_ms) / 1000.0)
    }
}

fn activity(id: &str) -> Value {
    json!({ "objectType": "Activity", "id": id })
}

/// A span of time, ISO 8601, to a hundredth of a second.
fn duration(seconds: f64) -> String {
    let hundredths = (seconds.clamp(0.0, 1.0e8) * 100.0).round() as u64;
    format!("PT{}.{:02}S", hundredths / 100, hundredths % 100)
}

/// Interaction type and response of an answer, by xAPI 1.0.3, appendix C (from memory).
fn said(answer: &Answered) -> (&'static str, String) {
    let letters = |picks: &[u32]| {
        let letters = picks.iter().map(|pick| char::from(b'a' + (pick % 26) as u8).to_string());
        letters.collect::<Vec<_>>().join("[,]")
    };
    let text = |words: &str| -> String {
        words.chars().filter(|c| !c.is_control() || *c == '\n').take(LONGEST_RESPONSE).collect()
    };
    match (&answer.response, answer.kind) {
        (Response::Picks(picks), Kind::Order) => ("sequencing", letters(picks)),
        (Response::Picks(picks), _) => ("choice", letters(picks)),
        (Response::Curve(heights), _) => {
            ("other", heights.iter().map(ToString::to_string).collect::<Vec<_>>().join(" "))
        }
        (Response::Text(words), Kind::Words | Kind::Transfer | Kind::Predict) => ("long-fill-in", text(words)),
        (Response::Text(words), Kind::Task) => ("other", text(words)),
        (Response::Text(words), _) => ("fill-in", text(words)),
    }
}

/// For a value in a query.
fn escape(text: &str) -> String {
    escape::escape(text, escape::unreserved)
}

/// A value in a query; nothing for a broken escape.
fn unescape(text: &str) -> Option<String> {
    escape::unescape(&text.replace('+', " "))
}

#[cfg(test)]
mod tests {
    use super::super::answered::answers;
    use super::super::answered::tests::{item, made, report};
    use super::*;
    use std::cell::Cell;
    use volute_lessons::results::Report;

    const ACTOR: &str = r#"{"objectType":"Agent","account":{"homePage":"https://school.example","name":"ann + bob"}}"#;
    const REGISTRATION: &str = "0ce067da-0408-4e7c-808b-f3a4f95d5a1e";

    #[derive(Debug, Default)]
    struct Fake {
        ids: Cell<u32>,
        ms: Cell<f64>,
    }

    impl Stamp for Fake {
        fn id(&self) -> String {
            self.ids.set(self.ids.get() + 1);
            format!("00000000-0000-4000-8000-{:012}", self.ids.get())
        }
        fn time(&self) -> String {
            "2026-12-01T18:30:00.000Z".into()
        }
        fn now_ms(&self) -> f64 {
            self.ms.set(self.ms.get() + 1500.0);
            self.ms.get()
        }
    }

    fn query(leave_out: &str) -> String {
        let parts = [
            ("registration", REGISTRATION.to_string()),
            ("activityId", escape("https://lms.example/activity/7?x=1")),
            ("actor", escape(ACTOR)),
            ("fetch", escape("https://lms.example/fetch?t=1&u=2")),
            ("endpoint", escape("https://lms.example/xapi")),
        ];
        let parts = parts.iter().filter(|(name, _)| *name != leave_out).map(|(name, value)| format!("{name}={value}"));
        format!("?theme=dark&{}", parts.collect::<Vec<_>>().join("&"))
    }

    fn begin(mode: &str, mastery: Option<f64>, document: Document, pass: Option<f64>) -> (Session<Fake>, Value) {
        let data = json!({
            "contextTemplate": {
                "contextActivities": { "grouping": [{ "id": "urn:uuid:publisher" }], "category": [{ "id": "https://lms.example/theirs" }] },
                "extensions": { "https://w3id.org/xapi/cmi5/context/extensions/sessionid": "s-1" },
            },
            "launchMode": mode, "masteryScore": mastery, "moveOn": "Passed", "returnURL": "https://lms.example/back",
        });
        let data = launch_data(&data.to_string()).expect("launch data");
        Session::begin(launch(&query("")).expect("a launch").expect("good"), data, document, pass, Fake::default())
    }

    fn verbs(statements: &[Value]) -> Vec<&str> {
        statements
            .iter()
            .map(|s| s["verb"]["id"].as_str().expect("a verb").rsplit('/').next().expect("a name"))
            .collect()
    }

    fn categories(statement: &Value) -> Vec<&str> {
        let list = statement["context"]["contextActivities"]["category"].as_array().expect("categories");
        list.iter().filter_map(|c| c["id"].as_str()).collect()
    }

    #[test]
    fn by_hand_8_1_the_launch_in_any_order() {
        let read = launch(&query("")).expect("a launch").expect("good");
        assert_eq!(read.endpoint, "https://lms.example/xapi/");
        assert_eq!(read.fetch, "https://lms.example/fetch?t=1&u=2");
        assert_eq!(read.activity, "https://lms.example/activity/7?x=1");
        assert_eq!(read.registration, REGISTRATION);
        assert_eq!(read.learner(), "https://school.example ann + bob");
        assert!(
            read.state(LAUNCH_DATA).starts_with(
                "https://lms.example/xapi/activities/state?stateId=LMS.LaunchData&activityId=https%3A%2F%2F"
            )
        );
        assert_eq!(launch(""), None);
        assert_eq!(launch("?lesson=a&actor=me"), None);
        for name in ["endpoint", "fetch", "actor", "registration", "activityId"] {
            assert_eq!(launch(&query(name)), Some(Err(LaunchError::Missing(name))));
        }
        for (from, to, name) in [
            ("endpoint=https", "endpoint=javascript", "endpoint"),
            ("fetch=https", "fetch=data", "fetch"),
            ("registration=0", "registration=g", "registration"),
            ("activityId=https%3A", "activityId=https", "activityId"),
            ("account", "mbox", "actor"),
        ] {
            let fault = launch(&query("").replace(from, to)).expect("a launch").expect_err(name);
            assert!(matches!(fault, LaunchError::Bad(found, _) if found == name), "{fault}");
        }
    }

    #[test]
    fn by_hand_8_2_the_token() {
        assert_eq!(token(r#"{"auth-token":"QWxhZGRpbg=="}"#), Ok("QWxhZGRpbg==".into()));
        assert_eq!(token(r#"{"error-code":"1","error-text":"already in use"}"#), Err("already in use".into()));
        assert!(token("<html>").is_err() && token("{}").is_err() && token("null").is_err());
    }

    #[test]
    fn by_hand_10_and_11_what_the_platform_leaves() {
        let data = launch_data(
            r#"{"contextTemplate":{},"launchMode":"Review","masteryScore":7,"returnURL":"javascript:alert(1)"}"#,
        );
        assert_eq!(data, Ok(LaunchData { read_only: true, ..LaunchData::default() }), "bad values are as none");
        assert!(launch_data("{}").is_err() && launch_data("").is_err());
        let preferences = r#"{"languagePreference":"zh-CN, DE-at,en","audioPreference":"on"}"#;
        assert_eq!(language(preferences, &["en", "de"]), Some("de".into()));
        assert_eq!((language("{}", &["en"]), language("", &["en"])), (None, None));
        let document = Document { memory: "1;\"\n".into(), completed: true, passed: false };
        assert_eq!(Document::read(&document.json()), document);
        assert_eq!((Document::read(""), Document::read("{\"version\":2}")), Default::default());
    }

    #[test]
    fn by_hand_9_statements_from_launch_to_end() {
        let (mut session, first) = begin("Normal", Some(0.55), Document::default(), None);
        // 9.3.2: initialized first; 9.6.2.1: the category; 10.2.1: the template whole.
        assert_eq!(verbs(std::slice::from_ref(&first)), ["initialized"]);
        assert_eq!(categories(&first), ["https://lms.example/theirs", CATEGORY]);
        assert_eq!(first["context"]["contextActivities"]["grouping"][0]["id"], "urn:uuid:publisher");
        assert_eq!(first["context"]["extensions"]["https://w3id.org/xapi/cmi5/context/extensions/sessionid"], "s-1");
        assert_eq!((&first["context"]["registration"], first.get("result")), (&json!(REGISTRATION), None));
        assert_eq!(first["object"]["id"], "https://lms.example/activity/7?x=1");
        let half = report(
            vec![item("p", Kind::Number, &[made(0, false), made(1, true)]), item("q", Kind::Choice, &[])],
            false,
        );
        let told = session.tell(Standing::of(&half), &answers(&Report::default(), &half));
        // 7.1.3: allowed statements carry no category of cmi5.
        assert_eq!(verbs(&told), ["answered", "answered"]);
        assert_eq!(categories(&told[1]), ["https://lms.example/theirs"]);
        assert_eq!((&told[1]["result"]["success"], &told[1]["result"]["response"]), (&json!(true), &json!("1 kPa")));
        let mut q = item("q", Kind::Choice, &[made(0, true)]);
        q.picked = vec![1];
        let all = report(vec![item("p", Kind::Number, &[made(0, false), made(1, true)]), q], true);
        let told = session.tell(Standing::of(&all), &answers(&half, &all));
        assert_eq!(verbs(&told), ["answered", "completed", "passed"]);
        assert_eq!(told[0]["result"]["response"], "b");
        // 9.5.3, 9.5.4.1, 9.5.1: completed has completion and duration, no score; passed has success, score, duration.
        assert_eq!((&told[1]["result"]["completion"], told[1]["result"].get("score")), (&json!(true), None));
        assert_eq!(told[2]["result"]["score"], json!({ "scaled": 1.0, "raw": 100, "min": 0, "max": 100 }));
        assert_eq!((&told[2]["result"]["success"], told[2]["result"].get("completion")), (&json!(true), None));
        for judged in &told[1..] {
            assert_eq!(categories(judged), ["https://lms.example/theirs", CATEGORY, MOVE_ON]);
            assert!(judged["result"]["duration"].as_str().is_some_and(|d| d.starts_with("PT") && d.ends_with('S')));
        }
        // 9.6.3.2: the mark that it was based on.
        assert_eq!(
            (&told[2]["context"]["extensions"][MASTERY], told[1]["context"]["extensions"].get(MASTERY)),
            (&json!(0.55), None)
        );
        // 9.3.3, 9.3.4: said once.
        assert!(session.tell(Standing::of(&all), &[]).is_empty());
        let end = session.end();
        // 9.3.8: terminated last, with a duration, and nothing after it.
        assert_eq!(verbs(&end), ["terminated"]);
        assert!(end[0]["result"]["duration"].is_string());
        assert!(session.end().is_empty() && session.tell(Standing::of(&all), &answers(&half, &all)).is_empty());
        // Ids differ: 9.1.
        let mut ids: Vec<&Value> = told.iter().chain(&end).chain([&first]).map(|s| &s["id"]).collect();
        ids.dedup();
        assert_eq!(ids.len(), 5);
    }

    #[test]
    fn by_hand_9_3_passed_and_failed_by_the_mark() {
        let open = report(vec![item("p", Kind::Number, &[made(0, true)]), item("q", Kind::Number, &[])], false);
        let wrong = report(vec![item("p", Kind::Number, &[made(0, false)])], true);
        let right = report(vec![item("p", Kind::Number, &[made(0, true)])], true);
        let new = Document::default;
        let passed = || Document { passed: true, completed: true, ..Document::default() };
        for (mode, mastery, pass, document, after, told, ended) in [
            ("Normal", Some(0.5), None, new(), &open, vec![], vec!["passed", "terminated"]),
            ("Normal", Some(0.51), None, new(), &open, vec![], vec!["terminated"]),
            ("Normal", Some(0.5), None, new(), &wrong, vec!["completed"], vec!["failed", "terminated"]),
            ("Normal", None, Some(50.0), new(), &right, vec!["completed", "passed"], vec!["terminated"]),
            ("Normal", None, None, new(), &wrong, vec!["completed"], vec!["terminated"]),
            // 9.3.0: never again in this enrolment, and no failure after it.
            ("Normal", Some(0.5), None, passed(), &wrong, vec![], vec!["terminated"]),
            // 10.2.2: only the beginning and the end.
            ("Browse", Some(0.5), None, new(), &right, vec![], vec!["terminated"]),
            ("Review", Some(0.5), None, new(), &wrong, vec![], vec!["terminated"]),
        ] {
            let (mut session, _) = begin(mode, mastery, document, pass);
            assert_eq!(verbs(&session.tell(Standing::of(after), &[])), told, "{mode} {mastery:?}");
            assert_eq!(session.keep("m").is_some(), mode == "Normal");
            assert_eq!(verbs(&session.end()), ended, "{mode} {mastery:?}");
        }
    }

    #[test]
    fn by_hand_shares_and_spans() {
        // 55 of 100 reaches 0.55, although 0.55 times 100 is more than 55 in floats.
        let points: Vec<volute_lessons::results::Try> =
            vec![volute_lessons::results::Try { points_pct: 55, ..made(0, false) }];
        let after = report(vec![item("p", Kind::Number, &points)], true);
        let (mut session, _) = begin("Normal", Some(0.55), Document::default(), None);
        assert_eq!(verbs(&session.tell(Standing::of(&after), &[])), ["completed", "passed"]);
        for (seconds, text) in [(0.0, "PT0.00S"), (61.239, "PT61.24S"), (-1.0, "PT0.00S"), (f64::NAN, "PT0.00S")] {
            assert_eq!(duration(seconds), text);
        }
    }
}
