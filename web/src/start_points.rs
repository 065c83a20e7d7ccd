//! Named places to start from on the bench: what an engine does in a day, as shares of its own range.
//!
//! The two built-in engines have points in the words of their work; any other engine has a list that fits all. Points are
//! given as shares, so that a changed range moves them along, and land where the sliders can stand. How boats and
//! vans are used is common practice, without a source; the shares are chosen.

use crate::state::{DIAL_VANE, Dial, dial_fuel, dial_speed, dial_torque};
use volute_core::engine::Engine;
use volute_core::point::reading::LimitName;
use volute_core::settings::{Load, REFERENCE_DAY, Settings};

/// A place to start from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StartPoint {
    /// Short name for links and tests; unique for an engine.
    pub id: &'static str,
    /// As the page writes it.
    pub name: &'static str,
    /// What the engine does there, in a sentence.
    pub says: &'static str,
    /// The limits that the point lies past, which `says` then tells. Empty for most.
    pub past: &'static [LimitName],
    /// Where the sliders stand, on the reference day; a caller that keeps the weather puts its own ambient air in.
    pub settings: Settings,
}

/// How a point holds the load.
#[derive(Debug, Clone, Copy)]
enum Share {
    /// Of the greatest torque asked of the engine.
    Torque(f64),
    /// Of the most fuel that the injector gives.
    Fuel(f64),
}

/// A point before it meets an engine: speed from the least (0) to the greatest (1), load, vanes in per cent open.
struct Plan {
    id: &'static str,
    name: &'static str,
    says: &'static str,
    past: &'static [LimitName],
    speed: f64,
    load: Share,
    vane: f64,
}

const fn plan(
    id: &'static str,
    name: &'static str,
    says: &'static str,
    (speed, load, vane): (f64, Share, f64),
) -> Plan {
    Plan { id, name, says, past: &[], speed, load, vane }
}

/// The workboat.
const BOAT: &[Plan] = &[
    plan(
        "idle",
        "Idle",
        "The engine turns itself and little else, alongside the quay.",
        (0.0, Share::Torque(0.03), 60.0),
    ),
    plan(
        "harbour",
        "Light load",
        "Slow through the harbour at a quarter of the torque.",
        (0.25, Share::Torque(0.25), 60.0),
    ),
    plan(
        "towing",
        "Towing hard",
        "Low speed and heavy load on the line: closing the vanes from here brings the compressor nearer to surge.",
        (0.17, Share::Torque(0.55), 60.0),
    ),
    plan(
        "headland",
        "Crossing a headland",
        "A head sea, heavy load at middling speed: with the vanes like this the intake stands above the exhaust.",
        (0.39, Share::Torque(0.85), 85.0),
    ),
    plan(
        "passage",
        "On passage",
        "Hours at a steady speed, where a little fuel saved is saved all day.",
        (0.61, Share::Torque(0.55), 90.0),
    ),
    plan(
        "rated",
        "Rated",
        "All that the engine is asked for, with the vanes wide open and the exhaust standing above the intake.",
        (0.945, Share::Torque(0.9), 100.0),
    ),
    Plan {
        past: &[LimitName::ShaftSpeed, LimitName::CompressorOutletTemperature, LimitName::ExhaustManifoldPressure],
        ..plan(
            "too-tight",
            "Rated, vanes too tight",
            "The fuel of the rated point with tighter vanes: more boost and less torque, with shaft speed, compressor-outlet temperature and exhaust-manifold pressure past their limits.",
            (0.945, Share::Fuel(0.72), 70.0),
        )
    },
];

/// The van.
const VAN: &[Plan] = &[
    plan(
        "idle",
        "Idle",
        "Standing with the engine running: it carries its own losses and the lights.",
        (0.0, Share::Torque(0.03), 60.0),
    ),
    plan("town", "In town", "Rolling along in traffic at light load.", (0.2, Share::Torque(0.2), 50.0)),
    plan(
        "pulling-away",
        "Pulling away, loaded",
        "Low speed and much torque asked for, and on the road the shaft still has to come up to speed.",
        (0.17, Share::Torque(0.55), 50.0),
    ),
    plan("motorway", "Motorway", "A steady speed on the level: part load for hours.", (0.5, Share::Torque(0.4), 80.0)),
    plan(
        "hill",
        "Hill with a trailer",
        "Heavy load at middling speed for minutes: heat has time to get everywhere.",
        (0.4, Share::Torque(0.85), 85.0),
    ),
    plan(
        "rated",
        "Rated",
        "The most power that the engine is asked for, with the vanes wide open.",
        (0.92, Share::Torque(0.78), 100.0),
    ),
];

/// Any other engine.
const ANY: &[Plan] = &[
    plan("idle", "Idle", "The engine turns itself and little else.", (0.0, Share::Torque(0.03), 60.0)),
    plan("light", "Light load", "A quarter of the torque at low speed.", (0.25, Share::Torque(0.25), 60.0)),
    plan("middle", "Middle", "Half the torque at half the speed range.", (0.5, Share::Torque(0.5), 85.0)),
    plan(
        "heavy",
        "Heavy at middling speed",
        "Most of the torque at less than half the speed range.",
        (0.4, Share::Torque(0.8), 85.0),
    ),
    plan(
        "fast",
        "Fast",
        "Three quarters of the torque near the greatest speed, vanes wide open.",
        (0.9, Share::Torque(0.75), 100.0),
    ),
];

/// The places to start from for an engine, from the lightest to the hardest.
pub fn start_points(engine: &Engine) -> Vec<StartPoint> {
    let plans = match engine.name.as_str() {
        "harbour-six" => BOAT,
        "van-four" => VAN,
        _ => ANY,
    };
    plans.iter().map(|plan| at(engine, plan)).collect()
}

fn at(engine: &Engine, plan: &Plan) -> StartPoint {
    let along = |dial: Dial, share: f64| dial.snap(dial.min + share * (dial.max - dial.min));
    let load = match plan.load {
        Share::Torque(share) => {
            Load::Torque { torque_n_m: dial_torque(engine).snap(share * engine.range.torque_max_n_m) }
        }
        Share::Fuel(share) => {
            Load::Fuel { fuel_kg_per_cycle: dial_fuel(engine).snap(share * engine.combustion.injector_limit_kg) }
        }
    };
    let settings = Settings {
        speed_rpm: along(dial_speed(engine), plan.speed),
        load,
        vane_open_pct: DIAL_VANE.snap(plan.vane),
        ambient: REFERENCE_DAY,
    };
    StartPoint { id: plan.id, name: plan.name, says: plan.says, past: plan.past, settings }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::words;
    use volute_core::engine::built_in;
    use volute_core::point::reading::{Outcome, Stability};
    use volute_core::point::steady;

    fn engines() -> Vec<Engine> {
        built_in::names().filter_map(built_in::engine).collect()
    }

    /// The built-in engines, and each again under a name that has no list of its own.
    fn all() -> Vec<Engine> {
        let strangers = engines().into_iter().map(|engine| Engine { name: "own".into(), ..engine });
        engines().into_iter().chain(strangers).collect()
    }

    #[test]
    fn identity_points_stand_where_sliders_can_stand() {
        for engine in all() {
            let points = start_points(&engine);
            let mut ids: Vec<&str> = points.iter().map(|p| p.id).collect();
            ids.sort_unstable();
            ids.dedup();
            assert!(ids.len() == points.len() && points.len() >= 5, "{}", engine.name);
            for p in points {
                let s = &p.settings;
                assert_eq!(s.check(&engine), Ok(()), "{}", p.id);
                assert_eq!(dial_speed(&engine).snap(s.speed_rpm), s.speed_rpm, "{}", p.id);
                assert_eq!(DIAL_VANE.snap(s.vane_open_pct), s.vane_open_pct, "{}", p.id);
                let (dial, load) = match s.load {
                    Load::Torque { torque_n_m } => (dial_torque(&engine), torque_n_m),
                    Load::Fuel { fuel_kg_per_cycle } => (dial_fuel(&engine), fuel_kg_per_cycle),
                };
                assert_eq!(dial.snap(load), load, "{}", p.id);
                assert!(p.says.ends_with('.') && !p.says.contains("  "), "{}", p.says);
            }
        }
    }

    #[test]
    fn identity_every_point_holds_and_crosses_only_the_limits_that_it_names() {
        for engine in all() {
            for p in start_points(&engine) {
                let reading = steady::solve(&engine, &p.settings).unwrap().reading;
                let place = format!("{} {}", engine.name, p.id);
                assert!(reading.holds && reading.stability != Stability::Unstable, "{place}: {:?}", reading.outcome);
                let expected =
                    if p.past.contains(&LimitName::ShaftSpeed) { Outcome::Overspeed } else { Outcome::Matched };
                assert_eq!(reading.outcome, expected, "{place}");
                let crossed: Vec<LimitName> = reading.limits.iter().filter(|l| l.crossed).map(|l| l.name).collect();
                assert_eq!(crossed, p.past, "{place}");
                for limit in p.past {
                    assert!(p.says.contains(words::limit_in_words(*limit)), "{place}: {limit:?}");
                }
            }
        }
    }

    /// What the sentences claim about the workboat.
    #[test]
    fn identity_the_boat_does_what_its_points_say() {
        let engine = engines().swap_remove(0);
        let points = start_points(&engine);
        let settings = |id| points.iter().find(|p| p.id == id).unwrap().settings;
        let read = |settings: Settings| steady::solve(&engine, &settings).unwrap().reading;
        assert!(read(settings("headland")).pressure_balance_pa > 0.0);
        let (rated, tight, towing) = (read(settings("rated")), read(settings("too-tight")), settings("towing"));
        assert!(rated.pressure_balance_pa < 0.0);
        assert!((tight.fuel_kg_per_cycle / rated.fuel_kg_per_cycle - 1.0).abs() < 0.01);
        assert!(tight.boost_pa > rated.boost_pa && tight.brake.torque_n_m < rated.brake.torque_n_m);
        let closer = Settings { vane_open_pct: towing.vane_open_pct - 20.0, ..towing };
        assert!(read(closer).compressor.surge_margin < read(towing).compressor.surge_margin);
    }
}
