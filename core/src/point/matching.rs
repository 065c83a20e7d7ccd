//! Mean-value matching: flow, shaft, exhaust pressure and fuel that fit together, by factors measured from a real cycle.
//!
//! One firing interval of the cycle gives what a mean-value model lacks: volumetric efficiency, indicated work, wall heat,
//! and by how much compressor and turbine differ from their maps at the mean state. With these factors held, four
//! equations (flow through the engine, flow through the turbine, shaft power, load) are solved by Newton's method, and the
//! cycle's state is scaled to the result. The factors are exact at the fixed point, so the matching decides how fast the
//! steady point is found, never where it lies.

use crate::cycle::{GasExchange, Machine, Means};
use crate::gas::flow::Upstream;
use crate::math;
use crate::parts::compressor::SpeedLine;
use crate::parts::turbine::{Nozzle, TurbinePoint};
use crate::parts::{crank, friction};
use crate::plant::expand::{ExhaustGas, expand};
use crate::settings::Load;

/// Exponent of the rule by which left-over gas displaces charge. Chosen: only the speed of the solver depends on it.
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
    /// Typical factors, for a start from nothing. Chosen: of no engine; only the first match of a search sees them.
    pub(crate) fn typical(machine: &Machine) -> Self {
        let fuel_kg = 0.5 * machine.plant.engine.combustion.injector_limit_kg;
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
    pub(crate) fn measure(machine: &Machine, state: &GasExchange, means: &Means, fuel_kg: f64) -> Self {
        let (plant, strokes, time) = (&machine.plant, &means.strokes, means.time_s);
        let (engine, gas) = (&plant.engine, &plant.gas);
        let flow = (means.air.m_kg / time).max(1e-4);
        let air = plant.compressed(&plant.speed_line(state.shaft_rad_s), flow);
        let work_j_kg = means.compressor_j / means.air.m_kg.max(1e-9);
        let loss_pa = plant.cooler_loss_pa(air.p2_pa, work_j_kg, flow);
        // What the cylinders draw on balance is, at a steady point, what the cooler delivers. The manifold itself stands
        // warmer where gas is pushed back into it; that rise is measured against the balance of the valves' flows, not
        // against the cooler, or the manifold's own memory would be taken for a property of the engine.
        let drawn_kg = if math::fabs(means.drawn.m_kg) > 1e-9 { means.drawn.m_kg } else { 1e-9 };
        let drawn_k = gas.t_of_h_k(means.drawn.u_j / drawn_kg, means.drawn.x_kg / drawn_kg, means.intake_k);
        let (t3_k, x3) = turbine_inlet(machine, means);
        let cooled = plant.cooled(flow, means.compressor_j / time / flow);
        let loss_w = engine.manifolds.exhaust_loss_w_k * (t3_k - engine.manifolds.exhaust_sink_k);
        let nozzle = Nozzle::at(&engine.turbine, state.vane);
        let exhaust = MeanExhaust { p3_pa: means.p3_pa, t3_k, x3 };
        let turbine = exhaust.turbine(machine, &nozzle, means.p4_pa, state.t4_k, state.shaft_rad_s);
        let turbine_flow = means.turbine.m_kg / time;
        let leak_kg_s = exhaust.leak_kg_s(machine);
        let burned_all = (means.turbine.x_kg + means.leak.x_kg) / (means.turbine.m_kg + means.leak.m_kg).max(1e-9);
        let energy_j = fuel_kg * engine.fuel.lhv_j_kg;
        let filling = machine.swept_m3 * means.intake_pa / (gas.r_j_kg_k(0.0) * means.intake_k)
            * residual_rule(engine.cylinders.compression_ratio, means.p3_pa / means.intake_pa);
        let factor = plant.pipe_friction_factor(turbine_flow, state.t4_k);
        let p4_pa = plant.back_pressure_pa(turbine_flow, state.t4_k, gas.r_j_kg_k(x3), factor);
        // Next to nothing a quotient means nothing: such a factor is 1, such an offset 0.
        let over = |value: f64, model: f64, least: f64| if model > least { value / model } else { 1.0 };
        let leak = &means.leak;
        Self {
            volumetric: means.drawn.m_kg / filling,
            intake_rise_k: means.intake_k - drawn_k,
            head: means.p2_pa / air.p2_pa,
            compressor_power: means.compressor_j / time / air.point.power_w,
            cooler_loss: over(means.p2_pa - means.cooler_out_pa, loss_pa, 1.0),
            air_offset_j_kg: if means.air.m_kg > 1e-6 { means.air.j_kg() - cooled.h_j_kg } else { 0.0 },
            duct_offset_pa: means.intake_pa - means.cooler_out_pa + means.duct_pa,
            exhaust_loss: if math::fabs(loss_w) > 1.0 { means.exhaust_loss_j / time / loss_w } else { 1.0 },
            turbine_flow: turbine_flow / turbine.flow_kg_s.max(1e-6),
            turbine_power: over(means.turbine_j / time, turbine.power_w, 1.0),
            leak: over(leak.m_kg / time, leak_kg_s, 1e-9),
            leak_offset_j_kg: if leak.m_kg > 1e-12 {
                leak.j_kg() - means.turbine.u_j / means.turbine.m_kg.max(1e-9)
            } else {
                0.0
            },
            burned: over(x3, burned_all, 1e-9),
            p4: means.p4_target_pa / p4_pa,
            t4_over_t3: state.t4_k / t3_k,
            gross: strokes.gross_j / energy_j,
            walls: strokes.walls_j / energy_j,
            pumping_offset_pa: -strokes.exchange_j / machine.swept_m3 - (means.p3_pa - means.intake_pa),
            peak: strokes.peak_pa / means.intake_pa,
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
    let mass = means.turbine.m_kg.max(1e-9);
    let x3 = means.turbine.x_kg / mass;
    (machine.plant.gas.t_of_h_k(means.turbine.u_j / mass, x3, 800.0), x3)
}

/// Exhaust gas ahead of the turbine at a mean state.
struct MeanExhaust {
    p3_pa: f64,
    t3_k: f64,
    x3: f64,
}

impl MeanExhaust {
    /// The turbine at this state.
    fn turbine(&self, machine: &Machine, nozzle: &Nozzle, p4_pa: f64, t4_k: f64, shaft_rad_s: f64) -> TurbinePoint {
        let plant = &machine.plant;
        let r_j_kg_k = plant.gas.r_j_kg_k(self.x3);
        let from = ExhaustGas { p_pa: self.p3_pa, t_k: self.t3_k, r_j_kg_k, x: self.x3 };
        let tip_speed_m_s = plant.turbocharger.turbine.tip_speed_m_s(shaft_rad_s);
        expand(nozzle, tip_speed_m_s, &plant.gas, &from, p4_pa, t4_k)
    }

    /// Flow through the exhaust manifold's hole, in kg/s.
    fn leak_kg_s(&self, machine: &Machine) -> f64 {
        let gas = &machine.plant.gas;
        let (r, cv) = (gas.r_j_kg_k(self.x3), gas.cv_j_kg_k(self.t3_k, self.x3));
        let upstream = Upstream {
            p_pa: self.p3_pa,
            inverse_1_pa: 1.0 / self.p3_pa,
            inverse_kg_j: 1.0 / (r * self.t3_k),
            inverse_gamma: cv / (cv + r),
        };
        machine.plant.leak_kg(&upstream, 1.0)
    }
}

/// How much of the swept volume fresh charge fills when left-over gas of exhaust pressure expands first.
fn residual_rule(compression_ratio: f64, p3_over_intake: f64) -> f64 {
    let left_over = math::pow(p3_over_intake.clamp(0.05, 50.0), RESIDUAL_EXPONENT);
    ((compression_ratio - left_over) / (compression_ratio - 1.0)).max(0.05)
}

/// Newton's method: difference of a logarithm for a derivative; longest step, as a logarithm (a factor of 1.4); how many times
/// a step that makes matters worse is shortened, and by what factor. Chosen: the usual sizes; only the solver's speed depends
/// on them.
const DIFFERENCE: f64 = 1e-5;
const LONGEST_STEP: f64 = 0.35;
const SHORTENINGS: usize = 6;
const SHORTER: f64 = 0.4;
/// Shaft speeds that a match from nothing tries, over the limit: the likeliest first. Chosen: between two of them Newton's
/// method finds its way.
const COLD_SPEEDS: [f64; 7] = [0.6, 0.4, 0.8, 0.25, 0.95, 1.1, 0.12];
/// Residual that is enough for a start: the cycle changes the factors anyway.
const COLD_TOLERANCE: f64 = 1e-3;

/// The four unknowns, as logarithms.
type Unknowns = [f64; 4];

/// The matching at one setting.
pub(crate) struct Matching<'a> {
    machine: &'a Machine,
    factors: &'a Factors,
    load: Load,
    nozzle: Nozzle,
}

/// Air from the filter to the intake manifold at a mean state.
struct AirSide {
    compressor_w: f64,
    /// Enthalpy behind the charge cooler.
    h_j_kg: f64,
    intake_pa: f64,
    intake_k: f64,
}

/// Least intake pressure over ambient, and temperature ranges, that a trial may come to. Chosen: far outside any match; they
/// only keep a wild trial of Newton's method in numbers.
const LEAST_INTAKE: f64 = 0.2;
const LEAST_INTAKE_K: f64 = 200.0;
const T3_RANGE_K: (f64, f64) = (250.0, 2500.0);
/// Least share of the exhaust gas that a hole leaves for the pipe. Chosen: far from a match the hole could take more than
/// there is.
const LEAST_PIPE_FLOW: f64 = 0.05;

impl<'a> Matching<'a> {
    pub(crate) fn new(machine: &'a Machine, factors: &'a Factors, load: Load, vane: f64) -> Self {
        Self { machine, factors, load, nozzle: Nozzle::at(&machine.plant.engine.turbine, vane) }
    }

    fn air_side(&self, flow_kg_s: f64, shaft_rad_s: f64) -> AirSide {
        let (plant, f) = (&self.machine.plant, self.factors);
        let air = plant.compressed(&plant.speed_line(shaft_rad_s), flow_kg_s);
        let compressor_w = f.compressor_power * air.point.power_w;
        let work_j_kg = compressor_w / flow_kg_s;
        let p2_pa = f.head * air.inlet.p_pa * air.point.pressure_ratio;
        let loss_pa = plant.cooler_loss_pa(p2_pa, work_j_kg, flow_kg_s);
        let least_pa = LEAST_INTAKE * plant.ambient.p_pa;
        let intake_pa = (p2_pa - f.cooler_loss * loss_pa + f.duct_offset_pa).max(least_pa);
        let h_j_kg = plant.cooled(flow_kg_s, work_j_kg).h_j_kg + f.air_offset_j_kg;
        let cooled_k = plant.gas.t_of_h_k(h_j_kg, 0.0, plant.ambient.t_k + 50.0);
        AirSide { compressor_w, h_j_kg, intake_pa, intake_k: (cooled_k + f.intake_rise_k).max(LEAST_INTAKE_K) }
    }

    /// Temperature ahead of the turbine and flow through the hole, for an enthalpy that leaves the cylinders.
    ///
    /// The exhaust manifold's loss depends on its own temperature: Newton's method for both at once.
    fn exhaust_side(&self, out_h_w: f64, total_kg_s: f64, p3_pa: f64, x3: f64) -> (f64, f64) {
        let (plant, f) = (&self.machine.plant, self.factors);
        let manifolds = &plant.engine.manifolds;
        let loss_w_k = f.exhaust_loss * manifolds.exhaust_loss_w_k;
        let mut t3_k = 850.0_f64;
        let mut leak_kg_s = 0.0;
        for _ in 0..5 {
            leak_kg_s = f.leak * MeanExhaust { p3_pa, t3_k, x3 }.leak_kg_s(self.machine);
            let miss_w = out_h_w
                - total_kg_s * plant.gas.h_j_kg(t3_k, x3)
                - leak_kg_s * f.leak_offset_j_kg
                - loss_w_k * (t3_k - manifolds.exhaust_sink_k);
            let step_k = miss_w / (total_kg_s * plant.gas.cp_j_kg_k(t3_k, x3) + loss_w_k);
            t3_k = (t3_k + step_k).clamp(T3_RANGE_K.0, T3_RANGE_K.1);
            if math::fabs(step_k) < 1e-6 {
                break;
            }
        }
        (t3_k, leak_kg_s)
    }

    /// Residuals of the four equations, and the state they belong to. One balance after another, from air to crank, so it
    /// reads best in one piece.
    fn evaluate(&self, y: &Unknowns) -> ([f64; 4], Matched) {
        let (machine, plant, f) = (self.machine, &self.machine.plant, self.factors);
        let (engine, gas) = (&plant.engine, &plant.gas);
        let (cycles_per_s, swept) = (machine.cycles_per_s(), machine.swept_m3);
        let [flow, shaft, p3_pa, fuel_kg] = y.map(math::exp);
        let fuel_flow = fuel_kg * cycles_per_s;
        let AirSide { compressor_w, h_j_kg, intake_pa, intake_k } = self.air_side(flow, shaft);
        let engine_flow = f.volumetric * swept * cycles_per_s * intake_pa / (gas.r_j_kg_k(0.0) * intake_k)
            * residual_rule(engine.cylinders.compression_ratio, p3_pa / intake_pa);

        let energy_j = fuel_kg * engine.fuel.lhv_j_kg;
        let gross_j = f.gross * energy_j;
        let pumping_pa = p3_pa - intake_pa + f.pumping_offset_pa;
        let walls_j = f.walls * energy_j;
        let total_flow = flow + fuel_flow;
        let x3 = f.burned * fuel_flow / total_flow;
        let out_h_w =
            flow * h_j_kg + fuel_flow * gas.fuel_h_j_kg - cycles_per_s * (gross_j - pumping_pa * swept + walls_j);
        let (t3_k, leak_flow) = self.exhaust_side(out_h_w, total_flow, p3_pa, x3);
        let t4_k = t3_k * f.t4_over_t3;
        let pipe_flow = (total_flow - leak_flow).max(LEAST_PIPE_FLOW * total_flow);
        let factor = plant.pipe_friction_factor(pipe_flow, t4_k);
        let p4_pa = f.p4 * plant.back_pressure_pa(pipe_flow, t4_k, gas.r_j_kg_k(x3), factor);
        let turbine = MeanExhaust { p3_pa, t3_k, x3 }.turbine(machine, &self.nozzle, p4_pa, t4_k, shaft);
        let turbine_w = f.turbine_power * turbine.power_w;

        let friction_pa = friction::mep_pa(&engine.friction, f.peak * intake_pa, machine.piston_speed_m_s);
        let brake_j = gross_j - (pumping_pa + friction_pa) * swept;
        let torque_n_m = crank::torque_n_m(brake_j * engine.cylinders.count);
        let (load, fuel_by) = self.load_residual(torque_n_m, fuel_kg, flow / cycles_per_s);
        let residuals = [
            math::ln(engine_flow / flow),
            math::ln((f.turbine_flow * turbine.flow_kg_s + leak_flow).max(1e-9) / total_flow),
            (turbine_w - engine.shaft.bearing_loss_w(shaft)) / compressor_w - 1.0,
            load,
        ];
        let residual = residuals.iter().fold(0.0, |worst: f64, r| worst.max(math::fabs(*r)));
        let (flow_kg_s, shaft_rad_s) = (flow, shaft);
        let matched = Matched {
            flow_kg_s,
            shaft_rad_s,
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
        let (engine, gas) = (&self.machine.plant.engine, &self.machine.plant.gas);
        let c = &engine.combustion;
        let least_ratio = match self.load {
            Load::Torque { .. } => c.smoke_limit_afr,
            Load::Fuel { .. } => LEAST_EXCESS_AIR * gas.stoichiometric_ratio,
        };
        let asked = match self.load {
            Load::Torque { torque_n_m: target } => {
                // Chosen: below 0.3 of the greatest torque the miss counts as a share of that, so that no load is not zero over
                // zero.
                (torque_n_m - target) / target.max(0.3 * engine.range.torque_max_n_m)
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

    /// Newton's method from a guess. Steps are kept short, so that no quantity changes by more than a factor of 1.4
    /// at once.
    pub(crate) fn solve(&self, guess: &Matched, steps: usize, tolerance: f64) -> Matched {
        let mut y = [guess.flow_kg_s, guess.shaft_rad_s, guess.p3_pa, guess.fuel_kg].map(|v| math::ln(v.max(1e-9)));
        let (mut r, mut best) = self.evaluate(&y);
        for _ in 0..steps {
            if best.residual < tolerance {
                break;
            }
            let Some(step) = self.newton_step(&y, &r) else { break };
            let longest = step.iter().fold(0.0, |m: f64, s| m.max(math::fabs(*s)));
            let mut share = (LONGEST_STEP / longest.max(1e-12)).min(1.0);
            let norm = |r: &[f64; 4]| r.iter().map(|v| v * v).sum::<f64>();
            let before = norm(&r);
            let mut accepted = false;
            for _ in 0..SHORTENINGS {
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
                share *= SHORTER;
            }
            if !accepted {
                break;
            }
        }
        best
    }

    /// One full step of Newton's method, by differences; nothing if the equations are singular there.
    fn newton_step(&self, y: &Unknowns, r: &[f64; 4]) -> Option<[f64; 4]> {
        let mut rows = [[0.0; 5]; 4];
        for column in 0..4 {
            let mut moved = *y;
            moved[column] += DIFFERENCE;
            let (rh, _) = self.evaluate(&moved);
            for row in 0..4 {
                rows[row][column] = (rh[row] - r[row]) / DIFFERENCE;
            }
        }
        for row in 0..4 {
            rows[row][4] = -r[row];
        }
        math::solve_linear(&mut rows, 1e-14).then(|| rows.map(|row| row[4]))
    }

    /// A match from nothing: several shaft speeds are tried, each with the flow and pressures that would go with it.
    pub(crate) fn solve_cold(&self) -> Matched {
        let limit = self.machine.plant.engine.shaft_limit_rad_s();
        // If nothing matches, the best of the tries still starts the search; the cycle has the last word.
        let mut best = self.guess_at(0.6 * limit);
        for share in COLD_SPEEDS {
            let matched = self.solve(&self.guess_at(share * limit), 25, COLD_TOLERANCE);
            if matched.residual < best.residual {
                best = matched;
            }
            if matched.residual < COLD_TOLERANCE {
                break;
            }
        }
        best
    }

    /// What goes with a shaft speed: boost near the surge line, the air that the engine then breathes, fuel within the smoke
    /// limit. Chosen, all the numbers: plausible for any engine of this kind; Newton's method forgets them.
    fn guess_at(&self, shaft_rad_s: f64) -> Matched {
        let (machine, plant) = (self.machine, &self.machine.plant);
        let (engine, inlet) = (&plant.engine, &plant.inlet);
        let cycles_per_s = machine.cycles_per_s();
        let combustion = &engine.combustion;
        let fuel_kg = match self.load {
            Load::Torque { torque_n_m } => {
                let work = crank::work_j(torque_n_m) / engine.cylinders.count;
                work / 0.36 / engine.fuel.lhv_j_kg + 3.0 * combustion.least_fuel_kg
            }
            Load::Fuel { fuel_kg_per_cycle } => fuel_kg_per_cycle,
        };
        let line: SpeedLine = plant.speed_line(shaft_rad_s);
        let tip = line.tip_speed_m_s;
        let ratio = math::pow(
            1.0 + 0.9 * line.peak_head * tip * tip / (inlet.cp_j_kg_k * inlet.t_k),
            inlet.cp_j_kg_k / inlet.r_j_kg_k,
        );
        let intake_pa = 0.97 * inlet.p_pa * ratio;
        let intake_k = inlet.t_k + 15.0;
        let breathed = 0.9 * machine.swept_m3 * cycles_per_s * intake_pa / (inlet.r_j_kg_k * intake_k);
        let flow_kg_s = breathed.min(line.flow_kg_s(&plant.turbocharger.compressor, inlet, 0.9 * line.choke_flow));
        let smoke_kg = flow_kg_s / cycles_per_s / combustion.smoke_limit_afr;
        Matched {
            flow_kg_s,
            shaft_rad_s,
            p3_pa: intake_pa * 1.05,
            fuel_kg: fuel_kg.min(combustion.injector_limit_kg).min(smoke_kg),
            intake_pa,
            intake_k,
            t3_k: 800.0,
            x3: 0.04,
            p4_pa: inlet.p_pa,
            torque_n_m: 0.0,
            fuel_by: FuelBy::Load,
            residual: f64::INFINITY,
        }
    }
}
