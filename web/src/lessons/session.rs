//! A lesson that is open: whose numbers, what the bench may move and what it keeps back. No browser here.

use crate::state::{BenchSettings, Dial, Origin};
use std::sync::Arc;
use volute_core::engine_file::BUILT_IN;
use volute_core::settings::Load;
use volute_lessons::bench::{Bench, CoreSolver};
use volute_lessons::lesson::{Control, Lesson, Start, Step};
use volute_lessons::progress::Progress;
use volute_lessons::seed::Seed;
use volute_lessons::units::{Decimal, Style};
use volute_lessons::work::Worked;

/// A lesson with its numbers drawn and its states computed.
#[derive(Debug, Clone)]
pub struct Session {
    /// The lesson.
    pub lesson: &'static Lesson,
    /// Its states, for this learner.
    pub worked: Arc<Worked>,
}

impl PartialEq for Session {
    fn eq(&self, other: &Self) -> bool {
        self.lesson.id == other.lesson.id && self.worked.seed == other.worked.seed
    }
}

impl Session {
    /// Draws and computes. Errors: the lesson's own, in words.
    pub fn open(lesson: &'static Lesson, seed: Seed) -> Result<Self, String> {
        let mut solver = CoreSolver::default();
        let worked = lesson.work_out(seed, &mut solver).map_err(|e| e.to_string())?;
        Ok(Self { lesson, worked: Arc::new(worked) })
    }

    /// The bench as the lesson begins. Errors: a bench that cannot be set, in words.
    pub fn start(&self) -> Result<BenchSettings, String> {
        let bench = self.worked.benches.get("start").ok_or("the lesson has no start")?;
        bench_settings(bench)
    }
}

/// A bench of a lesson as the page holds one. Errors: as for `Bench::engine`, in words.
pub fn bench_settings(bench: &Bench) -> Result<BenchSettings, String> {
    let engine = bench.engine().map_err(|e| e.to_string())?;
    let name =
        bench.engine.clone().unwrap_or_else(|| BUILT_IN.first().map_or_else(String::new, |(n, _)| n.to_string()));
    Ok(BenchSettings { engine: Arc::new(engine), origin: Origin::BuiltIn(name), settings: bench.settings })
}

/// How far a control may be moved.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Reach {
    /// As far as the bench goes.
    Free,
    /// Between these ends, in SI of the dial.
    Within(f64, f64),
    /// Not at all.
    Held,
}

impl Reach {
    /// The dial as far as it may be moved.
    pub fn narrow(self, dial: Dial) -> Dial {
        match self {
            Reach::Within(min, max) => Dial { min: min.max(dial.min), max: max.min(dial.max), ..dial },
            _ => dial,
        }
    }
}

/// What the learner may move.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Holds {
    /// Vane position, per cent.
    pub vane: Reach,
    /// Torque or fuel.
    pub load: Reach,
    /// Engine speed, 1/min.
    pub speed: Reach,
    /// Engine, and torque for fuel.
    pub engine: Reach,
}

impl Holds {
    /// No lesson: everything.
    pub const NONE: Holds = Holds { vane: Reach::Free, load: Reach::Free, speed: Reach::Free, engine: Reach::Free };

    /// As the lesson says.
    pub fn of(start: &Start) -> Self {
        let reach = |control: Control, per_si: f64| match start.layout.free.iter().find(|free| free.control == control)
        {
            None => Reach::Held,
            Some(free) => free.range_si.map_or(Reach::Free, |(min, max)| Reach::Within(min * per_si, max * per_si)),
        };
        Self {
            vane: reach(Control::Vane, 100.0),
            load: reach(Control::Load, 1.0),
            speed: reach(Control::Speed, 60.0),
            engine: reach(Control::Parts, 1.0),
        }
    }
}

/// What the lesson keeps off the bench for now: nothing of it may be on the page. By the lessons' names for quantities.
///
/// A quantity that is hidden takes with it what it could be read from; see [`SAME`] and [`TELLS`].
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Cover {
    hidden: Vec<&'static str>,
    /// Where there is such a list, all else is hidden.
    only: Option<Vec<&'static str>>,
}

/// Groups of which one says all: each follows from another and from what a learner sets.
const SAME: [&[&str]; 7] = [
    &["torque", "power", "bmep", "brake_efficiency"],
    &["pmep", "pumping_torque", "pumping_power"],
    &["shaft", "tip_speed"],
    &["density_ratio", "rho_im"],
    &["fuel", "fuel_flow"],
    &["p3", "balance", "expansion_ratio"],
    &["air_flow", "afr"],
];

/// Groups that are hidden together, but not shown together: knowing p2, the balance tells p3, and the fuel tells the air flow
/// from the air–fuel ratio; who may see one of them need not be shown the other.
const TELLS: usize = 5;

/// What is hidden with a quantity in one direction only.
const BETRAYS: [(&str, &str); 3] = [("boost", "p_im"), ("p2", "pressure_ratio"), ("p_im", "pressure_ratio")];

impl Cover {
    /// What is covered at this stage of a lesson.
    pub fn of(progress: &Progress, lesson: &Lesson) -> Self {
        let covered = progress.covers(lesson, None);
        let only = covered.only.map(|only| only.iter().map(|q| q.name).collect());
        Self::new(covered.hide.iter().map(|q| q.name), only)
    }

    /// Hides these, and if there is a list of what is shown, all that is not in it.
    pub fn new(hide: impl Iterator<Item = &'static str>, only: Option<Vec<&'static str>>) -> Self {
        let mut hidden: Vec<&'static str> = Vec::new();
        for name in hide {
            hidden.push(name);
            hidden.extend(SAME.iter().filter(|group| group.contains(&name)).copied().flatten());
            hidden.extend(BETRAYS.iter().filter(|(from, _)| *from == name).map(|(_, to)| *to));
        }
        hidden.sort_unstable();
        hidden.dedup();
        let only = only.map(|only| {
            let mut shown = only.clone();
            shown
                .extend(SAME[..TELLS].iter().filter(|group| only.iter().any(|n| group.contains(n))).copied().flatten());
            shown.sort_unstable();
            shown.dedup();
            shown
        });
        Self { hidden, only }
    }

    /// Whether a quantity is covered.
    pub fn hides(&self, name: &str) -> bool {
        // The page's own table of readings has this one under another name.
        let name = if name == "gross_mep" { "imep" } else { name };
        self.hidden.contains(&name) || self.only.as_ref().is_some_and(|only| !only.contains(&name))
    }

    /// Whether any of these is covered: for whatever shows all of them.
    pub fn hides_any(&self, names: &[&str]) -> bool {
        names.iter().any(|name| self.hides(name))
    }

    /// Whether nothing is covered.
    pub fn is_off(&self) -> bool {
        self.hidden.is_empty() && self.only.is_none()
    }
}

/// What shows the balance.
pub const BALANCE: &[&str] = &["balance"];
/// What shows the pumping loss.
pub const PUMPING: &[&str] = &["pumping_torque"];
/// What shows the torque.
pub const TORQUE: &[&str] = &["torque"];

/// How lesson text prints numbers.
pub fn style(customary: bool) -> Style {
    Style { decimal: Decimal::Point, customary }
}

/// The steps that may stand on the page: up to the first prediction that is not locked yet, and never past a reveal that
/// waits for one.
pub fn steps<'l>(progress: &Progress, lesson: &'l Lesson) -> &'l [Step] {
    let open = progress.steps(lesson);
    let waits = |step: &Step| matches!(step, Step::Predict(predict) if progress.locked(&predict.id).is_none());
    match open.iter().position(waits) {
        Some(i) => &open[..=i],
        None => open,
    }
}

/// Parts of a lesson in the strip over it: name, whether done.
pub fn stages(progress: &Progress, lesson: &Lesson) -> Vec<(&'static str, bool)> {
    let mut out = Vec::new();
    if lesson.predictions().next().is_some() {
        out.push(("Predict", lesson.predictions().all(|p| progress.locked(&p.id).is_some())));
    }
    if lesson.tasks().next().is_some() {
        out.push(("Try", lesson.tasks().all(|t| progress.is_task_done(&t.id))));
    }
    if lesson.checkpoints().next().is_some() {
        let done = |id: &str| progress.tries(id).over || progress.tries(id).draw > 0;
        out.push(("Check", lesson.checkpoints().all(|c| done(&c.id))));
    }
    out
}

/// The load as the lessons' own settings have it, to tell whether a task was begun.
pub fn moved(a: &BenchSettings, b: &BenchSettings) -> bool {
    let load = |s: &BenchSettings| match s.settings.load {
        Load::Torque { torque_n_m } => torque_n_m,
        Load::Fuel { fuel_kg_per_cycle } => fuel_kg_per_cycle,
    };
    a.settings.vane_open_pct != b.settings.vane_open_pct
        || a.settings.speed_rpm != b.settings.speed_rpm
        || load(a) != load(b)
}

#[cfg(test)]
mod tests {
    use super::*;
    use volute_lessons::catalog::catalog;
    use volute_lessons::progress::Locked;

    #[test]
    fn identity_nothing_after_an_open_prediction_is_on_the_page() {
        for lesson in &catalog().lessons {
            let mut progress = Progress::new(Seed(3));
            let before = steps(&progress, lesson).len();
            assert!(before < lesson.steps.len());
            assert!(!steps(&progress, lesson).iter().any(|s| matches!(s, Step::Reveal(_))), "{}", lesson.id);
            for predict in lesson.predictions() {
                let answer = match &predict.answer {
                    volute_lessons::lesson::Prediction::Choice(_) => Locked::Choice(0),
                    volute_lessons::lesson::Prediction::Short => Locked::Words("because".into()),
                    other => panic!("no answer for {other:?}"),
                };
                progress.lock(predict, answer).unwrap();
            }
            assert_eq!(steps(&progress, lesson).len(), lesson.steps.len());
            assert!(Cover::of(&progress, lesson).is_off());
        }
    }

    #[test]
    fn identity_every_lesson_opens_on_the_page() {
        for lesson in &catalog().lessons {
            let session = Session::open(lesson, Seed(11)).unwrap();
            let start = session.start().unwrap();
            start.settings.check(&start.engine).unwrap();
            assert_eq!(stages(&Progress::new(Seed(11)), lesson).len(), 3, "{}", lesson.id);
        }
    }

    #[test]
    fn by_hand_what_is_hidden_takes_along_what_tells_it() {
        let cover = Cover::new(["balance", "boost"].into_iter(), None);
        for name in ["balance", "p3", "expansion_ratio", "boost", "p_im"] {
            assert!(cover.hides(name), "{name}");
        }
        assert!(!cover.hides_any(&["p2", "torque", "shaft"]) && !cover.is_off());
        let only = Cover::new([].into_iter(), Some(vec!["boost", "pmep", "p3", "imep"]));
        assert!(!only.hides_any(&["boost", "pmep", "pumping_torque", "p3", "gross_mep"]));
        for name in ["balance", "p_im", "p2", "torque", "afr"] {
            assert!(only.hides(name), "{name}");
        }
        assert!(Cover::default().is_off() && !Cover::default().hides("torque"));
    }

    #[test]
    fn by_hand_what_a_lesson_leaves_free() {
        let lesson = catalog().lesson("more-boost-less-torque").unwrap();
        let holds = Holds::of(&lesson.start);
        assert_eq!((holds.load, holds.speed, holds.engine), (Reach::Held, Reach::Held, Reach::Held));
        assert_eq!(holds.vane.narrow(crate::state::DIAL_VANE), Dial { min: 60.0, max: 100.0, step: 1.0 });
    }
}
