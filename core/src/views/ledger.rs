//! The ledger: where torque went (fuel held) or fuel went (torque held) between two readings.
//!
//! This is bookkeeping on what two readings say; it has no physics of its own. The parts sum to the change to rounding. Left
//! out: how much of a row is due to each of its causes. They act together; a row only carries the numbers that show them.

use crate::parts::crank;
use crate::point::reading::{Outcome, Reading};
use alloc::vec;
use alloc::vec::Vec;
use core::f64::consts::PI;
use serde::Serialize;

/// What is accounted for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Currency {
    /// Torque at the crank, in N m.
    Torque,
    /// Fuel flow, in kg/s.
    Fuel,
}

impl Currency {
    /// Unit of every amount in this currency.
    pub fn unit(self) -> &'static str {
        match self {
            Currency::Torque => "N m",
            Currency::Fuel => "kg/s",
        }
    }
}

/// What a row stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Entry {
    /// Work of the compression and expansion strokes; in fuel, how well fuel turns into it.
    GasWork,
    /// Work of the two gas-exchange strokes.
    Pumping,
    /// Friction and auxiliaries.
    Friction,
    /// Brake power; in fuel only, and only where it changed.
    Load,
}

/// A number that shows a cause of a row.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Quantity {
    /// Fuel of one cylinder in one cycle, in kg.
    FuelPerCycle,
    /// Air flow over fuel flow.
    AirFuelRatio,
    /// Gross indicated work over fuel energy.
    GrossEfficiency,
    /// p2 - p3, in Pa.
    PressureBalance,
    /// Intake-manifold less exhaust-manifold pressure, in Pa: what the pistons see.
    ManifoldBalance,
    /// Effective nozzle area of the turbine, in m2.
    ThroatArea,
    /// Greatest cylinder pressure, in Pa.
    PeakPressure,
    /// Engine speed, in 1/min.
    EngineSpeed,
    /// Torque at the crank, in N m.
    BrakeTorque,
}

impl Quantity {
    /// Unit of both numbers; empty for a plain number.
    pub fn unit(self) -> &'static str {
        match self {
            Quantity::FuelPerCycle => "kg",
            Quantity::AirFuelRatio | Quantity::GrossEfficiency => "",
            Quantity::PressureBalance | Quantity::ManifoldBalance | Quantity::PeakPressure => "Pa",
            Quantity::ThroatArea => "m2",
            Quantity::EngineSpeed => "1/min",
            Quantity::BrakeTorque => "N m",
        }
    }

    /// The value in a reading.
    pub fn of(self, reading: &Reading) -> f64 {
        match self {
            Quantity::FuelPerCycle => reading.fuel_kg_per_cycle,
            Quantity::AirFuelRatio => reading.air_fuel_ratio,
            Quantity::GrossEfficiency => {
                let fuel_w = reading.fuel_flow_kg_s * reading.fuel_lhv_j_kg;
                if fuel_w > 0.0 { power_w(reading, reading.indicated.gross_mep_pa) / fuel_w } else { 0.0 }
            }
            Quantity::PressureBalance => reading.pressure_balance_pa,
            Quantity::ManifoldBalance => reading.stations.intake_manifold.p_pa - reading.stations.turbine_inlet.p_pa,
            Quantity::ThroatArea => reading.turbine.throat_area_m2,
            Quantity::PeakPressure => reading.indicated.peak_pressure_pa,
            Quantity::EngineSpeed => reading.settings.speed_rpm,
            Quantity::BrakeTorque => reading.brake.torque_n_m,
        }
    }
}

/// One quantity in both readings, so that a page can name a row's cause in words.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Cause {
    /// Which quantity.
    pub quantity: Quantity,
    /// At the pin.
    pub from: f64,
    /// Now.
    pub to: f64,
}

/// One line of the ledger.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Row {
    /// What it stands for.
    pub entry: Entry,
    /// Its part of the change, in the ledger's currency: where positive, torque gained or more fuel used.
    pub part: f64,
    /// Numbers that show its causes.
    pub causes: Vec<Cause>,
}

/// The whole account from the pin to now.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Ledger {
    /// What is accounted for.
    pub currency: Currency,
    /// Amount at the pin.
    pub from: f64,
    /// Amount now.
    pub to: f64,
    /// The parts: they sum to `to - from`.
    pub rows: Vec<Row>,
}

/// Power of a mean effective pressure, in W: `mep V n/2`, four strokes.
fn power_w(reading: &Reading, mep_pa: f64) -> f64 {
    mep_pa * reading.displacement_m3 * reading.settings.speed_rpm / 120.0
}

/// Torque of a mean effective pressure, in N m.
fn torque_n_m(reading: &Reading, mep_pa: f64) -> f64 {
    crank::torque_n_m(mep_pa * reading.displacement_m3)
}

/// The torque that was asked for, where it was met.
fn met_torque_n_m(reading: &Reading) -> Option<f64> {
    reading.settings.torque_n_m.filter(|_| reading.outcome == Outcome::Matched)
}

/// Powers of a reading, in W, and the fuel that each W of gross work takes.
struct Powers {
    brake_w: f64,
    pumping_w: f64,
    friction_w: f64,
    gross_w: f64,
    fuel_kg_j: f64,
}

impl Powers {
    /// Brake power is that of the torque asked for where it was met: what the search leaves between the two (below 1e-4) then
    /// counts as conversion, and an unchanged load has no row. Nothing where no work is done.
    fn of(reading: &Reading) -> Option<Self> {
        let torque_n_m = met_torque_n_m(reading).unwrap_or(reading.brake.torque_n_m);
        let brake_w = torque_n_m * reading.settings.speed_rpm * (PI / 30.0);
        let pumping_w = power_w(reading, reading.indicated.pumping_mep_pa);
        let friction_w = power_w(reading, reading.indicated.friction_mep_pa);
        let gross_w = brake_w + pumping_w + friction_w;
        let fuel_kg_j = reading.fuel_flow_kg_s / gross_w;
        (gross_w > 0.0 && fuel_kg_j.is_finite()).then_some(Self { brake_w, pumping_w, friction_w, gross_w, fuel_kg_j })
    }
}

/// The account from `pin` to `now`, both readings that hold.
///
/// Fuel where `now` holds torque and meets it (and both readings do work on their pistons), torque otherwise.
/// Torque: changes of gross, less pumping, less friction torque. Fuel is gross power P, which pays for brake, pumping and
/// friction, times the fuel g that each J of gross work takes; its change is divided by the midpoint rule, which is exact for
/// a product: `P2 g2 - P1 g1 = (P2 - P1)(g1 + g2)/2 + (P1 + P2)/2 (g2 - g1)`, the first term by what P pays for.
pub fn ledger(pin: &Reading, now: &Reading) -> Ledger {
    let row = |entry: Entry, part: f64| Row {
        entry,
        part,
        causes: causes(entry).iter().map(|q| Cause { quantity: *q, from: q.of(pin), to: q.of(now) }).collect(),
    };
    if met_torque_n_m(now).is_some()
        && let (Some(a), Some(b)) = (Powers::of(pin), Powers::of(now))
    {
        let price_kg_j = 0.5 * (a.fuel_kg_j + b.fuel_kg_j);
        let mut rows = vec![
            row(Entry::GasWork, 0.5 * (a.gross_w + b.gross_w) * (b.fuel_kg_j - a.fuel_kg_j)),
            row(Entry::Pumping, (b.pumping_w - a.pumping_w) * price_kg_j),
            row(Entry::Friction, (b.friction_w - a.friction_w) * price_kg_j),
        ];
        if a.brake_w != b.brake_w {
            rows.push(row(Entry::Load, (b.brake_w - a.brake_w) * price_kg_j));
        }
        return Ledger { currency: Currency::Fuel, from: pin.fuel_flow_kg_s, to: now.fuel_flow_kg_s, rows };
    }
    let change = |mep: fn(&Reading) -> f64| torque_n_m(now, mep(now)) - torque_n_m(pin, mep(pin));
    let rows = vec![
        row(Entry::GasWork, change(|r| r.indicated.gross_mep_pa)),
        row(Entry::Pumping, -change(|r| r.indicated.pumping_mep_pa)),
        row(Entry::Friction, -change(|r| r.indicated.friction_mep_pa)),
    ];
    Ledger { currency: Currency::Torque, from: pin.brake.torque_n_m, to: now.brake.torque_n_m, rows }
}

fn causes(entry: Entry) -> &'static [Quantity] {
    match entry {
        Entry::GasWork => &[Quantity::AirFuelRatio, Quantity::GrossEfficiency, Quantity::FuelPerCycle],
        Entry::Pumping => &[Quantity::PressureBalance, Quantity::ManifoldBalance, Quantity::ThroatArea],
        Entry::Friction => &[Quantity::PeakPressure, Quantity::EngineSpeed],
        Entry::Load => &[Quantity::BrakeTorque, Quantity::EngineSpeed],
    }
}
