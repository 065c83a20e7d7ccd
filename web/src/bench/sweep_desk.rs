//! Which plot waits for which sweep: asks the worker, at most every so often, and keeps what it answers.

use crate::browser;
use crate::language::t;
use crate::plots::sweep_curve::progress;
use crate::state::BenchSettings;
use crate::sweeps::{self, Job, SweepPoint};
use crate::view;
use crate::words;
use crate::worker::{News, Sweeper};
use leptos::prelude::*;
use std::sync::Arc;

/// Plots that can hold a sweep; the first is the strip under the vane slider.
const PLOTS: usize = 4;

/// While a slider moves, a sweep is asked for this often at most: the worker leaves the processors to the slider.
const EVERY_MS: i32 = 120;

/// The sweep of one plot.
#[derive(Clone, Copy)]
pub struct Live {
    index: u32,
    points: RwSignal<Arc<Vec<SweepPoint>>>,
    /// What has come of the job under way.
    coming: StoredValue<Vec<SweepPoint>>,
    /// Of which axis the points are.
    over: StoredValue<&'static str>,
    done: RwSignal<Option<(usize, usize)>>,
    asked: StoredValue<Option<Job>>,
    due: StoredValue<bool>,
    fault: RwSignal<Option<&'static str>>,
    sweeper: StoredValue<Option<Sweeper>, LocalStorage>,
}

impl Live {
    /// What has been computed, in rising order.
    pub fn points(&self) -> RwSignal<Arc<Vec<SweepPoint>>> {
        self.points
    }

    /// Why there is no sweep, if so.
    pub fn fault(&self) -> Option<&'static str> {
        self.fault.get()
    }

    /// How far it is, while it takes long enough to be worth a word.
    pub fn progress(&self) -> Option<String> {
        self.done.get().map(|(done, total)| progress(done, total))
    }

    /// Stops the job under way; what has come is kept.
    pub fn stop(&self) {
        self.sweeper.with_value(|s| {
            if let Some(s) = s {
                s.stop(self.index);
            }
        });
        self.points.set(Arc::new(sweeps::in_order(self.coming.get_value())));
        self.done.set(None);
    }

    /// Asks for a job, unless its answer is there already.
    fn ask(&self, over: &'static str, bench: &BenchSettings) {
        let Some(axis) = sweeps::find(over) else { return };
        let job = Job::new(axis, bench);
        if self.asked.with_value(|a| a.as_ref() == Some(&job)) {
            return;
        }
        if self.over.get_value() != over {
            // Points of another axis say nothing here.
            self.points.set(Arc::default());
            self.over.set_value(over);
        }
        self.sweeper.with_value(|s| {
            if let Some(s) = s {
                s.ask(self.index, &job);
            }
        });
        self.asked.set_value(Some(job));
    }

    fn hear(&self, news: News) {
        let (done, total) = news.done;
        self.coming.update_value(|all| {
            if news.first {
                all.clear();
            }
            all.extend(news.points);
        });
        let ready = done >= total;
        // The old curve stands until the new one is whole: it does not grow anew under a moving slider.
        if ready || self.points.with_untracked(|p| p.len() < total) {
            self.points.set(Arc::new(sweeps::in_order(self.coming.get_value())));
        }
        self.done.set((!ready).then_some((done, total)));
    }
}

/// All of them, and the worker behind them.
#[derive(Clone, Copy)]
pub struct SweepDesk {
    bench: Signal<BenchSettings>,
    lives: [Live; PLOTS],
}

impl SweepDesk {
    /// Starts the worker once the page is `built`: before that it would take the processors from what a hand waits for. What is
    /// asked until then waits.
    pub fn start(bench: Signal<BenchSettings>, built: Signal<bool>) -> Self {
        let sweeper = StoredValue::new_local(None);
        let fault = RwSignal::new(None);
        let lives = [0, 1, 2, 3].map(|index| Live {
            index,
            points: RwSignal::new(Arc::default()),
            coming: StoredValue::new(Vec::new()),
            over: StoredValue::new(""),
            done: RwSignal::new(None),
            asked: StoredValue::new(None),
            due: StoredValue::new(false),
            fault,
            sweeper,
        });
        let heard = move |news: News| {
            fault.set(None);
            if let Some(live) = lives.iter().find(|l| l.index == news.plot) {
                live.hear(news);
            }
        };
        let failed = move || fault.set(Some(t(words::NO_WORKER)));
        view::effect(move || {
            if !built.get() || sweeper.with_value(Option::is_some) {
                return;
            }
            let Some(started) = Sweeper::start(heard, failed) else { return failed() };
            for live in lives {
                live.asked.with_value(|job| job.iter().for_each(|job| started.ask(live.index, job)));
            }
            sweeper.set_value(Some(started));
        });
        Self { bench, lives }
    }

    /// The sweep of a plot, over an axis or, for nothing, none.
    pub fn plot(&self, index: u32, over: Signal<Option<&'static str>>) -> Live {
        let live = self.lives[(index as usize).min(PLOTS - 1)];
        let bench = self.bench;
        view::effect(move || {
            let Some(axis) = over.get() else { return };
            bench.track();
            if live.asked.with_value(Option::is_none) || live.over.get_value() != axis {
                live.ask(axis, &bench.get_untracked());
                return;
            }
            if live.due.get_value() {
                return;
            }
            live.due.set_value(true);
            browser::after(EVERY_MS, move || {
                // Nothing is left of it when the page has gone.
                if live.due.try_set_value(false).is_none()
                    && let Some(axis) = over.get_untracked()
                {
                    live.ask(axis, &bench.get_untracked());
                }
            });
        });
        live
    }
}
