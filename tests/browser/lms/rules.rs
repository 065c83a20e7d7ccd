//! What cmi5 demands of the statements of a unit. Each rule has the number of its requirement: the section and the place in it,
//! as the authors of the specification's test suite number them.

use serde_json::Value;

const BASE: &str = "http://adlnet.gov/expapi/verbs/";
const CMI5: &str = "https://w3id.org/xapi/cmi5/context/categories/cmi5";
const MOVE_ON: &str = "https://w3id.org/xapi/cmi5/context/categories/moveon";
const SESSION: &str = "https://w3id.org/xapi/cmi5/context/extensions/sessionid";
const MASTERY: &str = "https://w3id.org/xapi/cmi5/context/extensions/masteryscore";
/// The verbs of the statements that cmi5 defines and that a unit may use.
const DEFINED: [&str; 5] = ["initialized", "completed", "passed", "failed", "terminated"];

/// What the platform gave out for a session.
pub struct Given {
    /// The learner.
    pub actor: Value,
    /// The enrolment.
    pub registration: String,
    /// The unit.
    pub activity: String,
    /// The launch data.
    pub data: Value,
}

/// The name of a verb, without its address.
pub fn verb(statement: &Value) -> &str {
    statement["verb"]["id"].as_str().unwrap_or_default().strip_prefix(BASE).unwrap_or_default()
}

fn categories(statement: &Value) -> Vec<&str> {
    let list = statement["context"]["contextActivities"]["category"].as_array();
    list.into_iter().flatten().filter_map(|c| c["id"].as_str()).collect()
}

/// Whether `value` has everything of `template` unchanged. Lists may be longer.
fn within(template: &Value, value: &Value) -> bool {
    match (template, value) {
        (Value::Object(a), Value::Object(b)) => a.iter().all(|(k, v)| b.get(k).is_some_and(|w| within(v, w))),
        (Value::Array(a), Value::Array(b)) => a.iter().all(|v| b.contains(v)),
        (a, b) => a == b,
    }
}

fn is_uuid(text: &str) -> bool {
    let lengths: Vec<usize> = text.split('-').map(str::len).collect();
    lengths == [8, 4, 4, 4, 12] && text.bytes().all(|b| b == b'-' || b.is_ascii_hexdigit())
}

/// Whether this is a duration by ISO 8601 with a `T` and at least one of hours, minutes and seconds.
fn is_duration(text: &str) -> bool {
    let Some(mut rest) = text.strip_prefix("PT").filter(|rest| !rest.is_empty()) else { return false };
    for unit in ['H', 'M', 'S'] {
        if let Some((number, tail)) = rest.split_once(unit) {
            let whole = unit != 'S' && number.contains('.');
            if whole || number.parse::<f64>().is_err() {
                return false;
            }
            rest = tail;
        }
    }
    rest.is_empty()
}

/// What is wrong with a statement that comes after `before` (those of this session) in an enrolment with `earlier` sessions.
pub fn faults(given: &Given, earlier: &[Value], before: &[Value], statement: &Value) -> Vec<String> {
    let verb = verb(statement);
    let defined = DEFINED.contains(&verb);
    let result = &statement["result"];
    let said = |name: &str, among: &[Value]| among.iter().any(|s| self::verb(s) == name);
    let has = |key: &str| result.get(key).is_some();
    let mut out = Vec::new();
    let mut rule = |number: &str, holds: bool| {
        if !holds {
            out.push(format!("{number} is broken by `{verb}`: {statement}"));
        }
    };
    // The form of every statement.
    rule("9.1.0.0-1", statement["id"].as_str().is_some_and(is_uuid));
    rule("xAPI 1.0.3, 2.4.1", !before.iter().chain(earlier).any(|s| s["id"] == statement["id"]));
    rule("9.2.0.0-1, 8.1.3.0-3", statement["actor"] == given.actor);
    rule(
        "xAPI 1.0.3, 2.4.3",
        statement["verb"]["id"].as_str().is_some_and(|id| id.starts_with(BASE) && !verb.is_empty()),
    );
    rule("9.7.0.0-1, -2", statement["timestamp"].as_str().is_some_and(|t| t.ends_with('Z') && t.len() >= 20));
    rule("8.1.4.0-3", statement["context"]["registration"] == given.registration.as_str());
    rule("10.2.1.0-6, -7", within(&given.data["contextTemplate"], &statement["context"]));
    rule(
        "9.6.3.1-4",
        statement["context"]["extensions"][SESSION] == given.data["contextTemplate"]["extensions"][SESSION],
    );
    if let Some(score) = result.get("score") {
        let scaled = score["scaled"].as_f64();
        rule("xAPI 1.0.3, 2.4.5.1", scaled.is_none_or(|s| (-1.0..=1.0).contains(&s)));
        rule("9.5.1.0-3", score.get("raw").is_none() || (score["min"].is_number() && score["max"].is_number()));
    }
    if let Some(duration) = result.get("duration") {
        rule("xAPI 1.0.3, 4.6", duration.as_str().is_some_and(is_duration));
    }
    // The order of statements.
    rule("9.3.0.0-4, 9.3.2.0-2", before.is_empty() == (verb == "initialized"));
    rule("9.3.0.0-5, 9.3.8.0-2", !said("terminated", before));
    if !defined {
        rule("9.6.2.1-1", !categories(statement).contains(&CMI5));
        rule("9.6.2.2-2", !categories(statement).contains(&MOVE_ON));
        rule(
            "7.1.3.0-1",
            statement["object"]["id"].as_str().is_some_and(|id| id.contains(':') && id != given.activity),
        );
        return out;
    }
    // Statements that cmi5 defines.
    rule("9.3.0.0-2", !said(verb, before));
    rule("8.1.5.0-6, 9.4.0.0-2", statement["object"]["id"] == given.activity.as_str());
    rule("9.6.2.1-1", categories(statement).contains(&CMI5));
    let judged = has("success") || has("completion");
    rule("9.6.2.2-1, -2", categories(statement).contains(&MOVE_ON) == judged);
    rule("9.5.4.1", verb == "initialized" || has("duration"));
    rule(
        "9.5.2.0-1, -2, -3",
        match verb {
            "passed" => result["success"] == true,
            "failed" => result["success"] == false,
            _ => !has("success"),
        },
    );
    rule("9.5.3.0-1, -2", if verb == "completed" { result["completion"] == true } else { !has("completion") });
    rule("9.5.1.0-2", matches!(verb, "passed" | "failed") || !has("score"));
    let all: Vec<&Value> = earlier.iter().chain(before).collect();
    let ever = |name: &str| all.iter().any(|s| self::verb(s) == name);
    rule("9.3.3.0-2", verb != "completed" || !ever("completed"));
    rule("9.3.4.0-3", verb != "passed" || !ever("passed"));
    rule("9.3.0.0-3", !(matches!(verb, "passed" | "failed") && (said("passed", before) || said("failed", before))));
    rule("9.3.0.0-8", verb != "failed" || !ever("passed"));
    let (mastery, scaled) = (given.data["masteryScore"].as_f64(), result["score"]["scaled"].as_f64());
    if let (Some(mastery), Some(scaled)) = (mastery, scaled) {
        rule("9.3.4.0-2", verb != "passed" || mastery <= scaled);
        rule("9.3.5.0-2", verb != "failed" || scaled < mastery);
        rule("9.6.3.2-2", statement["context"]["extensions"][MASTERY] == mastery);
    }
    let only_ends = matches!(given.data["launchMode"].as_str(), Some("Browse" | "Review"));
    rule("10.2.2.0-9, -11", !only_ends || matches!(verb, "initialized" | "terminated"));
    out
}

/// Whether the unit is done by the criterion of the platform (section 13.1.4, moveOn).
pub fn satisfied(move_on: &str, statements: &[Value]) -> bool {
    let said = |name: &str| {
        statements.iter().any(|s| verb(s) == name && categories(s).contains(&CMI5) && categories(s).contains(&MOVE_ON))
    };
    match move_on {
        "Passed" => said("passed"),
        "Completed" => said("completed"),
        "CompletedAndPassed" => said("completed") && said("passed"),
        "CompletedOrPassed" => said("completed") || said("passed"),
        _ => true,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn given() -> Given {
        Given {
            actor: json!({ "objectType": "Agent", "account": { "homePage": "https://a", "name": "b" } }),
            registration: "0ce067da-0408-4e7c-808b-f3a4f95d5a1e".into(),
            activity: "https://a/unit".into(),
            data: json!({
                "contextTemplate": {
                    "contextActivities": { "grouping": [{ "id": "urn:uuid:x" }] },
                    "extensions": { SESSION: "s" },
                },
                "launchMode": "Normal", "masteryScore": 0.5,
            }),
        }
    }

    fn statement(name: &str, n: u32, result: Value) -> Value {
        let mut category = vec![json!({ "id": CMI5 })];
        if name == "passed" || name == "failed" || name == "completed" {
            category.push(json!({ "id": MOVE_ON }));
        }
        let given = given();
        json!({
            "id": format!("0ce067da-0408-4e7c-808b-{n:012}"),
            "actor": given.actor,
            "verb": { "id": format!("{BASE}{name}") },
            "object": { "id": given.activity },
            "timestamp": "2026-12-01T18:30:00.000Z",
            "context": {
                "registration": given.registration,
                "contextActivities": { "grouping": [{ "id": "urn:uuid:x" }], "category": category },
                "extensions": { SESSION: "s", MASTERY: 0.5 },
            },
            "result": result,
        })
    }

    #[test]
    fn by_hand_each_rule_can_be_broken() {
        let first = statement("initialized", 1, json!({}));
        let passed =
            || statement("passed", 2, json!({ "success": true, "duration": "PT1M2.5S", "score": { "scaled": 0.5 } }));
        let good = faults(&given(), &[], std::slice::from_ref(&first), &passed());
        assert!(good.is_empty(), "{good:#?}");
        assert!(faults(&given(), &[], &[], &first).is_empty());
        let broken = |change: &dyn Fn(&mut Value)| {
            let mut statement = passed();
            change(&mut statement);
            faults(&given(), &[], std::slice::from_ref(&first), &statement)
        };
        type Spoil<'a> = &'a dyn Fn(&mut Value);
        let cases: [(&str, Spoil); 17] = [
            ("9.1.0.0-1", &|s| s["id"] = json!("x")),
            ("2.4.1", &|s| s["id"] = first["id"].clone()),
            ("9.2.0.0-1", &|s| s["actor"]["account"]["name"] = json!("c")),
            ("9.7.0.0-1", &|s| s["timestamp"] = json!("2026-12-01T18:30:00+01:00")),
            ("8.1.4.0-3", &|s| s["context"]["registration"] = json!("")),
            ("10.2.1.0-6", &|s| s["context"]["contextActivities"]["grouping"] = json!([])),
            ("9.6.3.1-4", &|s| s["context"]["extensions"][SESSION] = json!("t")),
            ("2.4.5.1", &|s| s["result"]["score"]["scaled"] = json!(50)),
            ("9.5.1.0-3", &|s| s["result"]["score"]["raw"] = json!(50)),
            ("4.6", &|s| s["result"]["duration"] = json!("1:02")),
            ("9.4.0.0-2", &|s| s["object"]["id"] = json!("https://a/other")),
            ("9.6.2.1-1", &|s| s["context"]["contextActivities"]["category"] = json!([{ "id": MOVE_ON }])),
            ("9.6.2.2-1", &|s| s["context"]["contextActivities"]["category"] = json!([{ "id": CMI5 }])),
            ("9.5.4.1", &|s| drop(s["result"].as_object_mut().unwrap().remove("duration"))),
            ("9.5.2.0-1", &|s| s["result"]["success"] = json!(false)),
            ("9.3.4.0-2", &|s| s["result"]["score"]["scaled"] = json!(0.49)),
            ("9.6.3.2-2", &|s| drop(s["context"]["extensions"].as_object_mut().unwrap().remove(MASTERY))),
        ];
        for (number, change) in cases {
            let found = broken(change);
            assert!(found.iter().any(|fault| fault.contains(number)), "{number}: {found:?}");
        }
        let end = statement("terminated", 3, json!({ "duration": "PT1S" }));
        let failed =
            statement("failed", 4, json!({ "success": false, "duration": "PT1S", "score": { "scaled": 0.1 } }));
        let completed = statement("completed", 5, json!({ "completion": true, "duration": "PT1S" }));
        for (number, earlier, before, next) in [
            ("9.3.0.0-4", vec![], vec![], passed()),
            ("9.3.0.0-5", vec![], vec![first.clone(), end.clone()], completed.clone()),
            ("9.3.0.0-2", vec![], vec![first.clone(), end.clone()], end.clone()),
            ("9.3.0.0-3", vec![], vec![first.clone(), failed.clone()], passed()),
            ("9.3.4.0-3", vec![passed()], vec![first.clone()], passed()),
            ("9.3.3.0-2", vec![completed.clone()], vec![first.clone()], completed.clone()),
            ("9.3.0.0-8", vec![passed()], vec![first.clone()], failed.clone()),
        ] {
            let found = faults(&given(), &earlier, &before, &next);
            assert!(found.iter().any(|fault| fault.contains(number)), "{number}: {found:?}");
        }
        let mut looking = given();
        looking.data["launchMode"] = json!("Review");
        assert!(
            faults(&looking, &[], std::slice::from_ref(&first), &passed())
                .iter()
                .any(|fault| fault.contains("10.2.2.0"))
        );
        assert!(satisfied("CompletedAndPassed", &[passed(), completed.clone()]) && !satisfied("Passed", &[completed]));
    }
}
