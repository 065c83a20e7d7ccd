//! A reading in sentences: verdict, limits, and what each drawing shows. Plain, present tense, numbers in the sentence.

use crate::units::{Quantity, UnitSystem, number};
use crate::words;
use volute_core::ledger::{Currency, Entry, Ledger};
use volute_core::reading::{LimitName, LimitReading, Outcome, Reading, Stability};

/// Two pressures within this of each other stand level for a reader of the manometer. Chosen: 4 kPa, about a line's width.
const LEVEL_PA: f64 = 4e3;

/// A change of torque or fuel below this share is no change that a learner should chase. Chosen: 0.15 %.
const HARDLY: f64 = 1.5e-3;

/// Which stamp the verdict carries.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stamp {
    /// Intake above exhaust.
    Helps,
    /// Exhaust above intake.
    Hinders,
    /// Level.
    BreakEven,
    /// No state holds at these settings.
    NoPoint,
}

impl Stamp {
    /// As printed.
    pub fn word(self) -> &'static str {
        match self {
            Stamp::Helps => words::HELPS,
            Stamp::Hinders => words::HINDERS,
            Stamp::BreakEven => words::BREAK_EVEN,
            Stamp::NoPoint => words::NO_POINT,
        }
    }

    /// As the style sheet and the tests know it.
    pub fn key(self) -> &'static str {
        match self {
            Stamp::Helps => "help",
            Stamp::Hinders => "hinder",
            Stamp::BreakEven => "even",
            Stamp::NoPoint => "none",
        }
    }

    /// The stamp of a reading that holds.
    pub fn of(reading: &Reading) -> Self {
        match reading.pressure_balance_pa {
            b if b.abs() < LEVEL_PA => Stamp::BreakEven,
            b if b > 0.0 => Stamp::Helps,
            _ => Stamp::Hinders,
        }
    }
}

/// What is read on the bench, for a verdict.
#[derive(Debug, Clone, Copy)]
pub struct Sight<'a> {
    /// The reading that is drawn: of these settings, or the last that holds.
    pub shown: Option<&'a Reading>,
    /// How these settings ended.
    pub outcome: Option<Outcome>,
    /// Whether `shown` belongs to these settings.
    pub holds: bool,
    /// The same question with the vanes a step to either side.
    pub sides: Sides<'a>,
    /// The same steps with the other quantity held; empty while that is not known.
    pub other: Sides<'a>,
    /// Where the vanes are stuck, if they are.
    pub stuck_open_pct: Option<f64>,
}

/// Readings with the vanes a step to either side; nothing where nobody asked.
#[derive(Debug, Clone, Copy, Default)]
pub struct Sides<'a> {
    /// Tighter.
    pub tighter: Option<&'a Reading>,
    /// Wider.
    pub wider: Option<&'a Reading>,
}

/// The verdict: stamp, first clause in bold, the rest.
#[derive(Debug, Clone, PartialEq)]
pub struct Verdict {
    /// The stamp.
    pub stamp: Stamp,
    /// In bold.
    pub lead: String,
    /// The rest.
    pub rest: String,
}

/// The verdict on what is seen.
pub fn verdict(sight: &Sight, units: UnitSystem) -> Verdict {
    let Some(r) = sight.shown.filter(|_| sight.holds) else {
        let lead = match sight.outcome {
            Some(Outcome::Surge) => "No matched point here: the compressor would surge.",
            Some(Outcome::Overspeed) => "No matched point here: the shaft would pass its limit.",
            Some(Outcome::TorqueNotReachable) => "No matched point here: the engine cannot carry its own losses.",
            _ => "No matched point here: nothing that repeats was found at these settings.",
        };
        let shown = match sight.shown {
            Some(last) => format!(
                "What you see, in grey, is the last point that holds, vanes {} % open. Open the vanes or take load off.",
                number(last.settings.vane_open_pct, 0)
            ),
            None => "No point that holds is near. Open the vanes, or take load off.".into(),
        };
        return Verdict { stamp: Stamp::NoPoint, lead: lead.into(), rest: shown };
    };
    let stamp = Stamp::of(r);
    let gap = units.unit(Quantity::PressureDifference);
    let torque = units.unit(Quantity::Torque);
    let height = gap.text(r.pressure_balance_pa.abs());
    let pumping = r.indicated.pumping_torque_n_m;
    let cost = torque.text(pumping.abs());
    let (lead, breathing) = match stamp {
        Stamp::Helps if pumping < 0.0 => (
            format!("The intake stands {height} above the exhaust:"),
            format!("breathing is easy and pumping gives back {cost}."),
        ),
        Stamp::Helps => (
            format!("The intake stands {height} above the exhaust:"),
            format!("yet valves and ports still cost the pistons {cost}."),
        ),
        Stamp::BreakEven if pumping < 0.0 => {
            ("Intake and exhaust stand level:".into(), format!("pumping gives back {cost}."))
        }
        Stamp::BreakEven => ("Intake and exhaust stand level:".into(), format!("pumping costs {cost}.")),
        _ if pumping < 0.0 => (
            format!("The exhaust stands {height} above the intake,"),
            format!("yet over the whole cycle pumping gives back {cost}."),
        ),
        _ => (
            format!("The exhaust stands {height} above the intake:"),
            format!("pushing gas out costs the pistons {cost}."),
        ),
    };
    let rest = [breathing, limit_now(r, units), next_step(sight, r, units)]
        .into_iter()
        .filter(|s| !s.is_empty())
        .collect::<Vec<_>>();
    Verdict { stamp, lead, rest: rest.join(" ") }
}

/// What limits now, in a sentence; empty when no limit is near.
fn limit_now(r: &Reading, units: UnitSystem) -> String {
    match r.outcome {
        Outcome::SmokeLimited => {
            return format!(
                "The smoke limit holds the fuel back at {}.",
                units.unit(Quantity::Torque).text(r.brake.torque_n_m)
            );
        }
        Outcome::InjectorLimited => return "The injector gives no more fuel.".into(),
        Outcome::LeastFuel => return "Even the least fuel makes more torque than this load takes.".into(),
        _ => {}
    }
    if let Some(crossed) = r.limits.iter().filter(|l| l.crossed).min_by(|a, b| a.margin.total_cmp(&b.margin)) {
        return format!("The limit is {}: {}.", words::limit_in_words(crossed.name), margin(crossed, units));
    }
    match r.limits.iter().min_by(|a, b| a.margin.total_cmp(&b.margin)) {
        Some(near) => format!("Next limit is {}: {}.", words::limit_in_words(near.name), margin(near, units)),
        None => String::new(),
    }
}

/// What a step of vane is judged by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Held {
    /// Torque counts at the same fuel.
    Fuel,
    /// Fuel counts at the same torque.
    Torque,
    /// Torque counts; the fuel goes as far as a limit lets it.
    Limit,
}

impl Held {
    fn of(now: &Reading) -> Self {
        match (now.settings.torque_n_m, now.outcome) {
            (None, _) => Held::Fuel,
            (Some(_), Outcome::Matched) => Held::Torque,
            _ => Held::Limit,
        }
    }

    /// What `then` has won over `now`, as a share.
    fn gain(self, now: &Reading, then: &Reading) -> f64 {
        match self {
            Held::Torque => (now.fuel_flow_kg_s - then.fuel_flow_kg_s) / now.fuel_flow_kg_s,
            _ => (then.brake.torque_n_m - now.brake.torque_n_m) / now.brake.torque_n_m.abs().max(1.0),
        }
    }

    /// A gain or loss in words.
    fn amount(self, share: f64, now: &Reading, units: UnitSystem) -> String {
        let torque = units.unit(Quantity::Torque).join_fine((share * now.brake.torque_n_m.abs().max(1.0)).abs());
        let fuel = number((100.0 * share).abs(), 1);
        match (self, share >= 0.0) {
            (Held::Fuel, true) => format!("wins {torque} at this fuel"),
            (Held::Fuel, false) => format!("costs {torque} at this fuel"),
            (Held::Torque, true) => format!("saves {fuel} % of the fuel at this torque"),
            (Held::Torque, false) => format!("takes {fuel} % more fuel at this torque"),
            (Held::Limit, true) => format!("wins {torque}"),
            (Held::Limit, false) => format!("costs {torque}"),
        }
    }

    /// What is judged by the other of fuel and torque.
    fn other(self) -> Self {
        if self == Held::Fuel { Held::Torque } else { Held::Fuel }
    }
}

/// What a step of vane either way would do at the same fuel and at the same torque.
fn next_step(sight: &Sight, now: &Reading, units: UnitSystem) -> String {
    if let Some(open_pct) = sight.stuck_open_pct {
        return format!("The vanes are stuck at {} %: the slider moves nothing.", number(open_pct, 0));
    }
    let held = Held::of(now);
    let judged = |r: Option<&Reading>| r.filter(|r| r.holds).map(|r| held.gain(now, r));
    let step = |r: &Reading| number((r.settings.vane_open_pct - now.settings.vane_open_pct).abs(), 0);
    let (tighter, wider) = (judged(sight.sides.tighter), judged(sight.sides.wider));
    let boost = |pa: f64| units.unit(Quantity::PressureDifference).text(pa.abs());
    // What the step does judged one way, then the other, then what it would break.
    let pays = |share: f64, then: &Reading, other: Option<&Reading>| {
        let mut out = held.amount(share, now, units);
        if let Some(then) = other.filter(|r| r.holds && r.outcome == Outcome::Matched) {
            let other = held.other();
            out += &format!(", or {}", other.amount(other.gain(now, then), now, units));
        }
        if let Some(broken) = breaks(now, then) {
            out += &format!(", but passes the limit of {}", words::limit_in_words(broken));
        }
        out
    };
    if let (Some(share), Some(then)) = (wider, sight.sides.wider)
        && share > HARDLY
        && tighter.is_none_or(|t| t <= share)
    {
        let change = then.boost_pa - now.boost_pa;
        let boost = if change < 0.0 { format!("gives up {} of boost and ", boost(change)) } else { String::new() };
        return format!("Opening the vanes {} % {boost}{}.", step(then), pays(share, then, sight.other.wider));
    }
    if let (Some(share), Some(then)) = (tighter, sight.sides.tighter)
        && share > HARDLY
    {
        let change = then.boost_pa - now.boost_pa;
        let boost = if change > 0.0 { format!("brings {} of boost and ", boost(change)) } else { String::new() };
        return format!("Closing the vanes {} % {boost}{}.", step(then), pays(share, then, sight.other.tighter));
    }
    let small = |share: f64, then: Option<&Reading>| {
        then.map_or_else(String::new, |then| format!("{} % {}", step(then), held.amount(share, now, units)))
    };
    match (tighter, wider) {
        (Some(t), Some(w)) => format!(
            "This is about the best vane position: closing {}, opening {}.",
            small(t, sight.sides.tighter),
            small(w, sight.sides.wider)
        ),
        (None, Some(_)) if sight.sides.tighter.is_some() => "A little tighter, no point holds.".into(),
        (None, Some(w)) => format!("The vanes are at their stop, and opening {}.", small(w, sight.sides.wider)),
        (Some(_), None) if sight.sides.wider.is_some() => "A little wider, no point holds.".into(),
        (Some(t), None) => format!("The vanes are wide open, and closing {}.", small(t, sight.sides.tighter)),
        (None, None) => String::new(),
    }
}

/// What limits now, as a sentence of its own; and where the vanes cannot be moved, that.
pub fn limits_now(sight: &Sight, now: &Reading, units: UnitSystem) -> String {
    match sight.stuck_open_pct {
        Some(_) => format!("{} {}", limit_now(now, units), next_step(sight, now, units)),
        None => limit_now(now, units),
    }
}

/// The first limit that `then` crosses and `now` does not.
pub fn breaks(now: &Reading, then: &Reading) -> Option<LimitName> {
    then.limits.iter().find(|l| l.crossed && !now.limit(l.name).is_some_and(|n| n.crossed)).map(|l| l.name)
}

/// One limit in the strip: value against limit.
pub fn margin(limit: &LimitReading, units: UnitSystem) -> String {
    let of = |q: Quantity| {
        let unit = units.unit(q);
        format!("{} of {}", unit.number(limit.value), unit.text(limit.limit))
    };
    match limit.name {
        LimitName::ShaftSpeed => format!("{} % of limit", number(100.0 * limit.value / limit.limit, 0)),
        LimitName::SurgeMargin | LimitName::ChokeMargin => {
            format!("{} %, least {} %", number(100.0 * limit.value, 0), number(100.0 * limit.limit, 0))
        }
        LimitName::TurbineInletTemperature | LimitName::CompressorOutletTemperature => of(Quantity::Temperature),
        LimitName::CylinderPressure => of(Quantity::CylinderPressure),
        LimitName::ExhaustManifoldPressure => of(Quantity::PressureAbs),
        LimitName::AirFuelRatio => format!("{}, smoke at {}", number(limit.value, 1), number(limit.limit, 0)),
        LimitName::CoolantRise => of(Quantity::TemperatureDifference),
    }
}

/// What the point would do in time, if that is in doubt.
pub fn unstable(reading: &Reading) -> Option<&'static str> {
    (reading.stability == Stability::Unstable).then_some(
        "This point does not stay: a small disturbance grows into surge. A real compressor would bark and shake here.",
    )
}

/// What the air-path drawing shows, in a sentence.
pub fn air_path(reading: &Reading, units: UnitSystem) -> String {
    let abs = units.unit(Quantity::PressureAbs);
    let word = match Stamp::of(reading) {
        Stamp::Helps => "higher: it helps",
        Stamp::Hinders => "lower: it hinders",
        _ => "level",
    };
    format!(
        "Two columns of an inverted manometer: compressor outlet p2 {}, exhaust manifold p3 {}. The balance p2 − p3 is {}, the intake column stands {word}.",
        abs.text(reading.stations.compressor_outlet.p_pa),
        abs.text(reading.stations.turbine_inlet.p_pa),
        units.unit(Quantity::PressureDifference).signed(reading.pressure_balance_pa),
    )
}

/// What the loop shows, in a sentence.
pub fn cycle(reading: &Reading, units: UnitSystem) -> String {
    let pumping = reading.indicated.pumping_mep_pa;
    format!(
        "Gas exchange only; the arms run on to {} in the cylinder. Net pumping {} {}, {}.",
        units.unit(Quantity::CylinderPressure).text(reading.indicated.peak_pressure_pa),
        if pumping >= 0.0 { "costs" } else { "gives back" },
        units.unit(Quantity::PressureDifference).join_fine(pumping.abs()),
        units.unit(Quantity::Torque).text(reading.indicated.pumping_torque_n_m.abs()),
    )
}

/// What the whole loop shows, in a sentence.
pub fn whole_cycle(reading: &Reading, units: UnitSystem) -> String {
    let i = &reading.indicated;
    let bar = |pa: f64| units.unit(Quantity::PressureDifference).text(pa);
    format!(
        "The large loop gives {} of mean pressure, the small one of gas exchange {} {}; the peak is {} at {}° after dead centre.",
        bar(i.gross_mep_pa),
        if i.pumping_mep_pa >= 0.0 { "takes" } else { "adds" },
        units.unit(Quantity::PressureDifference).join_fine(i.pumping_mep_pa.abs()),
        units.unit(Quantity::CylinderPressure).text(i.peak_pressure_pa),
        number(i.peak_pressure_deg, 0)
    )
}

/// What the pressures over the crank angle show, in a sentence.
pub fn over_angle(reading: &Reading, units: UnitSystem) -> String {
    let Some(trace) = &reading.trace else { return words::NO_READING.into() };
    let ends = |p: &[f64]| (p.iter().copied().fold(f64::INFINITY, f64::min), p.iter().copied().fold(0.0, f64::max));
    let unit = units.unit(Quantity::PressureAbs);
    let (low, high) = ends(&trace.exhaust_manifold_pa);
    format!(
        "The exhaust manifold swings between {} and {} as one cylinder after another blows down; its mean is {}.",
        unit.number(low),
        unit.text(high),
        unit.text(reading.stations.turbine_inlet.p_pa)
    )
}

/// How much of the way to a limit is used, from 0 to 1; 1 is at the limit and beyond.
pub fn used(limit: &LimitReading) -> f64 {
    match limit.name {
        // Margins run the other way: the less there is, the nearer.
        LimitName::SurgeMargin | LimitName::ChokeMargin | LimitName::AirFuelRatio => {
            (limit.limit / limit.value.max(1e-9)).clamp(0.0, 1.0)
        }
        _ => (1.0 - limit.margin).clamp(0.0, 1.0),
    }
}

/// The name of a row of the ledger.
pub fn ledger_entry(entry: Entry, currency: Currency) -> &'static str {
    match (entry, currency) {
        (Entry::GasWork, Currency::Torque) => "gas work",
        (Entry::GasWork, Currency::Fuel) => "fuel into gas work",
        (Entry::Pumping, _) => "pumping",
        (Entry::Friction, _) => "friction",
        (Entry::Load, _) => "load",
    }
}

/// What speaks of a row's cause, in words.
pub fn ledger_cause(row: &volute_core::ledger::Row, units: UnitSystem) -> String {
    use volute_core::ledger::Quantity as Cause;
    let part = |cause: &volute_core::ledger::Cause| {
        let (name, unit) = match cause.quantity {
            Cause::FuelPerCycle => ("fuel", units.unit(Quantity::FuelPerCycle)),
            Cause::AirFuelRatio => ("air–fuel ratio", units.unit(Quantity::RatioCoarse)),
            Cause::GrossEfficiency => ("of the fuel into gas work", units.unit(Quantity::ShareFine)),
            Cause::PressureBalance => ("p2 − p3", units.unit(Quantity::PressureDifference)),
            Cause::ManifoldBalance => ("intake less exhaust manifold", units.unit(Quantity::PressureDifference)),
            Cause::ThroatArea => ("throat", units.unit(Quantity::Area)),
            Cause::PeakPressure => ("peak pressure", units.unit(Quantity::CylinderPressure)),
            Cause::EngineSpeed => ("speed", units.unit(Quantity::EngineSpeed)),
            Cause::BrakeTorque => ("torque", units.unit(Quantity::Torque)),
        };
        let (a, b) = (unit.number(cause.from), unit.text(cause.to));
        // What did not move is no cause.
        (unit.number(cause.from) != unit.number(cause.to)).then(|| format!("{name} {a} → {b}"))
    };
    let parts: Vec<String> = row.causes.iter().filter_map(part).collect();
    if parts.is_empty() { "nothing that shows".into() } else { parts.join(", ") }
}

/// The ledger in a sentence.
pub fn ledger(book: &Ledger, units: UnitSystem) -> String {
    let (quantity, what) = match book.currency {
        Currency::Torque => (Quantity::TorqueFine, "torque"),
        Currency::Fuel => (Quantity::FuelFlowFine, "fuel"),
    };
    let unit = units.unit(quantity);
    let change = book.to - book.from;
    let text = |si: f64| unit.text(si.abs());
    let shown = |si: f64| number(unit.shown(si), unit.decimals);
    if shown(change) == shown(0.0) {
        return format!("Since the pin {what} has not moved.");
    }
    let verb = if change > 0.0 { "more" } else { "less" };
    let most = book.rows.iter().max_by(|a, b| a.part.abs().total_cmp(&b.part.abs()));
    let Some(most) = most else { return format!("{} {verb} {what} than at the pin.", text(change)) };
    let against: Vec<String> = book
        .rows
        .iter()
        .filter(|r| r.entry != most.entry && shown(r.part) != shown(0.0))
        .map(|r| {
            let word = if r.part > 0.0 { "adds" } else { "takes off" };
            format!("{} {word} {}", ledger_entry(r.entry, book.currency), text(r.part))
        })
        .collect();
    let lead = format!(
        "{} {verb} {what} than at the pin, most of it by {}: it {} {}",
        text(change),
        ledger_entry(most.entry, book.currency),
        if most.part > 0.0 { "adds" } else { "takes off" },
        text(most.part)
    );
    if against.is_empty() { format!("{lead}.") } else { format!("{lead}; {}.", against.join(", ")) }
}

/// What is spoken when a value settles.
pub fn spoken(sight: &Sight, units: UnitSystem) -> String {
    let v = verdict(sight, units);
    let boost = sight
        .shown
        .map(|r| format!("Boost {}. ", units.unit(Quantity::PressureGauge).text(r.boost_pa)))
        .unwrap_or_default();
    format!("{}. {boost}{} {}", v.stamp.word(), v.lead, v.rest)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sample;

    fn seen<'a>(shown: &'a Reading, tighter: Option<&'a Reading>, wider: Option<&'a Reading>) -> Sight<'a> {
        Sight {
            shown: Some(shown),
            outcome: Some(shown.outcome),
            holds: true,
            sides: Sides { tighter, wider },
            other: Sides::default(),
            stuck_open_pct: None,
        }
    }

    /// The sample with other torque and boost, a step of vane away.
    fn moved(torque_n_m: f64, boost_pa: f64, vane: f64) -> Reading {
        let mut r = sample::hinders();
        r.brake.torque_n_m = torque_n_m;
        r.boost_pa = boost_pa;
        r.settings.vane_open_pct = vane;
        r
    }

    #[test]
    fn by_hand_verdicts_read_as_written() {
        let now = sample::hinders();
        let (tighter, wider) = (moved(914.0, 1.89e5, 50.0), moved(937.0, 1.71e5, 60.0));
        let v = verdict(&seen(&now, Some(&tighter), Some(&wider)), UnitSystem::Si);
        assert_eq!(v.stamp, Stamp::Hinders);
        assert_eq!(v.lead, "The exhaust stands 37 kPa above the intake:");
        assert_eq!(
            v.rest,
            "pushing gas out costs the pistons 34 N·m. Next limit is shaft speed: 79 % of limit. Opening the vanes 5 % gives up 8 kPa of boost and wins 9.0 N·m at this fuel."
        );
        let helps = sample::helps();
        let v = verdict(&seen(&helps, None, None), UnitSystem::Si);
        assert_eq!(
            (v.stamp, v.rest.as_str()),
            (Stamp::Helps, "breathing is easy and pumping gives back 2 N·m. Next limit is shaft speed: 79 % of limit.")
        );
        let level = sample::level();
        let (a, b) = (moved(928.4, 1.4e5, 50.0), moved(927.0, 1.3e5, 60.0));
        let v = verdict(&seen(&level, Some(&a), Some(&b)), UnitSystem::Si);
        assert_eq!(v.stamp, Stamp::BreakEven);
        assert!(
            v.rest.ends_with(
                "This is about the best vane position: closing 5 % wins 0.4 N·m at this fuel, opening 5 % costs 1.0 N·m at this fuel."
            ),
            "{}",
            v.rest
        );
    }

    #[test]
    fn by_hand_the_last_step_is_named_by_its_own_size() {
        let mut now = sample::hinders();
        now.settings.vane_open_pct = 97.0;
        let wider = moved(937.0, 1.71e5, 100.0);
        let v = verdict(&seen(&now, None, Some(&wider)), UnitSystem::Si);
        assert!(v.rest.contains("Opening the vanes 3 %"), "{}", v.rest);
    }

    #[test]
    fn by_hand_a_gain_that_breaks_a_limit_says_so() {
        let now = sample::hinders();
        let mut tighter = moved(960.0, 1.9e5, 50.0);
        tighter.limits[0].crossed = true;
        let v = verdict(&seen(&now, Some(&tighter), None), UnitSystem::Si);
        assert!(
            v.rest.ends_with(
                "Closing the vanes 5 % brings 11 kPa of boost and wins 32 N·m at this fuel, but passes the limit of shaft speed."
            ),
            "{}",
            v.rest
        );
    }

    #[test]
    fn by_hand_no_point_names_the_last_that_holds() {
        let last = sample::hinders();
        let sight = Sight { outcome: Some(Outcome::Surge), holds: false, ..seen(&last, None, None) };
        let v = verdict(&sight, UnitSystem::Si);
        assert_eq!(v.stamp, Stamp::NoPoint);
        assert!(v.lead.contains("surge") && v.rest.contains("vanes 55 % open"));
        let nothing = Sight { shown: None, outcome: None, holds: false, ..seen(&last, None, None) };
        assert_eq!(verdict(&nothing, UnitSystem::Customary).stamp, Stamp::NoPoint);
    }

    #[test]
    fn by_hand_a_step_is_told_at_the_same_fuel_and_at_the_same_torque() {
        let now = sample::hinders();
        let wider = moved(937.0, 1.71e5, 60.0);
        let mut saves = moved(928.0, 1.70e5, 60.0);
        saves.fuel_flow_kg_s = 0.99 * now.fuel_flow_kg_s;
        let sight = Sight { other: Sides { tighter: None, wider: Some(&saves) }, ..seen(&now, None, Some(&wider)) };
        let v = verdict(&sight, UnitSystem::Si);
        assert!(
            v.rest.ends_with("wins 9.0 N·m at this fuel, or saves 1.0 % of the fuel at this torque."),
            "{}",
            v.rest
        );
        // The same two the other way round, with the torque held.
        let mut held = sample::hinders();
        held.settings.torque_n_m = Some(928.0);
        let sight = Sight { other: Sides { tighter: None, wider: Some(&wider) }, ..seen(&held, None, Some(&saves)) };
        let v = verdict(&sight, UnitSystem::Si);
        assert!(
            v.rest.ends_with("saves 1.0 % of the fuel at this torque, or wins 9.0 N·m at this fuel."),
            "{}",
            v.rest
        );
    }

    #[test]
    fn by_hand_stuck_vanes_are_told() {
        let now = sample::hinders();
        let v = verdict(&Sight { stuck_open_pct: Some(40.0), ..seen(&now, None, None) }, UnitSystem::Si);
        assert!(v.rest.ends_with("The vanes are stuck at 40 %: the slider moves nothing."), "{}", v.rest);
    }
}
