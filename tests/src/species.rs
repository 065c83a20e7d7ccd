//! Properties of the five species from `cantera3_species_enthalpy.csv`, and sums over them. The suite computes energy and
//! efficiency from these, and they share no code with the core.

use crate::reference::Table;

/// Molar gas constant, in J/(mol K). Source: exact since 2019.
pub const R_J_MOL_K: f64 = 8.314_462_618_153_24;
/// Names, in the order of every array here.
pub const NAMES: [&str; 5] = ["N2", "O2", "Ar", "CO2", "H2O"];
/// Molar masses, in kg/mol, from conventional atomic weights (N 14.007, O 15.999, Ar 39.95, C 12.011, H 1.008).
pub const MOLAR_MASS_KG_MOL: [f64; 5] = [28.014e-3, 31.998e-3, 39.95e-3, 44.009e-3, 18.015e-3];
/// Dry air by mole. Source: MCBRIDE2002, "Air".
const DRY_AIR: [f64; 5] = [0.780_84, 0.209_476, 0.009_365, 0.000_319, 0.0];

/// A mixture: moles of each species in a kilogram.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mixture(pub [f64; 5]);

impl Mixture {
    /// One kilogram of a mixture given by moles in any scale.
    pub fn of_moles(moles: [f64; 5]) -> Self {
        let mass_kg: f64 = (0..5).map(|i| moles[i] * MOLAR_MASS_KG_MOL[i]).sum();
        Self(moles.map(|n| n / mass_kg))
    }

    /// Air with this mole fraction of vapour.
    pub fn air(vapour_mole_fraction: f64) -> Self {
        let mut moles = DRY_AIR.map(|n| n * (1.0 - vapour_mole_fraction));
        moles[4] += vapour_mole_fraction;
        Self::of_moles(moles)
    }

    /// A kilogram of burned gas, of which `burned_kg` was the fuel C H_y.
    pub fn burnt(vapour_mole_fraction: f64, hydrogen_to_carbon: f64, burned_kg: f64) -> Self {
        let y = hydrogen_to_carbon;
        let fuel_mol = burned_kg / (12.011e-3 + 1.008e-3 * y);
        let mut moles = Self::air(vapour_mole_fraction).0.map(|n| n * (1.0 - burned_kg));
        moles[1] -= fuel_mol * (1.0 + y / 4.0);
        moles[3] += fuel_mol;
        moles[4] += fuel_mol * y / 2.0;
        Self(moles)
    }

    /// Gas constant, in J/(kg K).
    pub fn r_j_kg_k(&self) -> f64 {
        R_J_MOL_K * self.0.iter().sum::<f64>()
    }
}

/// The table, ready to interpolate.
#[derive(Debug)]
pub struct Species {
    /// For each species: temperature, heat capacity, enthalpy, entropy, molar.
    nodes: [Vec<[f64; 4]>; 5],
}

impl Species {
    /// Reads the table.
    pub fn read() -> Self {
        let table = Table::read("cantera3_species_enthalpy.csv");
        let columns = ["t_k", "cp_j_mol_k", "h_j_mol", "s_j_mol_k"];
        let nodes = NAMES.map(|name| {
            table.rows_where("species", name).iter().map(|row| columns.map(|column| row.get(column))).collect()
        });
        Self { nodes }
    }

    /// Enthalpy with that of formation, in J/kg.
    pub fn h_j_kg(&self, mixture: &Mixture, t_k: f64) -> f64 {
        // The slope of the enthalpy is the heat capacity.
        self.sum(mixture, t_k, 2, |node| node[1])
    }

    /// Entropy at 1 bar without that of mixing, in J/(kg K). Only differences at one composition mean something.
    pub fn s_j_kg_k(&self, mixture: &Mixture, t_k: f64) -> f64 {
        // The slope of the entropy is the heat capacity over the temperature.
        self.sum(mixture, t_k, 3, |node| node[1] / node[0])
    }

    /// Temperature after an isentropic change of pressure, in K.
    pub fn isentropic_t_k(&self, mixture: &Mixture, t_k: f64, pressure_ratio: f64) -> f64 {
        let target = self.s_j_kg_k(mixture, t_k) + mixture.r_j_kg_k() * pressure_ratio.ln();
        let (mut low_k, mut high_k) = (200.0, 2_500.0);
        for _ in 0..60 {
            let middle_k = 0.5 * (low_k + high_k);
            if self.s_j_kg_k(mixture, middle_k) < target {
                low_k = middle_k;
            } else {
                high_k = middle_k;
            }
        }
        0.5 * (low_k + high_k)
    }

    /// Temperature at an enthalpy, in K.
    pub fn t_of_h_k(&self, mixture: &Mixture, h_j_kg: f64) -> f64 {
        let (mut low_k, mut high_k) = (200.0, 2_500.0);
        for _ in 0..60 {
            let middle_k = 0.5 * (low_k + high_k);
            if self.h_j_kg(mixture, middle_k) < h_j_kg {
                low_k = middle_k;
            } else {
                high_k = middle_k;
            }
        }
        0.5 * (low_k + high_k)
    }

    /// Cubic interpolation of one column, summed over the mixture.
    fn sum(&self, mixture: &Mixture, t_k: f64, column: usize, slope: impl Fn(&[f64; 4]) -> f64) -> f64 {
        let total = (0..5).map(|i| {
            let nodes = &self.nodes[i];
            let right = nodes.partition_point(|node| node[0] <= t_k).clamp(1, nodes.len() - 1);
            let (a, b) = (&nodes[right - 1], &nodes[right]);
            assert!(a[0] <= t_k && t_k <= b[0], "{t_k} K is outside the table of species");
            let width_k = b[0] - a[0];
            let s = (t_k - a[0]) / width_k;
            let value = a[column] * (1.0 + 2.0 * s) * (1.0 - s) * (1.0 - s)
                + b[column] * s * s * (3.0 - 2.0 * s)
                + width_k * (slope(a) * s * (1.0 - s) * (1.0 - s) - slope(b) * s * s * (1.0 - s));
            mixture.0[i] * value
        });
        total.sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn published_sums_follow_the_table_of_mixtures() {
        let species = Species::read();
        let table = Table::read("mcbride2002_gas_properties.csv");
        let mixtures = [
            ("dry_air", Mixture::air(0.0)),
            ("moist_air_30", Mixture::air(0.03)),
            ("burnt_afr18", Mixture::burnt(0.0, 23.0 / 12.0, 1.0 / 19.0)),
            ("moist_air_30_burnt_afr24", Mixture::burnt(0.03, 23.0 / 12.0, 1.0 / 25.0)),
        ];
        for (name, mixture) in mixtures {
            for row in table.rows_where("gas", name) {
                row.check("h_with_formation_j_kg", species.h_j_kg(&mixture, row.get("t_k")), 1e-5);
            }
        }
    }

    #[test]
    fn identity_isentropic_change_there_and_back() {
        let species = Species::read();
        let air = Mixture::air(0.01);
        let hot_k = species.isentropic_t_k(&air, 300.0, 3.0);
        assert!((species.isentropic_t_k(&air, hot_k, 1.0 / 3.0) - 300.0).abs() < 1e-6);
        assert!((species.t_of_h_k(&air, species.h_j_kg(&air, 555.0)) - 555.0).abs() < 1e-6);
    }
}
