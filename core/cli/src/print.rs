//! Answers for people: aligned tables, and a reading in the units of a workshop.

use crate::bench::MG_PER_KG;
use Column::{Left, Right};
use std::f64::consts::PI;
use std::io::{self, Write};
use volute_core::engine::Engine;
use volute_core::point::reading::{LimitName, LimitReading, Reading, Stability, Station};
use volute_core::settings::{Load, Settings};

/// Ice point, in K.
const ICE_K: f64 = 273.15;
const PA_PER_KPA: f64 = 1000.0;
const G_PER_KG: f64 = 1000.0;
const MM2_PER_M2: f64 = 1.0e6;

/// The head of a column, and the side on which its text stands: words left, numbers right.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Column<'a> {
    /// Words.
    Left(&'a str),
    /// Numbers.
    Right(&'a str),
}

/// A table of aligned columns.
#[derive(Debug)]
pub struct Table<'a> {
    columns: Vec<Column<'a>>,
    rows: Vec<Vec<String>>,
}

impl<'a> Table<'a> {
    /// A table with these columns and no rows yet.
    pub fn new(columns: impl Into<Vec<Column<'a>>>) -> Self {
        Self { columns: columns.into(), rows: Vec::new() }
    }

    /// Adds a row, with a cell for each column.
    pub fn row(&mut self, cells: Vec<String>) {
        self.rows.push(cells);
    }

    /// Writes heads and rows, indented by two. Heads that are all empty are left out.
    pub fn write(&self, out: &mut impl Write) -> io::Result<()> {
        let heads: Vec<String> = self.columns.iter().map(|(Left(head) | Right(head))| (*head).to_owned()).collect();
        let shown = heads.iter().any(|head| !head.is_empty());
        let lines: Vec<&Vec<String>> = shown.then_some(&heads).into_iter().chain(&self.rows).collect();
        let width = |column: usize| {
            lines.iter().filter_map(|line| line.get(column)).map(|cell| cell.chars().count()).max().unwrap_or(0)
        };
        let widths: Vec<usize> = (0..self.columns.len()).map(width).collect();
        for line in lines {
            let mut text = String::from(" ");
            for ((cell, column), width) in line.iter().zip(&self.columns).zip(&widths) {
                text += &match column {
                    Left(_) => format!(" {cell:<width$} "),
                    Right(_) => format!(" {cell:>width$} "),
                };
            }
            writeln!(out, "{}", text.trim_end())?;
        }
        Ok(())
    }
}

/// 1/min of a speed in rad/s.
pub fn rpm(rad_s: f64) -> f64 {
    rad_s * 30.0 / PI
}

/// A number with this many decimals. A zero has no sign.
pub fn fixed(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(zero) if zero.bytes().all(|byte| matches!(byte, b'0' | b'.')) => zero.to_owned(),
        _ => text,
    }
}

/// kPa, one decimal.
pub fn kpa(pa: f64) -> String {
    fixed(pa / PA_PER_KPA, 1)
}

/// Degrees Celsius, no decimal.
pub fn celsius(k: f64) -> String {
    fixed(k - ICE_K, 0)
}

/// A shaft speed as 1/min in thousands, one decimal.
pub fn thousand_rpm(rad_s: f64) -> String {
    format!("{:.1}", rpm(rad_s) / 1000.0)
}

/// Plain words for a limit.
pub fn limit_words(name: LimitName) -> &'static str {
    match name {
        LimitName::ShaftSpeed => "shaft speed",
        LimitName::SurgeMargin => "surge margin",
        LimitName::ChokeMargin => "choke margin",
        LimitName::TurbineInletTemperature => "turbine-inlet temperature",
        LimitName::CompressorOutletTemperature => "compressor-outlet temperature",
        LimitName::CylinderPressure => "cylinder pressure",
        LimitName::ExhaustManifoldPressure => "exhaust-manifold pressure",
        LimitName::AirFuelRatio => "air-fuel ratio (smoke limit)",
        LimitName::CoolantRise => "coolant rise",
    }
}

/// A value of that limit with its unit, as people write it.
fn limit_value(limit: &LimitReading, value: f64) -> String {
    match (limit.name, limit.unit) {
        // A difference of temperatures, not a temperature.
        (LimitName::CoolantRise, _) => format!("{value:.1} K"),
        (_, "K") => format!("{} °C", celsius(value)),
        (_, "Pa") if limit.limit >= 5.0e6 => format!("{:.1} MPa abs", value / 1.0e6),
        (_, "Pa") => format!("{} kPa abs", kpa(value)),
        (_, "rad/s") => format!("{:.0} 1/min", rpm(value)),
        (_, "m/s") => format!("{value:.0} m/s at the tip"),
        (LimitName::SurgeMargin | LimitName::ChokeMargin, _) => format!("{:.0} %", value * 100.0),
        (_, "") => format!("{value:.1}"),
        (_, unit) => format!("{value:.1} {unit}"),
    }
}

/// What is held, in four parts: speed, load, vanes, air.
pub fn settings_parts(settings: &Settings) -> [String; 4] {
    let load = match settings.load {
        Load::Torque { torque_n_m } => format!("{torque_n_m} N m held"),
        Load::Fuel { fuel_kg_per_cycle } => {
            format!("{:.1} mg of fuel held in each cylinder and cycle", fuel_kg_per_cycle * MG_PER_KG)
        }
    };
    let air = &settings.ambient;
    [
        format!("{} 1/min", settings.speed_rpm),
        load,
        format!("vanes {} % open", settings.vane_open_pct),
        format!(
            "outside {} kPa abs, {} °C, {:.0} % humidity",
            kpa(air.p_pa),
            fixed(air.t_k - ICE_K, 1),
            air.relative_humidity * 100.0
        ),
    ]
}

/// What is held, in one line.
pub fn settings_line(settings: &Settings) -> String {
    settings_parts(settings).join(", ")
}

/// What limits, and what the turbocharger does for the pistons, in sentences with numbers.
pub fn verdict(reading: &Reading) -> String {
    let told = |limit: &LimitReading, before: &str, after: &str| {
        let [value, most] = [limit.value, limit.limit].map(|value| limit_value(limit, value));
        format!("{}, {value} {before} {most}{after}", limit_words(limit.name))
    };
    let mut limits: Vec<&LimitReading> = reading.limits.iter().collect();
    limits.sort_by(|a, b| a.margin.total_cmp(&b.margin));
    let crossed: Vec<String> =
        limits.iter().filter(|limit| limit.crossed).map(|limit| told(limit, "where", " is the limit")).collect();
    let limits = match limits.first() {
        _ if !crossed.is_empty() => format!("Past its limit: {}. ", crossed.join("; ")),
        Some(nearest) => format!("Within all limits; the nearest is {}. ", told(nearest, "of", "")),
        None => String::new(),
    };
    let balance_kpa = reading.pressure_balance_pa / PA_PER_KPA;
    let pumping_n_m = reading.indicated.pumping_torque_n_m;
    let balance = if balance_kpa >= 0.0 {
        format!(
            "Compressor outlet stands {balance_kpa:.0} kPa above the exhaust manifold: the turbocharger helps the pistons breathe"
        )
    } else {
        format!(
            "The exhaust manifold stands {:.0} kPa above the compressor outlet: the pistons pump against it",
            -balance_kpa
        )
    };
    let pumping = if pumping_n_m >= 0.0 {
        format!("gas exchange takes {pumping_n_m:.0} N m from the crank")
    } else {
        format!("gas exchange gives {:.0} N m to the crank", -pumping_n_m)
    };
    format!("{limits}{balance}; {pumping}.")
}

fn percent(share: f64) -> String {
    format!("{:.1} %", share * 100.0)
}

fn kilowatt(w: f64) -> String {
    format!("{:.2} kW", w / 1000.0)
}

/// Writes the whole reading of a point that has a state.
pub fn reading(reading: &Reading, out: &mut impl Write) -> io::Result<()> {
    stations(reading, out)?;
    section("Air and load", &air_and_load(reading), out)?;
    section("Crank", &crank(reading), out)?;
    section("Turbocharger", &turbocharger(reading), out)?;
    section("Heat", &heat(reading), out)?;
    limits(reading, out)
}

/// A quantity's name and its value.
type Line = (&'static str, String);

fn air_and_load(r: &Reading) -> [Line; 8] {
    [
        ("boost (gauge: intake manifold above outside)", format!("{} kPa", kpa(r.boost_pa))),
        ("pressure balance p2 - p3", format!("{} kPa", kpa(r.pressure_balance_pa))),
        ("density ratio, intake manifold to compressor inlet", format!("{:.3}", r.density_ratio)),
        ("air flow", format!("{:.1} g/s", r.air_flow_kg_s * G_PER_KG)),
        ("fuel, each cylinder and cycle", format!("{:.2} mg", r.fuel_kg_per_cycle * MG_PER_KG)),
        ("fuel flow", format!("{:.2} kg/h", r.fuel_flow_kg_s * 3600.0)),
        ("air-fuel ratio", format!("{:.2}", r.air_fuel_ratio)),
        ("exhaust leak", format!("{:.1} g/s", r.exhaust_leak_kg_s * G_PER_KG)),
    ]
}

fn crank(r: &Reading) -> [Line; 9] {
    let (brake, i) = (&r.brake, &r.indicated);
    let pumping_kpa = kpa(i.pumping_mep_pa);
    let pumping = format!("{pumping_kpa} kPa, {:.1} N m, {}", i.pumping_torque_n_m, kilowatt(i.pumping_power_w));
    let (peak_mpa, peak_deg) = (i.peak_pressure_pa / 1.0e6, i.peak_pressure_deg);
    [
        ("brake torque", format!("{} N m", fixed(brake.torque_n_m, 1))),
        ("brake power", kilowatt(brake.power_w)),
        ("brake mean effective pressure", format!("{} kPa", kpa(brake.mep_pa))),
        ("brake efficiency", percent(brake.efficiency)),
        ("indicated, compression and expansion strokes", format!("{} kPa", kpa(i.gross_mep_pa))),
        ("pumping loss (negative: a gain)", pumping),
        ("friction and auxiliaries", format!("{} kPa", kpa(i.friction_mep_pa))),
        ("peak cylinder pressure", format!("{peak_mpa:.2} MPa abs, {peak_deg:.0} degrees after top dead centre")),
        ("volumetric efficiency", percent(i.volumetric_efficiency)),
    ]
}

fn turbocharger(r: &Reading) -> [Line; 10] {
    let (shaft, c, t) = (&r.shaft, &r.compressor, &r.turbine);
    let (shaft_rpm, tip_m_s) = (rpm(shaft.speed_rad_s), c.tip_speed_m_s);
    let choked = if t.choked { ", vanes choked" } else { "" };
    let (open_pct, area_mm2) = (t.vane_open_pct, t.throat_area_m2 * MM2_PER_M2);
    [
        ("shaft", format!("{shaft_rpm:.0} 1/min, {tip_m_s:.0} m/s at the compressor's tip")),
        ("compressor power", kilowatt(c.power_w)),
        ("compressor efficiency", percent(c.efficiency)),
        ("compressor pressure ratio, density ratio", format!("{:.3}, {:.3}", c.pressure_ratio, c.density_ratio)),
        ("surge margin, choke margin", format!("{}, {}", percent(c.surge_margin), percent(c.choke_margin))),
        ("turbine power", kilowatt(t.power_w)),
        ("turbine efficiency", percent(t.efficiency)),
        ("turbine expansion ratio", format!("{:.3}{choked}", t.expansion_ratio)),
        ("vanes stand at, effective nozzle area", format!("{open_pct:.1} % open, {area_mm2:.0} mm2")),
        ("bearing loss", kilowatt(shaft.bearing_loss_w)),
    ]
}

fn heat(r: &Reading) -> [Line; 7] {
    let h = &r.heat;
    [
        ("to the coolant", format!("{}, which rises by {:.1} K", kilowatt(h.coolant_w), h.coolant_rise_k)),
        ("gas to the cylinder walls", kilowatt(h.walls_w)),
        ("charge air to its cooler", kilowatt(h.charge_cooler_w)),
        ("exhaust ports and manifold", kilowatt(h.exhaust_manifold_w)),
        ("friction and auxiliaries", kilowatt(h.friction_w)),
        ("exhaust gas behind the turbine", kilowatt(h.exhaust_gas_w)),
        ("exhaust gas that leaks", kilowatt(h.exhaust_leak_w)),
    ]
}

fn section(title: &str, lines: &[Line], out: &mut impl Write) -> io::Result<()> {
    writeln!(out, "\n{title}")?;
    let mut table = Table::new([Left(""), Left("")]);
    for (what, value) in lines {
        table.row(vec![(*what).to_owned(), value.clone()]);
    }
    table.write(out)
}

fn stations(reading: &Reading, out: &mut impl Write) -> io::Result<()> {
    writeln!(out, "\nAir path (pressures absolute, means over the cycle)")?;
    let mut table = Table::new([
        Left("station"),
        Right("kPa abs"),
        Right("°C"),
        Right("kg/m3"),
        Right("g/s"),
        Right("burned fuel %"),
    ]);
    let s = &reading.stations;
    let mut rows: Vec<(&str, &Station)> = vec![
        ("1  compressor inlet", &s.compressor_inlet),
        ("2  compressor outlet", &s.compressor_outlet),
        ("   charge-cooler outlet", &s.charge_cooler_outlet),
        ("   intake manifold", &s.intake_manifold),
        ("3  turbine inlet (exhaust manifold)", &s.turbine_inlet),
        ("4  turbine outlet", &s.turbine_outlet),
    ];
    if reading.exhaust_leak_kg_s > 0.0 {
        rows.push(("   exhaust leak, to the ambient air", &s.exhaust_leak));
    }
    for (name, station) in rows {
        table.row(vec![
            name.to_owned(),
            kpa(station.p_pa),
            celsius(station.t_k),
            format!("{:.3}", station.density_kg_m3),
            format!("{:.1}", station.mass_flow_kg_s * G_PER_KG),
            format!("{:.2}", station.burned_fuel_fraction * 100.0),
        ]);
    }
    table.write(out)
}

fn limits(reading: &Reading, out: &mut impl Write) -> io::Result<()> {
    writeln!(out, "\nLimits (of this invented engine)")?;
    let mut table = Table::new([Left("what"), Right("now"), Right("limit"), Right("margin"), Left("")]);
    for limit in &reading.limits {
        table.row(vec![
            limit_words(limit.name).to_owned(),
            limit_value(limit, limit.value),
            limit_value(limit, limit.limit),
            format!("{:.0} %", limit.margin * 100.0),
            if limit.crossed { "CROSSED" } else { "" }.to_owned(),
        ]);
    }
    table.write(out)?;
    match reading.stability {
        Stability::Stable => Ok(()),
        Stability::StableNearSurge => writeln!(out, "  Near surge, but a disturbance dies out."),
        Stability::Unstable => {
            writeln!(out, "  Near surge, and a disturbance grows: these steady numbers would not stay.")
        }
    }
}

/// Engine and settings above an answer.
pub fn head(engine: &Engine, settings: &Settings, out: &mut impl Write) -> io::Result<()> {
    writeln!(out, "{}: {}", engine.name, engine.title)?;
    writeln!(out, "{}", settings_line(settings))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn text(table: &Table) -> String {
        let mut out = Vec::new();
        table.write(&mut out).expect("a vector takes everything");
        String::from_utf8(out).expect("text")
    }

    #[test]
    fn by_hand_columns_line_up_also_with_signs_of_several_bytes() {
        let mut table = Table::new([Left("what"), Right("°C")]);
        table.row(vec!["Kühler".to_owned(), "7".to_owned()]);
        table.row(vec!["x".to_owned(), "123".to_owned()]);
        assert_eq!(text(&table), "  what     °C\n  Kühler    7\n  x       123\n");
    }

    #[test]
    fn by_hand_a_zero_has_no_sign() {
        assert_eq!([fixed(-0.04, 1), fixed(-0.06, 1), fixed(-0.0, 0), fixed(0.5, 2)], ["0.0", "-0.1", "0", "0.50"]);
    }

    #[test]
    fn by_hand_a_table_without_heads_has_no_empty_line() {
        let mut table = Table::new([Left(""), Left("")]);
        table.row(vec!["a".to_owned(), "b".to_owned()]);
        assert_eq!(text(&table), "  a  b\n");
    }

    #[test]
    fn by_hand_a_difference_of_temperature_is_not_shifted() {
        let limit = |name, unit, value| LimitReading { name, value, limit: value, unit, margin: 0.0, crossed: false };
        let shown = |limit: LimitReading| limit_value(&limit, limit.value);
        assert_eq!(shown(limit(LimitName::CoolantRise, "K", 7.5)), "7.5 K");
        assert_eq!(shown(limit(LimitName::TurbineInletTemperature, "K", 1033.15)), "760 °C");
        assert_eq!(shown(limit(LimitName::CylinderPressure, "Pa", 20.5e6)), "20.5 MPa abs");
        assert_eq!(shown(limit(LimitName::ExhaustManifoldPressure, "Pa", 4.5e5)), "450.0 kPa abs");
        assert_eq!(shown(limit(LimitName::SurgeMargin, "", 0.1)), "10 %");
        assert_eq!(shown(limit(LimitName::AirFuelRatio, "", 18.0)), "18.0");
    }
}
