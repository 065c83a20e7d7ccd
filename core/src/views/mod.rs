//! What a reading says from another side: where torque and energy went, the maps, and the cycle over entropy.

pub mod energy;
pub mod entropy;
pub mod ledger;
pub mod maps;
