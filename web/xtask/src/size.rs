//! What a first visit transfers, compressed as an ordinary host compresses.

use crate::bundle::files_in;
use crate::run::{Failure, Result};
use flate2::Compression;
use flate2::write::GzEncoder;
use std::fs;
use std::io::Write;
use std::path::Path;

/// Most that a first visit may transfer, in bytes.
const MOST: usize = 400_000;

/// Prints each file of the page with its size, gzipped unless it is compressed already. Errors: the total is over `MOST`.
pub fn check(dist: &Path) -> Result<()> {
    let mut total = 0;
    println!("{:>10} {:>10}", "bytes", "gzipped");
    for file in files_in(dist)? {
        let bytes = fs::read(&file).map_err(Failure::file(&file))?;
        let packed_already = file.extension().is_some_and(|ending| ending == "woff2" || ending == "png");
        let sent = if packed_already { bytes.len() } else { gzipped(&bytes).map_err(Failure::file(&file))? };
        // A licence lies beside what it covers; no visit loads it.
        let loaded = file.extension().is_none_or(|ending| ending != "txt");
        if loaded {
            total += sent;
        }
        let note = if loaded { "" } else { " (not loaded)" };
        println!("{:>10} {sent:>10}  {}{note}", bytes.len(), file.strip_prefix(dist).unwrap_or(&file).display());
    }
    println!("{total:>21}  in all, of at most {MOST}");
    if total > MOST { Err(Failure(format!("the page transfers {total} bytes, more than {MOST}"))) } else { Ok(()) }
}

fn gzipped(bytes: &[u8]) -> std::io::Result<usize> {
    let mut encoder = GzEncoder::new(Vec::new(), Compression::best());
    encoder.write_all(bytes)?;
    Ok(encoder.finish()?.len())
}
