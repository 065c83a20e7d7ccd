//! A link as a QR code. No browser here.

use qrcodegen::{QrCode, QrCodeEcc};

/// Modules of light around the code, as the standard (ISO/IEC 18004) asks for.
const QUIET: i32 = 4;

/// Bytes that the largest code holds at the lowest error correction, version 40-L of ISO/IEC 18004.
pub const MOST_BYTES: usize = 2953;

/// A code as an SVG path.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Code {
    /// Modules along a side, light ones around it included.
    pub side: i32,
    /// One rectangle for each run of dark modules in a row: `d` of a path.
    pub path: String,
}

/// The code of `text`; nothing if it is longer than [`MOST_BYTES`]. The error correction is low, so that as few and as large
/// modules as possible have to be read off a screen; where it costs no module, the library takes more.
pub fn code(text: &str) -> Option<Code> {
    let code = QrCode::encode_text(text, QrCodeEcc::Low).ok()?;
    let mut path = String::new();
    for y in 0..code.size() {
        let mut x = 0;
        while x < code.size() {
            let begun = x;
            while x < code.size() && code.get_module(x, y) {
                x += 1;
            }
            if begun < x {
                path.push_str(&format!("M{} {}h{}v1h-{}z", begun + QUIET, y + QUIET, x - begun, x - begun));
            }
            x += 1;
        }
    }
    Some(Code { side: code.size() + 2 * QUIET, path })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The dark modules of a code, read back from its path.
    fn dark(code: &Code) -> Vec<Vec<bool>> {
        let side = code.side as usize;
        let mut grid = vec![vec![false; side]; side];
        for run in code.path.split('M').skip(1) {
            let (at, rest) = run.split_once('h').unwrap();
            let (x, y) = at.split_once(' ').unwrap();
            let length: usize = rest.split('v').next().unwrap().parse().unwrap();
            let (x, y): (usize, usize) = (x.parse().unwrap(), y.parse().unwrap());
            grid[y][x..x + length].fill(true);
        }
        grid
    }

    #[test]
    fn published_finder_patterns_stand_in_three_corners() {
        // ISO/IEC 18004: concentric squares of 7, 5 and 3 modules, dark, light, dark.
        let code = code("https://example.org/#assignment=1&do=a&end").unwrap();
        let grid = dark(&code);
        let last = code.side as usize - 4 - 7;
        for (left, top) in [(4, 4), (last, 4), (4, last)] {
            for y in 0..7_usize {
                for x in 0..7_usize {
                    let ring = x.min(y).min(6 - x).min(6 - y);
                    assert_eq!(grid[top + y][left + x], ring != 1, "{left} {top}: {x} {y}");
                }
            }
        }
        // Nothing dark in the quiet zone.
        assert!(grid.iter().enumerate().all(|(y, row)| {
            row.iter().enumerate().all(|(x, dark)| {
                !dark || (4..code.side as usize - 4).contains(&x) && (4..code.side as usize - 4).contains(&y)
            })
        }));
    }

    #[test]
    fn published_largest_code_holds_2953_bytes() {
        let longest = format!("a{}", "&".repeat(MOST_BYTES - 1));
        assert_eq!(code(&longest).map(|c| c.side), Some(177 + 8));
        assert_eq!(code(&format!("{longest}&")), None);
    }
}
