//! What a lesson marks on the bench: in words for the learner, and by name for the style sheet.

use crate::language::{t, t_any};
use volute_lessons::lesson::Marked;

/// What is marked, in words.
pub fn marked_words(marks: &[Marked]) -> String {
    let names = marks.iter().map(|mark| match mark {
        Marked::Control(control) => control_name(&control.name()),
        Marked::Quantity(quantity) => t_any(quantity.about()),
    });
    names.collect::<Vec<_>>().join(", ")
}

/// The names of what is marked, for the style sheet.
pub fn marked_names(marks: &[Marked]) -> String {
    let names = marks.iter().map(|mark| match mark {
        Marked::Control(control) => control.name(),
        Marked::Quantity(quantity) => quantity.key.to_string(),
    });
    names.collect::<Vec<_>>().join(" ")
}

fn control_name(name: &str) -> String {
    match name {
        "vane" => t("vane position").into(),
        "load" => t("load").into(),
        "speed" => t("engine speed").into(),
        "ambient" => t("air outside").into(),
        "altitude" => t("altitude").into(),
        "hold" => t("torque or fuel held").into(),
        "parts" => t("parts of the engine").into(),
        part => part.trim_start_matches("parts.").replace(['.', '_'], " "),
    }
}
