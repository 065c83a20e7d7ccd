//! Asks the core for what lessons need, a little at a time: the page stays quick however much there is to compute.
//!
//! In each stint a job begins again from the start. What was computed before is remembered, so each stint gets further, until
//! the job ends within one. The lessons crate need not know that it is interrupted. Jobs are done in the order in which they
//! came.

use crate::browser;
use std::cell::RefCell;
use std::collections::VecDeque;
use volute_core::point::reading::Reading;
use volute_lessons::bench::{Bench, BenchError, CoreSolver, Solve};
use volute_lessons::curves::RunResult;

/// How long the core computes between two looks at the page, in ms.
const STINT_MS: f64 = 12.0;

/// An answer that took longer than this was computed, not remembered, in ms. Chosen.
const COMPUTED_MS: f64 = 0.4;

/// The core, for one stint.
pub struct Stint<'a> {
    core: &'a mut CoreSolver,
    now_ms: fn() -> f64,
    until_ms: f64,
    computed: bool,
    put_off: bool,
}

impl<'a> Stint<'a> {
    /// From now on, by this clock.
    pub fn new(core: &'a mut CoreSolver, now_ms: fn() -> f64) -> Self {
        Self { core, now_ms, until_ms: now_ms() + STINT_MS, computed: false, put_off: false }
    }

    /// Whether something was left unanswered because the time was over. The result of the job is then worthless.
    pub fn put_off(&self) -> bool {
        self.put_off
    }

    fn ask<T>(&mut self, call: impl FnOnce(&mut CoreSolver) -> Result<T, BenchError>) -> Result<T, BenchError> {
        let begun = (self.now_ms)();
        // At least one thing is computed in each stint, so that every job comes to its end.
        if self.put_off || (self.computed && begun > self.until_ms) {
            self.put_off = true;
            return Err(BenchError::Stopped);
        }
        let answer = call(self.core);
        self.computed |= (self.now_ms)() - begun > COMPUTED_MS;
        answer
    }
}

impl Solve for Stint<'_> {
    fn solve(&mut self, bench: &Bench) -> Result<Reading, BenchError> {
        self.ask(|core| core.solve(bench))
    }

    fn run(&mut self, from: &Bench, to: &Bench, for_s: f64) -> Result<RunResult, BenchError> {
        self.ask(|core| core.run(from, to, for_s))
    }
}

/// One thing to do: says whether it is done.
type Job = Box<dyn FnMut(&mut CoreSolver) -> bool>;

#[derive(Default)]
struct Hand {
    core: CoreSolver,
    jobs: VecDeque<Job>,
    busy: bool,
}

thread_local! {
    static HAND: RefCell<Hand> = RefCell::default();
}

/// Works `job` out, in as many stints as it takes, and calls back. Nothing is called once `alive` says that nobody waits.
pub fn work_out<T: 'static>(
    alive: impl Fn() -> bool + 'static,
    mut job: impl FnMut(&mut dyn Solve) -> T + 'static,
    done: impl FnOnce(T) + 'static,
) {
    let mut done = Some(done);
    let step: Job = Box::new(move |core| {
        if !alive() {
            return true;
        }
        let mut stint = Stint::new(core, browser::now_ms);
        let answer = job(&mut stint);
        if stint.put_off() {
            return false;
        }
        if let Some(done) = done.take() {
            done(answer);
        }
        true
    });
    let idle = HAND.with_borrow_mut(|hand| {
        hand.jobs.push_back(step);
        !std::mem::replace(&mut hand.busy, true)
    });
    if idle {
        browser::after(0, go_on);
    }
}

fn go_on() {
    // Nothing is borrowed while a job runs, because a job may ask for the next one.
    let taken = HAND.with_borrow_mut(|hand| hand.jobs.pop_front().map(|job| (job, std::mem::take(&mut hand.core))));
    let Some((mut job, mut core)) = taken else {
        HAND.with_borrow_mut(|hand| hand.busy = false);
        return;
    };
    let done = job(&mut core);
    HAND.with_borrow_mut(|hand| {
        hand.core = core;
        if !done {
            hand.jobs.push_front(job);
        }
    });
    browser::after(0, go_on);
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::OnceLock;
    use std::time::Instant;
    use volute_lessons::seed::Seed;

    fn clock() -> f64 {
        static BEGUN: OnceLock<Instant> = OnceLock::new();
        BEGUN.get_or_init(Instant::now).elapsed().as_secs_f64() * 1000.0
    }

    #[test]
    fn identity_a_lesson_in_stints_is_the_same_as_in_one_go() {
        let lesson = &volute_lessons::catalog::catalog().lessons[0];
        let whole = lesson.work_out(Seed(5), &mut CoreSolver::default());
        let (mut core, mut stints) = (CoreSolver::default(), 0);
        let worked = loop {
            stints += 1;
            assert!(stints < 1000, "it never ends");
            let mut stint = Stint::new(&mut core, clock);
            let worked = lesson.work_out(Seed(5), &mut stint);
            if !stint.put_off() {
                break worked;
            }
        };
        assert_eq!(worked, whole);
    }

    #[test]
    fn by_hand_a_stint_without_time_puts_off_and_says_so() {
        // After one computation the time is over, whatever it was.
        fn late() -> f64 {
            thread_local!(static NOW: std::cell::Cell<f64> = const { std::cell::Cell::new(0.0) });
            NOW.set(NOW.get() + 20.0);
            NOW.get()
        }
        let lesson = &volute_lessons::catalog::catalog().lessons[0];
        let bench = lesson.bench(Seed(5)).unwrap();
        let mut core = CoreSolver::default();
        let mut stint = Stint::new(&mut core, late);
        assert!(stint.solve(&bench).is_ok() && !stint.put_off());
        assert!(stint.solve(&bench).is_err() && stint.put_off());
    }
}
