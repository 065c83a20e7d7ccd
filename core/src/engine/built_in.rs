//! The engines that come with Volute, as the build script makes them from their files.

use crate::engine::{
    ChargeCooler, Combustion, CompressorMap, Coolant, Cylinders, Engine, ExhaustPipe, Filter, Friction, Fuel, Limits,
    Manifolds, Range, Shaft, Turbine, Valves, Vanes, WallHeat,
};
use alloc::string::String;

/// Short name, title and parameters; the texts inside are empty.
static MADE: [(&str, &str, Engine); 2] = include!(concat!(env!("OUT_DIR"), "/made_in.rs"));

/// Their short names; the first is that of the engine that opens.
pub fn names() -> impl Iterator<Item = &'static str> {
    MADE.iter().map(|(name, _, _)| *name)
}

/// The short name of the engine that opens.
pub fn first() -> &'static str {
    MADE[0].0
}

/// The line that says what an engine is.
pub fn title(name: &str) -> Option<&'static str> {
    MADE.iter().find(|(known, _, _)| *known == name).map(|(_, title, _)| *title)
}

/// The engine of a short name.
pub fn engine(name: &str) -> Option<Engine> {
    MADE.iter().find(|(known, _, _)| *known == name).map(whole)
}

/// The engine that opens.
pub fn opening() -> Engine {
    whole(&MADE[0])
}

fn whole((name, title, bare): &(&str, &str, Engine)) -> Engine {
    Engine { name: (*name).into(), title: (*title).into(), ..bare.clone() }
}
