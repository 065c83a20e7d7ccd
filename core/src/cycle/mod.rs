//! The wiring: all parts of engine and turbocharger through one firing interval.
//!
//! A firing interval is 720 degrees over the number of cylinders. Counted from the closing of the intake valves, a cylinder
//! passes as many slots of that length as there are cylinders. In its first slots its valves are shut: it knows nothing of
//! the manifolds and runs alone. In the others it is coupled to both manifolds, which fill and empty, and through them to
//! compressor, cooler, turbine and pipe.
//!
//! Every volume carries mass, internal energy and burned fuel, so a step of the integrator (Heun, second order) conserves
//! all three to the last digits: what the balances miss is only how far the cycle is from repeating.
//! Sources: Heywood, chapter 14; Watson and Janota, chapter 15 (filling and emptying); Greitzer (1976) for the duct's inertia.

use crate::engine::Engine;
use crate::gas::{Amount, Gas};
use crate::gas::{flow, humidity};
use crate::math;
use crate::parts::combustion::HeatRelease;
use crate::parts::compressor::{self, SpeedLine};
use crate::parts::turbine;
use crate::parts::valve::ValveSet;
use crate::parts::{cooler, crank, pipe, wall_heat};
use crate::settings::Ambient;
use alloc::vec::Vec;

/// Rounds off the valves' flow law near equal pressures, as a relative pressure difference. Chosen: larger costs pumping
/// work that is not there, smaller asks for shorter steps. See `MODEL.md`, "Steps".
pub(crate) const VALVE_ROUNDING: f64 = 0.004;

/// Steps from one look at a slow law to the next. Compressor's map: between, pressure follows the flow along the tangent; in
/// four degrees the flow moves by a few thousandths. Heat-transfer coefficient with a valve open: it is held, but for the
/// slot in which the exhaust opens and pressure falls fast (there it would cost 0.05 % of torque, elsewhere 0.001 %).
const LOOK_EVERY: usize = 4;

/// Below this share of the unit flow, the compressor's work for each kilogram is no longer taken as power over flow.
const LEAST_FLOW_KG_S: f64 = 1e-3;

/// Speed from which whole degrees are short enough a step, in 1/min, over the square root of the greatest valve area to cylinder
/// volume, in 1/m: the stiffest moment is an open valve at nearly equal pressures beside a small volume. Below, the steps are
/// half a degree. Measured on the two engines that come with Volute; see `MODEL.md`, "Steps".
const WHOLE_DEGREE_RPM: f64 = 730.0;

/// Speed from which an engine is integrated in whole degrees, in 1/min.
fn whole_degree_from_rpm(engine: &Engine) -> f64 {
    let (intake, exhaust) = (ValveSet::intake(&engine.valves), ValveSet::exhaust(&engine.valves));
    let stiffest_1_m = (20..100)
        .map(|i| {
            let deg = f64::from(i) * 6.0;
            let area_m2 = intake.effective_area_m2(deg).max(exhaust.effective_area_m2(deg));
            area_m2 / crank::volume_m3(&engine.cylinders, deg.to_radians())
        })
        .fold(0.0, f64::max);
    WHOLE_DEGREE_RPM * math::sqrt(stiffest_1_m)
}

/// A motored pressure ratio that no gas reaches.
const NO_FIRING: f64 = 1e6;

/// Geometry of one cylinder at one crank angle.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Node {
    volume_m3: f64,
    inverse_1_m3: f64,
    /// Head, piston and the liner that the piston has laid bare.
    wall_m2: f64,
    /// The same, each part times its temperature.
    wall_m2_k: f64,
    intake_m2: f64,
    exhaust_m2: f64,
    /// Woschni's coefficient of the mean piston speed here.
    speed_coefficient: f64,
    /// Motored pressure over that at intake-valve closing. While a valve is open it is beyond any pressure, which takes
    /// Woschni's combustion term out.
    motored: f64,
    /// 1 in the compression and expansion strokes, 0 in the two of gas exchange: for the step that begins here.
    gross: f64,
}

/// An engine on one day at one speed, with everything tabulated that the cycle looks up.
#[derive(Debug, Clone)]
pub struct Machine {
    pub(crate) engine: Engine,
    pub(crate) ambient: Ambient,
    pub(crate) speed_rpm: f64,
    pub(crate) gas: Gas,
    pub(crate) steps_per_degree: usize,
    nodes: Vec<Node>,
    /// Steps in a firing interval.
    pub(crate) steps: usize,
    /// Node at which the intake valves close.
    start: usize,
    /// Slots that a cylinder runs with its valves shut.
    pub(crate) closed_slots: usize,
    dt_s: f64,
    wall_scale: f64,
    piston_speed_m_s: f64,
    swept_m3: f64,
    pub(crate) inlet: compressor::CompressorInlet,
    ambient_kg_m3: f64,
    ambient_h_j_kg: f64,
    cooler_sink_h_j_kg: f64,
}

/// Gas in one cylinder.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Cylinder {
    /// Mass, in kg.
    pub m_kg: f64,
    /// Internal energy, in J.
    pub u_j: f64,
    /// Burned fuel in it, in kg.
    pub x_kg: f64,
    /// Temperature of the last evaluation, in K: where the next one starts from.
    pub t_k: f64,
    /// Pressure when the intake valves closed, in Pa.
    pub closing_pa: f64,
    /// Woschni's reference `Vd Tr/(pr Vr)` at that moment, in K/Pa times m3/m3.
    pub reference_k_per_pa: f64,
    /// Fuel for this cycle, in kg.
    pub fuel_kg: f64,
    /// Heat-transfer coefficient at the last evaluation, in W/(m2 K). It stands for the first stage of the next step, which
    /// is the same instant, so a step evaluates it once at most.
    pub wall_w_m2_k: f64,
}

/// Gas in a manifold.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Volume {
    /// Mass, in kg.
    pub m_kg: f64,
    /// Internal energy, in J.
    pub u_j: f64,
    /// Burned fuel in it, in kg.
    pub x_kg: f64,
    /// Temperature of the last evaluation, in K.
    pub t_k: f64,
}

/// Everything that moves, at the beginning of a firing interval.
#[derive(Debug, Clone, PartialEq)]
pub struct State {
    /// Intake manifold with cooler tank and pipes.
    pub intake: Volume,
    /// Exhaust manifold.
    pub exhaust: Volume,
    /// Flow in the duct from the compressor, in kg/s.
    pub flow_kg_s: f64,
    /// Shaft speed, in rad/s.
    pub shaft_rad_s: f64,
    /// Pressure behind the turbine, in Pa.
    pub p4_pa: f64,
    /// Temperature behind the turbine, in K.
    pub t4_k: f64,
    /// Vane position, 0 to 1.
    pub vane: f64,
    /// The cylinders by slot, the one whose intake has just closed first. The steady solver leaves the closed ones out.
    pub cylinders: Vec<Cylinder>,
}

/// Integrals over one firing interval. Masses in kg, energies in J; "mean" is over time.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Means {
    /// Length of the interval, in s.
    pub time_s: f64,
    /// Through the compressor.
    pub air_kg: f64,
    /// Enthalpy that enters the intake manifold.
    pub air_h_j: f64,
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
    /// Mean pressure that accelerates the air in the duct: nought when the cycle repeats.
    pub duct_pa: f64,
    /// Mean flow coefficient of the compressor.
    pub flow_coefficient: f64,
    /// Least flow through the compressor, in kg/s.
    pub least_flow_kg_s: f64,
    /// Mean intake-manifold pressure.
    pub intake_pa: f64,
    /// Mean intake-manifold temperature (of the gas that stands there).
    pub intake_k: f64,
    /// From the intake manifold into the cylinders, backflow subtracted.
    pub in_kg: f64,
    /// Enthalpy of that.
    pub in_h_j: f64,
    /// Burned fuel in that.
    pub in_x_kg: f64,
    /// From the cylinders into the exhaust manifold, backflow subtracted.
    pub out_kg: f64,
    /// Enthalpy of that.
    pub out_h_j: f64,
    /// Burned fuel in that.
    pub out_x_kg: f64,
    /// Mean exhaust-manifold pressure.
    pub p3_pa: f64,
    /// Heat from exhaust ports and manifold.
    pub exhaust_loss_j: f64,
    /// Through the turbine.
    pub turbine_kg: f64,
    /// Enthalpy of that, ahead of the turbine.
    pub turbine_h_j: f64,
    /// Burned fuel in that.
    pub turbine_x_kg: f64,
    /// Through the hole in the exhaust manifold, if it has one.
    pub leak_kg: f64,
    /// Enthalpy of that.
    pub leak_h_j: f64,
    /// Burned fuel in that.
    pub leak_x_kg: f64,
    /// Turbine work.
    pub turbine_j: f64,
    /// Work that an isentropic turbine would have done with the same gas, instant by instant.
    pub turbine_ideal_j: f64,
    /// Mean pressure behind the turbine.
    pub p4_pa: f64,
    /// Mean of what the pressure behind the turbine tends to.
    pub p4_target_pa: f64,
    /// Work of compression and expansion strokes, of one cylinder.
    pub gross_j: f64,
    /// Work of the two gas-exchange strokes on the piston, of one cylinder; negative when it costs.
    pub exchange_j: f64,
    /// Heat to the walls, of one cylinder and cycle.
    pub walls_j: f64,
    /// Fuel burned.
    pub fuel_kg: f64,
    /// Greatest cylinder pressure.
    pub peak_pa: f64,
    /// Crank angle of it, in degrees after firing top dead centre.
    pub peak_deg: f64,
    /// Burned-fuel fraction of the charge when the intake closed.
    pub trapped_x: f64,
    /// Mass of that charge.
    pub trapped_kg: f64,
}

impl Means {
    /// Whether every integral is a number.
    pub(crate) fn is_finite(&self) -> bool {
        [
            self.air_kg,
            self.air_h_j,
            self.compressor_j,
            self.p2_pa,
            self.intake_pa,
            self.in_h_j,
            self.out_h_j,
            self.p3_pa,
            self.turbine_h_j,
            self.leak_h_j,
            self.turbine_j,
            self.p4_pa,
            self.gross_j,
            self.exchange_j,
            self.walls_j,
            self.peak_pa,
            self.trapped_kg,
        ]
        .iter()
        .all(|x| x.is_finite())
    }

    /// Nothing flows: every pressure is that of the ambient air.
    pub(crate) fn at_rest(machine: &Machine) -> Self {
        let p = machine.ambient.p_pa;
        Self {
            time_s: machine.interval_s(),
            p1_pa: p,
            p2_pa: p,
            cooler_out_pa: p,
            intake_pa: p,
            intake_k: machine.ambient.t_k,
            p3_pa: p,
            p4_pa: p,
            p4_target_pa: p,
            peak_pa: p,
            ..Self::default()
        }
    }
}

/// Cylinder and manifold pressures along one cycle.
#[derive(Debug, Clone, Default)]
pub struct Recorder {
    pub(crate) cylinder_pa: Vec<f64>,
    pub(crate) cylinder_k: Vec<f64>,
    pub(crate) intake_pa: Vec<f64>,
    pub(crate) exhaust_pa: Vec<f64>,
}

/// Gas on one side of a valve at one stage of a step.
#[derive(Debug, Clone, Copy)]
struct Port {
    p_pa: f64,
    inverse_1_pa: f64,
    /// `1/(R T)`.
    inverse_kg_j: f64,
    h_j_kg: f64,
    x: f64,
    /// Reciprocal of the ratio of heat capacities.
    inverse_gamma: f64,
}

/// A manifold at one stage of a step.
#[derive(Debug, Clone, Copy)]
struct Manifold {
    port: Port,
    t_k: f64,
    r_j_kg_k: f64,
    /// Heat capacity at constant pressure, in J/(kg K).
    cp_j_kg_k: f64,
}

/// What one cylinder gains in one stage of a step.
#[derive(Debug, Clone, Copy, Default)]
struct Gain {
    m_kg: f64,
    u_j: f64,
    x_kg: f64,
    p_pa: f64,
    t_k: f64,
    walls_j: f64,
}

/// Compressor, cooler and duct near one flow.
#[derive(Debug, Clone, Copy, Default)]
struct Delivery {
    p1_pa: f64,
    at_kg_s: f64,
    p2_pa: f64,
    slope_pa_s_kg: f64,
    flow_coefficient_s_kg: f64,
    power_w: f64,
    work_j_kg: f64,
    cooler_j_kg: f64,
    h_j_kg: f64,
    loss_pa_s2_kg2: f64,
    /// Gain of flow in one step for each Pa, damped as a step along the tangent asks.
    follow_kg_s_pa: f64,
}

impl Machine {
    /// Tabulates an engine on a day at a speed, in 1/min. The caller has checked engine and settings.
    pub fn new(engine: &Engine, ambient: &Ambient, speed_rpm: f64) -> Self {
        // The settings' range lies inside the formula's, so the fallback is never met.
        let vapour =
            humidity::vapour_mole_fraction(ambient.p_pa, ambient.t_k, ambient.relative_humidity).unwrap_or(0.0);
        let gas = Gas::new(vapour, engine.fuel.lhv_j_kg, engine.fuel.hydrogen_to_carbon);
        let steps_per_degree = if speed_rpm >= whole_degree_from_rpm(engine) { 1 } else { 2 };
        Self::with_steps(engine, ambient, speed_rpm, gas, steps_per_degree)
    }

    /// The same with a step size of choice: for convergence studies.
    pub fn with_steps(engine: &Engine, ambient: &Ambient, speed_rpm: f64, gas: Gas, steps_per_degree: usize) -> Self {
        let gear = &engine.cylinders;
        let v = &engine.valves;
        let count = engine.cylinder_count();
        let per_cycle = 720 * steps_per_degree;
        let (intake, exhaust) = (ValveSet::intake(v), ValveSet::exhaust(v));
        let closing_m3 = crank::volume_m3(gear, v.intake_closes_deg.to_radians());
        let head_m2 = 2.0 * crank::piston_area_m2(gear);
        let nodes = (0..=per_cycle)
            .map(|i| {
                let deg = i as f64 / steps_per_degree as f64;
                let volume_m3 = crank::volume_m3(gear, deg.to_radians());
                let closed = deg >= v.intake_closes_deg || deg <= v.exhaust_opens_deg;
                let w = &engine.wall_heat;
                let liner_m2 = core::f64::consts::PI * gear.bore_m * crank::travel_m(gear, deg.to_radians());
                Node {
                    volume_m3,
                    inverse_1_m3: 1.0 / volume_m3,
                    wall_m2: head_m2 + liner_m2,
                    wall_m2_k: head_m2 * w.head_k + liner_m2 * w.liner_k,
                    speed_coefficient: if closed { w.closed_speed_coefficient } else { w.exchange_speed_coefficient },
                    gross: if (180.0..540.0).contains(&deg) { 0.0 } else { 1.0 },
                    intake_m2: intake.effective_area_m2(deg),
                    exhaust_m2: exhaust.effective_area_m2(deg),
                    motored: if closed {
                        math::pow(closing_m3 / volume_m3, engine.wall_heat.motored_exponent)
                    } else {
                        NO_FIRING
                    },
                }
            })
            .collect();
        let interval_deg = 720 / count;
        let closed_deg = v.exhaust_opens_deg + 720.0 - v.intake_closes_deg;
        let air_cp = gas.cp_j_kg_k(ambient.t_k, 0.0);
        let r = gas.r_j_kg_k(0.0);
        Self {
            steps_per_degree,
            nodes,
            steps: interval_deg * steps_per_degree,
            start: v.intake_closes_deg as usize * steps_per_degree,
            closed_slots: (closed_deg as usize / interval_deg).min(count - 1),
            dt_s: 1.0 / (6.0 * speed_rpm * steps_per_degree as f64),
            wall_scale: engine.wall_heat.multiplier * wall_heat::scale(gear.bore_m),
            piston_speed_m_s: crank::mean_piston_speed_m_s(gear, speed_rpm),
            swept_m3: crank::swept_m3(gear),
            inlet: compressor::CompressorInlet { p_pa: ambient.p_pa, t_k: ambient.t_k, r_j_kg_k: r, cp_j_kg_k: air_cp },
            ambient_kg_m3: ambient.p_pa / (r * ambient.t_k),
            ambient_h_j_kg: gas.h_j_kg(ambient.t_k, 0.0),
            cooler_sink_h_j_kg: gas.h_j_kg(engine.charge_cooler.sink_k, 0.0),
            engine: engine.clone(),
            ambient: *ambient,
            speed_rpm,
            gas,
        }
    }

    /// The same engine and day at another speed, if the step size stays: the tables are kept.
    pub(crate) fn at_speed(&self, speed_rpm: f64) -> Option<Self> {
        let whole = speed_rpm >= whole_degree_from_rpm(&self.engine);
        (whole == (self.steps_per_degree == 1)).then(|| Self {
            speed_rpm,
            dt_s: 1.0 / (6.0 * speed_rpm * self.steps_per_degree as f64),
            piston_speed_m_s: crank::mean_piston_speed_m_s(&self.engine.cylinders, speed_rpm),
            ..self.clone()
        })
    }

    /// Number of cylinders, which is the number of slots.
    pub fn slots(&self) -> usize {
        self.engine.cylinder_count()
    }

    /// Slots in which a cylinder is coupled to the manifolds.
    pub fn open_slots(&self) -> usize {
        self.slots() - self.closed_slots
    }

    /// Length of a firing interval, in s.
    pub fn interval_s(&self) -> f64 {
        self.steps as f64 * self.dt_s
    }

    /// Mean piston speed, in m/s.
    pub(crate) fn piston_speed_m_s(&self) -> f64 {
        self.piston_speed_m_s
    }

    /// Compressor inlet at a flow: ambient less the filter's loss.
    pub(crate) fn inlet_at(&self, flow_kg_s: f64) -> compressor::CompressorInlet {
        let loss_pa = self.engine.filter.loss_1_m4 * flow_kg_s * math::fabs(flow_kg_s) / self.ambient_kg_m3;
        compressor::CompressorInlet { p_pa: (self.ambient.p_pa - loss_pa).max(0.3 * self.ambient.p_pa), ..self.inlet }
    }

    /// Enthalpy and heat given off behind the charge cooler, in J/kg, for a compressor work in J/kg.
    ///
    /// The effectiveness is applied to enthalpy, which at these temperatures is within 0.1 % of temperature.
    pub(crate) fn cooled(&self, effectiveness: f64, work_j_kg: f64) -> (f64, f64) {
        let hot_j_kg = self.ambient_h_j_kg + work_j_kg;
        let heat_j_kg = effectiveness * (hot_j_kg - self.cooler_sink_h_j_kg);
        (hot_j_kg - heat_j_kg, heat_j_kg)
    }

    /// Enthalpy of the ambient air, in J/kg.
    pub(crate) fn ambient_h_j_kg(&self) -> f64 {
        self.ambient_h_j_kg
    }

    /// What the pressure behind the turbine tends to at a flow: ambient plus pipe and silencer, in Pa.
    pub(crate) fn p4_target_pa(&self, flow_kg_s: f64, t4_k: f64, r_j_kg_k: f64, friction_factor: f64) -> f64 {
        let coefficient = pipe::loss_1_m4(&self.engine.exhaust_pipe, friction_factor);
        // With rho = p4/(R T4) the loss depends on its own result: p4 (p4 - p_amb) = c W^2 R T4, a quadratic.
        let half = 0.5 * self.ambient.p_pa;
        half + math::sqrt(half * half + coefficient * flow_kg_s * flow_kg_s * r_j_kg_k * t4_k)
    }

    /// Darcy friction factor of the exhaust pipe at a flow.
    pub(crate) fn pipe_friction_factor(&self, flow_kg_s: f64, t4_k: f64) -> f64 {
        let e = &self.engine.exhaust_pipe;
        let reynolds =
            4.0 * math::fabs(flow_kg_s) / (core::f64::consts::PI * e.bore_m * pipe::viscosity_pa_s(t4_k.max(200.0)));
        pipe::friction_factor(reynolds.max(1.0), e.roughness_m / e.bore_m)
    }

    /// Volume of a cylinder that is in `slot` at the beginning of an interval, in m3.
    pub(crate) fn volume_at_slot_m3(&self, slot: usize) -> f64 {
        self.nodes[self.node(slot, 0)].volume_m3
    }

    /// Crank angle at the beginning of a slot, in degrees after firing top dead centre, 0 to 720.
    pub(crate) fn slot_deg(&self, slot: usize) -> f64 {
        self.node(slot, 0) as f64 / self.steps_per_degree as f64
    }

    fn node(&self, slot: usize, step: usize) -> usize {
        (self.start + slot * self.steps + step) % (720 * self.steps_per_degree)
    }

    /// A port of gas that fills a volume.
    #[inline(always)]
    fn port(&self, gas: &Amount, mr_j_k: f64, m_kg: f64, u_j: f64, x_kg: f64, inverse_1_m3: f64) -> Port {
        let pv = mr_j_k * gas.t_k;
        let p_pa = pv * inverse_1_m3;
        // Three reciprocals by one division.
        let cp = gas.heat_j_k + mr_j_k;
        let all = 1.0 / (p_pa * cp * m_kg);
        let inverse_1_kg = all * p_pa * cp;
        Port {
            p_pa,
            inverse_1_pa: all * cp * m_kg,
            inverse_kg_j: all * cp * m_kg * m_kg * inverse_1_m3,
            h_j_kg: (u_j + pv) * inverse_1_kg,
            x: x_kg * inverse_1_kg,
            inverse_gamma: gas.heat_j_k * all * p_pa * m_kg,
        }
    }

    #[inline(always)]
    fn manifold(&self, v: &Volume, gas: &Amount, inverse_1_m3: f64) -> Manifold {
        let mr = self.gas.mr_j_k(v.m_kg, v.x_kg);
        let port = self.port(gas, mr, v.m_kg, v.u_j, v.x_kg, inverse_1_m3);
        let inverse_1_kg = 1.0 / v.m_kg;
        Manifold { port, t_k: gas.t_k, r_j_kg_k: mr * inverse_1_kg, cp_j_kg_k: (gas.heat_j_k + mr) * inverse_1_kg }
    }

    #[inline(always)]
    fn amount_of(&self, v: &Volume) -> Amount {
        self.gas.amount(v.m_kg, v.u_j, v.x_kg, v.t_k)
    }

    /// Heat-transfer coefficient to the walls, in W/(m2 K).
    #[inline(always)]
    fn wall_w_m2_k(&self, p_pa: f64, t_k: f64, velocity_m_s: f64) -> f64 {
        self.wall_scale * wall_heat::shape(p_pa, t_k, velocity_m_s)
    }

    /// Heat to the walls in one step, in J.
    #[inline(always)]
    fn wall_heat_j(&self, coefficient_w_m2_k: f64, t_k: f64, node: &Node) -> f64 {
        coefficient_w_m2_k * self.dt_s * (t_k * node.wall_m2 - node.wall_m2_k)
    }

    #[inline(always)]
    fn gas_velocity_m_s(&self, cylinder: &Cylinder, p_pa: f64, node: &Node, firing: f64) -> f64 {
        wall_heat::gas_velocity_m_s(
            node.speed_coefficient,
            self.piston_speed_m_s,
            self.engine.wall_heat.combustion_coefficient_m_s_k,
            cylinder.reference_k_per_pa,
            firing * (p_pa - cylinder.closing_pa * node.motored).max(0.0),
        )
    }

    /// Marks the closing of the intake: what Woschni's formula refers to, and the fuel of the cycle that begins.
    pub fn close_intake(&self, cylinder: &mut Cylinder, fuel_kg: f64) {
        let node = &self.nodes[self.start];
        let r = self.gas.r_j_kg_k(cylinder.x_kg / cylinder.m_kg);
        cylinder.t_k = self.gas.t_of_u_k(cylinder.u_j / cylinder.m_kg, cylinder.x_kg / cylinder.m_kg, cylinder.t_k);
        cylinder.closing_pa = cylinder.m_kg * r * cylinder.t_k / node.volume_m3;
        cylinder.reference_k_per_pa = self.swept_m3 / (cylinder.m_kg * r);
        cylinder.fuel_kg = fuel_kg;
        let velocity = self.gas_velocity_m_s(cylinder, cylinder.closing_pa, node, 0.0);
        cylinder.wall_w_m2_k = self.wall_w_m2_k(cylinder.closing_pa, cylinder.t_k, velocity);
    }

    /// Runs a cylinder with shut valves through `slots` slots, the first of them `slot`.
    pub fn run_closed(
        &self,
        cylinder: &mut Cylinder,
        slot: usize,
        slots: usize,
        means: &mut Means,
        mut recorder: Option<&mut Recorder>,
    ) {
        let per_cycle = 720 * self.steps_per_degree;
        let release = HeatRelease::new(&self.engine.combustion, self.speed_rpm, cylinder.fuel_kg);
        let degree = 1.0 / self.steps_per_degree as f64;
        let end_deg = release.end_deg();
        let mut index = self.node(slot, 0);
        let angle = |index: usize| {
            let deg = index as f64 * degree;
            if deg > 500.0 { deg - 720.0 } else { deg }
        };
        let mut burned = release.burned(angle(index));
        let mut gas = self.gas.amount(cylinder.m_kg, cylinder.u_j, cylinder.x_kg, cylinder.t_k);
        for _ in 0..slots * self.steps {
            let (now, next) = (&self.nodes[index], &self.nodes[index + 1]);
            let (from_deg, to_deg) = (angle(index), angle(index) + degree);
            let firing = to_deg > release.start_deg;
            let fuel_kg = if firing && from_deg < end_deg {
                let after = release.burned(to_deg);
                let fuel_kg = cylinder.fuel_kg * (after - burned);
                burned = after;
                fuel_kg
            } else {
                0.0
            };
            let d_volume = next.volume_m3 - now.volume_m3;
            let burn_j = fuel_kg * self.gas.fuel_h_j_kg;

            // The second stage of the last step has worked this instant out but for its correction.
            let t0 = gas.moved_t_k(cylinder.m_kg, cylinder.u_j, cylinder.x_kg);
            let p0 = self.gas.mr_j_k(cylinder.m_kg, cylinder.x_kg) * t0 * now.inverse_1_m3;
            let walls0 = self.wall_heat_j(cylinder.wall_w_m2_k, t0, now);
            let gain0 = burn_j - walls0 - p0 * d_volume;

            let m1 = cylinder.m_kg + fuel_kg;
            let x1 = cylinder.x_kg + fuel_kg;
            gas = self.gas.amount(m1, cylinder.u_j + gain0, x1, t0);
            let p1 = self.gas.mr_j_k(m1, x1) * gas.t_k * next.inverse_1_m3;
            let velocity = self.gas_velocity_m_s(cylinder, p1, next, if firing { 1.0 } else { 0.0 });
            cylinder.wall_w_m2_k = self.wall_w_m2_k(p1, gas.t_k, velocity);
            let walls1 = self.wall_heat_j(cylinder.wall_w_m2_k, gas.t_k, next);
            let gain1 = burn_j - walls1 - p1 * d_volume;

            if let Some(record) = recorder.as_deref_mut() {
                record.cylinder_pa[index] = p0;
                record.cylinder_k[index] = t0;
            }
            if p0 > means.peak_pa {
                means.peak_pa = p0;
                means.peak_deg = from_deg;
            }
            let work = 0.5 * (p0 + p1) * d_volume;
            means.gross_j += now.gross * work;
            means.exchange_j += (1.0 - now.gross) * work;
            means.walls_j += 0.5 * (walls0 + walls1);
            means.fuel_kg += fuel_kg;
            cylinder.m_kg = m1;
            cylinder.x_kg = x1;
            cylinder.u_j += 0.5 * (gain0 + gain1);
            cylinder.t_k = gas.t_k;
            index += 1;
            if index == per_cycle {
                index = 0;
            }
        }
        self.settle_cylinder(cylinder);
    }

    /// Takes a cylinder's temperature from the integrator's running guess to that of its energy.
    fn settle_cylinder(&self, c: &mut Cylinder) {
        c.t_k = self.gas.t_of_u_k(c.u_j / c.m_kg, c.x_kg / c.m_kg, c.t_k);
    }

    /// One stage of one step of a cylinder that is coupled to the manifolds. What passes its valves is booked in the gains
    /// of the two manifolds. The second stage may renew the heat-transfer coefficient.
    #[allow(clippy::too_many_arguments, reason = "the inner loop: every argument is a register")]
    #[inline(always)]
    fn coupled_gain<const SECOND: bool>(
        &self,
        cylinder: &mut Cylinder,
        gas: &mut Amount,
        node: &Node,
        d_volume: f64,
        intake: &Port,
        exhaust: &Port,
        intake_gain: &mut [f64; 3],
        exhaust_gain: &mut [f64; 3],
        renew_wall: bool,
    ) -> Gain {
        let (m_kg, u_j, x_kg) = (cylinder.m_kg, cylinder.u_j, cylinder.x_kg);
        if SECOND {
            *gas = self.gas.amount(m_kg, u_j, x_kg, cylinder.t_k);
        } else {
            // The second stage of the last step has worked this instant out but for its correction.
            gas.t_k = gas.moved_t_k(m_kg, u_j, x_kg);
        }
        let t_k = gas.t_k;
        let mr = self.gas.mr_j_k(m_kg, x_kg);
        let p_pa = mr * t_k * node.inverse_1_m3;
        if SECOND && renew_wall {
            let velocity = self.gas_velocity_m_s(cylinder, p_pa, node, 1.0);
            cylinder.wall_w_m2_k = self.wall_w_m2_k(p_pa, t_k, velocity);
        }
        let walls_j = self.wall_heat_j(cylinder.wall_w_m2_k, t_k, node);
        let mut gain = Gain { m_kg: 0.0, u_j: -p_pa * d_volume - walls_j, x_kg: 0.0, p_pa, t_k, walls_j };
        let inside = |gas: &Amount| self.port(gas, mr, m_kg, u_j, x_kg, node.inverse_1_m3);
        if node.intake_m2 > 0.0 {
            let area = self.dt_s * node.intake_m2;
            let flux = if intake.p_pa >= p_pa {
                Self::one_way(area, intake, p_pa)
            } else {
                Self::one_way(-area, &inside(gas), intake.p_pa)
            };
            gain.m_kg += flux[0];
            gain.u_j += flux[1];
            gain.x_kg += flux[2];
            for (total, part) in intake_gain.iter_mut().zip(flux) {
                *total -= part;
            }
        }
        if node.exhaust_m2 > 0.0 {
            let area = self.dt_s * node.exhaust_m2;
            let flux = if p_pa >= exhaust.p_pa {
                Self::one_way(area, &inside(gas), exhaust.p_pa)
            } else {
                Self::one_way(-area, exhaust, p_pa)
            };
            gain.m_kg -= flux[0];
            gain.u_j -= flux[1];
            gain.x_kg -= flux[2];
            for (total, part) in exhaust_gain.iter_mut().zip(flux) {
                *total += part;
            }
        }
        gain
    }

    /// Mass, enthalpy and burned fuel that pass in one step from a port to a lower pressure, by area times step.
    #[inline(always)]
    fn one_way(area_m2_s: f64, from: &Port, to_pa: f64) -> [f64; 3] {
        let ratio = to_pa * from.inverse_1_pa;
        let psi2 = flow::quick_squared(ratio, from.inverse_gamma);
        let (up, down) = flow::rounding(1.0 - ratio, VALVE_ROUNDING);
        let mass = area_m2_s * from.p_pa * math::sqrt(psi2 * up * from.inverse_kg_j / down);
        [mass, mass * from.h_j_kg, mass * from.x]
    }

    /// Compressor, cooler and duct at a flow.
    fn delivery(&self, line: &SpeedLine, flow_kg_s: f64) -> Delivery {
        let engine = &self.engine;
        let inlet = self.inlet_at(flow_kg_s);
        let point = line.point(&engine.compressor, &inlet, flow_kg_s);
        let p2_pa = inlet.p_pa * point.pressure_ratio;
        let size = math::fabs(flow_kg_s);
        let work_j_kg = point.power_w / size.max(LEAST_FLOW_KG_S);
        let (h_j_kg, cooler_j_kg) = self.cooled(cooler::effectiveness(&engine.charge_cooler, flow_kg_s), work_j_kg);
        let rho2 = p2_pa / (inlet.r_j_kg_k * (inlet.t_k + work_j_kg / inlet.cp_j_kg_k));
        let loss_pa_s2_kg2 = engine.charge_cooler.loss_1_m4 / rho2;
        let inertance = self.dt_s * engine.manifolds.duct_area_m2 / engine.manifolds.duct_length_m;
        let slope = point.slope_pa_s_kg - 2.0 * loss_pa_s2_kg2 * size;
        Delivery {
            p1_pa: inlet.p_pa,
            at_kg_s: flow_kg_s,
            p2_pa,
            slope_pa_s_kg: point.slope_pa_s_kg,
            flow_coefficient_s_kg: 1.0 / line.flow_kg_s(&engine.compressor, &inlet, 1.0).max(1e-9),
            power_w: point.power_w,
            work_j_kg,
            cooler_j_kg,
            h_j_kg,
            loss_pa_s2_kg2,
            follow_kg_s_pa: inertance / (1.0 - (0.5 * inertance * slope).min(0.5)),
        }
    }

    /// Marches manifolds, turbocharger and the coupled cylinders through one firing interval.
    ///
    /// `cylinders` are those of the coupled slots, in order. With `live_shaft` the shaft turns as its power balance says;
    /// without, its speed is held, as the steady solver wants it.
    pub fn run_coupled(
        &self,
        state: &mut State,
        first_cylinder: usize,
        live_shaft: bool,
        means: &mut Means,
        mut recorder: Option<&mut Recorder>,
    ) {
        let engine = &self.engine;
        let map = &engine.compressor;
        let intake_1_m3 = 1.0 / engine.manifolds.intake_volume_m3;
        let exhaust_1_m3 = 1.0 / engine.manifolds.exhaust_volume_m3;
        let setting = turbine::Nozzle::at(&engine.turbine, state.vane);
        let friction_factor = self.pipe_friction_factor(state.flow_kg_s, state.t4_k);
        let p4_follow = {
            let share = self.dt_s / engine.exhaust_pipe.fill_time_s;
            share / (1.0 + 0.5 * share)
        };
        let mut line = SpeedLine::at(map, &self.inlet, state.shaft_rad_s);
        let mut delivery = Delivery::default();
        let open = self.open_slots();
        let per_cycle = 720 * self.steps_per_degree;
        let degree = 1.0 / self.steps_per_degree as f64;
        let first_slot = self.closed_slots;
        // Only the first coupled slot, which begins with shut valves, can still see fuel burning.
        let release =
            Some(HeatRelease::new(&engine.combustion, self.speed_rpm, state.cylinders[first_cylinder].fuel_kg))
                .filter(|release| release.end_deg() > self.slot_deg(first_slot));
        let mut nodes: [usize; 12] = [0; 12];
        for (i, node) in nodes.iter_mut().enumerate().take(open) {
            *node = self.node(first_slot + i, 0);
        }
        let mut first = [Gain::default(); 12];
        let mut gases = [Amount::default(); 12];
        for (gas, c) in gases.iter_mut().zip(&state.cylinders[first_cylinder..]) {
            *gas = self.gas.amount(c.m_kg, c.u_j, c.x_kg, c.t_k);
        }
        let (mut im_gas, mut em_gas) = (self.amount_of(&state.intake), self.amount_of(&state.exhaust));
        let mut sums = Means { least_flow_kg_s: f64::INFINITY, ..Means::default() };
        let mut duct_weight = 0.0;
        let (mut turbine, mut leak_kg) = {
            let exhaust = self.manifold(&state.exhaust, &em_gas, exhaust_1_m3);
            let turbine =
                self.turbine_step(&setting, &exhaust, state, 0.5 * engine.turbine.wheel_m() * state.shaft_rad_s);
            (turbine, self.leak_step(&exhaust.port))
        };
        let exhaust_loss_j_k = engine.manifolds.exhaust_loss_w_k * self.dt_s;
        let inertia_kg_m2 = engine.turbocharger().inertia_kg_m2();

        for step in 0..self.steps {
            let w0 = state.flow_kg_s;
            if step % LOOK_EVERY == 0 {
                if live_shaft && step > 0 {
                    line = SpeedLine::at(map, &self.inlet, state.shaft_rad_s);
                }
                delivery = self.delivery(&line, w0);
            }
            let tip_m_s = 0.5 * engine.turbine.wheel_m() * state.shaft_rad_s;
            let p2_pa = delivery.p2_pa + delivery.slope_pa_s_kg * (w0 - delivery.at_kg_s);
            let cooler_out_pa = p2_pa - delivery.loss_pa_s2_kg2 * w0 * math::fabs(w0);

            // First stage.
            for (gas, v) in [(&mut im_gas, &state.intake), (&mut em_gas, &state.exhaust)] {
                gas.t_k = gas.moved_t_k(v.m_kg, v.u_j, v.x_kg);
            }
            let im0 = self.manifold(&state.intake, &im_gas, intake_1_m3);
            let em0 = self.manifold(&state.exhaust, &em_gas, exhaust_1_m3);
            let w1 = w0 + delivery.follow_kg_s_pa * (cooler_out_pa - im0.port.p_pa);
            let air0 = self.duct(w0, delivery.h_j_kg, &im0.port);
            let (turbine0, leak0_kg) = (turbine, leak_kg);
            let em_loss0 = exhaust_loss_j_k * (em0.t_k - engine.manifolds.exhaust_sink_k);
            let mut im_gain0 = [0.0; 3];
            let mut em_gain0 = [0.0; 3];
            let mut burn_kg = 0.0;
            if let Some(release) = &release {
                let deg = nodes[0] as f64 * degree;
                let deg = if deg > 500.0 { deg - 720.0 } else { deg };
                burn_kg =
                    state.cylinders[first_cylinder].fuel_kg * (release.burned(deg + degree) - release.burned(deg));
            }
            for i in 0..open {
                let index = nodes[i];
                let (now, next) = (&self.nodes[index], &self.nodes[index + 1]);
                let d_volume = next.volume_m3 - now.volume_m3;
                let cylinder = &mut state.cylinders[first_cylinder + i];
                let gain = self.coupled_gain::<false>(
                    cylinder,
                    &mut gases[i],
                    now,
                    d_volume,
                    &im0.port,
                    &em0.port,
                    &mut im_gain0,
                    &mut em_gain0,
                    false,
                );
                // The cylinder itself moves to where the first stage would take it; the second stage corrects that.
                cylinder.m_kg += gain.m_kg;
                cylinder.u_j += gain.u_j;
                cylinder.x_kg += gain.x_kg;
                cylinder.t_k = gain.t_k;
                first[i] = gain;
            }
            if burn_kg > 0.0 {
                let cylinder = &mut state.cylinders[first_cylinder];
                cylinder.m_kg += burn_kg;
                cylinder.u_j += burn_kg * self.gas.fuel_h_j_kg;
                cylinder.x_kg += burn_kg;
                sums.fuel_kg += burn_kg;
            }
            let im1_volume = Volume {
                m_kg: state.intake.m_kg + im_gain0[0] + air0[0],
                u_j: state.intake.u_j + im_gain0[1] + air0[1],
                x_kg: state.intake.x_kg + im_gain0[2] + air0[2],
                t_k: im0.t_k,
            };
            let gone0_kg = turbine0.0 + leak0_kg;
            let em1_volume = Volume {
                m_kg: state.exhaust.m_kg + em_gain0[0] - gone0_kg,
                u_j: state.exhaust.u_j + em_gain0[1] - gone0_kg * em0.port.h_j_kg - em_loss0,
                x_kg: state.exhaust.x_kg + em_gain0[2] - gone0_kg * em0.port.x,
                t_k: em0.t_k,
            };

            // Second stage.
            (im_gas, em_gas) = (self.amount_of(&im1_volume), self.amount_of(&em1_volume));
            let im1 = self.manifold(&im1_volume, &im_gas, intake_1_m3);
            let em1 = self.manifold(&em1_volume, &em_gas, exhaust_1_m3);
            let air1 = self.duct(w1, delivery.h_j_kg, &im1.port);
            let turbine1 = self.turbine_step(&setting, &em1, state, tip_m_s);
            // What the second stage finds at the end of this step stands for the first stage of the next.
            turbine = turbine1;
            leak_kg = self.leak_step(&em1.port);
            let em_loss1 = exhaust_loss_j_k * (em1.t_k - engine.manifolds.exhaust_sink_k);
            let mut im_gain1 = [0.0; 3];
            let mut em_gain1 = [0.0; 3];
            for i in 0..open {
                let index = nodes[i];
                let (now, next) = (&self.nodes[index], &self.nodes[index + 1]);
                let d_volume = next.volume_m3 - now.volume_m3;
                let cylinder = &mut state.cylinders[first_cylinder + i];
                let gain = self.coupled_gain::<true>(
                    cylinder,
                    &mut gases[i],
                    next,
                    d_volume,
                    &im1.port,
                    &em1.port,
                    &mut im_gain1,
                    &mut em_gain1,
                    i == 0 || step % LOOK_EVERY == 0,
                );
                let f = &first[i];
                cylinder.m_kg += 0.5 * (gain.m_kg - f.m_kg);
                cylinder.u_j += 0.5 * (gain.u_j - f.u_j);
                cylinder.x_kg += 0.5 * (gain.x_kg - f.x_kg);
                cylinder.t_k = gain.t_k;
                let work = 0.5 * (f.p_pa + gain.p_pa) * d_volume;
                sums.gross_j += now.gross * work;
                sums.exchange_j += (1.0 - now.gross) * work;
                sums.walls_j += 0.5 * (f.walls_j + gain.walls_j);
                if let Some(record) = recorder.as_deref_mut() {
                    record.cylinder_pa[index] = f.p_pa;
                    record.cylinder_k[index] = f.t_k;
                }
                nodes[i] = if index + 1 == per_cycle { 0 } else { index + 1 };
            }
            if let Some(record) = recorder.as_deref_mut() {
                record.intake_pa[step] = im0.port.p_pa;
                record.exhaust_pa[step] = em0.port.p_pa;
            }

            // Both stages together.
            let mean = |a: f64, b: f64| 0.5 * (a + b);
            let drawn = [0, 1, 2].map(|q| mean(im_gain0[q], im_gain1[q]));
            let given = [0, 1, 2].map(|q| mean(em_gain0[q], em_gain1[q]));
            let air = [0, 1, 2].map(|q| mean(air0[q], air1[q]));
            let turbine_kg = mean(turbine0.0, turbine1.0);
            let turbine_h_j = mean(turbine0.0 * em0.port.h_j_kg, turbine1.0 * em1.port.h_j_kg);
            let turbine_x_kg = mean(turbine0.0 * em0.port.x, turbine1.0 * em1.port.x);
            let turbine_j = mean(turbine0.1, turbine1.1);
            let em_loss = mean(em_loss0, em_loss1);
            state.intake.m_kg += drawn[0] + air[0];
            state.intake.u_j += drawn[1] + air[1];
            state.intake.x_kg += drawn[2] + air[2];
            state.intake.t_k = im1.t_k;
            state.exhaust.m_kg += given[0] - turbine_kg;
            state.exhaust.u_j += given[1] - turbine_h_j - em_loss;
            state.exhaust.x_kg += given[2] - turbine_x_kg;
            if engine.manifolds.exhaust_leak_m2 > 0.0 {
                let leak = [
                    mean(leak0_kg, leak_kg),
                    mean(leak0_kg * em0.port.h_j_kg, leak_kg * em1.port.h_j_kg),
                    mean(leak0_kg * em0.port.x, leak_kg * em1.port.x),
                ];
                state.exhaust.m_kg -= leak[0];
                state.exhaust.u_j -= leak[1];
                state.exhaust.x_kg -= leak[2];
                sums.leak_kg += leak[0];
                sums.leak_h_j += leak[1];
                sums.leak_x_kg += leak[2];
            }
            state.exhaust.t_k = em1.t_k;
            let im_pa = mean(im0.port.p_pa, im1.port.p_pa);
            duct_weight += delivery.follow_kg_s_pa;
            sums.duct_pa += delivery.follow_kg_s_pa * (cooler_out_pa - im_pa);
            state.flow_kg_s = w0 + delivery.follow_kg_s_pa * (cooler_out_pa - im_pa);
            if turbine_kg > 0.0 {
                state.t4_k = em1.t_k - turbine_j / (turbine_kg * em1.cp_j_kg_k);
            }
            let p4_target_pa = self.p4_target_pa(turbine_kg / self.dt_s, state.t4_k, em1.r_j_kg_k, friction_factor);
            let p4_before = state.p4_pa;
            state.p4_pa += p4_follow * (p4_target_pa - state.p4_pa);
            let compressor_j = if delivery.at_kg_s > LEAST_FLOW_KG_S {
                delivery.work_j_kg * air[0]
            } else {
                delivery.power_w * self.dt_s
            };
            if live_shaft {
                let speed = state.shaft_rad_s;
                let bearing_w = engine.shaft.bearing_loss_w_s2 * speed * speed;
                let net_j = turbine_j - compressor_j - bearing_w * self.dt_s;
                // Energy, not torque: exact for any step, and the shaft cannot turn backwards.
                let square = speed * speed + 2.0 * net_j / inertia_kg_m2;
                state.shaft_rad_s = math::sqrt(square.max(1.0));
            }
            sums.air_kg += air[0];
            sums.air_h_j += air[1];
            sums.compressor_j += compressor_j;
            sums.cooler_j += delivery.cooler_j_kg * air[0];
            sums.p1_pa += delivery.p1_pa;
            sums.p2_pa += p2_pa;
            sums.cooler_out_pa += cooler_out_pa;
            sums.flow_coefficient += w0 * delivery.flow_coefficient_s_kg;
            sums.least_flow_kg_s = sums.least_flow_kg_s.min(w0);
            sums.intake_pa += im_pa;
            sums.intake_k += mean(im0.t_k, im1.t_k);
            sums.in_kg -= drawn[0];
            sums.in_h_j -= drawn[1];
            sums.in_x_kg -= drawn[2];
            sums.out_kg += given[0];
            sums.out_h_j += given[1];
            sums.out_x_kg += given[2];
            sums.p3_pa += mean(em0.port.p_pa, em1.port.p_pa);
            sums.exhaust_loss_j += em_loss;
            sums.turbine_kg += turbine_kg;
            sums.turbine_h_j += turbine_h_j;
            sums.turbine_x_kg += turbine_x_kg;
            sums.turbine_j += turbine_j;
            sums.turbine_ideal_j += mean(turbine0.2, turbine1.2);
            sums.p4_pa += mean(p4_before, state.p4_pa);
            sums.p4_target_pa += p4_target_pa;
        }
        for cylinder in &mut state.cylinders[first_cylinder..] {
            self.settle_cylinder(cylinder);
        }
        for v in [&mut state.intake, &mut state.exhaust] {
            v.t_k = self.gas.t_of_u_k(v.u_j / v.m_kg, v.x_kg / v.m_kg, v.t_k);
        }
        sums.duct_pa /= duct_weight;
        let share = 1.0 / self.steps as f64;
        for mean in [
            &mut sums.p1_pa,
            &mut sums.p2_pa,
            &mut sums.cooler_out_pa,
            &mut sums.flow_coefficient,
            &mut sums.intake_pa,
            &mut sums.intake_k,
            &mut sums.p3_pa,
            &mut sums.p4_pa,
            &mut sums.p4_target_pa,
        ] {
            *mean *= share;
        }
        sums.time_s = self.interval_s();
        sums.gross_j += means.gross_j;
        sums.exchange_j += means.exchange_j;
        sums.walls_j += means.walls_j;
        sums.fuel_kg += means.fuel_kg;
        sums.peak_pa = means.peak_pa;
        sums.peak_deg = means.peak_deg;
        sums.trapped_x = means.trapped_x;
        sums.trapped_kg = means.trapped_kg;
        *means = sums;
    }

    /// What the duct brings into the intake manifold in one step; reversed flow takes the manifold's own gas.
    #[inline(always)]
    fn duct(&self, flow_kg_s: f64, air_h_j_kg: f64, intake: &Port) -> [f64; 3] {
        let mass = flow_kg_s * self.dt_s;
        if flow_kg_s >= 0.0 { [mass, mass * air_h_j_kg, 0.0] } else { [mass, mass * intake.h_j_kg, mass * intake.x] }
    }

    /// Mass that the exhaust manifold's hole lets out in one step: isentropic orifice flow. Nothing flows in: the manifold
    /// stands above the ambient air but for the bottom of a pulse.
    #[inline(always)]
    fn leak_step(&self, exhaust: &Port) -> f64 {
        let area_m2 = self.engine.manifolds.exhaust_leak_m2;
        if area_m2 > 0.0 && exhaust.p_pa > self.ambient.p_pa {
            Self::one_way(area_m2 * self.dt_s, exhaust, self.ambient.p_pa)[0]
        } else {
            0.0
        }
    }

    /// Mass, work and isentropic work of the turbine in one step.
    #[inline(always)]
    fn turbine_step(
        &self,
        setting: &turbine::Nozzle,
        exhaust: &Manifold,
        state: &State,
        tip_m_s: f64,
    ) -> (f64, f64, f64) {
        // Heat capacities at the mean temperature of the expansion, from the last outlet temperature.
        let mean_k = 0.5 * (exhaust.t_k + state.t4_k);
        let gamma = 1.0 + exhaust.r_j_kg_k / self.gas.cv_j_kg_k(mean_k, exhaust.port.x);
        let inlet =
            turbine::TurbineInlet { p_pa: exhaust.port.p_pa, t_k: exhaust.t_k, r_j_kg_k: exhaust.r_j_kg_k, gamma };
        let point = setting.point(&inlet, state.p4_pa, tip_m_s);
        let mass = point.flow_kg_s * self.dt_s;
        (mass, point.power_w * self.dt_s, mass * point.isentropic_drop_j_kg)
    }
}

impl Recorder {
    /// Room for one cycle of a machine.
    pub fn new(machine: &Machine) -> Self {
        let per_cycle = 720 * machine.steps_per_degree;
        Self {
            cylinder_pa: alloc::vec![0.0; per_cycle],
            cylinder_k: alloc::vec![0.0; per_cycle],
            intake_pa: alloc::vec![0.0; machine.steps],
            exhaust_pa: alloc::vec![0.0; machine.steps],
        }
    }

    /// The record as a trace from firing top dead centre on, closed at 720 degrees.
    pub fn trace(&self, machine: &Machine) -> crate::point::reading::Trace {
        let per_cycle = 720 * machine.steps_per_degree;
        let mut trace = crate::point::reading::Trace::default();
        for i in 0..=per_cycle {
            let node = i % per_cycle;
            // Every firing interval is alike, so an instant of it stands for the same instant of each.
            let step = (node + per_cycle - machine.start % per_cycle) % machine.steps;
            trace.crank_angle_deg.push(i as f64 / machine.steps_per_degree as f64);
            trace.volume_m3.push(machine.nodes[node].volume_m3);
            trace.pressure_pa.push(self.cylinder_pa[node]);
            trace.temperature_k.push(self.cylinder_k[node]);
            trace.intake_manifold_pa.push(self.intake_pa[step]);
            trace.exhaust_manifold_pa.push(self.exhaust_pa[step]);
        }
        trace
    }
}
