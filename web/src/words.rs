//! Texts that stand in several places of the interface, and what is said of limits. A text of one place stands there;
//! sentences about a reading are in `describe`.

use crate::language::{msg, t, tf};
use volute_core::point::reading::LimitName;

pub const NAME: &str = "Volute";
pub const BENCH: &str = msg("Bench");
pub const ENGINE: &str = msg("engine");
pub const AMBIENT: &str = msg("ambient");

pub const NO_CATALOG: &str = msg("The texts of this language could not be loaded, so the page is in English.");

pub const SETTINGS: &str = msg("Settings you hold");
pub const VANE: &str = msg("Vane position");
pub const LOAD_FUEL: &str = msg("Load, fuel held");
pub const LOAD_TORQUE: &str = msg("Load, torque held");
pub const SPEED: &str = msg("Engine speed");

pub const HELD: &str = msg("held by the lesson");
pub const COVERED_SHORT: &str = msg("covered by the lesson");
pub const COVERED: &str = msg("The lesson covers this for now.");

pub const HEADLINES: &str = msg("Five headline quantities");

pub const VERDICT: &str = msg("Verdict");

pub const AIR_PATH: &str = msg("Air path and pressure balance");
pub const VALUES_AS_TABLE: &str = msg("values as table");
pub const LIMITS: &str = msg("Limits and margins");
pub const NO_READING: &str = msg("There is no reading to draw at these settings.");

pub const PINS: &str = msg("Pins and ledger");
pub const AT_NOW: &str = msg("now");
pub const ALL_DIFFERENCES: &str = msg("All readings, pin and now");

pub const WHAT_IFS: &str = msg("What if");

pub const FRAME_TITLE: &str = msg("Volute: a bench for vaned turbochargers");

pub const NEXT_STEPS: &str = msg("The next 5 % of vane");
pub const AT_THIS_FUEL: &str = msg("at this fuel");
pub const AT_THIS_TORQUE: &str = msg("at this torque");

pub const ENERGY: &str = msg("Where the fuel's power goes");

pub const TIME: &str = msg("The engine in time");
pub const NO_RUN: &str =
    msg("No run yet. Press Run, then move the sliders or step the load: the traces are drawn here.");
pub const BROKEN: &str = msg(
    "Something on this page has broken; it may no longer follow you. Load it again: the address holds your settings, and what you did in lessons is kept.",
);
pub const CLOSE: &str = msg("Close");
pub const PINS_LOST: &str = msg("A pin of this link holds no longer and was left out.");

/// Where the vanes stand, on the drawing.
pub fn vanes(stuck: bool, open: &str) -> String {
    tf(if stuck { msg("vanes stuck, {open} %") } else { msg("vanes {open} %") }, &[("open", open)])
}

/// A safety callout: what is at its limit, what that does to real hardware and people, and what to do next.
pub struct Callout {
    pub title: &'static str,
    pub consequence: &'static str,
    pub next: &'static str,
}

/// What a crossed limit means on real hardware. Common practice, no source, worded for people who stand beside it.
pub fn callout(limit: LimitName) -> Callout {
    match limit {
        LimitName::ShaftSpeed => Callout {
            title: t("Shaft past its limit."),
            consequence: t("A real wheel can burst through its housing: keep everybody out of its plane."),
            next: t("Open the vanes or take fuel off."),
        },
        LimitName::SurgeMargin => Callout {
            title: t("At the surge line."),
            consequence: t("Flow would break away and come back in blows; a real wheel, bearing and hose can fail."),
            next: t("Open the vanes or take load off."),
        },
        LimitName::ChokeMargin => Callout {
            title: t("Compressor near choke."),
            consequence: t("Its inlet passes no more air; shaft speed climbs and heats the air instead."),
            next: t("Take speed or load off; this engine asks for a larger compressor."),
        },
        LimitName::TurbineInletTemperature => Callout {
            title: t("Gas too hot for the turbine."),
            consequence: t("Wheel and housing creep and crack, and the manifold glows: burns and fire near it."),
            next: t("Take fuel off; let it cool down at light load before it stops."),
        },
        LimitName::CompressorOutletTemperature => Callout {
            title: t("Compressed air too hot."),
            consequence: t("Oil cokes in the compressor, hoses soften and can blow off."),
            next: t("Ask for less pressure: open the vanes, then look at the charge cooler."),
        },
        LimitName::CylinderPressure => Callout {
            title: t("Cylinder pressure past its limit."),
            consequence: t("Head gasket, studs and bearings are loaded past what they were made for."),
            next: t("Take fuel off or open the vanes; later injection lowers the peak."),
        },
        LimitName::ExhaustManifoldPressure => Callout {
            title: t("Exhaust manifold past its pressure."),
            consequence: t("Gaskets blow out hot gas and exhaust valves can be held off their seats."),
            next: t("Open the vanes."),
        },
        LimitName::AirFuelRatio => Callout {
            title: t("Rich: past the smoke limit."),
            consequence: t("A real engine smokes, soots its oil and turbine, and runs hot; nobody should breathe it."),
            next: t("Take fuel off or find more air."),
        },
        LimitName::CoolantRise => Callout {
            title: t("Coolant warms up too much."),
            consequence: t("Hot spots boil and heads crack; never open a hot cap, it scalds."),
            next: t("Take load off, then check flow, pump and the sensors against each other."),
        },
    }
}

/// The short name of a limit in the strip.
pub fn limit_name(limit: LimitName) -> &'static str {
    match limit {
        LimitName::ShaftSpeed => t("shaft"),
        LimitName::SurgeMargin => t("surge margin"),
        LimitName::ChokeMargin => t("choke margin"),
        LimitName::TurbineInletTemperature => t("gas"),
        LimitName::CompressorOutletTemperature => t("compressor outlet"),
        LimitName::CylinderPressure => t("cylinder"),
        LimitName::ExhaustManifoldPressure => t("exhaust manifold"),
        LimitName::AirFuelRatio => t("air–fuel"),
        LimitName::CoolantRise => t("coolant rise"),
    }
}

/// The name of a limit over its margin.
pub fn limit_title(limit: LimitName) -> &'static str {
    match limit {
        LimitName::ShaftSpeed => t("Shaft speed"),
        LimitName::SurgeMargin => t("Surge margin"),
        LimitName::ChokeMargin => t("Choke margin"),
        LimitName::TurbineInletTemperature => t("Gas ahead of the turbine"),
        LimitName::CompressorOutletTemperature => t("Air behind the compressor"),
        LimitName::CylinderPressure => t("Peak cylinder pressure"),
        LimitName::ExhaustManifoldPressure => t("Exhaust manifold"),
        LimitName::AirFuelRatio => t("Air–fuel ratio"),
        LimitName::CoolantRise => t("Coolant rise"),
    }
}

/// The same as part of a sentence.
pub fn limit_in_words(limit: LimitName) -> &'static str {
    match limit {
        LimitName::ShaftSpeed => t("shaft speed"),
        LimitName::SurgeMargin => t("surge"),
        LimitName::ChokeMargin => t("choke of the compressor"),
        LimitName::TurbineInletTemperature => t("gas temperature"),
        LimitName::CompressorOutletTemperature => t("compressor-outlet temperature"),
        LimitName::CylinderPressure => t("cylinder pressure"),
        LimitName::ExhaustManifoldPressure => t("exhaust-manifold pressure"),
        LimitName::AirFuelRatio => t("smoke"),
        LimitName::CoolantRise => t("coolant rise"),
    }
}
