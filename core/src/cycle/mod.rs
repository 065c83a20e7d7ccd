//! One firing interval: all parts of engine and turbocharger, crank angle by crank angle.
//!
//! A firing interval is 720 degrees over the number of cylinders. Counted from the closing of the intake valves, a cylinder
//! passes as many slots of that length as there are cylinders. In its first slots its valves are shut: it knows nothing of
//! the manifolds and runs alone. In the others it is coupled to both manifolds, which fill and empty, and through them to
//! compressor, cooler, turbine and pipe.
//!
//! Every volume carries mass, internal energy and burned fuel, so a step of the integrator (Heun, second order) conserves
//! all three to the last digits: what the balances miss is only how far the cycle is from repeating.
//! Sources: HEYWOOD1988, chapter 14; WATSON1982, chapter 15 (filling and emptying); GREITZER1976 for the duct's inertia.

mod closed;
mod coupled;
mod machine;
mod means;
mod state;
mod trace;
mod walls;

pub use machine::Machine;
pub use means::{Means, Strokes};
pub use state::{Cylinder, GasExchange, Volume, WholeEngine};
pub use trace::{Recorder, Trace};
