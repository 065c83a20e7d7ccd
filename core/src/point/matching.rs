//! Mean-value matching: flow, shaft, exhaust pressure and fuel that fit together, by factors measured from a real cycle.
//!
//! One firing interval of the cycle gives what a mean-value model lacks: volumetric efficiency, indicated work, wall heat,
//! and by how much compressor and turbine differ from their maps at the mean state. With these factors held, four
//! equations (flow through the engine, flow through the turbine, shaft power, load) are solved by Newton's method, and the
//! cycle's state is scaled to the result. The factors are exact at the fixed point, so the matching decides how fast the
//! steady point is found, never where it lies.

use crate::cycle::{Machine, Means, State, VALVE_ROUNDING};
use crate::gas::flow;
use crate::math;
use crate::parts::compressor::SpeedLine;
use crate::parts::turbine;
use crate::parts::{cooler, crank, friction};
use crate::settings::Load;

/// Exponent of the rule by which left-over gas displaces charge. Chosen: only the speed of the solver hangs on it.
const RESIDUAL_EXPONENT: f64 = 1.0 / 1.35;

/// With fuel held there is no smoke limiter; this little more than the stoichiometric ratio is where the model ends, since
/// it knows only complete combustion.
pub(crate) const LEAST_EXCESS_AIR: f64 = 1.05;

/// What one interval of the cycle says about the mean-value model.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Factors {
    volumetric: f64,
    intake_rise_k: f64,
    head: f64,
    compressor_power: f64,
    cooler_loss: f64,
    /// Enthalpy behind the cooler above what the mean flow gives, in J/kg: flow and work pulsate together.
    air_offset_j_kg: f64,
    /// Mean intake-manifold pressure above that behind the cooler, in Pa, the duct's acceleration taken out.
    duct_offset_pa: f64,
    /// Heat loss of the exhaust manifold over that at the flux-mean temperature (the gas that stands there is cooler).
    exhaust_loss: f64,
    turbine_flow: f64,
    turbine_power: f64,
    /// Flow through the exhaust manifold's hole over that at the mean state.
    leak: f64,
    /// Enthalpy of what leaks above that of what reaches the turbine, in J/kg: the two flows pulsate differently.
    leak_offset_j_kg: f64,
    /// Burned fuel ahead of the turbine over that of all exhaust.
    burned: f64,
    p4: f64,
    t4_over_t3: f64,
    /// Gross indicated work over fuel energy.
    gross: f64,
    /// Wall heat over fuel energy.
    walls: f64,
    /// Pumping mean effective pressure less p3 - p_im, in Pa.
    pumping_offset_pa: f64,
    /// Peak pressure over intake-manifold pressure.
    peak: f64,
    fuel_kg: f64,
}

/// A mean-value state that fits together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Matched {
    pub flow_kg_s: f64,
    pub shaft_rad_s: f64,
    pub p3_pa: f64,
    pub fuel_kg: f64,
    pub intake_pa: f64,
    pub intake_k: f64,
    pub t3_k: f64,
    pub x3: f64,
    pub p4_pa: f64,
    pub torque_n_m: f64,
    /// Which condition holds the fuel.
    pub fuel_by: FuelBy,
    /// Residual of the four equations.
    pub residual: f64,
}

/// What decides the fuel.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum FuelBy {
    /// Torque or fuel as asked.
    Load,
    Smoke,
    Injector,
    Least,
}

impl Factors {
    /// Typical factors, for a start from nothing.
    pub(crate) fn typical(machine: &Machine) -> Self {
        let fuel_kg = 0.5 * machine.engine.combustion.injector_limit_kg;
        Self {
            volumetric: 0.9,
            intake_rise_k: 4.0,
            head: 1.0,
            compressor_power: 1.0,
            cooler_loss: 1.0,
            air_offset_j_kg: 0.0,
            duct_offset_pa: 0.0,
            exhaust_loss: 1.0,
            turbine_flow: 1.0,
            turbine_power: 1.0,
            leak: 1.0,
            leak_offset_j_kg: 0.0,
            burned: 1.0,
            p4: 1.0,
            t4_over_t3: 0.88,
            gross: 0.455,
            walls: 0.13,
            pumping_offset_pa: 1.5e4,
            peak: 60.0,
            fuel_kg,
        }
    }

    /// Measured from one interval. `state` is that at its end, `fuel_kg` that of the newest cycle.
    pub(crate) fn measure(machine: &Machine, state: &State, means: &Means, fuel_kg: f64) -> Self {
        let engine = &machine.engine;
        let time = means.time_s;
        let flow = (means.air_kg / time).max(1e-4);
        let inlet = machine.inlet_at(flow);
        let line = SpeedLine::at(&engine.compressor, &machine.inlet, state.shaft_rad_s);
        let point = line.point(&engine.compressor, &inlet, flow);
        let p2_pa = inlet.p_pa * point.pressure_ratio;
        let work_j_kg = means.compressor_j / means.air_kg.max(1e-9);
        let loss_pa = cooler_loss(machine, p2_pa, work_j_kg, flow);
        let gas = &machine.gas;
        // What the cylinders draw on balance is, at a steady point, what the cooler delivers. The manifold itself stands
        // warmer where gas is pushed back into it; that rise is measured against the balance of the valves' flows, not
        // against the cooler, or the manifold's own memory would be taken for a property of the engine.
        let in_kg = if math::fabs(means.in_kg) > 1e-9 { means.in_kg } else { 1e-9 };
        let drawn_k = gas.t_of_h_k(means.in_h_j / in_kg, means.in_x_kg / in_kg, means.intake_k);
        let (t3_k, x3) = turbine_inlet(machine, means);
        let (air_h, _) =
            machine.cooled(cooler::effectiveness(&engine.charge_cooler, flow), means.compressor_j / time / flow);
        let loss_w = engine.manifolds.exhaust_loss_w_k * (t3_k - engine.manifolds.exhaust_sink_k);
        let setting = turbine::Nozzle::at(&engine.turbine, state.vane);
        let modelled =
            turbine_point(machine, &setting, means.p3_pa, t3_k, x3, state.t4_k, means.p4_pa, state.shaft_rad_s);
        let turbine_flow = means.turbine_kg / time;
        let leak_kg_s = leak_flow_kg_s(machine, means.p3_pa, t3_k, x3);
        let x_all = (means.turbine_x_kg + means.leak_x_kg) / (means.turbine_kg + means.leak_kg).max(1e-9);
        let energy_j = fuel_kg * engine.fuel.lhv_j_kg;
        let swept = crank::swept_m3(&engine.cylinders);
        let filling = swept * means.intake_pa / (gas.r_j_kg_k(0.0) * means.intake_k)
            * residual_rule(engine.cylinders.compression_ratio, means.p3_pa / means.intake_pa);
        let factor = machine.pipe_friction_factor(turbine_flow, state.t4_k);
        let p4_pa = machine.p4_target_pa(turbine_flow, state.t4_k, gas.r_j_kg_k(x3), factor);
        Self {
            volumetric: means.in_kg / filling,
            intake_rise_k: means.intake_k - drawn_k,
            head: means.p2_pa / p2_pa,
            compressor_power: means.compressor_j / time / point.power_w,
            cooler_loss: if loss_pa > 1.0 { (means.p2_pa - means.cooler_out_pa) / loss_pa } else { 1.0 },
            air_offset_j_kg: if means.air_kg > 1e-6 { means.air_h_j / means.air_kg - air_h } else { 0.0 },
            duct_offset_pa: means.intake_pa - means.cooler_out_pa + means.duct_pa,
            exhaust_loss: if math::fabs(loss_w) > 1.0 { means.exhaust_loss_j / time / loss_w } else { 1.0 },
            turbine_flow: turbine_flow / modelled.flow_kg_s.max(1e-6),
            turbine_power: if modelled.power_w > 1.0 { means.turbine_j / time / modelled.power_w } else { 1.0 },
            leak: if leak_kg_s > 1e-9 { means.leak_kg / time / leak_kg_s } else { 1.0 },
            leak_offset_j_kg: if means.leak_kg > 1e-12 {
                means.leak_h_j / means.leak_kg - means.turbine_h_j / means.turbine_kg.max(1e-9)
            } else {
                0.0
            },
            burned: if x_all > 1e-9 { x3 / x_all } else { 1.0 },
            p4: means.p4_target_pa / p4_pa,
            t4_over_t3: state.t4_k / t3_k,
            gross: means.gross_j / energy_j,
            walls: means.walls_j / energy_j,
            pumping_offset_pa: -means.exchange_j / swept - (means.p3_pa - means.intake_pa),
            peak: means.peak_pa / means.intake_pa,
            fuel_kg,
        }
    }

    /// Whether every factor is a number of a possible size: an interval gone astray must not steer the next.
    pub(crate) fn sane(&self) -> bool {
        let near_one = |x: f64| 0.2 < x && x < 5.0;
        near_one(self.volumetric)
            && near_one(self.head)
            && near_one(self.compressor_power)
            && near_one(self.turbine_flow)
            && near_one(self.p4)
            && near_one(self.burned)
            && self.leak.is_finite()
            && self.leak_offset_j_kg.is_finite()
            && self.turbine_power.is_finite()
            && self.gross.is_finite()
            && self.walls.is_finite()
            && self.pumping_offset_pa.is_finite()
            && self.intake_rise_k.is_finite()
            && self.exhaust_loss.is_finite()
    }
}

/// Temperature of the flux-mean enthalpy, and burned-fuel fraction, ahead of the turbine.
pub(crate) fn turbine_inlet(machine: &Machine, means: &Means) -> (f64, f64) {
    let mass = means.turbine_kg.max(1e-9);
    let x3 = means.turbine_x_kg / mass;
    (machine.gas.t_of_h_k(means.turbine_h_j / mass, x3, 800.0), x3)
}

fn cooler_loss(machine: &Machine, p2_pa: f64, work_j_kg: f64, flow_kg_s: f64) -> f64 {
    let inlet = &machine.inlet;
    let rho2 = p2_pa / (inlet.r_j_kg_k * (inlet.t_k + work_j_kg / inlet.cp_j_kg_k));
    cooler::loss_pa(&machine.engine.charge_cooler, flow_kg_s, rho2)
}

#[allow(clippy::too_many_arguments, reason = "a mean state in its parts; a struct would be used once")]
fn turbine_point(
    machine: &Machine,
    setting: &turbine::Nozzle,
    p3_pa: f64,
    t3_k: f64,
    x3: f64,
    t4_k: f64,
    p4_pa: f64,
    shaft_rad_s: f64,
) -> turbine::TurbinePoint {
    let r = machine.gas.r_j_kg_k(x3);
    let gamma = 1.0 + r / machine.gas.cv_j_kg_k(0.5 * (t3_k + t4_k), x3);
    let inlet = turbine::TurbineInlet { p_pa: p3_pa, t_k: t3_k, r_j_kg_k: r, gamma };
    setting.point(&inlet, p4_pa, 0.5 * machine.engine.turbine.wheel_m() * shaft_rad_s)
}

/// Flow through the exhaust manifold's hole at a mean state, in kg/s.
fn leak_flow_kg_s(machine: &Machine, p3_pa: f64, t3_k: f64, x3: f64) -> f64 {
    let (area_m2, ratio) = (machine.engine.manifolds.exhaust_leak_m2, machine.ambient.p_pa / p3_pa);
    if area_m2 <= 0.0 || ratio >= 1.0 {
        return 0.0;
    }
    let r = machine.gas.r_j_kg_k(x3);
    let gamma = 1.0 + r / machine.gas.cv_j_kg_k(t3_k, x3);
    let (up, down) = flow::rounding(1.0 - ratio, VALVE_ROUNDING);
    area_m2 * p3_pa * math::sqrt(flow::flow_function_squared(ratio, gamma) * up / (down * r * t3_k))
}

/// How much of the swept volume fresh charge fills when left-over gas of exhaust pressure expands first.
fn residual_rule(compression_ratio: f64, p3_over_intake: f64) -> f64 {
    let left_over = math::pow(p3_over_intake.clamp(0.05, 50.0), RESIDUAL_EXPONENT);
    ((compression_ratio - left_over) / (compression_ratio - 1.0)).max(0.05)
}

/// The four unknowns, as logarithms.
type Unknowns = [f64; 4];

/// The matching problem at one setting.
pub(crate) struct Problem<'a> {
    machine: &'a Machine,
    factors: &'a Factors,
    load: Load,
    setting: turbine::Nozzle,
}

impl<'a> Problem<'a> {
    pub(crate) fn new(machine: &'a Machine, factors: &'a Factors, load: Load, vane: f64) -> Self {
        let setting = turbine::Nozzle::at(&machine.engine.turbine, vane);
        Self { machine, factors, load, setting }
    }

    /// Residuals of the four equations, and the state they belong to.
    fn evaluate(&self, y: &Unknowns) -> ([f64; 4], Matched) {
        let (machine, engine, f) = (self.machine, &self.machine.engine, self.factors);
        let gas = &machine.gas;
        let cycles_per_s = machine.speed_rpm / 120.0 * engine.cylinders.count;
        let [flow, shaft, p3_pa, fuel_kg] = y.map(math::exp);
        let fuel_flow = fuel_kg * cycles_per_s;
        let inlet = machine.inlet_at(flow);
        let line = SpeedLine::at(&engine.compressor, &machine.inlet, shaft);
        let point = line.point(&engine.compressor, &inlet, flow);
        let compressor_w = f.compressor_power * point.power_w;
        let work_j_kg = compressor_w / flow;
        let p2_pa = f.head * inlet.p_pa * point.pressure_ratio;
        let loss_pa = cooler_loss(machine, p2_pa, work_j_kg, flow);
        let intake_pa = (p2_pa - f.cooler_loss * loss_pa + f.duct_offset_pa).max(0.2 * machine.ambient.p_pa);
        let (air_h, _) = machine.cooled(cooler::effectiveness(&engine.charge_cooler, flow), work_j_kg);
        let air_h = air_h + f.air_offset_j_kg;
        let cooled_k = gas.t_of_h_k(air_h, 0.0, machine.ambient.t_k + 50.0);
        let intake_k = (cooled_k + f.intake_rise_k).max(200.0);
        let swept = crank::swept_m3(&engine.cylinders);
        let engine_flow = f.volumetric * swept * cycles_per_s * intake_pa / (gas.r_j_kg_k(0.0) * intake_k)
            * residual_rule(engine.cylinders.compression_ratio, p3_pa / intake_pa);

        let energy_j = fuel_kg * engine.fuel.lhv_j_kg;
        let gross_j = f.gross * energy_j;
        let pumping_pa = p3_pa - intake_pa + f.pumping_offset_pa;
        let walls_j = f.walls * energy_j;
        let total_flow = flow + fuel_flow;
        let x3 = f.burned * fuel_flow / total_flow;
        let out_h_w =
            flow * air_h + fuel_flow * gas.fuel_h_j_kg - cycles_per_s * (gross_j - pumping_pa * swept + walls_j);
        // The exhaust manifold's loss depends on its own temperature: Newton's method for both at once.
        let loss_w_k = f.exhaust_loss * engine.manifolds.exhaust_loss_w_k;
        let mut t3_k = 850.0_f64;
        let mut leak_flow = 0.0;
        for _ in 0..5 {
            leak_flow = f.leak * leak_flow_kg_s(machine, p3_pa, t3_k, x3);
            let miss_w = out_h_w
                - total_flow * gas.h_j_kg(t3_k, x3)
                - leak_flow * f.leak_offset_j_kg
                - loss_w_k * (t3_k - engine.manifolds.exhaust_sink_k);
            let step_k = miss_w / (total_flow * gas.cp_j_kg_k(t3_k, x3) + loss_w_k);
            t3_k = (t3_k + step_k).clamp(250.0, 2500.0);
            if math::fabs(step_k) < 1e-6 {
                break;
            }
        }
        let t4_k = t3_k * f.t4_over_t3;
        // Far from a match the hole could take more than there is.
        let pipe_flow = (total_flow - leak_flow).max(0.05 * total_flow);
        let factor = machine.pipe_friction_factor(pipe_flow, t4_k);
        let p4_pa = f.p4 * machine.p4_target_pa(pipe_flow, t4_k, gas.r_j_kg_k(x3), factor);
        let turbine = turbine_point(machine, &self.setting, p3_pa, t3_k, x3, t4_k, p4_pa, shaft);
        let turbine_w = f.turbine_power * turbine.power_w;
        let bearing_w = engine.shaft.bearing_loss_w_s2 * shaft * shaft;

        let friction_pa = friction::mep_pa(&engine.friction, f.peak * intake_pa, machine.piston_speed_m_s());
        let torque_n_m =
            (gross_j - (pumping_pa + friction_pa) * swept) * engine.cylinders.count / (4.0 * core::f64::consts::PI);
        let (load, fuel_by) = self.load_residual(torque_n_m, fuel_kg, flow / cycles_per_s);
        let residuals = [
            math::ln(engine_flow / flow),
            math::ln((f.turbine_flow * turbine.flow_kg_s + leak_flow).max(1e-9) / total_flow),
            (turbine_w - bearing_w) / compressor_w - 1.0,
            load,
        ];
        let residual = residuals.iter().fold(0.0, |worst: f64, r| worst.max(math::fabs(*r)));
        let matched = Matched {
            flow_kg_s: flow,
            shaft_rad_s: shaft,
            p3_pa,
            fuel_kg,
            intake_pa,
            intake_k,
            t3_k,
            x3,
            p4_pa,
            torque_n_m,
            fuel_by,
            residual,
        };
        (residuals, matched)
    }

    /// Load as one equation: fuel as asked, but within least and greatest.
    fn load_residual(&self, torque_n_m: f64, fuel_kg: f64, air_kg: f64) -> (f64, FuelBy) {
        let c = &self.machine.engine.combustion;
        let least_ratio = match self.load {
            Load::Torque { .. } => c.smoke_limit_afr,
            Load::Fuel { .. } => LEAST_EXCESS_AIR * self.machine.gas.stoichiometric_ratio,
        };
        let asked = match self.load {
            Load::Torque { torque_n_m: target } => {
                (torque_n_m - target) / target.max(0.3 * self.machine.engine.range.torque_max_n_m)
            }
            Load::Fuel { fuel_kg_per_cycle } => math::ln(fuel_kg / fuel_kg_per_cycle),
        };
        let least = math::ln(fuel_kg / c.least_fuel_kg);
        let smoke = math::ln(fuel_kg * least_ratio / air_kg);
        let injector = math::ln(fuel_kg / c.injector_limit_kg);
        let (mut value, mut by) = if least < asked { (least, FuelBy::Least) } else { (asked, FuelBy::Load) };
        for (limit, name) in [(smoke, FuelBy::Smoke), (injector, FuelBy::Injector)] {
            if limit > value {
                (value, by) = (limit, name);
            }
        }
        (value, by)
    }

    /// Newton's method from a guess; steps are kept short enough that the logarithms stay in the field.
    pub(crate) fn solve(&self, guess: &Matched, steps: usize, tolerance: f64) -> Matched {
        let mut y = [guess.flow_kg_s, guess.shaft_rad_s, guess.p3_pa, guess.fuel_kg].map(|v| math::ln(v.max(1e-9)));
        let (mut r, mut best) = self.evaluate(&y);
        for _ in 0..steps {
            if best.residual < tolerance {
                break;
            }
            let mut jacobian = [[0.0; 5]; 4];
            for column in 0..4 {
                let mut moved = y;
                let h = 1e-5;
                moved[column] += h;
                let (rh, _) = self.evaluate(&moved);
                for row in 0..4 {
                    jacobian[row][column] = (rh[row] - r[row]) / h;
                }
            }
            for row in 0..4 {
                jacobian[row][4] = -r[row];
            }
            let Some(step) = eliminate(jacobian) else { break };
            let longest = step.iter().fold(0.0, |m: f64, s| m.max(math::fabs(*s)));
            let mut share = (0.35 / longest.max(1e-12)).min(1.0);
            let norm = |r: &[f64; 4]| r.iter().map(|v| v * v).sum::<f64>();
            let before = norm(&r);
            let mut accepted = false;
            for _ in 0..6 {
                let mut trial = y;
                for (t, s) in trial.iter_mut().zip(step) {
                    *t += share * s;
                }
                let (rt, mt) = self.evaluate(&trial);
                if norm(&rt) < before {
                    (y, r, best) = (trial, rt, mt);
                    accepted = true;
                    break;
                }
                share *= 0.4;
            }
            if !accepted {
                break;
            }
        }
        best
    }

    /// A match from nothing: several shaft speeds are tried, each with the flow and pressures that would go with it.
    pub(crate) fn solve_cold(&self) -> Matched {
        let machine = self.machine;
        let engine = &machine.engine;
        let cycles_per_s = machine.speed_rpm / 120.0 * engine.cylinders.count;
        let limit = engine.shaft_limit_rad_s();
        let fuel_guess = match self.load {
            Load::Torque { torque_n_m } => {
                let work = 4.0 * core::f64::consts::PI * torque_n_m / engine.cylinders.count;
                (work / 0.36 / engine.fuel.lhv_j_kg + 3.0 * engine.combustion.least_fuel_kg)
                    .min(engine.combustion.injector_limit_kg)
            }
            Load::Fuel { fuel_kg_per_cycle } => fuel_kg_per_cycle.min(engine.combustion.injector_limit_kg),
        };
        let guess_at = |shaft_rad_s: f64| {
            let line = SpeedLine::at(&engine.compressor, &machine.inlet, shaft_rad_s);
            let tip = line.tip_speed_m_s;
            let inlet = &machine.inlet;
            let ratio = math::pow(
                1.0 + 0.9 * line.peak_head * tip * tip / (inlet.cp_j_kg_k * inlet.t_k),
                inlet.cp_j_kg_k / inlet.r_j_kg_k,
            );
            let intake_pa = 0.97 * inlet.p_pa * ratio;
            let swept = crank::swept_m3(&engine.cylinders);
            let breathed = 0.9 * swept * cycles_per_s * intake_pa / (inlet.r_j_kg_k * (inlet.t_k + 15.0));
            let flow_kg_s = breathed.min(line.flow_kg_s(&engine.compressor, inlet, 0.9 * line.choke_flow));
            Matched {
                flow_kg_s,
                shaft_rad_s,
                p3_pa: intake_pa * 1.05,
                fuel_kg: fuel_guess.min(flow_kg_s / cycles_per_s / engine.combustion.smoke_limit_afr),
                intake_pa,
                intake_k: inlet.t_k + 15.0,
                t3_k: 800.0,
                x3: 0.04,
                p4_pa: inlet.p_pa,
                torque_n_m: 0.0,
                fuel_by: FuelBy::Load,
                residual: f64::INFINITY,
            }
        };
        // If nothing matches, the best of the tries still starts the search; the cycle has the last word.
        let mut best = guess_at(0.6 * limit);
        for share in [0.6, 0.4, 0.8, 0.25, 0.95, 1.1, 0.12] {
            let matched = self.solve(&guess_at(share * limit), 25, 1e-3);
            if matched.residual < best.residual {
                best = matched;
            }
            if matched.residual < 1e-3 {
                break;
            }
        }
        best
    }
}

/// Solves four linear equations given as rows with the right-hand side in the fifth place; nothing if they are singular.
fn eliminate(mut a: [[f64; 5]; 4]) -> Option<[f64; 4]> {
    for column in 0..4 {
        let pivot = (column..4).max_by(|i, j| math::fabs(a[*i][column]).total_cmp(&math::fabs(a[*j][column])))?;
        a.swap(column, pivot);
        let head = a[column][column];
        if !head.is_finite() || math::fabs(head) < 1e-14 {
            return None;
        }
        for row in 0..4 {
            if row != column {
                let share = a[row][column] / head;
                let pivot_row = a[column];
                for (value, above) in a[row].iter_mut().zip(pivot_row).skip(column) {
                    *value -= share * above;
                }
            }
        }
    }
    let mut x = [0.0; 4];
    for (i, value) in x.iter_mut().enumerate() {
        *value = a[i][4] / a[i][i];
        if !value.is_finite() {
            return None;
        }
    }
    Some(x)
}
