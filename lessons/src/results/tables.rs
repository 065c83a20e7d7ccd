//! Results as tables for spreadsheets.

use super::class::Class;
use super::read::FIRST_COLUMN;
use super::report::{Report, Try};
use crate::csv::Table;
use crate::units::Decimal;

const ANSWERS: [&str; 25] = [
    FIRST_COLUMN,
    "file",
    "assignment",
    "saved",
    "lesson",
    "lesson_version",
    "variant",
    "lesson_seconds",
    "item",
    "kind",
    "item_points_pct",
    "done",
    "hints",
    "confidence_pct",
    "words",
    "try",
    "draw",
    "answer",
    "right",
    "points_pct",
    "misconception",
    "wrong_turns",
    "uncovered",
    "picked",
    "curve_permille",
];

/// One line for each try of each learner (one line for what was not tried), counting from 1 as people do.
pub fn answers<'r>(reports: impl IntoIterator<Item = (&'r str, &'r Report)>, decimal: Decimal) -> String {
    let mut table = Table::new(decimal);
    table.head(&ANSWERS).end();
    for (file, report) in reports {
        let assignment = report.assignment.as_ref().map_or(String::new(), |a| format!("{} {}", a.digest(), a.title));
        for (lesson, item) in report.items() {
            let blank = [None];
            let tries: Vec<Option<(usize, &Try)>> = item.tries.iter().enumerate().map(Some).collect();
            for made in if tries.is_empty() { &blank[..] } else { &tries[..] } {
                table.text(&report.learner).text(file).text(assignment.trim_end()).text(&report.saved);
                table.text(&lesson.id).text(&lesson.version).text(&lesson.seed.0.to_string());
                table.number(lesson.seconds).text(&item.id).text(item.kind.name());
                table.number(item.points_pct).number(i32::from(item.done)).number(item.hints);
                table.maybe(item.confidence_pct).text(&item.words);
                match made {
                    Some((i, made)) => {
                        table.number(*i as i64 + 1).number(made.draw).text(&made.answer).number(i32::from(made.right));
                        table.number(made.points_pct).maybe(made.misconception.map(|m| m + 1));
                    }
                    None => table.blank(6),
                }
                let turns: Vec<u32> = item.wrong_turns.iter().map(|m| m + 1).collect();
                table
                    .text(&spaced(&turns))
                    .text(&item.bought.join(" "))
                    .text(&spaced(&item.picked))
                    .text(&spaced(&item.curve));
                table.end();
            }
        }
    }
    table.marked()
}

fn spaced(list: &[impl ToString]) -> String {
    list.iter().map(ToString::to_string).collect::<Vec<_>>().join(" ")
}

/// One line for each learner: points, time, and the points of every scored item.
pub fn class(class: &Class, decimal: Decimal) -> String {
    let mut table = Table::new(decimal);
    table.head(&["learner", "file", "intact", "assignment", "saved", "points_pct", "passed", "minutes"]);
    let columns = class.columns();
    for column in &columns {
        table.text(&format!("{}/{}", column.lesson, column.item));
    }
    table.end();
    for entry in class.entries() {
        let report = &entry.report;
        table.text(&report.learner).text(&entry.file).number(i32::from(entry.intact));
        table.text(&report.assignment.as_ref().map_or(String::new(), |a| a.digest())).text(&report.saved);
        table.maybe(report.points_pct()).maybe(report.passed().map(i32::from));
        table.number(i64::from(report.seconds()).div_euclid(60));
        for column in &columns {
            table.maybe(column.of(report).filter(|item| item.is_tried()).map(|item| item.points_pct));
        }
        table.end();
    }
    table.marked()
}
