//! FNV-1a in 64 bits: tells texts apart and spreads names evenly. It is no protection: anybody can compute it.
//! Source: the algorithm and its test values as its authors publish them (from memory).

/// The hash of no bytes. Every other hash starts from it.
pub const START: u64 = 0xcbf2_9ce4_8422_2325;

/// The hash of `bytes`.
pub fn fnv(bytes: impl IntoIterator<Item = u8>) -> u64 {
    go_on(START, bytes)
}

/// `hash`, continued with more bytes.
pub fn go_on(hash: u64, bytes: impl IntoIterator<Item = u8>) -> u64 {
    bytes.into_iter().fold(hash, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn published_hash_of_nothing_a_and_foobar() {
        // The vectors that the authors of FNV give for 64 bits (from memory).
        for (text, hash) in
            [("", 0xcbf2_9ce4_8422_2325_u64), ("a", 0xaf63_dc4c_8601_ec8c), ("foobar", 0x8594_4171_f739_67e8)]
        {
            assert_eq!(fnv(text.bytes()), hash, "`{text}`");
        }
    }
}
