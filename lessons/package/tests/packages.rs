//! Packages as a platform reads them: unzipped by another crate, their manifest held against its schema by an XSD validator.

use ::zip::ZipArchive;
use proptest::prelude::*;
use std::fs;
use std::io::{Cursor, Read};
use std::path::PathBuf;
use std::sync::OnceLock;
use uppsala::XsdValidator;
use volute_package::zip::{self, Entry};
use volute_package::{Contents, Kind, pack};

/// Titles and texts that an instructor should not write.
const HOSTILE: [&str; 8] = [
    "</title><script>alert(1)</script>",
    "]]> <![CDATA[ &lt; &amp; \" ' -->",
    "\0\u{1}\u{b}\u{1f}\u{7f}\u{85}\u{fffe}\u{ffff} control",
    "=cmd|' /C calc'!A0",
    "../../../etc/passwd",
    "&xxe; <!DOCTYPE x [<!ENTITY xxe SYSTEM \"file:///x\">]>",
    "\u{202e}reversed \u{1f1e9}\u{1f1ea} Übung №5 → ∞",
    "  \r\n\t spaced  ",
];

fn contents(title: &str, about: &str, pass_pct: Option<u32>) -> Contents {
    Contents {
        title: title.into(),
        about: about.into(),
        language: "de-CH".into(),
        pass_pct,
        link: "assignment=1&title=%22x%22&do=a,b&end".into(),
    }
}

/// The page as it is in the workspace, with some files beside.
fn site() -> Vec<Entry> {
    let page = include_str!("../../../index.html");
    let mut files: Vec<Entry> = ["boot.js", "volute-web_bg.wasm", "fonts/a.woff2", "service-worker.js", "bench.css.br"]
        .map(|name| Entry::stored(name, name.repeat(50)))
        .into();
    let deflated = miniz_oxide::deflate::compress_to_vec(&files[1].bytes, 9);
    files[1].deflated = Some(deflated);
    files.push(Entry::stored("index.html", page));
    files
}

/// Name and content of each file of a package.
fn unzip(package: Vec<u8>) -> Vec<(String, Vec<u8>)> {
    let mut archive = ZipArchive::new(Cursor::new(package)).expect("a zip");
    (0..archive.len())
        .map(|i| {
            let mut file = archive.by_index(i).expect("an entry");
            let mut content = Vec::new();
            // Reading to the end checks length and CRC.
            file.read_to_end(&mut content).expect("sound");
            (file.name().expect("a name").into_owned(), content)
        })
        .collect()
}

/// What the schema of `kind` has against a manifest.
fn faults(kind: Kind, manifest: &str) -> Vec<String> {
    let document = match uppsala::parse(manifest) {
        Ok(document) => document,
        Err(error) => return vec![error.to_string()],
    };
    validator(kind).validate(&document).iter().map(ToString::to_string).collect()
}

fn validator(kind: Kind) -> &'static XsdValidator {
    static BOTH: OnceLock<[XsdValidator; 2]> = OnceLock::new();
    let [scorm12, cmi5] = BOTH.get_or_init(|| {
        let ours = uppsala::parse(include_str!("cmi5_structure.xsd")).expect("our schema");
        [scorm12_schema(), XsdValidator::from_schema(&ours).expect("our schema")]
    });
    match kind {
        Kind::Scorm12 => scorm12,
        Kind::Cmi5 => cmi5,
    }
}

/// The published schemas of IMS and ADL. The one for `xml:` makes that name space its default, which XML forbids and readers
/// of its day let pass: that one attribute is taken out.
fn scorm12_schema() -> XsdValidator {
    let from = PathBuf::from(concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/vendor/scorm12"));
    let folder = std::env::temp_dir().join(format!("volute-schemas-{}", std::process::id()));
    fs::create_dir_all(&folder).unwrap();
    for name in ["imscp_rootv1p1p2.xsd", "adlcp_rootv1p2.xsd", "ims_xml.xsd"] {
        let text = fs::read_to_string(from.join(name)).unwrap();
        let text = text.replacen("<xsd:schema xmlns=\"http://www.w3.org/XML/1998/namespace\"", "<xsd:schema", 1);
        fs::write(folder.join(name), text).unwrap();
    }
    let all = r#"<xsd:schema xmlns:xsd="http://www.w3.org/2001/XMLSchema">
        <xsd:import namespace="http://www.imsproject.org/xsd/imscp_rootv1p1p2" schemaLocation="imscp_rootv1p1p2.xsd"/>
        <xsd:import namespace="http://www.adlnet.org/xsd/adlcp_rootv1p2" schemaLocation="adlcp_rootv1p2.xsd"/>
    </xsd:schema>"#;
    let validator = XsdValidator::from_schema_with_base_path(&uppsala::parse(all).unwrap(), Some(&folder));
    let _ = fs::remove_dir_all(&folder);
    validator.expect("the published schemas")
}

/// Packs, unzips, and holds the package against everything that is promised of it.
fn check(kind: Kind, contents: &Contents) {
    let package = pack(kind, site(), contents).unwrap_or_else(|error| panic!("{contents:?}: {error}"));
    assert_eq!(package, pack(kind, site(), contents).unwrap(), "the same contents give the same bytes");
    let files = unzip(package);
    let names: Vec<&str> = files.iter().map(|(name, _)| name.as_str()).collect();
    assert!(!names.contains(&"service-worker.js") && !names.iter().any(|name| name.ends_with(".br")), "{names:?}");
    let manifest = std::str::from_utf8(&files[0].1).expect("UTF-8");
    let found = faults(kind, manifest);
    assert!(found.is_empty(), "{kind}: {found:#?}\n{manifest}");
    let document = roxmltree::Document::parse(manifest).expect("well formed");
    let title = document.descendants().find(|n| n.has_tag_name_local("title")).expect("a title");
    let shown: String = title.descendants().filter_map(|n| n.text().filter(|_| n.is_text())).collect();
    assert!(shown.trim().chars().count() <= 200 && !shown.trim().is_empty());
    match kind {
        Kind::Scorm12 => {
            assert_eq!(names[0], "imsmanifest.xml");
            let listed: Vec<&str> = document
                .descendants()
                .filter(|n| n.has_tag_name_local("file"))
                .map(|n| n.attribute("href").expect("an address"))
                .collect();
            assert_eq!(listed, names[1..], "every file is listed, and every listed file is there");
            let resources: Vec<_> = document.descendants().filter(|n| n.has_tag_name_local("resource")).collect();
            let items: Vec<_> = document.descendants().filter(|n| n.has_tag_name_local("item")).collect();
            assert_eq!((resources.len(), items.len()), (1, 1));
            assert_eq!(items[0].attribute("identifierref"), resources[0].attribute("identifier"));
            assert!(names.contains(&resources[0].attribute("href").expect("a start")));
            let mastery = document.descendants().find(|n| n.has_tag_name_local("masteryscore")).and_then(|n| n.text());
            assert_eq!(mastery.map(str::to_string), contents.pass_pct.map(|pct| pct.to_string()));
        }
        Kind::Cmi5 => {
            assert_eq!(names[0], "cmi5.xml");
            let url = document.descendants().find(|n| n.has_tag_name_local("url")).and_then(|n| n.text());
            assert!(names.contains(&url.expect("an address")), "relative, and there");
            let unit = document.descendants().find(|n| n.has_tag_name_local("au")).expect("a unit");
            let mastery = unit.attribute("masteryScore").map(|text| text.parse::<f64>().expect("a number"));
            assert_eq!(mastery, contents.pass_pct.map(|pct| f64::from(pct) / 100.0));
            let moves = if contents.pass_pct.is_some() { "Passed" } else { "Completed" };
            assert_eq!(unit.attribute("moveOn"), Some(moves));
            let ids: Vec<_> = document.descendants().filter_map(|n| n.attribute("id")).collect();
            assert!(ids.len() == 2 && ids[0] != ids[1], "{ids:?}");
            // Section 3: fully qualified.
            assert!(ids.iter().all(|id| id.starts_with("urn:uuid:") && id.len() == 45), "{ids:?}");
        }
    }
    let page = files.iter().find(|(name, _)| name == "index.html").expect("the page");
    let page = std::str::from_utf8(&page.1).expect("UTF-8");
    assert!(page.contains("content=\"assignment=1&amp;title=%22x%22&amp;do=a,b&amp;end\""), "{page}");
}

/// Looks at the local name alone.
trait Local {
    fn has_tag_name_local(&self, name: &str) -> bool;
}

impl Local for roxmltree::Node<'_, '_> {
    fn has_tag_name_local(&self, name: &str) -> bool {
        self.tag_name().name() == name
    }
}

#[test]
fn published_packages_are_valid_whatever_their_texts() {
    let long = "<long & \"quoted\"> ".repeat(600);
    for kind in [Kind::Scorm12, Kind::Cmi5] {
        for pass in [None, Some(1), Some(70), Some(100)] {
            check(kind, &contents("Week 3: boost and density", "Read first.", pass));
        }
        for text in HOSTILE.into_iter().chain([long.as_str()]) {
            check(kind, &contents(&format!("x{text}"), text, Some(70)));
        }
    }
}

#[test]
fn published_schemas_refuse_manifests_that_are_wrong() {
    // A validator that let everything through would make the test above worthless.
    let good = contents("t", "a", Some(70));
    let scorm = volute_package::scorm12::manifest(&good, &["index.html"]);
    let cmi5 = volute_package::cmi5::structure(&good);
    assert!(faults(Kind::Scorm12, &scorm).is_empty() && faults(Kind::Cmi5, &cmi5).is_empty());
    for (kind, from, to) in [
        (Kind::Scorm12, "scormtype=\"sco\"", "scormtype=\"SCO\""),
        (Kind::Scorm12, " href=\"index.html\"/>", "/>"),
        (Kind::Scorm12, " type=\"webcontent\"", ""),
        (Kind::Scorm12, "<organizations default=\"lessons\">", "<organizations default=\"lessons\"><title>t</title>"),
        (Kind::Scorm12, "identifier=\"lessons\"", "identifier=\"1 2\""),
        (Kind::Scorm12, "<title>t</title>", &format!("<title>{}</title>", "t".repeat(201))),
        (Kind::Scorm12, "</manifest>", ""),
        (Kind::Cmi5, "masteryScore=\"0.7\"", "masteryScore=\"70\""),
        (Kind::Cmi5, "moveOn=\"Passed\"", "moveOn=\"passed\""),
        (Kind::Cmi5, "<url>index.html</url>", ""),
        (Kind::Cmi5, "<course id=", "<course name="),
        (Kind::Cmi5, "lang=\"de-CH\"", "lang=\"de_CH\""),
        (Kind::Cmi5, "/v1/CourseStructure.xsd", "/v2/CourseStructure.xsd"),
    ] {
        let manifest = if kind == Kind::Scorm12 { &scorm } else { &cmi5 };
        let broken = manifest.replacen(from, to, 1);
        assert_ne!(&broken, manifest, "`{from}` is there");
        assert!(!faults(kind, &broken).is_empty(), "{kind}: `{to}` for `{from}` is let through");
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, ..ProptestConfig::default() })]
    #[test]
    fn published_packages_are_valid_for_any_text(title in "(?s)x.{0,80}", about in "(?s).{0,300}", pass in proptest::option::of(1_u32..=100), cmi5 in any::<bool>()) {
        check(if cmi5 { Kind::Cmi5 } else { Kind::Scorm12 }, &contents(&title, &about, pass));
    }
}

#[test]
fn by_hand_a_zip_without_files_can_be_read() {
    assert_eq!(unzip(zip::pack(&[]).unwrap()), []);
}

proptest! {
    #[test]
    fn identity_a_reader_finds_what_was_packed(
        files in proptest::collection::btree_map("[a-z]{1,8}(/[a-z0-9_.-]{0,0}[a-z]{1,8}){0,2}", proptest::collection::vec(any::<u8>(), 0..300), 0..8),
        deflate in any::<bool>(),
    ) {
        let files: Vec<(String, Vec<u8>)> = files.into_iter().map(|(name, bytes)| (name, bytes.repeat(3))).collect();
        let entries: Vec<Entry> = files.iter().map(|(name, bytes)| Entry {
            deflated: deflate.then(|| miniz_oxide::deflate::compress_to_vec(bytes, 9)),
            ..Entry::stored(name, bytes.clone())
        }).collect();
        let packed = zip::pack(&entries).unwrap();
        prop_assert_eq!(&packed, &zip::pack(&entries).unwrap());
        prop_assert_eq!(unzip(packed), files);
    }
}
