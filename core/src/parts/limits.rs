//! Limits that the bench watches.

use crate::keys::parameters;

parameters! {
    /// Limits that the bench watches. Inventions of this file, as all else in it: a real engine's maker gives his own.
    pub struct Limits in "limits" {
        /// Tip speed of the compressor wheel.
        tip_speed_m_s: "m/s", 200.0, 700.0;
        /// Turbine-inlet temperature.
        turbine_inlet_k: "K", 700.0, 1300.0;
        /// Compressor-outlet temperature.
        compressor_outlet_k: "K", 380.0, 600.0;
        /// Peak cylinder pressure.
        cylinder_pressure_pa: "Pa", 5.0e6, 3.0e7;
        /// Exhaust-manifold pressure.
        exhaust_manifold_pa: "Pa", 1.5e5, 1.5e6;
        /// Surge margin: how far the flow stands above that of the surge line, as a share of it.
        surge_margin: "", 0.0, 0.5;
        /// Choke margin: how far the flow stands below the choke flow, as a share of it.
        choke_margin: "", 0.0, 0.5;
        /// Coolant temperature rise.
        coolant_rise_k: "K", 2.0, 30.0;
    }
}
