//! Properties of gases and mixtures against published tables, and the laws that bind them together.

use volute_core::gas::humidity::vapour_mole_fraction;
use volute_core::gas::{Composition, Gas, R_UNIVERSAL_J_KMOL_K, SPECIES, Species};
use volute_tests::reference::{Row, Table};
use volute_tests::species;

const HYDROGEN_TO_CARBON: f64 = 23.0 / 12.0;
const LHV_J_KG: f64 = 42.8e6;

fn of_row(row: Row) -> Composition {
    let columns = ["x_n2", "x_o2", "x_ar", "x_co2", "x_h2o"];
    Composition::of_moles(columns.map(|column| row.get(column)))
}

fn species_named(name: &str) -> &'static Species {
    SPECIES.iter().find(|species| species.name == name).unwrap()
}

#[test]
fn published_properties_of_gases_and_mixtures() {
    let table = Table::read("mcbride2002_gas_properties.csv");
    let tolerance = table.tolerance();
    for of_gas in Table::read("mcbride2002_gas_composition.csv").rows() {
        let name = of_gas.text("gas");
        let gas = of_row(of_gas);
        let (h298, s298) = (gas.h_j_kg(298.15), gas.s_j_kg_k(298.15));
        let rows = table.rows_where("gas", name);
        let s298_there = rows.iter().find(|row| row.get("t_k") == 298.15).unwrap().get("s_at_1_bar_j_kg_k");
        for row in rows {
            let t_k = row.get("t_k");
            let cp = gas.cp_j_kg_k(t_k);
            row.check("cp_j_kg_k", cp, tolerance);
            row.check("gamma", cp / (cp - gas.r_j_kg_k()), tolerance);
            row.check("h_above_298_j_kg", gas.h_j_kg(t_k) - h298, tolerance);
            if h298.abs() > 1e4 {
                row.check("h_with_formation_j_kg", gas.h_j_kg(t_k), tolerance);
            }
            // The table's entropy of a mixture holds that of mixing, which is the same at every temperature.
            row.check("s_at_1_bar_j_kg_k", gas.s_j_kg_k(t_k) - s298 + s298_there, tolerance);
        }
    }
}

#[test]
fn published_properties_by_the_curves_that_the_cycle_uses() {
    // The same table against [`Gas`]: humid air and burned-fuel fraction instead of mole fractions.
    let table = Table::read("mcbride2002_gas_properties.csv");
    let tolerance = table.tolerance();
    let mut mixtures = 0;
    for of_gas in Table::read("mcbride2002_gas_composition.csv").rows().filter(|row| row.text("gas").contains("a")) {
        let (vapour, x) = (of_gas.get("vapour_mole_fraction"), of_gas.get("burned_fuel_fraction"));
        let gas = Gas::new(vapour, LHV_J_KG, HYDROGEN_TO_CARBON);
        of_gas.check("r_j_kg_k", gas.r_j_kg_k(x), 1e-6);
        let h298 = gas.h_j_kg(298.15, x);
        for row in table.rows_where("gas", of_gas.text("gas")) {
            let t_k = row.get("t_k");
            row.check("cp_j_kg_k", gas.cp_j_kg_k(t_k, x), tolerance);
            row.check("gamma", gas.cp_j_kg_k(t_k, x) / gas.cv_j_kg_k(t_k, x), tolerance);
            if t_k != 298.15 {
                row.check("h_above_298_j_kg", gas.h_j_kg(t_k, x) - h298, tolerance);
            }
        }
        mixtures += 1;
    }
    assert_eq!(mixtures, 6);
}

#[test]
fn published_molar_mass_and_gas_constant() {
    let table = Table::read("mcbride2002_gas_composition.csv");
    for row in table.rows() {
        let gas = of_row(row);
        row.check("r_j_kg_k", gas.r_j_kg_k(), table.tolerance());
        row.check("molar_mass_kg_kmol", R_UNIVERSAL_J_KMOL_K / gas.r_j_kg_k(), table.tolerance());
    }
}

#[test]
fn published_burnt_gas_holds_what_the_reaction_leaves() {
    let table = Table::read("mcbride2002_gas_composition.csv");
    for row in table.rows().filter(|row| row.text("gas").contains("a")) {
        let burned = Composition::burned_fuel(HYDROGEN_TO_CARBON);
        let gas =
            Composition::humid_air(row.get("vapour_mole_fraction")).with(&burned, row.get("burned_fuel_fraction"));
        let all: f64 = gas.0.iter().sum();
        for (column, moles) in ["x_n2", "x_o2", "x_ar", "x_co2", "x_h2o"].into_iter().zip(gas.0) {
            row.check(column, moles / all, table.tolerance());
        }
    }
}

#[test]
fn published_printed_molar_values() {
    let table = Table::read("mcbride2002_printed_molar.csv");
    for row in table.rows() {
        let species = species_named(row.text("species"));
        for (t_k, column) in [(298.15, "cp_298_j_mol_k"), (1000.0, "cp_1000_j_mol_k"), (2000.0, "cp_2000_j_mol_k")] {
            row.check(column, species.cp_j_kmol_k(t_k) / 1e3, table.tolerance());
        }
        let h298 = species.h_j_kmol(298.15) / 1e3;
        row.check("h_1000_j_mol", species.h_j_kmol(1000.0) / 1e3 - h298, table.tolerance());
        row.check("h_2000_j_mol", species.h_j_kmol(2000.0) / 1e3 - h298, table.tolerance());
        row.check("formation_j_mol", h298, table.tolerance());
    }
}

#[test]
fn published_heat_capacity_agrees_with_the_reference_equations_of_state() {
    let table = Table::read("coolprop8_ideal_heat_capacity.csv");
    let [tolerance, of_hot_steam] = table.tolerances()[..] else { panic!("two tolerances") };
    for row in table.rows() {
        let (name, t_k) = (row.text("gas"), row.get("t_k"));
        let gas = match name {
            "dry_air" => Composition::humid_air(0.0),
            _ => Composition::of_moles(SPECIES.map(|species| f64::from(u8::from(species.name == name)))),
        };
        let hot_steam = name == "H2O" && t_k > 1000.0;
        row.check("cp_j_kg_k", gas.cp_j_kg_k(t_k), if hot_steam { of_hot_steam } else { tolerance });
    }
}

#[test]
fn published_density_of_moist_air_follows_cipm_2007_but_for_compressibility() {
    let table = Table::read("picard2008_moist_air.csv");
    let tolerance = table.tolerances()[1];
    for row in table.rows() {
        let (p_pa, t_k) = (row.get("p_pa"), row.get("t_celsius") + 273.15);
        let vapour = vapour_mole_fraction(p_pa, t_k, row.get("relative_humidity")).unwrap();
        let air = Composition::humid_air(vapour);
        let ideal = p_pa / (air.r_j_kg_k() * t_k);
        row.check("density_kg_m3", ideal / row.get("compressibility"), tolerance);
        // What leaving compressibility out costs: below 1e-3 at every state of the table.
        row.check("density_kg_m3", ideal, 1e-3);
    }
}

#[test]
fn published_stoichiometry_of_fuels() {
    let table = Table::read("heywood1988_stoichiometry.csv");
    let [own, heywood] = table.tolerances()[..] else { panic!("two tolerances") };
    for row in table.rows() {
        let gas = Gas::new(0.0, LHV_J_KG, row.get("hydrogen_to_carbon"));
        row.check("afr", gas.stoichiometric_ratio, own);
        row.check("afr_heywood", gas.stoichiometric_ratio, heywood);
    }
}

#[test]
fn published_enthalpy_and_isentropic_change_by_an_independent_sum() {
    let table = species::Species::read();
    for (vapour, y) in [(0.0, HYDROGEN_TO_CARBON), (0.02, 1.8), (0.2, 2.0)] {
        let gas = Gas::new(vapour, LHV_J_KG, y);
        for x in [0.0, 0.01, 0.03, 0.055] {
            let mixture = species::Mixture::burnt(vapour, y, x);
            approx::assert_relative_eq!(gas.r_j_kg_k(x), mixture.r_j_kg_k(), max_relative = 1e-9);
            for step in 0..45 {
                let t_k = 233.0 + 50.0 * step as f64;
                let apart = gas.h_j_kg(t_k, x) - table.h_j_kg(&mixture, t_k);
                // The steps of the polynomials at 1000 K are 1 J/kg; nothing else separates the two.
                assert!(apart.abs() < 5.0, "{apart} J/kg at {t_k} K, x = {x}, vapour {vapour}");
                for ratio in [0.3, 0.5, 0.9, 1.1, 2.0, 4.0] {
                    let there_k = table.isentropic_t_k(&mixture, t_k, ratio);
                    if (210.0..2400.0).contains(&there_k) {
                        approx::assert_relative_eq!(gas.isentropic_t_k(t_k, x, ratio), there_k, max_relative = 1e-5);
                    }
                }
            }
        }
    }
}

#[test]
fn identity_enthalpy_energy_and_heat_capacities_belong_together() {
    for vapour in [0.0, 0.03, 0.3] {
        let gas = Gas::new(vapour, LHV_J_KG, HYDROGEN_TO_CARBON);
        for x in [0.0, 0.02, 0.06] {
            let r = gas.r_j_kg_k(x);
            for step in 0..630 {
                let t_k = 203.0 + 5.37 * step as f64;
                let (h, u) = (gas.h_j_kg(t_k, x), gas.u_j_kg(t_k, x));
                approx::assert_relative_eq!(h, u + r * t_k, max_relative = 1e-12, epsilon = 1e-6);
                approx::assert_relative_eq!(gas.cp_j_kg_k(t_k, x), gas.cv_j_kg_k(t_k, x) + r, max_relative = 1e-12);
                let slope = (gas.h_j_kg(t_k + 0.1, x) - gas.h_j_kg(t_k - 0.1, x)) / 0.2;
                approx::assert_relative_eq!(slope, gas.cp_j_kg_k(t_k, x), max_relative = 1e-4);
            }
        }
    }
}

#[test]
fn identity_every_property_is_linear_in_the_burned_fraction() {
    let gas = Gas::new(0.01, LHV_J_KG, HYDROGEN_TO_CARBON);
    for t_k in [250.0, 600.0, 1_400.0, 2_400.0] {
        let (zero, half, full) = (gas.h_j_kg(t_k, 0.0), gas.h_j_kg(t_k, 0.03), gas.h_j_kg(t_k, 0.06));
        approx::assert_relative_eq!(half, 0.5 * (zero + full), max_relative = 1e-12);
        approx::assert_relative_eq!(gas.r_j_kg_k(0.03), 0.5 * (gas.r_j_kg_k(0.0) + gas.r_j_kg_k(0.06)));
    }
}

#[test]
fn identity_burning_conserves_atoms() {
    // Atoms of N, O, Ar, C, H in each of the five species; fuel (C H_y) brings carbon and hydrogen.
    const ATOMS: [[f64; 5]; 5] = [
        [2.0, 0.0, 0.0, 0.0, 0.0],
        [0.0, 2.0, 0.0, 2.0, 1.0],
        [0.0, 0.0, 1.0, 0.0, 0.0],
        [0.0, 0.0, 0.0, 1.0, 0.0],
        [0.0, 0.0, 0.0, 0.0, 2.0],
    ];
    for y in [1.6, 1.9, 2.2] {
        for x in [0.01, 0.05] {
            let air = Composition::humid_air(0.02);
            let after = air.with(&Composition::burned_fuel(y), x);
            let fuel_kmol = x / (12.011 + 1.008 * y);
            for (atom, of_species) in ATOMS.iter().enumerate() {
                let count = |gas: &Composition| gas.0.iter().zip(of_species).map(|(n, k)| n * k).sum::<f64>();
                let from_fuel = fuel_kmol * [0.0, 0.0, 0.0, 1.0, y][atom];
                let before = (1.0 - x) * count(&air) + from_fuel;
                approx::assert_relative_eq!(before, count(&after), max_relative = 1e-12, epsilon = 1e-15);
            }
        }
    }
}
