//! Every text of the interface that is not built from a reading, in one place. Sentences with numbers are in `describe`.

use crate::language::msg;
use volute_core::reading::LimitName;

pub const NAME: &str = "Volute";
pub const SKIP: &str = "Skip to the sliders";
pub const BENCH: &str = "Bench";
pub const ENGINE: &str = "engine";
pub const AMBIENT: &str = "ambient";
pub const OWN_ENGINE: &str = "own engine file";

pub const UNDO: &str = "Undo";
pub const REDO: &str = "Redo";
pub const RESET: &str = "Reset";
pub const MORE: &str = "More";
pub const TO_DARK: &str = "Blueprint";
pub const TO_LIGHT: &str = "Paper";
pub const TO_CUSTOMARY: &str = "US units";
pub const TO_SI: &str = "SI units";
pub const NO_CATALOG: &str = msg("The texts of this language could not be loaded, so the page is in English.");
pub const COPY_LINK: &str = "Copy link";
pub const LINK_COPIED: &str = "Link copied. It opens these settings.";
pub const LINK_BY_HAND: &str = "The browser did not allow copying. The address bar holds the link: copy it from there.";
pub const OPEN_LESSON: &str = "Lessons";
pub const DISMISS: &str = "dismiss";

pub const SETTINGS: &str = "Settings you hold";
pub const VANE: &str = "Vane position";
pub const LOAD_FUEL: &str = "Load, fuel held";
pub const LOAD_TORQUE: &str = "Load, torque held";
pub const SPEED: &str = "Engine speed";
pub const HOLD_TORQUE: &str = "hold torque instead";
pub const HOLD_FUEL: &str = "hold fuel instead";

pub const HELD: &str = "held by the lesson";
pub const COVERED_SHORT: &str = "covered by the lesson";
pub const COVERED: &str = "Covered until your prediction is locked.";

pub const HEADLINES: &str = "Five headline quantities";
pub const BOOST: &str = "Boost";
pub const P3: &str = "Exhaust-manifold pressure";
pub const T3: &str = "Gas temperature";
pub const DENSITY: &str = "Density ratio";
pub const PUMPING: &str = "Pumping loss";

pub const VERDICT: &str = "Verdict";
pub const HELPS: &str = "Helps";
pub const HINDERS: &str = "Hinders";
pub const BREAK_EVEN: &str = "Break-even";
pub const NO_POINT: &str = "No point";

pub const AIR_PATH: &str = "Air path and pressure balance";
pub const VALUES_AS_TABLE: &str = "values as table";
pub const BACK_TO_PLOT: &str = "back to the plot";
pub const SAVE: &str = "save";
pub const SAVE_AS: &str = "Save this plot";
pub const PLOT: &str = "plot";
pub const LEGEND: &str = "Lines of the plot; one can be shown alone";
pub const BACK_TO_DRAWING: &str = "back to the drawing";
pub const STUCK_AT: &str = "stuck at ";
pub const STATIONS: &str = "Values along the air path";
pub const CHOOSE_VIEW: &str = "What this plot shows";
pub const LOOP: &str = "p–V loop, gas exchange";
pub const LOOP_WHOLE: &str = "p–V loop, whole cycle";
pub const LOOP_LOG: &str = "p–V loop, by ratios";
pub const OVER_ANGLE: &str = "Pressure over crank angle";
pub const SWEEP: &str = "Sweep";
pub const SWEEP_OF: &str = "What is swept";
pub const OVER: &str = "over";
pub const SWEEP_OVER: &str = "What is moved";
pub const STOP: &str = "stop";
pub const NO_WORKER: &str = "This browser runs no worker for the sweep.";
pub const SWEEP_WAITS: &str = "The sweep is being computed.";
pub const LIMITS: &str = "Limits and margins";
pub const NO_LIMIT: &str = "No limit reached.";
pub const NO_READING: &str = "There is no reading to draw at these settings.";

pub const ENGINE_SHEET: &str = "Your own engine";
pub const ENGINE_SHEET_SAYS: &str = "An engine is a text file (TOML). Start from the one on the bench, change what you like, and read it in here. \
    Nothing leaves this browser.";
pub const ENGINE_FILE: &str = "Engine file";
pub const ENGINE_TEXT: &str = "or its text";
pub const ENGINE_READ: &str = "Read this engine";
pub const ENGINE_START: &str = "Start from the engine on the bench";
pub const ENGINE_TOO_LONG: &str = "This file is longer than 256 kB. An engine file has a few hundred lines.";
pub const ENGINE_UNREADABLE: &str = "The browser could not read this file as text.";

pub const PINS: &str = "Pins and ledger";
pub const PIN_THIS: &str = "Pin this reading";
pub const NOTHING_PINNED: &str = "Nothing pinned yet. Pin a reading, move one slider, and the difference is drawn.";
pub const COMPARE_WITH: &str = "compare with this pin";
pub const PIN_NAME: &str = "Name of pin";
pub const GO_THERE: &str = "go there";
pub const UNPIN: &str = "unpin";
pub const LEDGER_TORQUE: &str = "Where the torque went, from pin";
pub const LEDGER_FUEL: &str = "Where the fuel went, from pin";
pub const AT_PIN: &str = "at pin";
pub const AT_NOW: &str = "now";
pub const ALL_DIFFERENCES: &str = "All readings, pin and now";
pub const READING: &str = "reading";
pub const CHANGE: &str = "change";
pub const CHANGE_SHARE: &str = "as a share";

pub const WHAT_IFS: &str = "What if";
pub const CHANGED: &str = "changed";
pub const RESET_GROUP: &str = "As it came";
pub const ALTITUDE: &str = "Standard atmosphere at an altitude of";

pub const START_POINTS: &str = "start point";
pub const CHOOSE_START: &str = "choose a start point…";

pub const NEXT_STEPS: &str = "The next 5 % of vane";
pub const AT_THIS_FUEL: &str = "at this fuel";
pub const AT_THIS_TORQUE: &str = "at this torque";
pub const WITHIN_LIMIT: &str = "within the limit";
pub const STEP_CHANGES: &str = "what changes";
pub const STEP_PASSES: &str = "passes the limit of";
pub const STEP_NONE: &str = "none";
pub const NO_STEP: &str = "no point holds";
pub const NO_STEPS: &str = "At these settings no point holds, so there is none to step from.";
pub const STEPS_WAIT: &str = "Told once the bench has come to rest.";

pub const ENERGY: &str = "Where the fuel's power goes";
pub const FUEL_BRINGS: &str = "The fuel brings";
pub const TO_CRANK: &str = "to the crank";
pub const TO_COOLANT: &str = "to the coolant";
pub const TO_CHARGE_COOLER: &str = "to the charge cooler";
pub const TO_EXHAUST: &str = "with the exhaust gas";
pub const TO_LEAK: &str = "through the exhaust leak";
pub const TO_AROUND: &str = "to the air around";
pub const REMAINDER: &str = "not accounted for";
pub const ALL_OF_IT: &str = "all of it";

pub const COMPRESSOR_MAP: &str = "Compressor map";
pub const TURBINE_MAP: &str = "Turbine map";
pub const ENTROPY: &str = "Temperature and entropy";

pub const TIME: &str = "The engine in time";
pub const RUN: &str = "Run";
pub const PAUSE: &str = "Pause";
pub const ONE_FIRING: &str = "One firing";
pub const PACE: &str = "pace";
pub const LOAD_STEP: &str = "step the torque to";
pub const STEP_NOW: &str = "Step the load";
pub const KEEP_RUN: &str = "keep this run";
pub const DROP_RUN: &str = "drop the kept run";
pub const CLEAR: &str = "clear";
pub const LOOK_BACK: &str = "look back";
pub const TRACES: &str = "traces";
pub const NO_RUN: &str = "No run yet. Press Run, then move the sliders or step the load: the traces are drawn here.";
pub const NO_START_IN_TIME: &str = "At these settings no point holds, so there is none to start from.";
pub const NEWER: &str = "A newer version of this page is ready and opens at the next load.";
pub const OPEN_NEWER: &str = "Open it now";
pub const MORE_VIEWS: &str = "More views";
pub const GLOSSARY: &str = "What the words mean";
pub const MEASURED: &str = "How it is measured";
pub const MISLEADS: &str = "Where it can mislead";
pub const CLOSE: &str = "Close";
pub const PINS_LOST: &str = "A pin of this link holds no longer and was left out.";

pub const CAUTION_BOLD: &str = "A teaching model, not a tuning instruction.";
pub const CAUTION_REST: &str = " Real work follows the maker's limits, local codes, and licensed practice.";

/// What stands before the place of the vanes on the drawing.
pub fn vanes(stuck: bool) -> &'static str {
    if stuck { "vanes stuck," } else { "vanes" }
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
            title: "Shaft past its limit.",
            consequence: "A real wheel can burst through its housing: keep everybody out of its plane.",
            next: "Open the vanes or take fuel off.",
        },
        LimitName::SurgeMargin => Callout {
            title: "At the surge line.",
            consequence: "Flow would break away and come back in blows; a real wheel, bearing and hose can fail.",
            next: "Open the vanes or take load off.",
        },
        LimitName::ChokeMargin => Callout {
            title: "Compressor near choke.",
            consequence: "Its inlet passes no more air; shaft speed climbs and heats the air instead.",
            next: "Take speed or load off; this engine asks for a larger compressor.",
        },
        LimitName::TurbineInletTemperature => Callout {
            title: "Gas too hot for the turbine.",
            consequence: "Wheel and housing creep and crack, and the manifold glows: burns and fire near it.",
            next: "Take fuel off; let it cool down at light load before it stops.",
        },
        LimitName::CompressorOutletTemperature => Callout {
            title: "Compressed air too hot.",
            consequence: "Oil cokes in the compressor, hoses soften and can blow off.",
            next: "Ask for less pressure: open the vanes, then look at the charge cooler.",
        },
        LimitName::CylinderPressure => Callout {
            title: "Cylinder pressure past its limit.",
            consequence: "Head gasket, studs and bearings are loaded past what they were made for.",
            next: "Take fuel off or open the vanes; later injection lowers the peak.",
        },
        LimitName::ExhaustManifoldPressure => Callout {
            title: "Exhaust manifold past its pressure.",
            consequence: "Gaskets blow out hot gas and exhaust valves can be held off their seats.",
            next: "Open the vanes.",
        },
        LimitName::AirFuelRatio => Callout {
            title: "Rich: past the smoke limit.",
            consequence: "A real engine smokes, soots its oil and turbine, and runs hot; nobody should breathe it.",
            next: "Take fuel off or find more air.",
        },
        LimitName::CoolantRise => Callout {
            title: "Coolant warms up too much.",
            consequence: "Hot spots boil and heads crack; never open a hot cap, it scalds.",
            next: "Take load off, then check flow, pump and the sensors against each other.",
        },
    }
}

/// The short name of a limit in the strip.
pub fn limit_name(limit: LimitName) -> &'static str {
    match limit {
        LimitName::ShaftSpeed => "shaft",
        LimitName::SurgeMargin => "surge margin",
        LimitName::ChokeMargin => "choke margin",
        LimitName::TurbineInletTemperature => "gas",
        LimitName::CompressorOutletTemperature => "compressor outlet",
        LimitName::CylinderPressure => "cylinder",
        LimitName::ExhaustManifoldPressure => "exhaust manifold",
        LimitName::AirFuelRatio => "air–fuel",
        LimitName::CoolantRise => "coolant rise",
    }
}

/// The name of a limit over its margin.
pub fn limit_title(limit: LimitName) -> &'static str {
    match limit {
        LimitName::ShaftSpeed => "Shaft speed",
        LimitName::SurgeMargin => "Surge margin",
        LimitName::ChokeMargin => "Choke margin",
        LimitName::TurbineInletTemperature => "Gas ahead of the turbine",
        LimitName::CompressorOutletTemperature => "Air behind the compressor",
        LimitName::CylinderPressure => "Peak cylinder pressure",
        LimitName::ExhaustManifoldPressure => "Exhaust manifold",
        LimitName::AirFuelRatio => "Air–fuel ratio",
        LimitName::CoolantRise => "Coolant rise",
    }
}

/// The same as part of a sentence.
pub fn limit_in_words(limit: LimitName) -> &'static str {
    match limit {
        LimitName::ShaftSpeed => "shaft speed",
        LimitName::SurgeMargin => "surge",
        LimitName::ChokeMargin => "choke of the compressor",
        LimitName::TurbineInletTemperature => "gas temperature",
        LimitName::CompressorOutletTemperature => "compressor-outlet temperature",
        LimitName::CylinderPressure => "cylinder pressure",
        LimitName::ExhaustManifoldPressure => "exhaust-manifold pressure",
        LimitName::AirFuelRatio => "smoke",
        LimitName::CoolantRise => "coolant rise",
    }
}
