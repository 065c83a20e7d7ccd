//! The sweeps of the plots. They are asked of the worker at most every so often, and what it answers is kept.

use crate::browser;
use crate::language::t;
use crate::plots::sweep_curve::progress;
use crate::state::BenchSettings;
use crate::sweeps::{self, Job, SweepPoint};
use crate::view;
use crate::worker::{News, Sweeper};
use leptos::prelude::*;
use std::sync::Arc;

/// Plots that can hold a sweep; the first is the strip under the vane slider.
const PLOTS: usize = 4;

/// While a slider moves, a sweep is asked for at most this often, so that the slider has the processors for itself.
const EVERY_MS: i32 = 120;

/// The sweep of one plot.
#[derive(Clone, Copy)]
pub struct Sweep {
    index: u32,
    points: RwSignal<Arc<Vec<SweepPoint>>>,
    /// Points of the job under way that have come.
    coming: StoredValue<Vec<SweepPoint>>,
    /// The axis of the points.
    over: StoredValue<&'static str>,
    done: RwSignal<Option<(usize, usize)>>,
    asked: StoredValue<Option<Job>>,
    due: StoredValue<bool>,
    fault: RwSignal<Option<&'static str>>,
    sweeper: StoredValue<Option<Sweeper>, LocalStorage>,
}

impl Sweep {
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
            // Points of another axis would be drawn in wrong places.
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

/// The sweeps of all plots, and the worker behind them.
#[derive(Clone, Copy)]
pub struct LiveSweeps {
    bench: Signal<BenchSettings>,
    all: [Sweep; PLOTS],
}

impl LiveSweeps {
    /// Starts the worker once the page is `built`: before that it would take the processors from what the learner waits for. A
    /// sweep that is asked for until then waits.
    pub fn start(bench: Signal<BenchSettings>, built: Signal<bool>) -> Self {
        let sweeper = StoredValue::new_local(None);
        let fault = RwSignal::new(None);
        let all = [0, 1, 2, 3].map(|index| Sweep {
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
            if let Some(live) = all.iter().find(|l| l.index == news.plot) {
                live.hear(news);
            }
        };
        let failed = move || fault.set(Some(t("This browser runs no worker for the sweep.")));
        view::effect(move || {
            if !built.get() || sweeper.with_value(Option::is_some) {
                return;
            }
            let Some(started) = Sweeper::start(heard, failed) else { return failed() };
            for live in all {
                live.asked.with_value(|job| job.iter().for_each(|job| started.ask(live.index, job)));
            }
            sweeper.set_value(Some(started));
        });
        Self { bench, all }
    }

    /// The sweep of a plot over an axis; none while there is no axis.
    pub fn plot(&self, index: u32, over: Signal<Option<&'static str>>) -> Sweep {
        let live = self.all[(index as usize).min(PLOTS - 1)];
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
                // Its value is gone when the page has gone.
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
