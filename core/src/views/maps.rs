//! Compressor map and turbine map as curves, for drawing.
//!
//! Every number comes from the functions that the cycle calls at each instant, so what is drawn is what is computed. The
//! compressor's axes are flow corrected to [`REFERENCE_K`] and [`REFERENCE_PA`] and total pressure ratio: on these axes the map
//! does not move with filter loss or ambient pressure, and hardly with temperature (heat capacity and humidity remain).
//! A reading is a mean over a cycle, so its point lies beside the curves by what pulsation does to a mean; the tests say how
//! much. Left out: the map left of the surge line, where only a surging compressor works.

use crate::engine::Engine;
use crate::gas::{Ambient, flow};
use crate::math;
use crate::parts::compressor::SpeedLine;
use crate::parts::turbine::Nozzle;
use crate::parts::vanes;
use crate::plant::Plant;
use crate::plant::deliver::{Compressed, compress};
use crate::plant::expand::{ExhaustGas, expand};
use crate::point::reading::Reading;
use alloc::vec::Vec;
use serde::Serialize;

/// Temperature of the reference state, in K: the bench's reference day.
pub const REFERENCE_K: f64 = 298.15;
/// Pressure of the reference state, in Pa: the bench's reference day.
pub const REFERENCE_PA: f64 = 1.0e5;

/// A place on the compressor map.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Place {
    /// `W sqrt(T1/Tref) pref/p1`, in kg/s.
    pub corrected_flow_kg_s: f64,
    /// p2/p1, total.
    pub pressure_ratio: f64,
}

/// A line of constant corrected speed, from the surge line to where no head is left.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CompressorLine {
    /// Tip speed times `sqrt(Tref/T1)`, in m/s.
    pub corrected_tip_speed_m_s: f64,
    /// Shaft speed times `sqrt(Tref/T1)`, in rad/s.
    pub corrected_speed_rad_s: f64,
    /// Whether the wheel turns past its tip-speed limit there, on this day.
    pub beyond_limit: bool,
    /// Places, of rising flow.
    pub places: Vec<Place>,
}

/// Where efficiency is at least so much.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Island {
    /// Isentropic efficiency, total to total, on its shore.
    pub efficiency: f64,
    /// Its shores: closed, so the last place is the first. Where the map ends (surge, choke, slowest and fastest line), the
    /// shore runs along its end.
    pub shores: Vec<Vec<Place>>,
}

/// The compressor map of an engine on a day.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CompressorChart {
    /// About eight lines at round tip speeds, the last one past the limit.
    pub lines: Vec<CompressorLine>,
    /// Left end of the lines, from slow to fast.
    pub surge: Vec<Place>,
    /// Where the choke margin is zero, from slow to fast.
    pub choke: Vec<Place>,
    /// From low to high efficiency, in steps of [`ISLAND_STEP`].
    pub islands: Vec<Island>,
    /// Greatest efficiency, and where.
    pub best: (f64, Place),
}

/// Step of the islands' efficiencies.
pub const ISLAND_STEP: f64 = 0.05;
/// Efficiency of the lowest island.
pub const ISLAND_FROM: f64 = 0.50;

/// Round tip speeds between two lines, in m/s; the least that makes eight lines or fewer up to the limit is taken.
const LINE_STEPS_M_S: [f64; 8] = [30.0, 40.0, 50.0, 60.0, 70.0, 80.0, 90.0, 100.0];
/// Places on a speed line, and on surge and choke line. Chosen: no corner shows at the size of a screen.
const LINE_PLACES: usize = 41;
/// Grid of the islands: speeds, and places from surge to choke. Chosen: shores are then true to 0.002 of efficiency.
const GRID: (usize, usize) = (33, 49);

/// The wheel on a day, without the filter.
struct Wheel {
    plant: Plant,
    /// `sqrt(T1/Tref)`.
    root: f64,
}

impl Wheel {
    fn new(engine: &Engine, ambient: &Ambient) -> Self {
        Self { plant: Plant::new(engine, ambient), root: math::sqrt(ambient.t_k / REFERENCE_K) }
    }

    fn line(&self, corrected_tip_speed_m_s: f64) -> SpeedLine {
        let map = &self.plant.turbocharger.compressor;
        self.plant.speed_line(map.shaft_rad_s(corrected_tip_speed_m_s * self.root))
    }

    /// Flow of a flow coefficient, and the air behind the wheel.
    fn at(&self, line: &SpeedLine, phi: f64) -> (f64, Compressed) {
        let (map, inlet) = (&self.plant.turbocharger.compressor, self.plant.inlet);
        let flow_kg_s = line.flow_kg_s(map, &inlet, phi);
        (flow_kg_s, compress(map, line, inlet, flow_kg_s))
    }

    fn place(&self, line: &SpeedLine, phi: f64) -> Place {
        let (flow_kg_s, air) = self.at(line, phi);
        let corrected_flow_kg_s = flow_kg_s * self.root * REFERENCE_PA / air.inlet.p_pa;
        Place { corrected_flow_kg_s, pressure_ratio: air.point.pressure_ratio }
    }

    /// Isentropic efficiency as a reading defines it: by entropy, with real heat capacities.
    fn efficiency(&self, line: &SpeedLine, phi: f64) -> f64 {
        let (gas, t1_k) = (&self.plant.gas, self.plant.inlet.t_k);
        let (flow_kg_s, air) = self.at(line, phi);
        let ideal_k = gas.isentropic_t_k(t1_k, 0.0, air.point.pressure_ratio);
        (gas.h_j_kg(ideal_k, 0.0) - gas.h_j_kg(t1_k, 0.0)) * flow_kg_s / air.point.power_w
    }
}

/// Corrected tip speed of a reading, in m/s.
pub fn corrected_tip_speed_m_s(reading: &Reading) -> f64 {
    reading.compressor.tip_speed_m_s * math::sqrt(REFERENCE_K / reading.stations.compressor_inlet.t_k)
}

/// Where a reading lies on the compressor map.
pub fn compressor_place(reading: &Reading) -> Place {
    let inlet = &reading.stations.compressor_inlet;
    Place {
        corrected_flow_kg_s: inlet.mass_flow_kg_s * math::sqrt(inlet.t_k / REFERENCE_K) * REFERENCE_PA / inlet.p_pa,
        pressure_ratio: reading.compressor.pressure_ratio,
    }
}

/// One speed line of an engine on a day, such as that of a reading.
pub fn compressor_line(engine: &Engine, ambient: &Ambient, corrected_tip_speed_m_s: f64) -> CompressorLine {
    line_of(&Wheel::new(engine, ambient), corrected_tip_speed_m_s)
}

fn line_of(wheel: &Wheel, corrected_tip_speed_m_s: f64) -> CompressorLine {
    let (map, limits) = (&wheel.plant.turbocharger.compressor, &wheel.plant.engine.limits);
    let line = wheel.line(corrected_tip_speed_m_s);
    let width = line.choke_flow - line.surge_flow;
    // The line goes on along its tangent, which ends at no head a little beyond choke.
    let from = line.surge_flow + map.tangent_from * width;
    let (head, slope) = line.head(map, from);
    let end = from - head / slope;
    let places = (0..LINE_PLACES)
        .map(|i| {
            // Closer together toward choke, where the line bends most.
            let left = 1.0 - i as f64 / (LINE_PLACES - 1) as f64;
            wheel.place(&line, end - (end - line.surge_flow) * left * left)
        })
        .collect();
    CompressorLine {
        corrected_tip_speed_m_s,
        corrected_speed_rad_s: map.shaft_rad_s(corrected_tip_speed_m_s),
        beyond_limit: corrected_tip_speed_m_s * wheel.root > limits.tip_speed_m_s,
        places,
    }
}

/// The compressor map of an engine on a day.
pub fn compressor_chart(engine: &Engine, ambient: &Ambient) -> CompressorChart {
    let wheel = Wheel::new(engine, ambient);
    let limit_m_s = engine.limits.tip_speed_m_s / wheel.root;
    let step_m_s = LINE_STEPS_M_S.into_iter().find(|step| limit_m_s <= 8.0 * step).unwrap_or(LINE_STEPS_M_S[7]);
    let count = math::floor(limit_m_s / step_m_s) as usize + 1;
    let (slow_m_s, fast_m_s) = (step_m_s, step_m_s * count as f64);
    let lines = (1..=count).map(|k| line_of(&wheel, step_m_s * k as f64)).collect();
    let speed = |share: f64| slow_m_s + (fast_m_s - slow_m_s) * share;
    let border = |phi: fn(&SpeedLine) -> f64| {
        (0..LINE_PLACES)
            .map(|i| {
                let line = wheel.line(speed(i as f64 / (LINE_PLACES - 1) as f64));
                wheel.place(&line, phi(&line))
            })
            .collect()
    };

    let hill = Hill::new(&wheel, slow_m_s, fast_m_s);
    let best = hill.best();
    let place = |at: (f64, f64)| {
        let (line, phi) = hill.at(&wheel, at);
        wheel.place(&line, phi)
    };
    let level = |k: usize| ISLAND_FROM + ISLAND_STEP * k as f64;
    let islands = (0..20)
        .map(level)
        .take_while(|level| *level < best.1)
        .map(|efficiency| Island {
            efficiency,
            shores: shores(&hill.values, GRID.0, GRID.1, efficiency)
                .into_iter()
                .map(|shore| shore.into_iter().map(place).collect())
                .collect(),
        })
        .collect();
    CompressorChart {
        lines,
        surge: border(|line| line.surge_flow),
        choke: border(|line| line.choke_flow),
        islands,
        best: (best.1, place(best.0)),
    }
}

/// Efficiency over two shares: of the way from the slowest line to the fastest, and from surge to choke. There the map is a
/// rectangle, so every island ends where the map does.
struct Hill {
    slow_m_s: f64,
    fast_m_s: f64,
    /// Row by row, a row a speed.
    values: Vec<f64>,
}

impl Hill {
    fn new(wheel: &Wheel, slow_m_s: f64, fast_m_s: f64) -> Self {
        let mut hill = Self { slow_m_s, fast_m_s, values: Vec::with_capacity(GRID.0 * GRID.1) };
        for i in 0..GRID.0 {
            for j in 0..GRID.1 {
                let (line, phi) = hill.at(wheel, (i as f64, j as f64));
                hill.values.push(wheel.efficiency(&line, phi));
            }
        }
        hill
    }

    /// Speed line and flow coefficient at a row and a column, whole or between.
    fn at(&self, wheel: &Wheel, (row, column): (f64, f64)) -> (SpeedLine, f64) {
        let share = |i: f64, count: usize| i / (count - 1) as f64;
        let line = wheel.line(self.slow_m_s + (self.fast_m_s - self.slow_m_s) * share(row, GRID.0));
        // Closer together toward choke, where efficiency falls fastest.
        let left = 1.0 - share(column, GRID.1);
        let phi = line.choke_flow - (line.choke_flow - line.surge_flow) * left * left;
        // Rounding must not lead across the surge line, where another law begins.
        (line, phi.max(line.surge_flow))
    }

    /// The greatest value, behind its row and column.
    fn best(&self) -> ((f64, f64), f64) {
        let mut best = (0, f64::NEG_INFINITY);
        for (k, value) in self.values.iter().enumerate() {
            if *value > best.1 {
                best = (k, *value);
            }
        }
        (((best.0 / GRID.1) as f64, (best.0 % GRID.1) as f64), best.1)
    }
}

/// Closed lines around where a grid of `values` (row by row) is at least `level`, in rows and columns.
///
/// Marching squares with the grid's surroundings taken as lower than any level: every line closes, along the grid's rim where
/// it must. Each runs with the higher ground on one side, so each edge that it crosses has one successor.
/// Long because walking needs the numbering of the edges that finding them made.
fn shores(values: &[f64], rows: usize, columns: usize, level: f64) -> Vec<Vec<(f64, f64)>> {
    const NONE: usize = usize::MAX;
    let (tall, wide) = (rows + 2, columns + 2);
    let value = |i: usize, j: usize| {
        let inside = 1 <= i && i <= rows && 1 <= j && j <= columns;
        if inside { values[(i - 1) * columns + (j - 1)] } else { f64::NEG_INFINITY }
    };
    // An edge is the node at its beginning and its direction: 0 to the next row, 1 to the next column.
    let edge = |i: usize, j: usize, direction: usize| 2 * (i * wide + j) + direction;
    let mut next = alloc::vec![NONE; 2 * tall * wide];
    for i in 0..tall - 1 {
        for j in 0..wide - 1 {
            let corners = [value(i, j), value(i + 1, j), value(i + 1, j + 1), value(i, j + 1)];
            let edges = [edge(i, j, 0), edge(i + 1, j, 1), edge(i, j + 1, 0), edge(i, j, 1)];
            let high = corners.map(|corner| corner >= level);
            let crossed = (0..4).filter(|k| high[*k] != high[(k + 1) % 4]).count();
            let middle = 0.25 * corners.iter().sum::<f64>() >= level;
            for k in 0..4 {
                // Around the cell, where it goes from high to low a line begins...
                if !high[k] || high[(k + 1) % 4] {
                    continue;
                }
                // ...and ends where it goes from low to high: with two high corners across, the one that leaves the middle
                // on the side where it belongs.
                let ends = |n: &usize| !high[n % 4] && high[(n + 1) % 4];
                let end =
                    if crossed == 4 && !middle { (k + 1..k + 4).rev().find(ends) } else { (k + 1..k + 4).find(ends) };
                if let Some(end) = end {
                    next[edges[k]] = edges[end % 4];
                }
            }
        }
    }
    let crossing = |edge: usize| {
        let (node, direction) = (edge / 2, edge % 2);
        let (i, j) = (node / wide, node % wide);
        let (di, dj) = if direction == 0 { (1, 0) } else { (0, 1) };
        let (a, b) = (value(i, j), value(i + di, j + dj));
        // Beside the grid there is nothing to interpolate: the rim itself.
        let share = match (a.is_finite(), b.is_finite()) {
            (true, true) => (level - a) / (b - a),
            (true, false) => 0.0,
            _ => 1.0,
        };
        let at = |from: usize, step: usize, count: usize| {
            (from as f64 - 1.0 + share * step as f64).clamp(0.0, (count - 1) as f64)
        };
        (at(i, di, rows), at(j, dj, columns))
    };
    let mut lines = Vec::new();
    for start in 0..next.len() {
        let mut line: Vec<(f64, f64)> = Vec::new();
        let mut at = start;
        while next[at] != NONE {
            let place = crossing(at);
            if line.last() != Some(&place) {
                line.push(place);
            }
            at = core::mem::replace(&mut next[at], NONE);
        }
        if let Some(first) = line.first().copied()
            && line.len() > 2
        {
            if line.last() != Some(&first) {
                line.push(first);
            }
            lines.push(line);
        }
    }
    lines
}

/// A place on the turbine's flow map.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct FlowPlace {
    /// p3/p4.
    pub expansion_ratio: f64,
    /// `W sqrt(T3)/p3`, in kg/s sqrt(K)/Pa.
    pub flow_parameter: f64,
}

/// A place on the turbine's efficiency map.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct EfficiencyPlace {
    /// p3/p4.
    pub expansion_ratio: f64,
    /// Isentropic efficiency, total to static.
    pub efficiency: f64,
}

/// The turbine at one vane position.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct VaneCurve {
    /// Vane position, 0 tightest, 100 fully open.
    pub vane_open_pct: f64,
    /// Flow over expansion ratio, from 1 to [`EXPANSION_TO`], or a little past the reading's own where that is greater.
    pub flow: Vec<FlowPlace>,
    /// Efficiency over expansion ratio, from where the wheel begins to be driven. Empty where it never is at this speed.
    pub efficiency: Vec<EfficiencyPlace>,
    /// Expansion ratio from which the nozzle is choked.
    pub chokes_at: f64,
}

/// Expansion ratio to which the turbine map goes at least.
pub const EXPANSION_TO: f64 = 4.0;
/// Expansion ratios on a curve.
const EXPANSIONS: usize = 49;

/// Turbine map of a reading: vane positions 0, 20, ... 100 % at its tip speed, inlet temperature and gas.
pub fn turbine_chart(engine: &Engine, reading: &Reading) -> Vec<VaneCurve> {
    (0..=5).map(|k| turbine_curve(engine, reading, 20.0 * f64::from(k))).collect()
}

/// Where a reading lies on the turbine's flow map.
pub fn turbine_place(reading: &Reading) -> FlowPlace {
    FlowPlace { expansion_ratio: reading.turbine.expansion_ratio, flow_parameter: reading.turbine.flow_parameter }
}

/// A turbine at a reading's tip speed, inlet temperature and gas, at one vane position.
struct VanedTurbine {
    plant: Plant,
    nozzle: Nozzle,
    tip_speed_m_s: f64,
    t3_k: f64,
    x: f64,
    p4_pa: f64,
}

/// What a turbine does at one expansion ratio.
#[derive(Default)]
struct Expansion {
    flow_parameter: f64,
    work_j_kg: f64,
    drop_j_kg: f64,
    gamma: f64,
}

impl VanedTurbine {
    /// Heat capacities are those of the mean temperature of the expansion, as in the cycle: a small loop that soon settles.
    fn at(&self, expansion_ratio: f64) -> Expansion {
        let gas = &self.plant.gas;
        let (t_k, r_j_kg_k, x) = (self.t3_k, gas.r_j_kg_k(self.x), self.x);
        let from = ExhaustGas { p_pa: self.p4_pa * expansion_ratio, t_k, r_j_kg_k, x };
        let cp_j_kg_k = gas.cp_j_kg_k(t_k, x);
        let mut t4_k = t_k;
        let mut found = Expansion::default();
        for _ in 0..6 {
            let point = expand(&self.nozzle, self.tip_speed_m_s, gas, &from, self.p4_pa, t4_k);
            let gamma = from.inlet(gas, t4_k).gamma;
            if point.flow_kg_s <= 0.0 {
                return Expansion { gamma, ..Expansion::default() };
            }
            let work_j_kg = point.power_w / point.flow_kg_s;
            let flow_parameter = point.flow_kg_s * math::sqrt(t_k) / from.p_pa;
            t4_k = t_k - work_j_kg / cp_j_kg_k;
            found = Expansion { flow_parameter, work_j_kg, drop_j_kg: point.isentropic_drop_j_kg, gamma };
        }
        found
    }
}

/// The turbine at one vane position and a reading's tip speed, inlet temperature and gas.
pub fn turbine_curve(engine: &Engine, reading: &Reading, vane_open_pct: f64) -> VaneCurve {
    let station = &reading.stations.turbine_inlet;
    let turbine = VanedTurbine {
        plant: Plant::new(engine, &reading.ambient),
        nozzle: Nozzle::at(&engine.turbine, vanes::position(vane_open_pct)),
        tip_speed_m_s: engine.turbine.tip_speed_m_s(reading.shaft.speed_rad_s),
        t3_k: station.t_k,
        x: station.burned_fuel_fraction,
        p4_pa: reading.stations.turbine_outlet.p_pa,
    };
    let at = |expansion_ratio: f64| turbine.at(expansion_ratio);
    // Closer together toward no expansion, where flow rises as its root.
    let end = EXPANSION_TO.max(1.05 * reading.turbine.expansion_ratio);
    let ratio = |from: f64, i: usize| {
        let share = i as f64 / (EXPANSIONS - 1) as f64;
        from + (end - from) * share * share
    };
    let flow = (0..EXPANSIONS)
        .map(|i| ratio(1.0, i))
        .map(|expansion_ratio| FlowPlace { expansion_ratio, flow_parameter: at(expansion_ratio).flow_parameter })
        .collect();
    let least = 1.0 + 1e-4;
    let work = |expansion_ratio: f64| at(expansion_ratio).work_j_kg;
    let efficiency = if work(end) <= 0.0 {
        Vec::new()
    } else {
        let from = if work(least) >= 0.0 { least } else { math::root(least, end, 1e-10, work) };
        (0..EXPANSIONS)
            .map(|i| ratio(from, i))
            .map(|expansion_ratio| {
                let there = at(expansion_ratio);
                EfficiencyPlace { expansion_ratio, efficiency: there.work_j_kg / there.drop_j_kg }
            })
            .collect()
    };
    // Half of the expansion, in logarithm, is the nozzle's.
    let chokes_at = math::root(2.0, 6.0, 1e-10, |expansion_ratio| {
        math::sqrt(1.0 / expansion_ratio) - flow::critical_ratio(at(expansion_ratio).gamma)
    });
    VaneCurve { vane_open_pct, flow, efficiency, chokes_at }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn identity_efficiency_on_a_shore_is_the_islands() {
        for name in crate::engine::built_in::names() {
            let engine = crate::engine::built_in::engine(name).expect("built in");
            for (t_k, relative_humidity) in [(298.15, 0.0), (263.15, 0.4), (318.15, 0.9)] {
                let wheel = Wheel::new(&engine, &Ambient { p_pa: 9.0e4, t_k, relative_humidity });
                let hill = Hill::new(&wheel, 60.0, 1.15 * engine.limits.tip_speed_m_s);
                for level in [0.5, 0.6, 0.7, 0.75] {
                    let lines = shores(&hill.values, GRID.0, GRID.1, level);
                    assert!(!lines.is_empty());
                    for (row, column) in lines.into_iter().flatten() {
                        let (line, phi) = hill.at(&wheel, (row, column));
                        assert!(line.surge_flow <= phi && phi <= line.choke_flow);
                        let there = wheel.efficiency(&line, phi);
                        let ends = |x: f64, count: usize| x == 0.0 || x == (count - 1) as f64;
                        let at = alloc::format!("{there} at {row}, {column} on {level}: {name}, {t_k} K");
                        if ends(row, GRID.0) || ends(column, GRID.1) {
                            assert!(there > level - 0.002, "{at}");
                        } else {
                            assert!(math::fabs(there - level) < 0.002, "{at}");
                        }
                    }
                }
            }
        }
    }

    #[test]
    fn by_hand_one_hill_has_one_shore_and_a_saddle_two_or_one() {
        // A lone node of height 2: a diamond half way to its neighbours.
        let hill = [0.0, 0.0, 0.0, 0.0, 2.0, 0.0, 0.0, 0.0, 0.0];
        let lines = shores(&hill, 3, 3, 1.0);
        assert_eq!(lines.len(), 1);
        let mut places = lines[0].clone();
        assert_eq!(places.first(), places.last());
        places.pop();
        places.sort_by(|a, b| a.partial_cmp(b).expect("numbers"));
        assert_eq!(places, [(0.5, 1.0), (1.0, 0.5), (1.0, 1.5), (1.5, 1.0)]);
        // Two peaks across: joined where the middle is high, apart where it is low.
        assert_eq!(shores(&[2.0, 0.5, 0.5, 2.0], 2, 2, 1.0).len(), 1);
        assert_eq!(shores(&[2.0, 0.0, 0.0, 1.1], 2, 2, 1.0).len(), 2);
        // All high: the rim. All low: nothing.
        let lines = shores(&[2.0; 4], 2, 2, 1.0);
        assert_eq!((lines.len(), lines[0].len()), (1, 5));
        assert!(shores(&[0.0; 4], 2, 2, 1.0).is_empty());
        // A hole has a shore of its own.
        let ring = [2.0, 2.0, 2.0, 2.0, 0.0, 2.0, 2.0, 2.0, 2.0];
        assert_eq!(shores(&ring, 3, 3, 1.0).len(), 2);
    }
}
