//! Every text of the interface that is not built from a reading, in one place. Sentences with numbers are in `describe`.

use crate::language::{msg, t, tf};
use volute_core::point::reading::LimitName;

pub const NAME: &str = "Volute";
pub const SKIP: &str = msg("Skip to the sliders");
pub const BENCH: &str = msg("Bench");
pub const ENGINE: &str = msg("engine");
pub const AMBIENT: &str = msg("ambient");

pub const UNDO: &str = msg("Undo");
pub const REDO: &str = msg("Redo");
pub const RESET: &str = msg("Reset");
pub const MORE: &str = msg("More");
pub const TO_DARK: &str = msg("Blueprint");
pub const TO_LIGHT: &str = msg("Paper");
pub const TO_CUSTOMARY: &str = msg("US units");
pub const TO_SI: &str = msg("SI units");
pub const NO_CATALOG: &str = msg("The texts of this language could not be loaded, so the page is in English.");
pub const NO_ASSIGNMENT_PART: &str = msg(
    "The part of this page that reads assignments did not come: the network or the host does not give it. Load the page again.",
);
pub const NO_PLATFORM_PART: &str = msg(
    "The part of this package that speaks with the learning platform did not come: what you do is kept on this device only. Open the package again.",
);
pub const COPY_LINK: &str = msg("Copy link");
pub const LINK_COPIED: &str = msg("Link copied. It opens these settings.");
pub const LINK_BY_HAND: &str =
    msg("The browser did not allow copying. The address bar holds the link: copy it from there.");
pub const OPEN_LESSON: &str = msg("Lessons");
pub const FOR_INSTRUCTORS: &str = msg("For instructors: assign, read results, print, write a lesson");
pub const DISMISS: &str = msg("dismiss");

pub const SETTINGS: &str = msg("Settings you hold");
pub const VANE: &str = msg("Vane position");
pub const LOAD_FUEL: &str = msg("Load, fuel held");
pub const LOAD_TORQUE: &str = msg("Load, torque held");
pub const SPEED: &str = msg("Engine speed");
pub const HOLD_TORQUE: &str = msg("hold torque instead");
pub const HOLD_FUEL: &str = msg("hold fuel instead");

pub const HELD: &str = msg("held by the lesson");
pub const COVERED_SHORT: &str = msg("covered by the lesson");
pub const COVERED: &str = msg("The lesson covers this for now.");

pub const HEADLINES: &str = msg("Five headline quantities");
pub const BOOST: &str = msg("Boost");
pub const P3: &str = msg("Exhaust-manifold pressure");
pub const T3: &str = msg("Gas temperature");
pub const DENSITY: &str = msg("Density ratio");
pub const PUMPING: &str = msg("Pumping loss");

pub const VERDICT: &str = msg("Verdict");
pub const HELPS: &str = msg("Helps");
pub const HINDERS: &str = msg("Hinders");
pub const BREAK_EVEN: &str = msg("Break-even");
pub const NO_POINT: &str = msg("No point");

pub const AIR_PATH: &str = msg("Air path and pressure balance");
pub const STOP_FLOW: &str = msg("stop the flow");
pub const LET_FLOW: &str = msg("let it flow");
pub const VALUES_AS_TABLE: &str = msg("values as table");
pub const BACK_TO_PLOT: &str = msg("back to the plot");
pub const SAVE: &str = msg("save");
pub const SAVE_AS: &str = msg("Save this plot");
pub const PLOT: &str = msg("plot");
pub const LINES_AND_FILES: &str = msg("lines, files");
pub const LEGEND: &str = msg("Lines of the plot; one can be shown alone");
pub const BACK_TO_DRAWING: &str = msg("back to the drawing");
pub const STATIONS: &str = msg("Values along the air path");
pub const CHOOSE_VIEW: &str = msg("What this plot shows");
pub const LOOP: &str = msg("p–V loop, gas exchange");
pub const LOOP_WHOLE: &str = msg("p–V loop, whole cycle");
pub const LOOP_LOG: &str = msg("p–V loop, by ratios");
pub const OVER_ANGLE: &str = msg("Pressure over crank angle");
pub const SWEEP: &str = msg("Sweep");
pub const SWEEP_OF: &str = msg("What is swept");
pub const OVER: &str = msg("over");
pub const SWEEP_OVER: &str = msg("What is moved");
pub const STOP: &str = msg("stop");
pub const NO_WORKER: &str = msg("This browser runs no worker for the sweep.");
pub const SWEEP_WAITS: &str = msg("The sweep is being computed.");
pub const LIMITS: &str = msg("Limits and margins");
/// Name of the line with the nearest of them.
pub const NEAREST_LIMITS: &str = msg("Nearest limits");
pub const NO_LIMIT: &str = msg("No limit reached.");
pub const NO_READING: &str = msg("There is no reading to draw at these settings.");

pub const ENGINE_SHEET: &str = msg("Your own engine");
pub const ENGINE_SHEET_SAYS: &str = msg(
    "An engine is a text file (TOML). Start from the one on the bench, change what you like, and read it in here. \
    Nothing leaves this browser.",
);
pub const ENGINE_FILE: &str = msg("Engine file");
pub const ENGINE_TEXT: &str = msg("or its text");
pub const ENGINE_READ: &str = msg("Read this engine");
pub const ENGINE_START: &str = msg("Start from the engine on the bench");
pub const ENGINE_TOO_LONG: &str = msg("This file is longer than 256 kB. An engine file has a few hundred lines.");
pub const ENGINE_UNREADABLE: &str = msg("The browser could not read this file as text.");

pub const PINS: &str = msg("Pins and ledger");
pub const PIN_THIS: &str = msg("Pin this reading");
pub const NOTHING_PINNED: &str =
    msg("Nothing pinned yet. Pin a reading, move one slider, and the difference is drawn.");
pub const COMPARE_WITH: &str = msg("compare with this pin");
pub const PIN_NAME: &str = msg("Name of pin");
pub const GO_THERE: &str = msg("go there");
pub const UNPIN: &str = msg("unpin");
pub const AT_NOW: &str = msg("now");
pub const ALL_DIFFERENCES: &str = msg("All readings, pin and now");
pub const READING: &str = msg("reading");
pub const CHANGE: &str = msg("change");
pub const CHANGE_SHARE: &str = msg("as a share");

pub const WHAT_IFS: &str = msg("What if");
pub const CHANGED: &str = msg("changed");
pub const RESET_GROUP: &str = msg("As it came");
pub const ALTITUDE: &str = msg("Standard atmosphere at an altitude of");

pub const START_POINTS: &str = msg("start point");
pub const CHOOSE_START: &str = msg("choose a start point…");

pub const EMBED: &str = msg("Embed");
pub const EMBED_TITLE: &str = msg("A piece of the bench in another page");
pub const EMBED_SAYS: &str =
    msg("Choose what it shows, then copy the line into the other page. It opens in the state that the bench has now.");
pub const EMBED_CONTROLS: &str = msg("Controls");
pub const EMBED_VIEWS: &str = msg("Views");
pub const EMBED_NAME: &str = msg("title");
pub const EMBED_SIZE: &str = msg("size");
pub const EMBED_CODE: &str = msg("Line for the other page");
pub const FRAME_TITLE: &str = msg("Volute: a bench for vaned turbochargers");
pub const COPY: &str = msg("Copy");
pub const COPIED: &str = msg("Copied.");
pub const COPY_BY_HAND: &str = msg("The browser did not allow copying: mark the line and copy it by hand.");
pub const OPEN_WHOLE: &str = msg("Open the whole bench");
pub const PRINT: &str = msg("Print");
pub const STATE: &str = msg("state of the bench");
pub const VANES_STUCK: &str = msg("Vanes stuck at");
pub const YES: &str = msg("yes");
pub const NO: &str = msg("no");
pub const WAS: &str = msg("was");
pub const READINGS: &str = msg("Readings");
pub const OPENS_THIS: &str = msg("This state opens at:");

pub const NEXT_STEPS: &str = msg("The next 5 % of vane");
pub const AT_THIS_FUEL: &str = msg("at this fuel");
pub const AT_THIS_TORQUE: &str = msg("at this torque");
pub const WITHIN_LIMIT: &str = msg("within the limit");
pub const STEP_CHANGES: &str = msg("what changes");
pub const STEP_PASSES: &str = msg("passes the limit of");
pub const STEP_NONE: &str = msg("none");
pub const NO_STEP: &str = msg("no point holds");
pub const NO_STEPS: &str = msg("At these settings no point holds, so there is none to step from.");
pub const STEPS_WAIT: &str = msg("Told once the bench has come to rest.");

pub const ENERGY: &str = msg("Where the fuel's power goes");
pub const TO_CRANK: &str = msg("to the crank");
pub const TO_COOLANT: &str = msg("to the coolant");
pub const TO_CHARGE_COOLER: &str = msg("to the charge cooler");
pub const TO_EXHAUST: &str = msg("with the exhaust gas");
pub const TO_LEAK: &str = msg("through the exhaust leak");
pub const TO_AROUND: &str = msg("to the air around");
pub const REMAINDER: &str = msg("not accounted for");
pub const ALL_OF_IT: &str = msg("all of it");

pub const COMPRESSOR_MAP: &str = msg("Compressor map");
pub const TURBINE_MAP: &str = msg("Turbine map");
pub const ENTROPY: &str = msg("Temperature and entropy");

pub const TIME: &str = msg("The engine in time");
pub const RUN: &str = msg("Run");
pub const PAUSE: &str = msg("Pause");
pub const ONE_FIRING: &str = msg("One firing");
pub const PACE: &str = msg("pace");
pub const LOAD_STEP: &str = msg("step the torque to");
pub const STEP_NOW: &str = msg("Step the load");
pub const KEEP_RUN: &str = msg("keep this run");
pub const DROP_RUN: &str = msg("drop the kept run");
pub const CLEAR: &str = msg("clear");
pub const LOOK_BACK: &str = msg("look back");
pub const TRACES: &str = msg("traces");
pub const NO_RUN: &str =
    msg("No run yet. Press Run, then move the sliders or step the load: the traces are drawn here.");
pub const NO_START_IN_TIME: &str = msg("At these settings no point holds, so there is none to start from.");
pub const NEWER: &str = msg("A newer version of this page is ready and opens at the next load.");
pub const BROKEN: &str = msg(
    "Something on this page has broken; it may no longer follow you. Load it again: the address holds your settings, and what you did in lessons is kept.",
);
pub const OPEN_NEWER: &str = msg("Open it now");
pub const MORE_VIEWS: &str = msg("More views");
pub const NO_MORE_VIEWS: &str = msg("The views below could not be fetched.");
pub const FETCH_AGAIN: &str = msg("Try again");
pub const GLOSSARY: &str = msg("What the words mean");
pub const MEASURED: &str = msg("How it is measured");
pub const MISLEADS: &str = msg("Where it can mislead");
pub const CLOSE: &str = msg("Close");
pub const PINS_LOST: &str = msg("A pin of this link holds no longer and was left out.");

pub const CAUTION_BOLD: &str = msg("A teaching model, not a tuning instruction.");
pub const CAUTION_REST: &str = msg("Real work follows the maker's limits, local codes, and licensed practice.");

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
