//! A reading in sentences: verdict, limits, and what each drawing shows. Plain, present tense, numbers in the sentence.

use crate::language::{msg, t, tf};
use crate::units::{Quantity, UnitSystem, number};
use crate::words;
use volute_core::point::reading::{LimitName, LimitReading, Outcome, Reading, Stability};
use volute_core::views::ledger::{Currency, Entry, Ledger};

/// Two pressures within this of each other stand level for a reader of the manometer. Chosen: 4 kPa, about a line's width.
const LEVEL_PA: f64 = 4e3;

/// A change of torque or fuel below this share is told as none: no learner should chase it. Chosen: 0.15 %.
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
            Stamp::Helps => t("Helps"),
            Stamp::Hinders => t("Hinders"),
            Stamp::BreakEven => t("Break-even"),
            Stamp::NoPoint => t("No point"),
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

/// Readings with the vanes a step to either side; none where nobody asked.
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
            Some(Outcome::Surge) => t("No matched point here: the compressor would surge."),
            Some(Outcome::Overspeed) => t("No matched point here: the shaft would pass its limit."),
            _ => t("No matched point here: nothing that repeats was found at these settings."),
        };
        let shown = match sight.shown {
            Some(last) => tf(
                "What you see, in grey, is the last point that holds, vanes {open} % open. Open the vanes or take load off.",
                &[("open", &number(last.settings.vane_open_pct, 0))],
            ),
            None => t("No point that holds is near. Open the vanes, or take load off.").into(),
        };
        return Verdict { stamp: Stamp::NoPoint, lead: lead.into(), rest: shown };
    };
    let stamp = Stamp::of(r);
    let gap = units.unit(Quantity::PressureDifference);
    let torque = units.unit(Quantity::Torque);
    let height = gap.text(r.pressure_balance_pa.abs());
    let pumping = r.indicated.pumping_torque_n_m;
    let cost = torque.text(pumping.abs());
    // One sentence; what stands before the bar is in bold.
    let says = match (stamp, pumping < 0.0) {
        (Stamp::Helps, true) => {
            msg("The intake stands {height} above the exhaust:|breathing is easy and pumping gives back {cost}.")
        }
        (Stamp::Helps, false) => {
            msg("The intake stands {height} above the exhaust:|yet valves and ports still cost the pistons {cost}.")
        }
        (Stamp::BreakEven, true) => msg("Intake and exhaust stand level:|pumping gives back {cost}."),
        (Stamp::BreakEven, false) => msg("Intake and exhaust stand level:|pumping costs {cost}."),
        (_, true) => {
            msg("The exhaust stands {height} above the intake,|yet over the whole cycle pumping gives back {cost}.")
        }
        (_, false) => msg("The exhaust stands {height} above the intake:|pushing gas out costs the pistons {cost}."),
    };
    let balance = tf(says, &[("height", &height), ("cost", &cost)]);
    let (lead, breathing) = balance.split_once('|').unwrap_or((&balance, ""));
    let rest = [breathing.into(), limit_now(r, units), next_step(sight, r, units)]
        .into_iter()
        .filter(|s: &String| !s.is_empty())
        .collect::<Vec<_>>();
    Verdict { stamp, lead: lead.into(), rest: rest.join(" ") }
}

/// What limits now, in a sentence; empty when no limit is near.
fn limit_now(r: &Reading, units: UnitSystem) -> String {
    match r.outcome {
        Outcome::SmokeLimited => {
            let torque = units.unit(Quantity::Torque).text(r.brake.torque_n_m);
            return tf("The smoke limit holds the fuel back at {torque}.", &[("torque", &torque)]);
        }
        Outcome::InjectorLimited => return t("The injector gives no more fuel.").into(),
        Outcome::LeastFuel => return t("Even the least fuel makes more torque than this load takes.").into(),
        _ => {}
    }
    let told = |says, limit: &LimitReading| {
        tf(says, &[("limit", words::limit_in_words(limit.name)), ("margin", &margin(limit, units))])
    };
    if let Some(crossed) = r.limits.iter().filter(|l| l.crossed).min_by(|a, b| a.margin.total_cmp(&b.margin)) {
        return told(msg("The limit is {limit}: {margin}."), crossed);
    }
    match r.limits.iter().min_by(|a, b| a.margin.total_cmp(&b.margin)) {
        Some(near) => told(msg("Next limit is {limit}: {margin}."), near),
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

    /// A gain or loss in words: an item of a list.
    fn amount(self, share: f64, now: &Reading, units: UnitSystem) -> String {
        let torque = units.unit(Quantity::Torque).join_fine((share * now.brake.torque_n_m.abs().max(1.0)).abs());
        let fuel = number((100.0 * share).abs(), 1);
        let says = match (self, share >= 0.0) {
            (Held::Fuel, true) => msg("{torque} more at this fuel"),
            (Held::Fuel, false) => msg("{torque} less at this fuel"),
            (Held::Torque, true) => msg("{fuel} % less fuel at this torque"),
            (Held::Torque, false) => msg("{fuel} % more fuel at this torque"),
            (Held::Limit, true) => msg("{torque} more within the limit"),
            (Held::Limit, false) => msg("{torque} less within the limit"),
        };
        tf(says, &[("torque", &torque), ("fuel", &fuel)])
    }

    /// The judgement by the other of fuel and torque.
    fn other(self) -> Self {
        if self == Held::Fuel { Held::Torque } else { Held::Fuel }
    }
}

/// What a step of vane either way would do at the same fuel and at the same torque. Long because each case has a sentence.
fn next_step(sight: &Sight, now: &Reading, units: UnitSystem) -> String {
    if let Some(open_pct) = sight.stuck_open_pct {
        let open = number(open_pct, 0);
        return tf("The vanes are stuck at {open} %: the slider moves nothing.", &[("open", &open)]);
    }
    let held = Held::of(now);
    let judged = |r: Option<&Reading>| r.filter(|r| r.holds).map(|r| held.gain(now, r));
    let (tighter, wider) = (judged(sight.sides.tighter), judged(sight.sides.wider));
    let moved = |says, then: &Reading, effects: &[String]| {
        let step = number((then.settings.vane_open_pct - now.settings.vane_open_pct).abs(), 0);
        tf(says, &[("step", &step), ("effects", &effects.join(", "))])
    };
    let opening = msg("Opening the vanes {step} %: {effects}.");
    let closing = msg("Closing the vanes {step} %: {effects}.");
    // First what the step does at the same fuel, then at the same torque, then which limit it would cross.
    let pays = |says, share: f64, then: &Reading, other: Option<&Reading>| {
        let mut effects = Vec::new();
        let change = then.boost_pa - now.boost_pa;
        let boost = units.unit(Quantity::PressureDifference).text(change.abs());
        match says == opening {
            true if change < 0.0 => effects.push(tf("{boost} less boost", &[("boost", &boost)])),
            false if change > 0.0 => effects.push(tf("{boost} more boost", &[("boost", &boost)])),
            _ => {}
        }
        effects.push(held.amount(share, now, units));
        if let Some(then) = other.filter(|r| r.holds && r.outcome == Outcome::Matched) {
            let other = held.other();
            effects.push(other.amount(other.gain(now, then), now, units));
        }
        if let Some(broken) = breaks(now, then) {
            effects.push(tf("but past the limit of {limit}", &[("limit", words::limit_in_words(broken))]));
        }
        moved(says, then, &effects)
    };
    if let (Some(share), Some(then)) = (wider, sight.sides.wider)
        && share > HARDLY
        && tighter.is_none_or(|t| t <= share)
    {
        return pays(opening, share, then, sight.other.wider);
    }
    if let (Some(share), Some(then)) = (tighter, sight.sides.tighter)
        && share > HARDLY
    {
        return pays(closing, share, then, sight.other.tighter);
    }
    let small = |says, share: f64, then: Option<&Reading>| {
        then.map_or_else(String::new, |then| moved(says, then, &[held.amount(share, now, units)]))
    };
    let after = |lead: &str, rest: String| format!("{lead} {rest}");
    match (tighter, wider) {
        (Some(a), Some(b)) => after(
            t("This is about the best vane position."),
            small(closing, a, sight.sides.tighter) + " " + &small(opening, b, sight.sides.wider),
        ),
        (None, Some(_)) if sight.sides.tighter.is_some() => t("A little tighter, no point holds.").into(),
        (None, Some(w)) => after(t("The vanes are at their stop."), small(opening, w, sight.sides.wider)),
        (Some(_), None) if sight.sides.wider.is_some() => t("A little wider, no point holds.").into(),
        (Some(s), None) => after(t("The vanes are wide open."), small(closing, s, sight.sides.tighter)),
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
    let told = |says, value: String, limit: String| tf(says, &[("value", &value), ("limit", &limit)]);
    let of = |q: Quantity| {
        let unit = units.unit(q);
        told(msg("{value} of {limit}"), unit.number(limit.value), unit.text(limit.limit))
    };
    match limit.name {
        LimitName::ShaftSpeed => tf("{share} % of limit", &[("share", &number(100.0 * limit.value / limit.limit, 0))]),
        LimitName::SurgeMargin | LimitName::ChokeMargin => {
            told(msg("{value} %, least {limit} %"), number(100.0 * limit.value, 0), number(100.0 * limit.limit, 0))
        }
        LimitName::TurbineInletTemperature | LimitName::CompressorOutletTemperature => of(Quantity::Temperature),
        LimitName::CylinderPressure => of(Quantity::CylinderPressure),
        LimitName::ExhaustManifoldPressure => of(Quantity::PressureAbs),
        LimitName::AirFuelRatio => {
            told(msg("{value}, smoke at {limit}"), number(limit.value, 1), number(limit.limit, 0))
        }
        LimitName::CoolantRise => of(Quantity::TemperatureDifference),
    }
}

/// The tip speed of the compressor wheel against its limit. The wheel has one limit, which core gives as a shaft speed; the
/// same share of it is used up in both.
pub fn tip_margin(reading: &Reading, units: UnitSystem) -> Option<String> {
    let shaft = reading.limit(LimitName::ShaftSpeed)?;
    let (tip, unit) = (reading.compressor.tip_speed_m_s, units.unit(Quantity::TipSpeed));
    let limit = unit.text(tip * shaft.limit / shaft.value);
    Some(tf(msg("{value} of {limit}"), &[("value", &unit.number(tip)), ("limit", &limit)]))
}

/// What the point would do in time, if that is in doubt.
pub fn unstable(reading: &Reading) -> Option<&'static str> {
    (reading.stability == Stability::Unstable).then(|| {
        t("This point does not stay: a small disturbance grows into surge. A real compressor would bark and shake here.")
    })
}

/// What the air-path drawing shows, in a sentence.
pub fn air_path(reading: &Reading, units: UnitSystem) -> String {
    let abs = units.unit(Quantity::PressureAbs);
    let says = match Stamp::of(reading) {
        Stamp::Helps => msg(
            "Two columns of an inverted manometer: compressor outlet p2 {p2}, exhaust manifold p3 {p3}. The balance p2 − p3 is {balance}, the intake column stands higher: it helps.",
        ),
        Stamp::Hinders => msg(
            "Two columns of an inverted manometer: compressor outlet p2 {p2}, exhaust manifold p3 {p3}. The balance p2 − p3 is {balance}, the intake column stands lower: it hinders.",
        ),
        _ => msg(
            "Two columns of an inverted manometer: compressor outlet p2 {p2}, exhaust manifold p3 {p3}. The balance p2 − p3 is {balance}, the columns stand level.",
        ),
    };
    tf(
        says,
        &[
            ("p2", &abs.text(reading.stations.compressor_outlet.p_pa)),
            ("p3", &abs.text(reading.stations.turbine_inlet.p_pa)),
            ("balance", &units.unit(Quantity::PressureDifference).signed(reading.pressure_balance_pa)),
        ],
    )
}

/// What the loop shows, in a sentence.
pub fn cycle(reading: &Reading, units: UnitSystem) -> String {
    let pumping = reading.indicated.pumping_mep_pa;
    tf(
        if pumping >= 0.0 {
            msg("Gas exchange only; the arms run on to {peak} in the cylinder. Net pumping costs {pressure}, {torque}.")
        } else {
            msg(
                "Gas exchange only; the arms run on to {peak} in the cylinder. Net pumping gives back {pressure}, {torque}.",
            )
        },
        &[
            ("peak", &units.unit(Quantity::CylinderPressure).text(reading.indicated.peak_pressure_pa)),
            ("pressure", &units.unit(Quantity::PressureDifference).join_fine(pumping.abs())),
            ("torque", &units.unit(Quantity::Torque).text(reading.indicated.pumping_torque_n_m.abs())),
        ],
    )
}

/// What the whole loop shows, in a sentence.
pub fn whole_cycle(reading: &Reading, units: UnitSystem) -> String {
    let i = &reading.indicated;
    tf(
        if i.pumping_mep_pa >= 0.0 {
            msg(
                "The large loop gives {gross} of mean pressure, the small one of gas exchange takes {pumping}; the peak is {peak} at {angle}° after dead centre.",
            )
        } else {
            msg(
                "The large loop gives {gross} of mean pressure, the small one of gas exchange adds {pumping}; the peak is {peak} at {angle}° after dead centre.",
            )
        },
        &[
            ("gross", &units.unit(Quantity::PressureDifference).text(i.gross_mep_pa)),
            ("pumping", &units.unit(Quantity::PressureDifference).join_fine(i.pumping_mep_pa.abs())),
            ("peak", &units.unit(Quantity::CylinderPressure).text(i.peak_pressure_pa)),
            ("angle", &number(i.peak_pressure_deg, 0)),
        ],
    )
}

/// What the pressures over the crank angle show, in a sentence.
pub fn over_angle(reading: &Reading, units: UnitSystem) -> String {
    let Some(trace) = &reading.trace else { return t(words::NO_READING).into() };
    let ends = |p: &[f64]| (p.iter().copied().fold(f64::INFINITY, f64::min), p.iter().copied().fold(0.0, f64::max));
    let unit = units.unit(Quantity::PressureAbs);
    let (low, high) = ends(&trace.exhaust_manifold_pa);
    tf(
        "The exhaust manifold swings between {low} and {high} as one cylinder after another blows down; its mean is {mean}.",
        &[
            ("low", &unit.number(low)),
            ("high", &unit.text(high)),
            ("mean", &unit.text(reading.stations.turbine_inlet.p_pa)),
        ],
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
        (Entry::GasWork, Currency::Torque) => t("gas work"),
        (Entry::GasWork, Currency::Fuel) => t("fuel into gas work"),
        (Entry::Pumping, _) => t("pumping"),
        (Entry::Friction, _) => t("friction"),
        (Entry::Load, _) => t("load"),
    }
}

/// The cause of a row of the ledger, in words.
pub fn ledger_cause(row: &volute_core::views::ledger::Row, units: UnitSystem) -> String {
    use volute_core::views::ledger::Quantity as Cause;
    let part = |cause: &volute_core::views::ledger::Cause| {
        let (name, unit) = match cause.quantity {
            Cause::FuelPerCycle => (t("fuel"), units.unit(Quantity::FuelPerCycle)),
            Cause::AirFuelRatio => (t("air–fuel ratio"), units.unit(Quantity::RatioCoarse)),
            Cause::GrossEfficiency => (t("of the fuel into gas work"), units.unit(Quantity::ShareFine)),
            Cause::PressureBalance => ("p2 − p3", units.unit(Quantity::PressureDifference)),
            Cause::ManifoldBalance => (t("intake less exhaust manifold"), units.unit(Quantity::PressureDifference)),
            Cause::ThroatArea => (t("throat"), units.unit(Quantity::Area)),
            Cause::PeakPressure => (t("peak pressure"), units.unit(Quantity::CylinderPressure)),
            Cause::EngineSpeed => (t("speed"), units.unit(Quantity::EngineSpeed)),
            Cause::BrakeTorque => (t("torque"), units.unit(Quantity::Torque)),
        };
        let (a, b) = (unit.number(cause.from), unit.text(cause.to));
        // A quantity that did not move is not the cause.
        (unit.number(cause.from) != unit.number(cause.to)).then(|| format!("{name} {a} → {b}"))
    };
    let parts: Vec<String> = row.causes.iter().filter_map(part).collect();
    if parts.is_empty() { t("nothing that shows").into() } else { parts.join(", ") }
}

/// The ledger in a sentence or two.
pub fn ledger(book: &Ledger, units: UnitSystem) -> String {
    let torque = book.currency == Currency::Torque;
    let unit = units.unit(if torque { Quantity::TorqueFine } else { Quantity::FuelFlowFine });
    let change = book.to - book.from;
    let shown = |si: f64| number(unit.shown(si), unit.decimals);
    if shown(change) == shown(0.0) {
        let still =
            if torque { t("Since the pin torque has not moved.") } else { t("Since the pin fuel has not moved.") };
        return still.into();
    }
    let most = book.rows.iter().max_by(|a, b| a.part.abs().total_cmp(&b.part.abs()));
    let (name, part) = most.map_or((String::new(), String::new()), |most| {
        (ledger_entry(most.entry, book.currency).into(), unit.signed(most.part))
    });
    let mut out = tf(
        match (torque, change > 0.0) {
            (true, true) => msg("{change} more torque than at the pin, most of it by {entry}: {part}."),
            (true, false) => msg("{change} less torque than at the pin, most of it by {entry}: {part}."),
            (false, true) => msg("{change} more fuel than at the pin, most of it by {entry}: {part}."),
            (false, false) => msg("{change} less fuel than at the pin, most of it by {entry}: {part}."),
        },
        &[("change", &unit.text(change.abs())), ("entry", &name), ("part", &part)],
    );
    let others: Vec<String> = book
        .rows
        .iter()
        .filter(|r| most.is_none_or(|most| r.entry != most.entry) && shown(r.part) != shown(0.0))
        .map(|r| format!("{} {}", ledger_entry(r.entry, book.currency), unit.signed(r.part)))
        .collect();
    if !others.is_empty() {
        out.push(' ');
        out.push_str(&tf("Beside it: {parts}.", &[("parts", &others.join(", "))]));
    }
    out
}

/// What is spoken when a value settles.
pub fn spoken(sight: &Sight, units: UnitSystem) -> String {
    let v = verdict(sight, units);
    let boost = sight
        .shown
        .map(|r| tf("Boost {boost}.", &[("boost", &units.unit(Quantity::PressureGauge).text(r.boost_pa))]) + " ")
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
    fn by_hand_the_wheel_has_one_limit_told_twice() {
        // 421 m/s at 10 786 of 13 600 rad/s leave the limit at 421 * 13600 / 10786 = 530.8 m/s.
        let r = sample::hinders();
        assert_eq!(tip_margin(&r, UnitSystem::Si).unwrap(), "421 of 531 m/s");
        assert_eq!(margin(r.limit(LimitName::ShaftSpeed).unwrap(), UnitSystem::Si), "79 % of limit");
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
            "pushing gas out costs the pistons 34 N·m. Next limit is shaft speed: 79 % of limit. Opening the vanes 5 %: 8 kPa less boost, 9.0 N·m more at this fuel."
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
                "This is about the best vane position. Closing the vanes 5 %: 0.4 N·m more at this fuel. Opening the vanes 5 %: 1.0 N·m less at this fuel."
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
                "Closing the vanes 5 %: 11 kPa more boost, 32 N·m more at this fuel, but past the limit of shaft speed."
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
        assert!(v.rest.ends_with("9.0 N·m more at this fuel, 1.0 % less fuel at this torque."), "{}", v.rest);
        // The same two the other way round, with the torque held.
        let mut held = sample::hinders();
        held.settings.torque_n_m = Some(928.0);
        let sight = Sight { other: Sides { tighter: None, wider: Some(&wider) }, ..seen(&held, None, Some(&saves)) };
        let v = verdict(&sight, UnitSystem::Si);
        assert!(v.rest.ends_with("1.0 % less fuel at this torque, 9.0 N·m more at this fuel."), "{}", v.rest);
    }

    #[test]
    fn by_hand_stuck_vanes_are_told() {
        let now = sample::hinders();
        let v = verdict(&Sight { stuck_open_pct: Some(40.0), ..seen(&now, None, None) }, UnitSystem::Si);
        assert!(v.rest.ends_with("The vanes are stuck at 40 %: the slider moves nothing."), "{}", v.rest);
    }
}
