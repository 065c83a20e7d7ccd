//! An engine at one speed, with everything tabulated that the cycle looks up.

use crate::engine::Engine;
use crate::gas::{Ambient, Gas};
use crate::math;
use crate::parts::combustion::HeatRelease;
use crate::parts::valve::ValveSet;
use crate::parts::{crank, wall_heat};
use crate::plant::Plant;
use alloc::vec::Vec;

/// Speed from which whole degrees are short enough a step, in 1/min, over the square root of the greatest valve area to cylinder
/// volume, in 1/m. The stiffest moment is an open valve at nearly equal pressures beside a small volume. Below this speed the
/// steps are half a degree. Measured on the two engines that come with Volute; see `MODEL.md`, "Steps".
const WHOLE_DEGREE_RPM: f64 = 730.0;

/// Most cylinders of an engine.
pub(crate) const MOST_CYLINDERS: usize = 12;

/// A motored pressure ratio that no gas reaches.
const NO_FIRING: f64 = 1e6;

/// Crank angle that no combustion reaches, in degrees after firing top dead centre: a larger angle is one before the next
/// firing. Chosen: between the end of the longest combustion and the earliest closing of the intake.
const NEXT_CYCLE_DEG: f64 = 500.0;

/// Geometry of one cylinder at one crank angle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Node {
    pub(super) volume_m3: f64,
    pub(super) inverse_1_m3: f64,
    /// Head, piston and the liner that the piston has laid bare.
    pub(super) wall_m2: f64,
    /// The same, each part times its temperature.
    pub(super) wall_m2_k: f64,
    pub(super) intake_m2: f64,
    pub(super) exhaust_m2: f64,
    /// Woschni's coefficient of the mean piston speed here.
    pub(super) speed_coefficient: f64,
    /// Motored pressure over that at intake-valve closing. While a valve is open it is beyond any pressure, which takes
    /// Woschni's combustion term out.
    pub(super) motored: f64,
    /// 1 in the compression and expansion strokes, 0 in the two of gas exchange: for the step that begins here.
    pub(super) gross: f64,
}

/// An engine on one day at one speed, with everything tabulated that the cycle looks up.
#[derive(Debug, Clone)]
pub struct Machine {
    pub(crate) plant: Plant,
    pub(crate) speed_rpm: f64,
    pub(crate) steps_per_degree: usize,
    pub(super) nodes: Vec<Node>,
    /// Steps in a firing interval.
    pub(crate) steps: usize,
    /// Node at which the intake valves close.
    pub(super) start: usize,
    /// Slots that a cylinder runs with its valves shut.
    pub(crate) closed_slots: usize,
    pub(super) dt_s: f64,
    /// Step, in degrees.
    pub(super) step_deg: f64,
    pub(super) wall_scale: f64,
    pub(crate) piston_speed_m_s: f64,
    pub(crate) swept_m3: f64,
}

impl Machine {
    /// Tabulates an engine on a day at a speed, in 1/min. The caller has checked engine and settings.
    pub fn new(engine: &Engine, ambient: &Ambient, speed_rpm: f64) -> Self {
        let steps_per_degree = if speed_rpm >= whole_degree_from_rpm(engine) { 1 } else { 2 };
        Self::with_steps(engine, ambient, speed_rpm, engine.gas(ambient), steps_per_degree)
    }

    /// The same with a gas and a step size of choice: for ideal cycles and convergence studies.
    pub fn with_steps(engine: &Engine, ambient: &Ambient, speed_rpm: f64, gas: Gas, steps_per_degree: usize) -> Self {
        let gear = &engine.cylinders;
        let count = engine.cylinder_count();
        let interval_deg = 720 / count;
        Self {
            steps_per_degree,
            nodes: nodes(engine, steps_per_degree),
            steps: interval_deg * steps_per_degree,
            start: engine.valves.intake_closes_deg as usize * steps_per_degree,
            closed_slots: (engine.valves.closed_deg() as usize / interval_deg).min(count - 1),
            dt_s: step_s(speed_rpm, steps_per_degree),
            step_deg: 1.0 / steps_per_degree as f64,
            wall_scale: engine.wall_heat.multiplier * wall_heat::scale(gear.bore_m),
            piston_speed_m_s: crank::mean_piston_speed_m_s(gear, speed_rpm),
            swept_m3: crank::swept_m3(gear),
            plant: Plant::with_gas(engine, ambient, gas),
            speed_rpm,
        }
    }

    /// The same engine and day at another speed, if the step size stays: the tables are kept.
    pub(crate) fn at_speed(&self, speed_rpm: f64) -> Option<Self> {
        let engine = &self.plant.engine;
        let whole = speed_rpm >= whole_degree_from_rpm(engine);
        (whole == (self.steps_per_degree == 1)).then(|| Self {
            speed_rpm,
            dt_s: step_s(speed_rpm, self.steps_per_degree),
            piston_speed_m_s: crank::mean_piston_speed_m_s(&engine.cylinders, speed_rpm),
            ..self.clone()
        })
    }

    /// Number of cylinders, which is the number of slots.
    pub fn slots(&self) -> usize {
        self.plant.engine.cylinder_count()
    }

    /// Slots in which a cylinder is coupled to the manifolds.
    pub fn open_slots(&self) -> usize {
        self.slots() - self.closed_slots
    }

    /// Length of a firing interval, in s.
    pub fn interval_s(&self) -> f64 {
        self.steps as f64 * self.dt_s
    }

    /// Cycles of all cylinders in a second.
    pub(crate) fn cycles_per_s(&self) -> f64 {
        self.speed_rpm / 120.0 * self.plant.engine.cylinders.count
    }

    /// Volume of a cylinder that is in `slot` at the beginning of an interval, in m3.
    pub(crate) fn volume_at_slot_m3(&self, slot: usize) -> f64 {
        self.nodes[self.node(slot)].volume_m3
    }

    /// Crank angle at the beginning of a slot, in degrees after firing top dead centre, 0 to 720.
    pub(crate) fn slot_deg(&self, slot: usize) -> f64 {
        self.node(slot) as f64 / self.steps_per_degree as f64
    }

    /// Steps in a cycle.
    pub(super) fn per_cycle(&self) -> usize {
        720 * self.steps_per_degree
    }

    /// Node at the beginning of a slot.
    pub(super) fn node(&self, slot: usize) -> usize {
        (self.start + slot * self.steps) % self.per_cycle()
    }

    /// Crank angle of a node as combustion counts it: negative before firing top dead centre.
    #[inline(always)]
    pub(super) fn firing_deg(&self, node: usize) -> f64 {
        let deg = node as f64 * self.step_deg;
        if deg > NEXT_CYCLE_DEG { deg - 720.0 } else { deg }
    }

    /// The heat release of a cylinder's fuel.
    pub(super) fn release(&self, fuel_kg: f64) -> HeatRelease {
        HeatRelease::new(&self.plant.engine.combustion, self.speed_rpm, fuel_kg)
    }
}

fn step_s(speed_rpm: f64, steps_per_degree: usize) -> f64 {
    1.0 / (6.0 * speed_rpm * steps_per_degree as f64)
}

/// Speed from which an engine is integrated in whole degrees, in 1/min.
fn whole_degree_from_rpm(engine: &Engine) -> f64 {
    let (intake, exhaust) = (ValveSet::intake(&engine.valves), ValveSet::exhaust(&engine.valves));
    // From 120 to 600 degrees, where a valve can be open.
    let stiffest_1_m = (20..100)
        .map(|i| {
            let deg = f64::from(i) * 6.0;
            let area_m2 = intake.effective_area_m2(deg).max(exhaust.effective_area_m2(deg));
            area_m2 / crank::volume_m3(&engine.cylinders, deg.to_radians())
        })
        .fold(0.0, f64::max);
    WHOLE_DEGREE_RPM * math::sqrt(stiffest_1_m)
}

/// The geometry of a cylinder over a cycle, first and last node at firing top dead centre.
fn nodes(engine: &Engine, steps_per_degree: usize) -> Vec<Node> {
    let (gear, v, w) = (&engine.cylinders, &engine.valves, &engine.wall_heat);
    let (intake, exhaust) = (ValveSet::intake(v), ValveSet::exhaust(v));
    let closing_m3 = crank::volume_m3(gear, v.intake_closes_deg.to_radians());
    let head_m2 = 2.0 * crank::piston_area_m2(gear);
    (0..=720 * steps_per_degree)
        .map(|i| {
            let deg = i as f64 / steps_per_degree as f64;
            let volume_m3 = crank::volume_m3(gear, deg.to_radians());
            let closed = deg >= v.intake_closes_deg || deg <= v.exhaust_opens_deg;
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
                motored: if closed { math::pow(closing_m3 / volume_m3, w.motored_exponent) } else { NO_FIRING },
            }
        })
        .collect()
}
