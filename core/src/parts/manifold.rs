//! Manifolds: the volumes on both sides of the cylinders, and the duct that leads to them.
//!
//! Left out: waves, the separate pipes of a manifold.

use crate::keys::parameters;

parameters! {
    /// Manifolds as volumes that fill and empty, and the duct from compressor to engine.
    pub struct Manifolds in "manifolds" {
        /// Charge-cooler tank, pipes and intake manifold together.
        intake_volume_m3: "m3", 1.0e-3, 0.2;
        /// Exhaust manifold and turbine housing together.
        exhaust_volume_m3: "m3", 3.0e-4, 0.08;
        /// Heat-loss conductance of exhaust ports and manifold.
        exhaust_loss_w_k: "W/K", 0.0, 100.0;
        /// Temperature of what that heat flows to.
        exhaust_sink_k: "K", 280.0, 700.0;
        /// Share of that heat that reaches the coolant (water-cooled ports).
        exhaust_coolant_share: "", 0.0, 1.0;
        /// Cross-section of the duct, for the inertia of the air in it.
        duct_area_m2: "m2", 2.0e-4, 0.05;
        /// Length of the duct.
        duct_length_m: "m", 0.2, 10.0;
        /// Effective area of a hole from the exhaust manifold to the ambient air; 0 is tight. A what-if.
        exhaust_leak_m2: "m2", 0.0, 3.0e-4;
    }
}
