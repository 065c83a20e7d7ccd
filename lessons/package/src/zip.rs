//! A zip file, written in one go: the same entries give the same bytes. An entry is stored as it is, or as a deflate stream
//! that the caller brings: on the page the browser deflates, so the page needs no compressor of its own.
//!
//! Why no library writes it: the crate `zip` (the tests read with it) only takes what it has deflated itself. The crate
//! `rawzip` takes deflate streams, but writes every size behind the data and not in front, which readers that stream refuse
//! for stored entries. The crate `crc32fast` brings tables of 16 kB; ours has 1 kB.
//!
//! Source: PKWARE, APPNOTE.TXT, sections 4.3.7, 4.3.12, 4.3.16 (from memory; three independent readers agree).

/// One file to pack.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    /// Its name: plain steps of letters, digits, `.`, `-`, `_`, with `/` between them.
    pub name: String,
    /// What it holds.
    pub bytes: Vec<u8>,
    /// The same as a raw deflate stream, which is used only where it is shorter.
    pub deflated: Option<Vec<u8>>,
}

impl Entry {
    /// A file that is stored as it is.
    pub fn stored(name: impl Into<String>, bytes: impl Into<Vec<u8>>) -> Self {
        Self { name: name.into(), bytes: bytes.into(), deflated: None }
    }
}

/// Why there is no zip.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[allow(missing_docs, reason = "the messages say what the fields are")]
pub enum ZipError {
    /// A name that could lead out of the folder, or that some system cannot have.
    #[error(
        "the file name `{name:.80}` cannot go into a package; allowed are letters from a to z, digits, `.`, `-` and `_`, with single `/` between folders, at most {} in all",
        LONGEST_NAME
    )]
    Name { name: String },
    /// Two files of one name, capitals or not.
    #[error("the file `{name}` stands in the package twice")]
    Twice { name: String },
    /// More or longer files than a plain zip can hold.
    #[error("a package holds at most 65 535 files and 4 GiB")]
    TooLarge,
}

/// Longest name of a file, in bytes. Chosen: some systems stop at 255 for the whole path.
const LONGEST_NAME: usize = 200;
/// 1 January 1980, the first day that a zip can name. No clock is read, so that the same entries give the same bytes.
const DAY: u16 = 1 << 5 | 1;
const MIDNIGHT: u16 = 0;
/// Version 2.0 of the format: deflate and folders.
const VERSION: u16 = 20;
/// Names are UTF-8.
const UTF8: u16 = 1 << 11;

/// Whether a name may stand in a package.
pub fn good_name(name: &str) -> bool {
    let plain = |step: &str| {
        !step.is_empty()
            && !step.starts_with('.')
            && step.bytes().all(|b| b.is_ascii_alphanumeric() || matches!(b, b'.' | b'-' | b'_'))
    };
    name.len() <= LONGEST_NAME && name.split('/').all(plain)
}

/// Packs the entries in their order. Errors: a name that is not good, or twice; too many, or too much.
pub fn pack(entries: &[Entry]) -> Result<Vec<u8>, ZipError> {
    let count = u16::try_from(entries.len()).map_err(|_| ZipError::TooLarge)?;
    let (mut out, mut directory) = (Vec::new(), Vec::new());
    for (i, entry) in entries.iter().enumerate() {
        if !good_name(&entry.name) {
            return Err(ZipError::Name { name: entry.name.clone() });
        }
        // Some systems do not distinguish capitals: one file would replace the other there.
        if entries[..i].iter().any(|other| other.name.eq_ignore_ascii_case(&entry.name)) {
            return Err(ZipError::Twice { name: entry.name.clone() });
        }
        let packed = entry.deflated.as_ref().filter(|deflated| deflated.len() < entry.bytes.len());
        let (method, data) = packed.map_or((0, &entry.bytes), |deflated| (8, deflated));
        let place = length(&out)?;
        let mut facts = Vec::with_capacity(26);
        for number in [VERSION, UTF8, method, MIDNIGHT, DAY] {
            facts.extend(number.to_le_bytes());
        }
        for number in [crc32(&entry.bytes), length(data)?, length(&entry.bytes)?] {
            facts.extend(number.to_le_bytes());
        }
        // A good name is short enough for the cast.
        facts.extend((entry.name.len() as u16).to_le_bytes());
        facts.extend([0, 0]);
        out.extend(b"PK\x03\x04");
        out.extend(&facts);
        out.extend(entry.name.bytes());
        out.extend(data);
        directory.extend(b"PK\x01\x02");
        directory.extend(VERSION.to_le_bytes());
        directory.extend(&facts);
        // No comment, first disk, no attributes.
        directory.extend([0; 10]);
        directory.extend(place.to_le_bytes());
        directory.extend(entry.name.bytes());
    }
    let (place, size) = (length(&out)?, length(&directory)?);
    out.extend(directory);
    out.extend(b"PK\x05\x06\0\0\0\0");
    out.extend([count.to_le_bytes(), count.to_le_bytes()].concat());
    out.extend([size.to_le_bytes(), place.to_le_bytes()].concat());
    out.extend([0, 0]);
    Ok(out)
}

fn length(bytes: &[u8]) -> Result<u32, ZipError> {
    u32::try_from(bytes.len()).map_err(|_| ZipError::TooLarge)
}

/// CRC-32 as zip, PNG and Ethernet have it: reflected, polynomial 0xedb88320. Source: ISO 3309, by way of RFC 1952, 8.
fn crc32(bytes: &[u8]) -> u32 {
    const TABLE: [u32; 256] = {
        let mut table = [0; 256];
        let mut i = 0;
        while i < 256 {
            let mut value = i as u32;
            let mut bit = 0;
            while bit < 8 {
                value = if value & 1 == 1 { value >> 1 ^ 0xedb8_8320 } else { value >> 1 };
                bit += 1;
            }
            table[i] = value;
            i += 1;
        }
        table
    };
    !bytes.iter().fold(!0, |crc, byte| TABLE[usize::from(crc as u8 ^ byte)] ^ crc >> 8)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn published_crc_of_the_usual_check_text() {
        // The check value that catalogues of CRCs give for this one (from memory).
        assert_eq!(crc32(b"123456789"), 0xcbf4_3926);
        assert_eq!(crc32(b""), 0);
    }

    #[test]
    fn by_hand_only_plain_names_go_into_a_zip() {
        for good in ["index.html", "fonts/a-b_c.woff2", "a/b/c"] {
            assert!(good_name(good), "{good}");
        }
        for bad in
            ["", "/a", "a/", "a//b", "../a", "a/../b", ".hidden", "a\\b", "c:a", "a b", "ä", "a\0", "a?b", "a%20"]
        {
            assert!(!good_name(bad), "{bad}");
            assert!(pack(&[Entry::stored(bad, "")]).is_err());
        }
        assert!(good_name(&"a".repeat(200)) && !good_name(&"a".repeat(201)));
        let twice = [Entry::stored("a", ""), Entry::stored("A", "")];
        assert_eq!(pack(&twice), Err(ZipError::Twice { name: "A".into() }));
    }
}
