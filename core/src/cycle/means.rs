//! What one firing interval adds up to.

use crate::cycle::machine::Machine;
use crate::gas::Content;

/// Declares a struct of numbers that can say whether all of them are finite.
macro_rules! numbers {
    ($(#[$about:meta])* pub struct $name:ident { $( $(#[$doc:meta])* pub $field:ident: $kind:ty, )+ }) => {
        $(#[$about])*
        pub struct $name { $( $(#[$doc])* pub $field: $kind, )+ }

        impl $name {
            /// Whether every number in it is finite.
            pub(crate) fn is_finite(&self) -> bool {
                $( self.$field.is_finite() )&&+
            }
        }
    };
}

numbers! {
    /// Work, heat and fuel of one cylinder's strokes, and the greatest pressure in them.
    #[derive(Debug, Clone, Copy, PartialEq, Default)]
    pub struct Strokes {
        /// Work of the compression and expansion strokes.
        pub gross_j: f64,
        /// Work of the two gas-exchange strokes on the piston; negative when it costs.
        pub exchange_j: f64,
        /// Heat to the walls.
        pub walls_j: f64,
        /// Fuel burned.
        pub fuel_kg: f64,
        /// Greatest cylinder pressure.
        pub peak_pa: f64,
        /// Crank angle of it, in degrees after firing top dead centre.
        pub peak_deg: f64,
    }
}

impl Strokes {
    /// Adds the strokes of the slots in which a cylinder is shut: only they see the greatest pressure.
    pub(crate) fn add_closed(&mut self, closed: &Self) {
        self.gross_j += closed.gross_j;
        self.exchange_j += closed.exchange_j;
        self.walls_j += closed.walls_j;
        self.fuel_kg += closed.fuel_kg;
        (self.peak_pa, self.peak_deg) = (closed.peak_pa, closed.peak_deg);
    }
}

numbers! {
    /// Integrals over one firing interval. Masses are in kg, energies in J; "mean" is over time.
    #[derive(Debug, Clone, Copy, PartialEq, Default)]
    pub struct Means {
        /// Length of the interval, in s.
        pub time_s: f64,
        /// Air that enters the intake manifold, with its enthalpy behind the charge cooler.
        pub air: Content,
        /// Compressor work.
        pub compressor_j: f64,
        /// Heat to the charge cooler.
        pub cooler_j: f64,
        /// Mean compressor inlet pressure.
        pub p1_pa: f64,
        /// Mean compressor outlet pressure.
        pub p2_pa: f64,
        /// Mean pressure behind the cooler.
        pub cooler_out_pa: f64,
        /// Mean pressure that accelerates the air in the duct: zero when the cycle repeats.
        pub duct_pa: f64,
        /// Mean flow coefficient of the compressor.
        pub flow_coefficient: f64,
        /// Least flow through the compressor, in kg/s.
        pub least_flow_kg_s: f64,
        /// Mean intake-manifold pressure.
        pub intake_pa: f64,
        /// Mean intake-manifold temperature (of the gas that stands there).
        pub intake_k: f64,
        /// Gas that the cylinders draw from the intake manifold, backflow subtracted.
        pub drawn: Content,
        /// Gas that the cylinders give to the exhaust manifold, backflow subtracted.
        pub given: Content,
        /// Mean exhaust-manifold pressure.
        pub p3_pa: f64,
        /// Heat from exhaust ports and manifold.
        pub exhaust_loss_j: f64,
        /// Gas that passes the turbine, with its enthalpy ahead of it.
        pub turbine: Content,
        /// Gas that leaves by the hole in the exhaust manifold, if there is one.
        pub leak: Content,
        /// Turbine work.
        pub turbine_j: f64,
        /// Work that an isentropic turbine would have done with the same gas, instant by instant.
        pub turbine_ideal_j: f64,
        /// Mean pressure behind the turbine.
        pub p4_pa: f64,
        /// Mean of what the pressure behind the turbine tends to.
        pub p4_target_pa: f64,
        /// What the strokes of a cylinder did.
        pub strokes: Strokes,
        /// Burned-fuel fraction of the charge when the intake closed.
        pub trapped_x: f64,
    }
}

impl Means {
    /// Nothing flows: every pressure is that of the ambient air.
    pub(crate) fn at_rest(machine: &Machine) -> Self {
        let p = machine.plant.ambient.p_pa;
        Self {
            time_s: machine.interval_s(),
            p1_pa: p,
            p2_pa: p,
            cooler_out_pa: p,
            intake_pa: p,
            intake_k: machine.plant.ambient.t_k,
            p3_pa: p,
            p4_pa: p,
            p4_target_pa: p,
            strokes: Strokes { peak_pa: p, ..Strokes::default() },
            ..Self::default()
        }
    }

    /// Turns sums over steps into means over time.
    pub(crate) fn share_out(&mut self, steps: usize) {
        let share = 1.0 / steps as f64;
        for sum in [
            &mut self.p1_pa,
            &mut self.p2_pa,
            &mut self.cooler_out_pa,
            &mut self.flow_coefficient,
            &mut self.intake_pa,
            &mut self.intake_k,
            &mut self.p3_pa,
            &mut self.p4_pa,
            &mut self.p4_target_pa,
        ] {
            *sum *= share;
        }
    }
}
