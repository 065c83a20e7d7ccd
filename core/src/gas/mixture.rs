//! The working gas: humid air that carries burned fuel.
//!
//! Five species (N2, O2, Ar, CO2, H2O) with NASA-9 polynomials. Complete lean combustion makes every property linear in
//! one number, the burned-fuel fraction `x` (kg of burned fuel in each kg of gas), so a [`Gas`] is two tabulated curves:
//! internal energy of the air, and its slope with `x`. Enthalpies are absolute (they contain the enthalpy of formation), so
//! to burn fuel is only to add its mass at its enthalpy.
//! Left out: dissociation (matters above about 1900 K), rich combustion, unburnt fuel, real-gas effects.

use crate::gas::content::Content;
use crate::math;
use alloc::vec::Vec;

/// Molar gas constant, in J/(kmol K). Source: SI brochure, exact since 2019.
pub const R_UNIVERSAL_J_KMOL_K: f64 = 8_314.462_618_153_24;

/// Reference temperature of enthalpies of formation and heating values, in K.
pub const T_REFERENCE_K: f64 = 298.15;

/// Reference pressure of the entropies, in Pa. Source: MCBRIDE2002 (1 bar, not 1 atm).
pub const P_REFERENCE_PA: f64 = 1.0e5;

/// A species with its NASA-9 polynomials.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Species {
    /// Formula.
    pub name: &'static str,
    /// Molar mass, in kg/kmol.
    pub molar_mass_kg_kmol: f64,
    /// Coefficients below and above 1000 K: a1 to a7, b1, b2.
    coefficients: [[f64; 9]; 2],
}

/// Nitrogen, oxygen, argon, carbon dioxide, steam, as the build script makes them from `core/data/species.toml`.
///
/// Source: MCBRIDE2002; valid from 200 K to 6000 K.
pub const SPECIES: [Species; 5] = include!(concat!(env!("OUT_DIR"), "/species.rs"));

impl Species {
    fn range(&self, t_k: f64) -> &[f64; 9] {
        &self.coefficients[usize::from(t_k > 1000.0)]
    }

    /// Molar heat capacity at constant pressure, in J/(kmol K), from 200 K to 6000 K. Source: MCBRIDE2002, eq. 1.
    pub fn cp_j_kmol_k(&self, t_k: f64) -> f64 {
        let a = self.range(t_k);
        let t = t_k;
        R_UNIVERSAL_J_KMOL_K * ((a[0] / t + a[1]) / t + a[2] + t * (a[3] + t * (a[4] + t * (a[5] + t * a[6]))))
    }

    /// Molar enthalpy with that of formation, in J/kmol. Source: MCBRIDE2002, eq. 2.
    pub fn h_j_kmol(&self, t_k: f64) -> f64 {
        let a = self.range(t_k);
        let t = t_k;
        let series = a[2] + t * (a[3] / 2.0 + t * (a[4] / 3.0 + t * (a[5] / 4.0 + t * a[6] / 5.0)));
        R_UNIVERSAL_J_KMOL_K * (-a[0] / t + a[1] * libm::log(t) + t * series + a[7])
    }

    /// Molar entropy at 1 bar, in J/(kmol K). Source: MCBRIDE2002, eq. 3.
    pub fn s_j_kmol_k(&self, t_k: f64) -> f64 {
        let a = self.range(t_k);
        let t = t_k;
        let series = t * (a[3] + t * (a[4] / 2.0 + t * (a[5] / 3.0 + t * a[6] / 4.0)));
        R_UNIVERSAL_J_KMOL_K * ((-a[0] / (2.0 * t) - a[1]) / t + a[2] * libm::log(t) + series + a[8])
    }
}

/// Moles of each species in one kilogram, in kmol/kg; order of [`SPECIES`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Composition(pub [f64; 5]);

/// Dry air by mole fraction. Source: "Air" of NASA/TP-2002-211556 (from memory, to confirm).
const DRY_AIR_MOLE_FRACTION: [f64; 5] = [0.780_84, 0.209_476, 0.009_365, 0.000_319, 0.0];

impl Composition {
    /// One kilogram of a mixture given by mole numbers in any scale.
    pub fn of_moles(moles: [f64; 5]) -> Self {
        let mass: f64 = moles.iter().zip(&SPECIES).map(|(n, s)| n * s.molar_mass_kg_kmol).sum();
        Self(moles.map(|n| n / mass))
    }

    /// Air that holds `vapour_mole_fraction` of steam.
    pub fn humid_air(vapour_mole_fraction: f64) -> Self {
        let mut moles = DRY_AIR_MOLE_FRACTION.map(|x| x * (1.0 - vapour_mole_fraction));
        moles[4] += vapour_mole_fraction;
        Self::of_moles(moles)
    }

    /// What one kilogram of fuel `(C H_y)` turns into when it burns completely: carbon dioxide and steam appear, oxygen
    /// goes, so the oxygen entry is negative. By stoichiometry: C H_y + (1 + y/4) O2 -> CO2 + y/2 H2O.
    pub fn burned_fuel(hydrogen_to_carbon: f64) -> Self {
        let y = hydrogen_to_carbon;
        Self::of_moles([0.0, -(1.0 + y / 4.0), 0.0, 1.0, y / 2.0])
    }

    /// `x` kilograms of `burned` in each kilogram of the mixture, the rest this gas.
    pub fn with(&self, burned: &Self, x: f64) -> Self {
        let mut mixed = self.0;
        for (n, b) in mixed.iter_mut().zip(burned.0) {
            *n = *n * (1.0 - x) + b * x;
        }
        Self(mixed)
    }

    /// Specific gas constant, in J/(kg K).
    pub fn r_j_kg_k(&self) -> f64 {
        R_UNIVERSAL_J_KMOL_K * self.0.iter().sum::<f64>()
    }

    /// Specific enthalpy with that of formation, in J/kg.
    pub fn h_j_kg(&self, t_k: f64) -> f64 {
        self.0.iter().zip(&SPECIES).map(|(n, s)| n * s.h_j_kmol(t_k)).sum()
    }

    /// Specific heat capacity at constant pressure, in J/(kg K).
    pub fn cp_j_kg_k(&self, t_k: f64) -> f64 {
        self.0.iter().zip(&SPECIES).map(|(n, s)| n * s.cp_j_kmol_k(t_k)).sum()
    }

    /// Specific entropy at 1 bar without the mixing term, in J/(kg K): differences at one composition are exact.
    pub fn s_j_kg_k(&self, t_k: f64) -> f64 {
        self.0.iter().zip(&SPECIES).map(|(n, s)| n * s.s_j_kmol_k(t_k)).sum()
    }

    /// Air-fuel ratio at which the oxygen is just used up by burning `fuel` (an entry of [`Composition::burned_fuel`]).
    pub fn stoichiometric_ratio(&self, burned: &Self) -> f64 {
        -burned.0[1] / self.0[1]
    }
}

/// Lower end of the tabulated temperatures, in K.
const TABLE_MIN_K: f64 = 200.0;
/// Width of a table cell, in K. Chosen: cubics are then within 20 J/kg of the polynomials, and most of that is the
/// step that the polynomials themselves have at 1000 K.
const CELL_K: f64 = 25.0;
/// Upper end, in K: hotter than any cylinder; beyond it internal energy goes on in a straight line.
const TABLE_MAX_K: f64 = 3600.0;

/// Internal energy in one cell, as cubics in the place within the cell: of the air, and its slope with `x`.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Cell {
    air: [f64; 4],
    slope: [f64; 4],
}

/// The gas of one engine on one day.
#[derive(Debug, Clone, PartialEq)]
pub struct Gas {
    air: Composition,
    burned: Composition,
    r_air_j_kg_k: f64,
    r_slope_j_kg_k: f64,
    /// Absolute enthalpy of the fuel: its complete burning at 298.15 K gives off the lower heating value.
    pub fuel_h_j_kg: f64,
    /// Air-fuel ratio that uses up the oxygen.
    pub stoichiometric_ratio: f64,
    cells: Vec<Cell>,
}

/// Some gas with its temperature worked out, and how that moves when mass, energy or burned fuel change a little.
///
/// Everything is of the whole amount, not per kilogram: the innermost loop then divides once instead of three times.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Amount {
    /// Temperature, in K.
    pub t_k: f64,
    /// Heat capacity at constant volume, in J/K.
    pub heat_j_k: f64,
    inverse_k_j: f64,
    content: Content,
    /// Energy that a kilogram of air, or of burned fuel beyond that, brings in at this temperature, to first order.
    air_j_kg: f64,
    slope_j_kg: f64,
}

impl Amount {
    /// Temperature after a small change, to first order: within 1e-3 K over half a step of the cycle.
    #[inline(always)]
    pub fn moved_t_k(&self, to: &Content) -> f64 {
        let from = &self.content;
        let brought = (to.m_kg - from.m_kg) * self.air_j_kg + (to.x_kg - from.x_kg) * self.slope_j_kg;
        self.t_k + (to.u_j - from.u_j - brought) * self.inverse_k_j
    }
}

impl Gas {
    /// Tabulates the gas: `vapour_mole_fraction` of steam in the air, fuel by heating value and hydrogen-to-carbon ratio.
    pub fn new(vapour_mole_fraction: f64, lhv_j_kg: f64, hydrogen_to_carbon: f64) -> Self {
        let air = Composition::humid_air(vapour_mole_fraction);
        Self::of(air, Composition::burned_fuel(hydrogen_to_carbon), lhv_j_kg)
    }

    /// Tabulates a gas of any two compositions: what enters, and what a kilogram of fuel turns into.
    fn of(air: Composition, burned: Composition, lhv_j_kg: f64) -> Self {
        let (r_air, r_burned) = (air.r_j_kg_k(), burned.r_j_kg_k());
        let node = |composition: &Composition, r: f64, t_k: f64| {
            (composition.h_j_kg(t_k) - r * t_k, (composition.cp_j_kg_k(t_k) - r) * CELL_K)
        };
        let count = ((TABLE_MAX_K - TABLE_MIN_K) / CELL_K) as usize;
        let mut cells = Vec::with_capacity(count);
        let mut left = (node(&air, r_air, TABLE_MIN_K), node(&burned, r_burned, TABLE_MIN_K));
        for i in 0..count {
            let t_k = TABLE_MIN_K + (i + 1) as f64 * CELL_K;
            let right = (node(&air, r_air, t_k), node(&burned, r_burned, t_k));
            let of_air = hermite(left.0, right.0);
            let of_burned = hermite(left.1, right.1);
            let mut slope = of_burned;
            for (s, a) in slope.iter_mut().zip(of_air) {
                *s -= a;
            }
            cells.push(Cell { air: of_air, slope });
            left = right;
        }
        Self {
            air,
            burned,
            r_air_j_kg_k: r_air,
            r_slope_j_kg_k: r_burned - r_air,
            fuel_h_j_kg: lhv_j_kg + burned.h_j_kg(T_REFERENCE_K),
            stoichiometric_ratio: air.stoichiometric_ratio(&burned),
            cells,
        }
    }

    /// A gas of constant heat capacities that is only heated by what burns: the one of textbook cycles, so that the cycle
    /// can be held against them. [`Gas::composition`] and [`Gas::isentropic_t_k`] mean nothing for it.
    pub fn perfect(r_j_kg_k: f64, gamma: f64, lhv_j_kg: f64) -> Self {
        let stand_in = Composition([r_j_kg_k / R_UNIVERSAL_J_KMOL_K, 0.0, 0.0, 0.0, 0.0]);
        let mut gas = Self::of(stand_in, stand_in, lhv_j_kg);
        let cell_j_kg = r_j_kg_k / (gamma - 1.0) * CELL_K;
        for (i, cell) in gas.cells.iter_mut().enumerate() {
            let left_j_kg = cell_j_kg * (i as f64 + TABLE_MIN_K / CELL_K);
            *cell = Cell { air: [left_j_kg, cell_j_kg, 0.0, 0.0], slope: [0.0; 4] };
        }
        gas.fuel_h_j_kg = lhv_j_kg;
        gas.stoichiometric_ratio = 0.0;
        gas
    }

    /// Composition at burned-fuel fraction `x`.
    pub fn composition(&self, x: f64) -> Composition {
        self.air.with(&self.burned, x)
    }

    /// Gas constant, in J/(kg K).
    #[inline(always)]
    pub fn r_j_kg_k(&self, x: f64) -> f64 {
        self.r_air_j_kg_k + x * self.r_slope_j_kg_k
    }

    /// Internal energy, its first and half its second derivative by the place in the cell, and that place's temperature span.
    #[inline(always)]
    fn energy(&self, t_k: f64, x: f64) -> (f64, f64, f64) {
        let place = (t_k - TABLE_MIN_K) * (1.0 / CELL_K);
        let last = self.cells.len() - 1;
        // A float cast saturates and takes NaN to zero, so the index is always inside.
        let index = (place as usize).min(last);
        let cell = &self.cells[index];
        let s = place - index as f64;
        let c = |i: usize| cell.air[i] + x * cell.slope[i];
        let (c0, c1, c2, c3) = (c(0), c(1), c(2), c(3));
        if (0.0..=1.0).contains(&s) {
            (c0 + s * (c1 + s * (c2 + s * c3)), c1 + s * (2.0 * c2 + s * (3.0 * c3)), c2 + 3.0 * s * c3)
        } else {
            // Outside the table: straight on from its end.
            let end = if s < 0.0 { 0.0 } else { 1.0 };
            let slope = c1 + end * (2.0 * c2 + 3.0 * c3);
            (c0 + end * (c1 + c2 + c3) + (s - end) * slope, slope, 0.0)
        }
    }

    /// Internal energy with enthalpy of formation, in J/kg.
    #[inline(always)]
    pub fn u_j_kg(&self, t_k: f64, x: f64) -> f64 {
        self.energy(t_k, x).0
    }

    /// Enthalpy with that of formation, in J/kg.
    #[inline(always)]
    pub fn h_j_kg(&self, t_k: f64, x: f64) -> f64 {
        self.energy(t_k, x).0 + self.r_j_kg_k(x) * t_k
    }

    /// Heat capacity at constant volume, in J/(kg K).
    #[inline(always)]
    pub fn cv_j_kg_k(&self, t_k: f64, x: f64) -> f64 {
        self.energy(t_k, x).1 * (1.0 / CELL_K)
    }

    /// Heat capacity at constant pressure, in J/(kg K).
    pub fn cp_j_kg_k(&self, t_k: f64, x: f64) -> f64 {
        self.cv_j_kg_k(t_k, x) + self.r_j_kg_k(x)
    }

    /// Gas with its temperature worked out from a near guess, in one step of third order.
    ///
    /// An integrator that hands in its last temperature (some 30 K off at most) gets it to about 1e-3 K; the energy itself
    /// carries no error.
    #[inline(always)]
    pub fn amount(&self, content: &Content, guess_k: f64) -> Amount {
        let Content { m_kg, u_j, x_kg } = *content;
        // Adding 1.5 * 2^52 rounds to a whole number and leaves it in the low bits: the cell, without a conversion.
        const MAGIC: f64 = 6_755_399_441_055_744.0;
        let place = (guess_k.clamp(TABLE_MIN_K, TABLE_MAX_K) - TABLE_MIN_K) * (1.0 / CELL_K);
        let shifted = (place - 0.5) + MAGIC;
        let s = place - (shifted - MAGIC);
        let index = (shifted.to_bits() & 0xff) as usize;
        let cell = &self.cells[index.min(self.cells.len() - 1)];
        let c = |i: usize| m_kg * cell.air[i] + x_kg * cell.slope[i];
        let (c0, c1, c2, c3) = (c(0), c(1), c(2), c(3));
        let s3 = s * c3;
        let u = c0 + s * (c1 + s * (c2 + s3));
        let du = c1 + s * (2.0 * c2 + 3.0 * s3);
        let half_ddu = c2 + 3.0 * s3;
        let inverse = 1.0 / du;
        let plain = (u_j - u) * inverse;
        let bend = plain * half_ddu * inverse;
        let step = plain * (1.0 - bend * (1.0 - 2.0 * bend));
        Amount {
            t_k: TABLE_MIN_K + (place + step) * CELL_K,
            heat_j_k: (du + 2.0 * half_ddu * step) * (1.0 / CELL_K),
            inverse_k_j: inverse * (1.0 - 2.0 * bend) * CELL_K,
            content: *content,
            air_j_kg: cell.air[0] + s * cell.air[1],
            slope_j_kg: cell.slope[0],
        }
    }

    /// `m R` of an amount of gas, in J/K.
    #[inline(always)]
    pub fn mr_j_k(&self, content: &Content) -> f64 {
        content.m_kg * self.r_air_j_kg_k + content.x_kg * self.r_slope_j_kg_k
    }

    /// Temperature at internal energy `u_j_kg`, to the last digits, from any guess.
    pub fn t_of_u_k(&self, u_j_kg: f64, x: f64, guess_k: f64) -> f64 {
        let mut t_k = guess_k.clamp(TABLE_MIN_K, TABLE_MAX_K);
        for _ in 0..30 {
            let (u, du, _) = self.energy(t_k, x);
            let step_k = (u_j_kg - u) / du * CELL_K;
            t_k += step_k;
            if math::fabs(step_k) < 1e-9 {
                break;
            }
        }
        t_k
    }

    /// Temperature at enthalpy `h_j_kg`, to the last digits, from any guess.
    pub fn t_of_h_k(&self, h_j_kg: f64, x: f64, guess_k: f64) -> f64 {
        let r = self.r_j_kg_k(x);
        let mut t_k = guess_k.clamp(TABLE_MIN_K, TABLE_MAX_K);
        for _ in 0..30 {
            let (u, du, _) = self.energy(t_k, x);
            let step_k = (h_j_kg - u - r * t_k) / (du / CELL_K + r);
            t_k += step_k;
            if math::fabs(step_k) < 1e-9 {
                break;
            }
        }
        t_k
    }

    /// Temperature after an isentropic change of pressure by `pressure_ratio`, in K; real heat capacities.
    pub fn isentropic_t_k(&self, t_k: f64, x: f64, pressure_ratio: f64) -> f64 {
        let gas = self.composition(x);
        let r = self.r_j_kg_k(x);
        let target = gas.s_j_kg_k(t_k) + r * libm::log(pressure_ratio);
        let mut t = t_k * libm::pow(pressure_ratio, r / gas.cp_j_kg_k(t_k));
        for _ in 0..30 {
            let step = (target - gas.s_j_kg_k(t)) / gas.cp_j_kg_k(t) * t;
            t += step;
            if math::fabs(step) < 1e-9 {
                break;
            }
        }
        t
    }
}

/// Cubic through two ends with value and slope (slope for the whole cell), in powers of the place 0 to 1.
fn hermite(left: (f64, f64), right: (f64, f64)) -> [f64; 4] {
    let rise = right.0 - left.0;
    [left.0, left.1, 3.0 * rise - 2.0 * left.1 - right.1, left.1 + right.1 - 2.0 * rise]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn identity_table_follows_the_polynomials() {
        let gas = Gas::new(0.01, 42.8e6, 1.9167);
        for x in [0.0, 0.02, 0.06] {
            let exact = gas.composition(x);
            for i in 0..680 {
                let t_k = 201.3 + 5.0 * i as f64;
                let error_j_kg = gas.h_j_kg(t_k, x) - exact.h_j_kg(t_k);
                // The polynomials of the source do not meet exactly at 1000 K; that step is theirs.
                assert!(math::fabs(error_j_kg) < 20.0, "{t_k} K: {error_j_kg} J/kg");
                assert!(math::fabs(gas.cp_j_kg_k(t_k, x) / exact.cp_j_kg_k(t_k) - 1.0) < 2e-4, "{t_k} K");
            }
        }
    }

    #[test]
    fn identity_temperature_and_energy_invert() {
        let gas = Gas::new(0.0, 42.8e6, 1.9167);
        for i in 0..320 {
            let t_k = 250.0 + 10.0 * i as f64;
            let u = gas.u_j_kg(t_k, 0.03);
            assert!(math::fabs(gas.t_of_u_k(u, 0.03, 700.0) - t_k) < 1e-7);
            assert!(math::fabs(gas.t_of_h_k(gas.h_j_kg(t_k, 0.03), 0.03, 700.0) - t_k) < 1e-7);
            let near = gas.amount(&Content::of(2.0, u, 0.03), t_k - 30.0);
            assert!(math::fabs(near.t_k - t_k) < 5e-3, "{} for {t_k}", near.t_k);
            let u = 2.001 * gas.u_j_kg(t_k + 1.0, 0.0301);
            let moved = near.moved_t_k(&Content { m_kg: 2.001, u_j: u, x_kg: 2.001 * 0.0301 });
            // Ten times what a step corrects, so a hundred times its error.
            assert!(math::fabs(moved - t_k - 1.0) < 3e-2, "{moved} for {t_k}");
        }
    }

    #[test]
    fn by_hand_a_perfect_gas_has_one_heat_capacity() {
        let gas = Gas::perfect(287.0, 1.4, 1.0e9);
        for t_k in [150.0, 300.0, 1234.5, 5000.0] {
            assert!(math::fabs(gas.u_j_kg(t_k, 0.0) - 717.5 * t_k) < 1e-6);
            assert!(math::fabs(gas.cv_j_kg_k(t_k, 0.02) - 717.5) < 1e-9);
            assert_eq!(gas.r_j_kg_k(0.02), 287.0);
        }
        assert_eq!(gas.fuel_h_j_kg, 1.0e9);
    }

    #[test]
    fn identity_burning_at_the_reference_temperature_gives_the_heating_value() {
        let gas = Gas::new(0.0, 42.8e6, 1.9167);
        let x = 0.04;
        let before = (1.0 - x) * gas.h_j_kg(T_REFERENCE_K, 0.0) + x * gas.fuel_h_j_kg;
        let after = gas.h_j_kg(T_REFERENCE_K, x);
        assert!(math::fabs((before - after) / x / 42.8e6 - 1.0) < 1e-9);
    }

    #[test]
    fn by_hand_energy_outside_the_table_is_finite_and_rises() {
        let gas = Gas::new(0.0, 42.8e6, 1.9167);
        let mut last = f64::NEG_INFINITY;
        for t_k in [-1e4, 0.0, 150.0, 250.0, 3000.0, 4000.0, 1e5] {
            let u = gas.u_j_kg(t_k, 0.01);
            assert!(u.is_finite() && u > last);
            last = u;
        }
    }
}
