//! Fuel: what it gives off when it burns, and what it is made of.

use crate::keys::parameters;

parameters! {
    /// Fuel, as the energy balance sees it.
    pub struct Fuel in "fuel" {
        /// Lower heating value at 298.15 K.
        lhv_j_kg: "J/kg", 3.8e7, 4.6e7;
        /// Hydrogen atoms for each carbon atom.
        hydrogen_to_carbon: "", 1.6, 2.2;
    }
}
