//! What the sheets of the instructor's desk share.

use crate::store::Store;
use crate::units::UnitSystem;
use leptos::prelude::*;
use volute_lessons::assignment::Assignment;
use volute_lessons::results::class::Class;

/// What the sheets of the desk share.
#[derive(Clone, Copy)]
pub struct Office {
    /// Units as the bench shows them.
    pub units: UnitSystem,
    /// The assignment that is being put together; it may have no lessons yet.
    pub draft: RwSignal<Assignment>,
    /// Results that were read.
    pub class: RwSignal<Class>,
    /// What the device keeps.
    pub store: StoredValue<Store, LocalStorage>,
}
