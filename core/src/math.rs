//! Floating-point functions that give the same bits in a native test and in the browser.
//!
//! Everyday calls wrap `libm`. [`ln`], [`exp`] and [`pow`] are our own polynomials. They are in the innermost loop of the
//! cycle, where `libm` would take a third of the time, and they are pure arithmetic, so WASM runs them at native speed.
//! Their error against `libm` is tested below.

pub use libm::{asin, atan2, ceil, cos, fabs, floor, round, sin};

/// Square root. IEEE 754 wants it rounded correctly, so the machine's instruction and `libm` give the same bits; `libm`
/// knows the instruction on ordinary processors but computes in software on WASM, at a fifth of a steady point's time.
#[inline(always)]
pub fn sqrt(x: f64) -> f64 {
    #[cfg(target_arch = "wasm32")]
    return std::primitive::f64::sqrt(x);
    #[cfg(not(target_arch = "wasm32"))]
    libm::sqrt(x)
}

const LN_2: f64 = core::f64::consts::LN_2;

/// Natural logarithm of a positive normal number. Relative error of the result below 3e-15, absolute below 1e-16 near one.
///
/// Not for zero, negative, subnormal or infinite arguments: their result is finite and meaningless.
#[inline(always)]
pub fn ln(x: f64) -> f64 {
    // Split into 2^k * m with m in [sqrt(1/2), sqrt(2)), then the odd series of artanh in s = (m - 1)/(m + 1).
    let bits = x.to_bits();
    let shifted = bits.wrapping_sub(0x3fe6_a09e_667f_3bcd);
    let k = (shifted as i64) >> 52;
    let m = f64::from_bits(bits.wrapping_sub((k as u64) << 52));
    let s = (m - 1.0) / (m + 1.0);
    let z = s * s;
    let z2 = z * z;
    let z4 = z2 * z2;
    let low = (2.0 / 3.0 + z * (2.0 / 5.0)) + z2 * (2.0 / 7.0 + z * (2.0 / 9.0));
    let high = (2.0 / 11.0 + z * (2.0 / 13.0)) + z2 * (2.0 / 15.0 + z * (2.0 / 17.0));
    k as f64 * LN_2 + (2.0 * s + s * z * (low + z4 * high))
}

/// e to the `x`. Relative error below 1e-15 for |x| < 700; beyond that the argument is clamped, so the result stays finite.
#[inline(always)]
pub fn exp(x: f64) -> f64 {
    // Rounding by the magic constant leaves the integer in the low bits: no call and no branch.
    const MAGIC: f64 = 6_755_399_441_055_744.0;
    let x = x.clamp(-700.0, 700.0);
    let shifted = x * core::f64::consts::LOG2_E + MAGIC;
    let k = shifted - MAGIC;
    let r = (x - k * 6.931_471_803_691_238e-1) - k * 1.908_214_929_270_587_7e-10;
    let r2 = r * r;
    let r4 = r2 * r2;
    let a = 1.0 + r + r2 * (1.0 / 2.0 + r * (1.0 / 6.0));
    let b = (1.0 / 24.0 + r * (1.0 / 120.0)) + r2 * (1.0 / 720.0 + r * (1.0 / 5040.0));
    let c = (1.0 / 40_320.0 + r * (1.0 / 362_880.0)) + r2 * (1.0 / 3_628_800.0 + r * (1.0 / 39_916_800.0));
    let d = 1.0 / 479_001_600.0 + r * (1.0 / 6_227_020_800.0);
    let polynomial = a + r4 * (b + r4 * (c + r4 * d));
    let power = f64::from_bits(((shifted.to_bits() << 52) as i64).wrapping_add(1023 << 52) as u64);
    polynomial * power
}

/// `x` to the `y` for a positive normal `x`. Relative error below 1e-14 for |y ln x| < 20.
#[inline(always)]
pub fn pow(x: f64, y: f64) -> f64 {
    exp(y * ln(x))
}

/// `y` to the power 1/20, for a positive normal `y`. Relative error below 4e-8: for correlations that are no better than
/// their fit, at half the cost of [`pow`] and without a division.
#[inline(always)]
pub(crate) fn twentieth_root(y: f64) -> f64 {
    const MAGIC: f64 = 6_755_399_441_055_744.0;
    let bits = y.to_bits();
    let shifted = bits.wrapping_sub(0x3fe6_a09e_667f_3bcd);
    let k = (shifted as i64) >> 52;
    let t = f64::from_bits(bits.wrapping_sub((k as u64) << 52)) - 1.0;
    // ln(1 + t)/t by least squares on Chebyshev nodes between the roots of 1/2 and 2.
    let t2 = t * t;
    let low = (1.000_000_964_4 - 5.000_114_503_8e-1 * t) + t2 * (3.331_467_380_9e-1 - 2.490_828_918_5e-1 * t);
    let high = (2.049_175_965_0e-1 - 1.868_075_142_7e-1 * t) + t2 * 1.193_105_443_7e-1;
    let x = 0.05 * (k as f64 * LN_2 + t * (low + t2 * t2 * high));
    let whole = x * core::f64::consts::LOG2_E + MAGIC;
    let r = x - (whole - MAGIC) * LN_2;
    let r2 = r * r;
    let a = (1.0 + r) + r2 * (1.0 / 2.0 + r * (1.0 / 6.0));
    let b = (1.0 / 24.0 + r * (1.0 / 120.0)) + r2 * (1.0 / 720.0 + r * (1.0 / 5040.0));
    let power = f64::from_bits(((whole.to_bits() << 52) as i64).wrapping_add(1023 << 52) as u64);
    (a + r2 * r2 * b) * power
}

/// Root of a function that changes sign between `low` and `high`, by bisection and secant (Illinois form).
///
/// Stops when the bracket is narrower than `tolerance` or after 100 steps; returns the better end. If there is no sign
/// change, returns the end with the smaller value.
pub fn root(mut low: f64, mut high: f64, tolerance: f64, mut function: impl FnMut(f64) -> f64) -> f64 {
    let (mut f_low, mut f_high) = (function(low), function(high));
    if f_low * f_high > 0.0 {
        return if fabs(f_low) < fabs(f_high) { low } else { high };
    }
    let mut side = 0;
    for _ in 0..100 {
        if fabs(high - low) <= tolerance || f_low == f_high {
            break;
        }
        let mut x = (f_low * high - f_high * low) / (f_low - f_high);
        if !(low.min(high) < x && x < low.max(high)) {
            x = 0.5 * (low + high);
        }
        let f = function(x);
        if f == 0.0 {
            return x;
        }
        if f * f_high > 0.0 {
            (high, f_high) = (x, f);
            if side == -1 {
                f_low *= 0.5;
            }
            side = -1;
        } else {
            (low, f_low) = (x, f);
            if side == 1 {
                f_high *= 0.5;
            }
            side = 1;
        }
    }
    if fabs(f_low) < fabs(f_high) { low } else { high }
}

/// Solves linear equations by Gauss and Jordan's elimination with row pivots: each row ends with its right-hand side, which
/// becomes the solution. Returns whether there is one; a pivot below `least_pivot` counts as zero.
pub(crate) fn solve_linear<R: AsRef<[f64]> + AsMut<[f64]>>(rows: &mut [R], least_pivot: f64) -> bool {
    let n = rows.len();
    for column in 0..n {
        let size = |row: &usize| fabs(rows[*row].as_ref()[column]);
        let Some(pivot) = (column..n).max_by(|a, b| size(a).total_cmp(&size(b))) else { return false };
        rows.swap(column, pivot);
        let head = rows[column].as_ref()[column];
        if !head.is_finite() || fabs(head) < least_pivot {
            return false;
        }
        for row in (0..n).filter(|row| *row != column) {
            let share = rows[row].as_ref()[column] / head;
            for k in column..=n {
                let above = rows[column].as_ref()[k];
                rows[row].as_mut()[k] -= share * above;
            }
        }
    }
    for (i, row) in rows.iter_mut().map(AsMut::as_mut).enumerate() {
        row[n] /= row[i];
    }
    rows.iter().all(|row| row.as_ref()[n].is_finite())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand_own_functions_follow_libm() {
        let (mut worst_ln, mut worst_exp, mut worst_pow) = (0.0_f64, 0.0_f64, 0.0_f64);
        for i in 1..200_000 {
            let x = libm::exp((i as f64 - 100_000.0) * 2.3e-4);
            let ln_error = fabs(ln(x) - libm::log(x)) / fabs(libm::log(x)).max(0.1);
            let y = (i as f64 - 100_000.0) * 6.0e-3;
            let exp_error = if fabs(y) < 600.0 { fabs(exp(y) / libm::exp(y) - 1.0) } else { 0.0 };
            let near = 0.2 + i as f64 * 5e-5;
            worst_ln = worst_ln.max(ln_error);
            worst_exp = worst_exp.max(exp_error);
            worst_pow = worst_pow.max(fabs(pow(near, 0.8) / libm::pow(near, 0.8) - 1.0));
        }
        assert!(worst_ln < 3e-15, "ln {worst_ln}");
        assert!(worst_exp < 1e-15, "exp {worst_exp}");
        assert!(worst_pow < 2e-15, "pow {worst_pow}");
    }

    #[test]
    fn by_hand_twentieth_root_follows_libm() {
        for i in 0..100_000 {
            let y = libm::exp(f64::from(i) * 6e-3);
            assert!(fabs(twentieth_root(y) / libm::pow(y, 0.05) - 1.0) < 4e-8, "{y:e}");
        }
    }

    #[test]
    fn by_hand_extremes_stay_finite() {
        for x in [1e9, -1e9, f64::INFINITY, f64::NEG_INFINITY] {
            assert!(exp(x).is_finite());
        }
        assert!(ln(0.0).is_finite() && ln(-1.0).is_finite());
    }

    #[test]
    fn by_hand_two_equations_with_a_zero_on_the_diagonal() {
        // 2 y = 4, 3 x + y = 5.
        let mut rows = [[0.0, 2.0, 4.0], [3.0, 1.0, 5.0]];
        assert!(solve_linear(&mut rows, 1e-14));
        assert_eq!([rows[0][2], rows[1][2]], [1.0, 2.0]);
        assert!(!solve_linear(&mut [[1.0, 2.0, 1.0], [2.0, 4.0, 1.0]], 1e-14));
    }

    #[test]
    fn by_hand_root_of_a_cubic() {
        let x = root(0.0, 3.0, 1e-12, |x| x * x * x - 2.0);
        assert!(fabs(x - libm::cbrt(2.0)) < 1e-11);
    }
}
