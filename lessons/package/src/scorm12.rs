//! The manifest of a SCORM 1.2 package: one organization with one item, one resource that is a SCO and lists every file.
//!
//! Source: ADL, SCORM Content Aggregation Model 1.2, 2.3 (from memory), and the schemas that the tests hold it against.
//! The package holds no schema files and names none by `schemaLocation`: platforms bring their own.

use crate::Contents;
use crate::site::PAGE;
use crate::xml::{clip, escape};

/// Name of the manifest, which stands at the top of the package.
pub const MANIFEST: &str = "imsmanifest.xml";

/// Longest title, in bytes: `titleType` of the schema.
const LONGEST_TITLE: usize = 200;

/// The manifest for these contents and files, `index.html` among them.
///
/// With a pass mark a platform sets "passed" or "failed" by itself as soon as it has a score. So the page reports a score
/// only when it is final: see `web/src/lms/scorm12.rs`.
pub fn manifest(contents: &Contents, files: &[&str]) -> String {
    let id = contents.id();
    let title = escape(&clip(contents.title.trim(), LONGEST_TITLE));
    let mastery = contents
        .pass_pct
        .map(|pct| format!("\n        <adlcp:masteryscore>{pct}</adlcp:masteryscore>"))
        .unwrap_or_default();
    let files: String = files.iter().map(|file| format!("\n      <file href=\"{}\"/>", escape(file))).collect();
    format!(
        r#"<?xml version="1.0" encoding="UTF-8"?>
<manifest identifier="{id}" version="1.0" xmlns="http://www.imsproject.org/xsd/imscp_rootv1p1p2" xmlns:adlcp="http://www.adlnet.org/xsd/adlcp_rootv1p2">
  <metadata>
    <schema>ADL SCORM</schema>
    <schemaversion>1.2</schemaversion>
  </metadata>
  <organizations default="lessons">
    <organization identifier="lessons">
      <title>{title}</title>
      <item identifier="bench-item" identifierref="bench" isvisible="true">
        <title>{title}</title>{mastery}
      </item>
    </organization>
  </organizations>
  <resources>
    <resource identifier="bench" type="webcontent" adlcp:scormtype="sco" href="{PAGE}">{files}
    </resource>
  </resources>
</manifest>
"#
    )
}
