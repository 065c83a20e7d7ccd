//! The course structure of a cmi5 package: one course with one assignable unit, the page.
//!
//! Source: AICC, cmi5 specification, Quartz 1st edition, sections 13.1 (data), 13.2 (name space) and 14.1 (zip).

use crate::Contents;
use crate::site::PAGE;
use crate::xml::{clip, escape};

/// Name of the course structure, which stands at the top of the package.
pub const STRUCTURE: &str = "cmi5.xml";

/// Longest title and description, in bytes. Chosen: the specification has no bound, databases do.
const LONGEST: (usize, usize) = (200, 1000);

/// The course structure.
///
/// With a pass mark a learner leaves the unit behind by passing; without one, by doing everything.
pub fn structure(contents: &Contents) -> String {
    let title = escape(&clip(contents.title.trim(), LONGEST.0));
    // An empty description would be valid, but it would tell nobody anything.
    let about = if contents.about.trim().is_empty() { &contents.title } else { &contents.about };
    let about = escape(&clip(about.trim(), LONGEST.1));
    let language = &contents.language;
    let (course, unit) = (iri(contents, "course"), iri(contents, "unit"));
    let pass = match contents.pass_pct {
        Some(pct) => format!("moveOn=\"Passed\" masteryScore=\"{}\"", share(pct)),
        None => "moveOn=\"Completed\"".into(),
    };
    let texts = |indent: &str| {
        format!(
            "{indent}<title>\n{indent}  <langstring lang=\"{language}\">{title}</langstring>\n{indent}</title>\n\
             {indent}<description>\n{indent}  <langstring lang=\"{language}\">{about}</langstring>\n{indent}</description>"
        )
    };
    format!(
        r#"<?xml version="1.0" encoding="UTF-8"?>
<courseStructure xmlns="https://w3id.org/xapi/profiles/cmi5/v1/CourseStructure.xsd">
  <course id="{course}">
{}
  </course>
  <au id="{unit}" {pass} launchMethod="AnyWindow" activityType="http://adlnet.gov/expapi/activities/lesson">
{}
    <url>{PAGE}</url>
  </au>
</courseStructure>
"#,
        texts("    "),
        texts("    ")
    )
}

/// Per cent as a share with at most two decimals, written without a float.
fn share(pct: u32) -> String {
    match pct {
        100 => "1".into(),
        pct => format!("0.{pct:02}").trim_end_matches('0').into(),
    }
}

/// A fully qualified IRI for exactly these contents: a UUID of version 8 of RFC 9562, whose bits are free to choose.
fn iri(contents: &Contents, what: &str) -> String {
    let (a, b) = (contents.digest(what), contents.digest(&format!("{what}, lower half")));
    format!(
        "urn:uuid:{:08x}-{:04x}-8{:03x}-{:04x}-{:012x}",
        a >> 32,
        a >> 16 & 0xffff,
        a & 0xfff,
        b >> 48 & 0x3fff | 0x8000,
        b & 0xffff_ffff_ffff
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand_a_pass_mark_is_written_as_a_share() {
        for (pct, text) in [(1, "0.01"), (10, "0.1"), (70, "0.7"), (85, "0.85"), (99, "0.99"), (100, "1")] {
            assert_eq!(share(pct), text);
        }
    }
}
