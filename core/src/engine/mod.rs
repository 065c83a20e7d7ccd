//! What the maker fixed: every parameter of an engine and its turbocharger, with unit, range and meaning.
//!
//! An [`Engine`] is read from a file by `engine_file`, changed one key at a time by [`Engine::set`], and never changes
//! while it runs. All numbers are SI except crank angles, which are whole degrees because the integration grid is made
//! of them (0 = firing top dead centre of the cylinder, up to 720), and speeds, which are 1/min as the trade writes them.

pub mod built_in;
pub mod engine_file;

use crate::keys::{Key, KeyError, nearest, parameters};
use alloc::string::{String, ToString};

parameters! {
    /// Cylinder block and crank gear.
    pub struct Cylinders in "cylinders" {
        /// Number of cylinders, evenly fired: 3, 4, 5, 6, 8, 9, 10 or 12.
        count: "", 3.0, 12.0;
        /// Cylinder bore.
        bore_m: "m", 0.05, 0.30;
        /// Piston stroke.
        stroke_m: "m", 0.05, 0.40;
        /// Length of the connecting rod between its eyes.
        conrod_m: "m", 0.08, 0.90;
        /// Geometric compression ratio.
        compression_ratio: "", 11.0, 24.0;
    }

    /// Valves of one cylinder. Angles are whole degrees after firing top dead centre.
    pub struct Valves in "valves" {
        /// Intake valves open.
        intake_opens_deg: "deg", 320.0, 380.0;
        /// Intake valves close; the compression begins.
        intake_closes_deg: "deg", 541.0, 640.0;
        /// Exhaust valves open; the expansion ends.
        exhaust_opens_deg: "deg", 90.0, 179.0;
        /// Exhaust valves close.
        exhaust_closes_deg: "deg", 340.0, 410.0;
        /// Intake valves in each cylinder.
        intake_count: "", 1.0, 3.0;
        /// Inner seat diameter of an intake valve.
        intake_seat_m: "m", 0.01, 0.12;
        /// Greatest lift of an intake valve.
        intake_lift_m: "m", 0.003, 0.04;
        /// Discharge coefficient of the intake valves, on curtain or port area, whichever is smaller.
        intake_discharge: "", 0.2, 1.0;
        /// Exhaust valves in each cylinder.
        exhaust_count: "", 1.0, 3.0;
        /// Inner seat diameter of an exhaust valve.
        exhaust_seat_m: "m", 0.01, 0.12;
        /// Greatest lift of an exhaust valve.
        exhaust_lift_m: "m", 0.003, 0.04;
        /// Discharge coefficient of the exhaust valves, on curtain or port area, whichever is smaller.
        exhaust_discharge: "", 0.2, 1.0;
        /// The port passes at most this share of the seat circle (stem and throat take the rest).
        port_share: "", 0.4, 1.0;
    }

    /// Fuel, as the energy balance sees it.
    pub struct Fuel in "fuel" {
        /// Lower heating value at 298.15 K.
        lhv_j_kg: "J/kg", 3.8e7, 4.6e7;
        /// Hydrogen atoms for each carbon atom.
        hydrogen_to_carbon: "", 1.6, 2.2;
    }

    /// Injection and heat release: a premixed and a mixing-controlled part, each of Wiebe form.
    pub struct Combustion in "combustion" {
        /// Start of combustion at 1500 1/min, after top dead centre; negative is before.
        start_deg: "deg", -25.0, 15.0;
        /// Change of the start for each 1000 1/min more.
        start_per_1000_rpm_deg: "deg", -10.0, 5.0;
        /// Injection moved later by this much; negative is earlier. A what-if.
        timing_shift_deg: "deg", -10.0, 10.0;
        /// Premixed share of the fuel at the least fuel.
        premixed_share: "", 0.0, 0.6;
        /// Drop of the premixed share at the reference fuel; the share never falls below 0.03.
        premixed_share_drop: "", 0.0, 0.6;
        /// Reference fuel mass of a cylinder and cycle, for the two correlations that depend on fuel.
        reference_fuel_kg: "kg", 5.0e-6, 1.5e-3;
        /// Duration of the premixed part.
        premixed_duration_deg: "deg", 4.0, 40.0;
        /// Wiebe exponent of the premixed part.
        premixed_exponent: "", 0.5, 4.0;
        /// Duration of the mixing-controlled part without the two terms below.
        main_duration_deg: "deg", 15.0, 90.0;
        /// Longer main part for each 1000 1/min.
        main_duration_per_1000_rpm_deg: "deg", 0.0, 20.0;
        /// Longer main part at the reference fuel, in proportion to fuel.
        main_duration_at_reference_fuel_deg: "deg", 0.0, 60.0;
        /// Wiebe exponent of the main part.
        main_exponent: "", 0.3, 4.0;
        /// Wiebe completeness: 6.9 burns 99.9 % by the end; both parts are scaled so that all fuel burns.
        completeness: "", 2.0, 10.0;
        /// Smoke limit: the least air-fuel ratio that the injection allows when torque is held.
        smoke_limit_afr: "", 15.5, 40.0;
        /// Most fuel that the injector gives to a cylinder in a cycle.
        injector_limit_kg: "kg", 5.0e-6, 2.0e-3;
        /// Least fuel that the injector gives.
        least_fuel_kg: "kg", 1.0e-7, 1.0e-4;
    }

    /// Heat from the gas to the cylinder walls, after Woschni.
    pub struct WallHeat in "wall_heat" {
        /// Surface temperature of the head and the piston crown.
        head_k: "K", 350.0, 800.0;
        /// Surface temperature of the liner.
        liner_k: "K", 330.0, 600.0;
        /// Coefficient of the mean piston speed while a valve is open.
        exchange_speed_coefficient: "", 0.0, 15.0;
        /// Coefficient of the mean piston speed while the valves are closed.
        closed_speed_coefficient: "", 0.0, 8.0;
        /// Coefficient of the combustion term.
        combustion_coefficient_m_s_k: "m/(s K)", 0.0, 0.02;
        /// Multiplier on the whole coefficient.
        multiplier: "", 0.0, 3.0;
        /// Polytropic exponent of the motored pressure in the combustion term.
        motored_exponent: "", 1.2, 1.4;
    }

    /// Rubbing friction and auxiliaries, after Chen and Flynn.
    pub struct Friction in "friction" {
        /// Constant part.
        constant_pa: "Pa", 0.0, 2.0e5;
        /// Share of the peak cylinder pressure.
        peak_pressure_share: "", 0.0, 0.02;
        /// Part in proportion to mean piston speed.
        speed_pa_s_m: "Pa s/m", 0.0, 3.0e4;
        /// Part in proportion to the square of mean piston speed.
        speed_squared_pa_s2_m2: "Pa s2/m2", 0.0, 1000.0;
        /// Share of the friction power that reaches the coolant.
        coolant_share: "", 0.0, 1.0;
    }

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

    /// Air filter and inlet pipe.
    pub struct Filter in "filter" {
        /// Pressure loss `k W^2 / rho`.
        loss_1_m4: "1/m4", 0.0, 2.0e6;
    }

    /// Charge cooler between compressor and intake manifold.
    pub struct ChargeCooler in "charge_cooler" {
        /// 1: fitted; 0: no heat exchange.
        fitted: "", 0.0, 1.0;
        /// Number of transfer units at the reference flow.
        transfer_units: "", 0.0, 10.0;
        /// Reference flow of the line above.
        reference_flow_kg_s: "kg/s", 0.005, 5.0;
        /// Transfer units fall with flow to this power.
        flow_exponent: "", 0.0, 1.0;
        /// Temperature of the coolant that enters the cooler.
        sink_k: "K", 250.0, 370.0;
        /// Pressure loss `k W^2 / rho` of cooler and pipes.
        loss_1_m4: "1/m4", 0.0, 2.0e7;
    }

    /// Exhaust pipe behind the turbine, with its silencer.
    pub struct ExhaustPipe in "exhaust_pipe" {
        /// Inner diameter.
        bore_m: "m", 0.03, 0.30;
        /// Length.
        length_m: "m", 0.2, 50.0;
        /// Roughness of the inner wall.
        roughness_m: "m", 0.0, 0.002;
        /// Number of bends.
        bends: "", 0.0, 30.0;
        /// Loss coefficient of each bend.
        bend_loss: "", 0.0, 2.0;
        /// Loss coefficients of entry and exit together.
        end_loss: "", 0.0, 5.0;
        /// Pressure loss `k W^2 / rho` of the silencer, whatever the bore.
        silencer_loss_1_m4: "1/m4", 0.0, 2.0e6;
        /// Time in which the pressure behind the turbine follows the flow.
        fill_time_s: "s", 0.001, 0.1;
    }

    /// Compressor map in dimensionless form. `M` is tip speed over inlet speed of sound, `phi` flow coefficient
    /// `W / (rho1 U D^2)`, `psi` isentropic head over `U^2`.
    pub struct CompressorMap in "compressor" {
        /// Tip diameter of the wheel.
        tip_diameter_m: "m", 0.02, 0.25;
        /// Head coefficient at no flow.
        shutoff_head: "", 0.05, 0.6;
        /// Greatest head coefficient at `M = 1`.
        peak_head: "", 0.3, 0.9;
        /// Change of the greatest head for each `M - 1`.
        peak_head_slope: "", -0.3, 0.3;
        /// Change of the greatest head for each `(M - 1)^2`.
        peak_head_curve: "", -0.5, 0.2;
        /// Flow coefficient of the greatest head (the surge line) at rest.
        surge_flow: "", 0.0, 0.05;
        /// Growth of that flow coefficient with `M`.
        surge_flow_slope: "", 0.0, 0.1;
        /// Choke flow coefficient at `M = 1`.
        choke_flow: "", 0.06, 0.35;
        /// Change of the choke flow for each `M - 1`.
        choke_flow_slope: "", -0.2, 0.2;
        /// Change of the choke flow for each `(M - 1)^2`.
        choke_flow_curve: "", -0.3, 0.1;
        /// Exponent of the speed lines at `M = 1`: 2 is an ellipse.
        shape_exponent: "", 1.5, 5.0;
        /// Change of the exponent for each `M - 1`.
        shape_exponent_slope: "", -1.0, 2.0;
        /// Share of the way to choke from which a speed line goes on along its tangent.
        tangent_from: "", 0.8, 0.995;
        /// Head coefficient of reverse flow for each `phi^2`.
        reverse_head: "", 5.0, 300.0;
        /// Work-input coefficient at no flow.
        work_input: "", 0.4, 1.0;
        /// Fall of the work input with `phi` (back-swept blades).
        work_input_slope: "", 0.0, 3.0;
        /// Disc friction and recirculation: power `k rho U^3 D^2`.
        disc_friction: "", 0.0, 0.02;
        /// Multiplier on the head at equal work, for a worn or fouled wheel. A what-if.
        head_factor: "", 0.7, 1.0;
        /// Multiplier on the wheel's diameter: at equal tip speed flow grows with its square. A what-if.
        size_factor: "", 0.7, 1.4;
    }

    /// Turbine with a ring of movable vanes ahead of its wheel. `u` is the vane position, 0 shut to 1 fully open.
    pub struct Turbine in "turbine" {
        /// Tip diameter of the wheel.
        tip_diameter_m: "m", 0.02, 0.25;
        /// Effective nozzle area with the vanes at their tightest stop.
        shut_area_m2: "m2", 5.0e-6, 5.0e-3;
        /// Growth of the area with `u`.
        area_slope_m2: "m2", 1.0e-5, 2.0e-2;
        /// Growth of the area with `u^2`.
        area_curve_m2: "m2", -5.0e-3, 1.0e-2;
        /// Greatest total-to-static efficiency.
        peak_efficiency: "", 0.3, 0.9;
        /// Vane position of the greatest efficiency.
        best_vane: "", 0.0, 1.0;
        /// Relative loss of efficiency for each `(u - best)^2` toward open.
        open_loss: "", 0.0, 3.0;
        /// Relative loss of efficiency for each `(u - best)^2` toward shut.
        shut_loss: "", 0.0, 1.2;
        /// Blade-speed ratio `U/C0` of the greatest efficiency.
        best_speed_ratio: "", 0.5, 0.9;
        /// Multiplier on the efficiency, for a worn wheel. A what-if.
        efficiency_factor: "", 0.6, 1.0;
        /// Multiplier on the wheel's diameter: nozzle area grows with its square, the rotor's inertia with its fifth power.
        /// A what-if.
        size_factor: "", 0.7, 1.4;
    }

    /// Shaft of the turbocharger.
    pub struct Shaft in "shaft" {
        /// Moment of inertia of the rotor.
        inertia_kg_m2: "kg m2", 1.0e-7, 0.02;
        /// Bearing loss `k omega^2`.
        bearing_loss_w_s2: "W s2", 0.0, 1.0e-3;
    }

    /// Drive of the vanes.
    pub struct Vanes in "vanes" {
        /// First-order lag of the actuator.
        actuator_time_s: "s", 0.005, 5.0;
        /// 1: the vanes stand where the next line says, whatever is asked of them; 0: they follow. A what-if.
        stuck: "", 0.0, 1.0;
        /// Vane position at which they are stuck, 0 tightest, 100 fully open.
        stuck_open_pct: "%", 0.0, 100.0;
    }

    /// Coolant circuit.
    pub struct Coolant in "coolant" {
        /// Flow at 2000 1/min; the pump turns with the engine.
        flow_m3_s: "m3/s", 5.0e-5, 0.05;
        /// Density.
        density_kg_m3: "kg/m3", 800.0, 1200.0;
        /// Heat capacity.
        heat_capacity_j_kg_k: "J/(kg K)", 2500.0, 4500.0;
        /// Temperature at the engine's inlet.
        inlet_k: "K", 300.0, 390.0;
    }

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

    /// Where the engine is used: ends of the bench's sliders.
    pub struct Range in "range" {
        /// Least engine speed.
        speed_min_rpm: "1/min", 300.0, 3000.0;
        /// Greatest engine speed.
        speed_max_rpm: "1/min", 600.0, 8000.0;
        /// Greatest torque asked of it.
        torque_max_n_m: "N m", 10.0, 2.0e4;
    }
}

/// An engine with its turbocharger: everything that its maker fixed.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
#[allow(missing_docs, reason = "each group's type carries the documentation")]
pub struct Engine {
    /// Short name, as the terminal takes it.
    pub name: String,
    /// A line that says what it is.
    pub title: String,
    pub cylinders: Cylinders,
    pub valves: Valves,
    pub fuel: Fuel,
    pub combustion: Combustion,
    pub wall_heat: WallHeat,
    pub friction: Friction,
    pub manifolds: Manifolds,
    pub filter: Filter,
    pub charge_cooler: ChargeCooler,
    pub exhaust_pipe: ExhaustPipe,
    pub compressor: CompressorMap,
    pub turbine: Turbine,
    pub shaft: Shaft,
    pub vanes: Vanes,
    pub coolant: Coolant,
    pub limits: Limits,
    pub range: Range,
}

/// Calls a macro with every group: field and type.
macro_rules! for_each_group {
    ($with:ident) => {
        $with! {
            cylinders: Cylinders, valves: Valves, fuel: Fuel, combustion: Combustion, wall_heat: WallHeat,
            friction: Friction, manifolds: Manifolds, filter: Filter, charge_cooler: ChargeCooler,
            exhaust_pipe: ExhaustPipe, compressor: CompressorMap, turbine: Turbine, shaft: Shaft, vanes: Vanes,
            coolant: Coolant, limits: Limits, range: Range
        }
    };
}

macro_rules! group_access {
    ($($field:ident: $group:ident),+) => {
        /// The tables of an engine file, in order: name and keys.
        pub const GROUPS: &[(&str, &[Key])] = &[ $( (stringify!($field), $group::KEYS), )+ ];

        impl Engine {
            /// The value of `group.name`. Errors: `Unknown`.
            pub fn get(&self, path: &str) -> Result<f64, KeyError> {
                let (group, name) = path.split_once('.').unwrap_or((path, ""));
                match group {
                    $( stringify!($field) => self.$field.get(name), )+
                    _ => None,
                }
                .ok_or_else(|| unknown(path))
            }

            fn slot(&mut self, path: &str) -> Result<&mut f64, KeyError> {
                let (group, name) = path.split_once('.').unwrap_or((path, ""));
                match group {
                    $( stringify!($field) => self.$field.slot(name), )+
                    _ => None,
                }
                .ok_or_else(|| unknown(path))
            }

            fn check_ranges(&self) -> Result<(), KeyError> {
                $( self.$field.check_ranges()?; )+
                Ok(())
            }

            /// An engine whose every parameter is zero: only for a reader that fills in all of them.
            pub(crate) fn blank(name: String, title: String) -> Self {
                Self { name, title, $( $field: $group::blank(), )+ }
            }
        }
    };
}
for_each_group!(group_access);

/// Every parameter of an engine, in file order.
pub fn keys() -> impl Iterator<Item = &'static Key> {
    GROUPS.iter().flat_map(|(_, keys)| keys.iter())
}

/// The parameter `group.name`. Errors: `Unknown`, with the nearest name.
pub fn key(path: &str) -> Result<&'static Key, KeyError> {
    let named = |(group, name)| keys().find(|key| key.group == group && key.name == name);
    path.split_once('.').and_then(named).ok_or_else(|| unknown(path))
}

fn unknown(path: &str) -> KeyError {
    KeyError::Unknown { key: path.to_string(), nearest: nearest(path, keys()) }
}

impl Engine {
    /// Sets one parameter, by `group.name`, after its range check. What two parameters must keep between them is
    /// checked by [`Engine::check`]. Errors: `Unknown`, `OutOfRange`; the engine is then unchanged.
    pub fn set(&mut self, path: &str, value: f64) -> Result<(), KeyError> {
        let value = key(path)?.check(value)?;
        *self.slot(path)? = value;
        Ok(())
    }

    /// Number of cylinders.
    pub fn cylinder_count(&self) -> usize {
        self.cylinders.count as usize
    }

    /// Swept volume of all cylinders, in m3.
    pub fn displacement_m3(&self) -> f64 {
        let c = &self.cylinders;
        c.count * core::f64::consts::FRAC_PI_4 * c.bore_m * c.bore_m * c.stroke_m
    }

    /// Shaft speed at which the compressor wheel reaches its tip-speed limit, in rad/s.
    pub fn shaft_limit_rad_s(&self) -> f64 {
        2.0 * self.limits.tip_speed_m_s / self.compressor.wheel_m()
    }

    /// Moment of inertia of the rotor, in kg m2: that of the file times the fifth power of the turbine's size factor.
    ///
    /// Similar bodies of one material; the turbine's wheel, of nickel, is most of the rotor, so the compressor's counts as
    /// scaled with it. Chosen: the compressor's own size factor leaves it alone.
    pub fn inertia_kg_m2(&self) -> f64 {
        let size = self.turbine.size_factor;
        let square = size * size;
        self.shaft.inertia_kg_m2 * square * square * size
    }

    /// What no single range can say: parameters that must fit each other. Errors: the first that does not.
    pub fn check(&self) -> Result<(), EngineError> {
        self.check_ranges()?;
        let c = &self.cylinders;
        if !matches!(c.count as u32, 3..=6 | 8..=10 | 12) || c.count as u32 as f64 != c.count {
            return Err(EngineError::CylinderCount { count: c.count });
        }
        let v = &self.valves;
        for (name, angle_deg) in [
            ("valves.intake_opens_deg", v.intake_opens_deg),
            ("valves.intake_closes_deg", v.intake_closes_deg),
            ("valves.exhaust_opens_deg", v.exhaust_opens_deg),
            ("valves.exhaust_closes_deg", v.exhaust_closes_deg),
        ] {
            if libm::trunc(angle_deg) != angle_deg {
                return Err(EngineError::WholeDegrees { key: name, angle_deg });
            }
        }
        let closed_deg = v.exhaust_opens_deg + 720.0 - v.intake_closes_deg;
        let interval_deg = 720.0 / c.count;
        if closed_deg < interval_deg {
            return Err(EngineError::ClosedTooShort { closed_deg, interval_deg });
        }
        if c.conrod_m < 0.7 * c.stroke_m {
            return Err(EngineError::RodTooShort { conrod_m: c.conrod_m, least_m: 0.7 * c.stroke_m });
        }
        for mach in [0.5, 1.0, 1.5] {
            let m = &self.compressor;
            let dm = mach - 1.0;
            let head = m.peak_head + dm * (m.peak_head_slope + dm * m.peak_head_curve);
            let flow = m.surge_flow + m.surge_flow_slope * mach;
            let work = m.work_input - m.work_input_slope * flow + m.disc_friction / flow.max(1e-3);
            if head > 0.95 * work {
                return Err(EngineError::HeadBeatsWork { mach, head, work });
            }
        }
        let t = &self.turbine;
        let open_area_m2 = t.shut_area_m2 + t.area_slope_m2 + t.area_curve_m2;
        if t.area_slope_m2 + 2.0 * t.area_curve_m2 <= 0.0 || open_area_m2 < 1.5 * t.shut_area_m2 {
            return Err(EngineError::VanesDoNotOpen { shut_area_m2: t.shut_area_m2, open_area_m2 });
        }
        if self.range.speed_min_rpm >= self.range.speed_max_rpm {
            return Err(EngineError::SpeedRange {
                min_rpm: self.range.speed_min_rpm,
                max_rpm: self.range.speed_max_rpm,
            });
        }
        if self.combustion.least_fuel_kg >= self.combustion.injector_limit_kg {
            return Err(EngineError::FuelRange {
                least_kg: self.combustion.least_fuel_kg,
                most_kg: self.combustion.injector_limit_kg,
            });
        }
        Ok(())
    }
}

impl Vanes {
    /// Whether the vanes stand still, whatever is asked of them.
    pub fn are_stuck(&self) -> bool {
        0.5 <= self.stuck
    }

    /// Where the vanes come to stand when `asked_open_pct` is asked of them, in per cent open.
    pub fn open_pct(&self, asked_open_pct: f64) -> f64 {
        if self.are_stuck() { self.stuck_open_pct } else { asked_open_pct }
    }
}

impl CompressorMap {
    /// Tip diameter of the wheel as it turns, size factor included, in m.
    #[inline(always)]
    pub fn wheel_m(&self) -> f64 {
        self.tip_diameter_m * self.size_factor
    }
}

impl Turbine {
    /// Tip diameter of the wheel as it turns, size factor included, in m.
    #[inline(always)]
    pub fn wheel_m(&self) -> f64 {
        self.tip_diameter_m * self.size_factor
    }
}

/// Parameters that are each allowed but do not fit together.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[allow(missing_docs, reason = "the messages say what the numbers are")]
pub enum EngineError {
    #[error(transparent)]
    Key(#[from] KeyError),
    #[error(
        "`cylinders.count = {count}`: the firing interval must be whole degrees, so 3, 4, 5, 6, 8, 9, 10 or 12 cylinders"
    )]
    CylinderCount { count: f64 },
    #[error("`{key} = {angle_deg}`: valve events are whole degrees, since the integration steps end there")]
    WholeDegrees { key: &'static str, angle_deg: f64 },
    #[error(
        "`valves`: closed for {closed_deg} degrees, shorter than the firing interval of {interval_deg}; close the intake earlier or open the exhaust later"
    )]
    ClosedTooShort { closed_deg: f64, interval_deg: f64 },
    #[error("`cylinders.conrod_m = {conrod_m}`: shorter than {least_m}, which is 0.7 of the stroke")]
    RodTooShort { conrod_m: f64, least_m: f64 },
    #[error(
        "`compressor`: at Mach number {mach} the head coefficient of the surge line is {head:.3}, more than 0.95 of the work input {work:.3}; lower `peak_head` or raise `work_input`"
    )]
    HeadBeatsWork { mach: f64, head: f64, work: f64 },
    #[error(
        "`turbine`: {open_area_m2} m2 open is not at least 1.5 times {shut_area_m2} m2 shut, or the area does not grow all the way"
    )]
    VanesDoNotOpen { shut_area_m2: f64, open_area_m2: f64 },
    #[error("`range`: speed_min_rpm = {min_rpm} is not below speed_max_rpm = {max_rpm}")]
    SpeedRange { min_rpm: f64, max_rpm: f64 },
    #[error("`combustion`: least_fuel_kg = {least_kg} is not below injector_limit_kg = {most_kg}")]
    FuelRange { least_kg: f64, most_kg: f64 },
}
