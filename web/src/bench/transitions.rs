//! The bench that the learner holds, and the few ways in which it changes. No browser here.
//!
//! Settings change in one way, by [`Bench::show`]: core answers, and the answer stands in the same frame. Whoever has changed
//! something that a link carries calls [`Bench::touch`]; once nothing has been touched for a while, the page calls
//! [`Bench::settle`].

use super::views::{Choice, VIEWS, View};
use crate::describe;
use crate::language::{Language, t};
use crate::parts::Excerpt;
use crate::pins::Pins;
use crate::run::{self, Run, Steps};
use crate::share::Shared;
use crate::start_points::start_points;
use crate::state::{BenchSettings, History, Origin};
use crate::units::UnitSystem;
use crate::view;
use crate::what_ifs;
use crate::words;
use leptos::prelude::*;
use std::sync::Arc;
use volute_core::engine::Engine;
use volute_core::settings::Settings;

/// What the three plots show at first.
const USUAL: [&str; 3] = ["loop", "sweep", "compressor"];

fn usual_plots() -> [Choice; 3] {
    USUAL.map(|key| Choice::new(View::of(key).unwrap_or(&VIEWS[0])))
}

/// The bench.
#[derive(Clone, Copy)]
pub struct Bench {
    /// Engine and settings.
    pub held: RwSignal<BenchSettings>,
    /// Units of the page.
    pub units: RwSignal<UnitSystem>,
    /// What core answered to them.
    pub run: RwSignal<Arc<Run>>,
    /// What the next step of vane would do, of the bench that settled last.
    pub steps: RwSignal<Option<Arc<Steps>>>,
    /// Kept readings.
    pub pins: RwSignal<Pins>,
    /// What the three plots show.
    pub plots: [RwSignal<Choice>; 3],
    /// The engine as it came, which what-ifs count from.
    pub came: Memo<Arc<Engine>>,
    /// A line that the learner must see.
    pub notice: RwSignal<Option<String>>,
    /// The line that a screen reader says once the bench has settled.
    pub spoken: RwSignal<String>,
    /// Counts up each time that something is touched.
    pub touched: RwSignal<u32>,
    /// Counts up each time that the bench has settled.
    pub settled: RwSignal<u32>,
    history: RwSignal<History>,
    /// An engine of the learner's own as it was read or as a link brought it.
    own_engine: RwSignal<Arc<Engine>>,
}

impl Bench {
    /// The bench of a link with the answer to it.
    pub fn new(shared: &Shared, first: Run) -> Self {
        let held = RwSignal::new(shared.bench.clone());
        let own_engine = RwSignal::new(shared.bench.engine.clone());
        let origin = view::memo(move || held.with(|b| b.origin.clone()));
        let came = view::memo(move || match origin.get() {
            Origin::Own => own_engine.get(),
            built_in => what_ifs::as_it_came(&built_in).map_or_else(|| own_engine.get(), Arc::new),
        });
        let bench = Self {
            held,
            units: RwSignal::new(shared.units),
            run: RwSignal::new(Arc::new(first)),
            steps: RwSignal::new(None),
            pins: RwSignal::new(Pins::default()),
            plots: usual_plots().map(RwSignal::new),
            came,
            notice: RwSignal::new(None),
            spoken: RwSignal::new(String::new()),
            touched: RwSignal::new(0),
            settled: RwSignal::new(0),
            history: RwSignal::new(History::default()),
            own_engine,
        };
        bench.history.update_untracked(|h| h.settle(&shared.bench));
        bench.take_pins_and_plots(shared);
        bench
    }

    /// Tells the learner something.
    pub fn say(self, text: impl Into<String>) {
        self.notice.set(Some(text.into()));
    }

    /// Something has changed that a link carries, or that is to be judged once it rests.
    pub fn touch(self) {
        self.touched.update(|n| *n = n.wrapping_add(1));
    }

    /// The one way that settings change: asks core and shows the answer in the same frame.
    pub fn show(self, next: BenchSettings) {
        if self.held.with_untracked(|held| *held == next) {
            return;
        }
        let answer = self.run.with_untracked(|before| {
            let mut answer = run::point(&next, Some(before));
            run::look_ahead(&mut answer, Some(before));
            answer
        });
        self.held.set(next);
        self.run.set(Arc::new(answer));
        self.touch();
    }

    /// The bench has come to rest: its digits, its history, the line that is spoken. `covered`: a lesson hides what is read.
    pub fn settle(self, covered: bool) {
        // The digits at rest do not depend on the way there. Asked from nothing, the same settings give the same digits here, in
        // a link that is opened, and on another machine.
        if self.run.with_untracked(|r| !r.fresh) {
            let mut fresh = self.held.with_untracked(|held| run::point(held, None));
            if fresh.holds {
                run::look_ahead(&mut fresh, None);
                self.run.set(Arc::new(fresh));
            }
        }
        self.take_steps();
        self.history.update(|h| self.held.with_untracked(|held| h.settle(held)));
        self.spoken.set(if covered {
            t(words::COVERED).into()
        } else {
            let steps = self.steps.get_untracked();
            self.run.with_untracked(|r| describe::spoken(&r.sight(steps.as_deref()), self.units.get_untracked()))
        });
        self.settled.update(|n| *n = n.wrapping_add(1));
    }

    /// Asks what the next step of vane would do, unless that is known: four more points, so only at rest.
    pub fn take_steps(self) {
        let known =
            self.steps.with_untracked(|s| s.as_ref().is_some_and(|s| self.held.with_untracked(|b| s.bench == *b)));
        if !known {
            self.steps.set(Some(Arc::new(self.run.with_untracked(|r| run::steps(r)))));
        }
    }

    /// Another engine, and not the same one changed.
    pub fn swap_engine(self, next: BenchSettings) {
        self.own_engine.set(next.engine.clone());
        self.show(next);
    }

    /// Holds torque instead of fuel, or fuel instead of torque; nothing moves.
    pub fn swap_load(self) {
        let mut next = self.held.get_untracked();
        next.settings.load = self.run.with_untracked(|r| run::swap_load(r));
        self.show(next);
    }

    /// Goes to a start point of the engine, by its id. The weather stays: a start point says how the engine runs, not on which
    /// day.
    pub fn start_at(self, id: &str) {
        let mut next = self.held.get_untracked();
        if let Some(point) = start_points(&next.engine).into_iter().find(|p| p.id == id) {
            next.settings = Settings { ambient: next.settings.ambient, ..point.settings };
            self.say(format!("{}: {}", t(point.name), t(point.says)));
            self.show(next);
        }
    }

    /// Goes back to where a pin was set.
    pub fn go_to_pin(self, letter: char) {
        let target = self.pins.with_untracked(|pins| pins.get(letter).map(|pin| pin.bench.clone()));
        target.into_iter().for_each(|next| self.show(next));
    }

    /// Begins again: from `start` where a lesson has one, else from the bench as it opens. Errors of a lesson are told.
    pub fn reset(self, start: Option<Result<BenchSettings, String>>) {
        match start.unwrap_or_else(|| Ok(BenchSettings::open())) {
            Ok(fresh) => {
                self.notice.set(None);
                self.show(fresh);
            }
            Err(why) => self.say(why),
        }
    }

    /// One step back.
    pub fn undo(self) {
        self.step(History::undo);
    }

    /// One step forward again.
    pub fn redo(self) {
        self.step(History::redo);
    }

    /// A step through history makes no new one: what stands is settled first, and what comes is what history names.
    fn step(self, take: fn(&mut History) -> Option<BenchSettings>) {
        let target = self.history.try_update(|h| {
            h.settle(&self.held.get_untracked());
            take(h)
        });
        target.flatten().into_iter().for_each(|next| self.show(next));
    }

    /// Whether there is something to undo.
    pub fn can_undo(self) -> bool {
        self.history.with(|h| self.held.with(|held| h.can_undo(held)))
    }

    /// Whether there is something to redo.
    pub fn can_redo(self) -> bool {
        self.history.with(History::can_redo)
    }

    /// What was before is not undone from here on.
    pub fn forget_history(self) {
        self.history.set(History::default());
    }

    /// Opens views in the plots, from the first on; what no plot can show is passed over.
    pub fn open_views(self, keys: &[&'static str]) {
        for (plot, view) in self.plots.iter().zip(keys.iter().filter_map(|key| View::of(key))) {
            plot.set(Choice::new(view));
        }
    }

    /// Takes all of a link that belongs to the bench.
    pub fn take(self, shared: &Shared) {
        self.notice.set(None);
        self.units.set(shared.units);
        self.own_engine.set(shared.bench.engine.clone());
        self.take_pins_and_plots(shared);
        self.show(shared.bench.clone());
    }

    fn take_pins_and_plots(self, shared: &Shared) {
        let (pins, lost) = Pins::from_shared(&shared.pins);
        self.pins.set(pins);
        if lost > 0 {
            self.say(t(words::PINS_LOST));
        }
        for (i, (plot, usual)) in self.plots.iter().zip(usual_plots()).enumerate() {
            plot.set(shared.plots.get(i).and_then(|text| Choice::decode(text)).unwrap_or(usual));
        }
    }

    /// What a link to the bench carries; the rest of it comes from the page.
    pub fn shared(self, language: Option<Language>, lesson: Option<(String, u64)>, embed: Excerpt) -> Shared {
        let plots = self.plots.map(|plot| plot.get_untracked());
        let written = if plots == usual_plots() { Vec::new() } else { plots.map(|p| p.encode()).into() };
        Shared {
            bench: self.held.get_untracked(),
            units: self.units.get_untracked(),
            language,
            lesson,
            pins: self.pins.with_untracked(Pins::shared),
            plots: written,
            embed,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use volute_core::settings::Load;

    /// A bench as it opens, with what keeps its signals.
    fn opened() -> (Owner, Bench) {
        let owner = Owner::new();
        owner.set();
        let shared = Shared::plain(BenchSettings::open(), UnitSystem::Si);
        (owner, Bench::new(&shared, run::point(&shared.bench, None)))
    }

    fn move_vane(bench: Bench, open_pct: f64) {
        let mut next = bench.held.get_untracked();
        next.settings.vane_open_pct = open_pct;
        bench.show(next);
    }

    fn vane(bench: Bench) -> f64 {
        bench.held.with_untracked(|b| b.settings.vane_open_pct)
    }

    #[test]
    fn identity_what_is_undone_can_be_redone() {
        let (_owner, bench) = opened();
        assert!(!bench.can_undo() && !bench.can_redo());
        move_vane(bench, 60.0);
        bench.settle(false);
        // Not yet settled when it is undone: it still counts as a step.
        move_vane(bench, 70.0);
        bench.undo();
        assert_eq!((vane(bench), bench.can_redo()), (60.0, true));
        bench.undo();
        assert_eq!((vane(bench), bench.can_undo()), (50.0, false));
        bench.redo();
        bench.redo();
        assert_eq!((vane(bench), bench.can_redo()), (70.0, false));
        bench.forget_history();
        bench.settle(false);
        assert!(!bench.can_undo());
    }

    /// The digits at rest are those of the same settings asked from nothing, to the bit.
    #[test]
    fn identity_a_settled_answer_does_not_depend_on_the_way_there() {
        let (_owner, bench) = opened();
        move_vane(bench, 56.0);
        move_vane(bench, 55.0);
        assert!(bench.run.with_untracked(|r| !r.fresh && r.holds));
        bench.settle(false);
        let asked = bench.held.with_untracked(|held| run::point(held, None));
        assert_eq!(bench.run.get_untracked().reading(), asked.reading());
        assert!(bench.steps.with_untracked(|s| s.as_ref().is_some_and(|s| s.held.wider.is_some())));
        assert!(bench.spoken.get_untracked().contains("Boost"));
        bench.settle(true);
        assert_eq!(bench.spoken.get_untracked(), words::COVERED);
        assert_eq!(bench.settled.get_untracked(), 2);
    }

    #[test]
    fn by_hand_what_stands_already_touches_nothing() {
        let (_owner, bench) = opened();
        move_vane(bench, 50.0);
        assert_eq!(bench.touched.get_untracked(), 0);
        move_vane(bench, 51.0);
        assert_eq!(bench.touched.get_untracked(), 1);
    }

    #[test]
    fn identity_another_quantity_held_moves_nothing() {
        let (_owner, bench) = opened();
        let torque = || bench.run.with_untracked(|r| r.reading().map(|r| r.brake.torque_n_m)).unwrap();
        let before = torque();
        bench.swap_load();
        assert!(bench.held.with_untracked(|b| matches!(b.settings.load, Load::Torque { .. })));
        // A slider stands on whole steps: half a step of it is all that the torque may move.
        let step = bench.held.with_untracked(|b| b.load_dial().step);
        assert!((torque() - before).abs() <= 0.51 * step, "{} from {before}", torque());
    }

    #[test]
    fn identity_a_link_brings_the_bench_back() {
        let (_owner, bench) = opened();
        move_vane(bench, 55.0);
        let run = bench.run.get_untracked();
        bench.pins.update(|pins| _ = pins.add(&run));
        bench.open_views(&["turbine", "nothing of that name", "entropy"]);
        bench.units.set(UnitSystem::Customary);
        let shared = bench.shared(None, None, None);
        assert_eq!(shared.plots, ["turbine", "entropy", "compressor"]);
        let (_other_owner, other) = opened();
        other.say("something old");
        other.take(&shared);
        assert_eq!(other.shared(None, None, None), shared);
        assert_eq!(other.notice.get_untracked(), None);
        // And where a pin no longer holds, the learner is told.
        let mut lost = shared;
        lost.pins[0].1.settings.load = Load::Torque { torque_n_m: 1e9 };
        other.take(&lost);
        assert_eq!(other.notice.get_untracked().as_deref(), Some(words::PINS_LOST));
        assert!(other.pins.with_untracked(|pins| pins.list().is_empty()));
    }

    #[test]
    fn by_hand_ways_to_a_place_and_back() {
        let (_owner, bench) = opened();
        let run = bench.run.get_untracked();
        bench.pins.update(|pins| _ = pins.add(&run));
        let mut stormy = bench.held.get_untracked();
        stormy.settings.ambient.t_k = 280.0;
        bench.show(stormy);
        bench.start_at("idle");
        assert_eq!((vane(bench), bench.held.with_untracked(|b| b.settings.ambient.t_k)), (60.0, 280.0));
        assert!(bench.notice.get_untracked().is_some_and(|text| text.starts_with("Idle: ")));
        bench.start_at("no such point");
        assert_eq!(vane(bench), 60.0);
        bench.go_to_pin('B');
        assert_eq!(vane(bench), 60.0);
        bench.go_to_pin('A');
        assert!(bench.held.get_untracked() == run.bench);
        bench.start_at("idle");
        bench.reset(Some(Err("no start".into())));
        assert_eq!((bench.notice.get_untracked().as_deref(), vane(bench)), (Some("no start"), 60.0));
        bench.reset(None);
        assert!(bench.notice.get_untracked().is_none() && bench.held.get_untracked() == BenchSettings::open());
    }

    #[test]
    fn by_hand_what_ifs_count_from_the_engine_that_came() {
        let (_owner, bench) = opened();
        let built_in = bench.came.get_untracked();
        let mut changed = bench.held.get_untracked();
        Arc::make_mut(&mut changed.engine).set("vanes.stuck", 1.0).unwrap();
        bench.show(changed.clone());
        assert_eq!(bench.came.get_untracked(), built_in);
        bench.swap_engine(BenchSettings { origin: Origin::Own, ..changed.clone() });
        assert_eq!(bench.came.get_untracked(), changed.engine);
    }
}
