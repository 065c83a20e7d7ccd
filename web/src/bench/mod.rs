//! The bench: one view a part. Views take values and callbacks; what they show is computed in core and said in `describe`.

pub mod air_path;
pub mod below;
pub mod controls;
pub mod drawing;
pub mod embed;
pub mod energy_flows;
pub mod engine_choice;
pub mod headlines;
pub mod limits;
pub mod live_sweeps;
pub mod manometer;
pub mod margins;
pub mod next_steps;
pub mod pin_board;
pub mod print_sheet;
mod redraw;
pub mod slot;
pub mod stations;
pub mod streams;
pub mod term;
pub mod time;
pub mod transitions;
pub mod verdict;
pub mod views;
pub mod what_if;
