//! Balances of a reading that share no code with the core: enthalpies and entropies come from the table of species, the rest
//! from the fields that the JSON shows. Every function returns what the balance misses, and the test says how much it allows.

use core::f64::consts::PI;
use volute_core::engine::Engine;
use volute_core::gas::humidity::vapour_mole_fraction;
use volute_core::point::reading::{Reading, Station};
use volute_tests::species::{Mixture, Species};

/// A reading with everything that its balances need.
pub struct Books<'a> {
    pub engine: &'a Engine,
    pub reading: &'a Reading,
    species: &'a Species,
    vapour: f64,
}

impl<'a> Books<'a> {
    pub fn new(engine: &'a Engine, reading: &'a Reading, species: &'a Species) -> Self {
        let air = &reading.ambient;
        let vapour = vapour_mole_fraction(air.p_pa, air.t_k, air.relative_humidity).unwrap();
        Self { engine, reading, species, vapour }
    }

    fn mixture(&self, burned_fuel_fraction: f64) -> Mixture {
        Mixture::burnt(self.vapour, self.engine.fuel.hydrogen_to_carbon, burned_fuel_fraction)
    }

    /// Enthalpy of a station's gas, in J/kg.
    pub fn h_j_kg(&self, station: &Station) -> f64 {
        self.species.h_j_kg(&self.mixture(station.burned_fuel_fraction), station.t_k)
    }

    /// Fuel energy, in W: what every miss is measured by.
    pub fn fuel_w(&self) -> f64 {
        self.reading.fuel_flow_kg_s * self.engine.fuel.lhv_j_kg
    }

    /// Enthalpy of the fuel, in J/kg: heating value and what its complete burning leaves, at 298.15 K.
    fn fuel_h_j_kg(&self) -> f64 {
        let y = self.engine.fuel.hydrogen_to_carbon;
        let molar = |index: usize| {
            let mut one = [0.0; 5];
            one[index] = 1.0;
            self.species.h_j_kg(&Mixture(one), 298.15)
        };
        let fuel_kg_mol = 12.011e-3 + 1.008e-3 * y;
        let left = molar(3) + 0.5 * y * molar(4) - (1.0 + 0.25 * y) * molar(1);
        self.engine.fuel.lhv_j_kg + left / fuel_kg_mol
    }

    /// Ambient air and fuel in; brake, friction, walls, cooler, manifold, bearing, leak and exhaust out. In W.
    pub fn energy_miss_w(&self) -> f64 {
        let r = self.reading;
        let air = Station { t_k: r.ambient.t_k, ..Station::default() };
        let exhaust = &r.stations.turbine_outlet;
        let into = r.air_flow_kg_s * self.h_j_kg(&air) + r.fuel_flow_kg_s * self.fuel_h_j_kg();
        let out = r.brake.power_w
            + r.heat.friction_w
            + r.heat.walls_w
            + r.heat.charge_cooler_w
            + r.heat.exhaust_manifold_w
            + r.shaft.bearing_loss_w
            + r.exhaust_leak_kg_s * self.h_j_kg(&r.stations.exhaust_leak)
            + exhaust.mass_flow_kg_s * self.h_j_kg(exhaust);
        into - out
    }

    /// The leaking gas above the ambient air's state as the reading gives it, less our own sum. In W.
    pub fn leak_miss_w(&self) -> f64 {
        let r = self.reading;
        let (air, leak) = (Station { t_k: r.ambient.t_k, ..Station::default() }, &r.stations.exhaust_leak);
        let x = leak.burned_fuel_fraction;
        let base = (1.0 - x) * self.h_j_kg(&air) + x * (self.fuel_h_j_kg() - self.engine.fuel.lhv_j_kg);
        r.heat.exhaust_leak_w - r.exhaust_leak_kg_s * (self.h_j_kg(leak) - base)
    }

    /// The exhaust gas above the ambient air's state as the reading gives it, less our own sum. In W.
    pub fn exhaust_miss_w(&self) -> f64 {
        let r = self.reading;
        let air = Station { t_k: r.ambient.t_k, ..Station::default() };
        let exhaust = &r.stations.turbine_outlet;
        let burnt_fuel_h = self.fuel_h_j_kg() - self.engine.fuel.lhv_j_kg;
        let own = exhaust.mass_flow_kg_s * self.h_j_kg(exhaust)
            + r.exhaust_leak_kg_s * self.h_j_kg(&r.stations.exhaust_leak)
            - r.air_flow_kg_s * self.h_j_kg(&air)
            - r.fuel_flow_kg_s * burnt_fuel_h;
        r.heat.exhaust_gas_w + r.heat.exhaust_leak_w - own
    }

    /// Power of the compressor as the reading gives it, less flow times enthalpy rise. In W.
    pub fn compressor_miss_w(&self) -> f64 {
        let s = &self.reading.stations;
        let rise = self.h_j_kg(&s.compressor_outlet) - self.h_j_kg(&s.compressor_inlet);
        self.reading.compressor.power_w - s.compressor_outlet.mass_flow_kg_s * rise
    }

    /// Power of the turbine as the reading gives it, less flow times enthalpy drop. In W.
    pub fn turbine_miss_w(&self) -> f64 {
        let s = &self.reading.stations;
        let drop = self.h_j_kg(&s.turbine_inlet) - self.h_j_kg(&s.turbine_outlet);
        self.reading.turbine.power_w - s.turbine_inlet.mass_flow_kg_s * drop
    }

    /// Heat of the charge cooler as the reading gives it, less flow times enthalpy drop. In W.
    pub fn cooler_miss_w(&self) -> f64 {
        let s = &self.reading.stations;
        let drop = self.h_j_kg(&s.compressor_outlet) - self.h_j_kg(&s.charge_cooler_outlet);
        self.reading.heat.charge_cooler_w - s.charge_cooler_outlet.mass_flow_kg_s * drop
    }

    /// Power that the shaft does not account for. In W.
    pub fn shaft_miss_w(&self) -> f64 {
        let r = self.reading;
        r.turbine.power_w - r.compressor.power_w - r.shaft.bearing_loss_w
    }

    /// Isentropic efficiency of the compressor between the two stations.
    pub fn compressor_efficiency(&self) -> f64 {
        let (a, b) = (&self.reading.stations.compressor_inlet, &self.reading.stations.compressor_outlet);
        let ideal_k = self.species.isentropic_t_k(&self.mixture(0.0), a.t_k, b.p_pa / a.p_pa);
        let ideal = Station { t_k: ideal_k, ..*b };
        (self.h_j_kg(&ideal) - self.h_j_kg(a)) / (self.h_j_kg(b) - self.h_j_kg(a))
    }

    /// Isentropic enthalpy drop of the turbine between the two stations, in J/kg.
    pub fn turbine_drop_j_kg(&self) -> f64 {
        let (a, b) = (&self.reading.stations.turbine_inlet, &self.reading.stations.turbine_outlet);
        let mixture = self.mixture(a.burned_fuel_fraction);
        let ideal_k = self.species.isentropic_t_k(&mixture, a.t_k, b.p_pa / a.p_pa);
        self.h_j_kg(a) - self.species.h_j_kg(&mixture, ideal_k)
    }

    /// Density of a station's pressure and temperature by its composition, in kg/m3.
    pub fn density_kg_m3(&self, station: &Station) -> f64 {
        station.p_pa / (self.mixture(station.burned_fuel_fraction).r_j_kg_k() * station.t_k)
    }

    /// Work on the pistons for each m3 swept, from the trace by the trapezoid rule: of the compression and expansion
    /// strokes, and of the two gas-exchange strokes (positive when it costs). In Pa.
    pub fn trace_mep_pa(&self) -> (f64, f64) {
        let trace = self.reading.trace.as_ref().unwrap();
        let swept_m3 = self.reading.displacement_m3 / self.engine.cylinders.count;
        let (mut gross_j, mut exchange_j) = (0.0, 0.0);
        for i in 1..trace.crank_angle_deg.len() {
            let work_j =
                0.5 * (trace.pressure_pa[i] + trace.pressure_pa[i - 1]) * (trace.volume_m3[i] - trace.volume_m3[i - 1]);
            let middle_deg = 0.5 * (trace.crank_angle_deg[i] + trace.crank_angle_deg[i - 1]);
            *if (180.0..540.0).contains(&middle_deg) { &mut exchange_j } else { &mut gross_j } += work_j;
        }
        (gross_j / swept_m3, -exchange_j / swept_m3)
    }
}

/// Torque of a mean effective pressure, in N m: `4 pi T = mep V`.
pub fn torque_n_m(mep_pa: f64, displacement_m3: f64) -> f64 {
    mep_pa * displacement_m3 / (4.0 * PI)
}
