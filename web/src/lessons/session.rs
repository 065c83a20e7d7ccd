//! A lesson that is open: whose numbers, what the bench may move and what it keeps back. No browser here.

use crate::language::{self, t};
use crate::share;
use crate::state::{BenchSettings, Dial, Origin};
use std::collections::BTreeMap;
use std::sync::Arc;
use volute_core::engine;
use volute_core::engine::built_in;
use volute_core::settings::Load;
use volute_lessons::bench::Bench;
pub use volute_lessons::cover::Cover;
use volute_lessons::lesson::{Control, Free, Lesson, Step};
use volute_lessons::progress::Progress;
use volute_lessons::units::{Decimal, Style};
use volute_lessons::work::Worked;

/// A lesson with its numbers drawn and its states computed.
#[derive(Debug, Clone)]
pub struct Session {
    /// The lesson.
    pub lesson: &'static Lesson,
    /// Its states, for this learner.
    pub worked: Arc<Worked>,
    /// Whose numbers, and under which name the progress is kept.
    pub source: Source,
    /// The checkpoints and tasks that an assignment asks of it; nothing for the whole lesson.
    pub only: Option<Vec<String>>,
}

impl PartialEq for Session {
    fn eq(&self, other: &Self) -> bool {
        std::ptr::eq(self.lesson, other.lesson)
            && self.worked.seed == other.worked.seed
            && self.source == other.source
            && self.only == other.only
    }
}

impl Session {
    /// The bench as the lesson begins. Errors: a bench that cannot be set, in words.
    pub fn start(&self) -> Result<BenchSettings, String> {
        bench_settings(self.worked.benches.get("start").ok_or("the lesson has no start")?)
    }
}

/// Whose numbers a lesson has. Each but the last has a record of its own on the device.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Source {
    /// The learner's own, which count.
    Own,
    /// New ones for practice, which do not.
    Practice,
    /// Those of a link.
    Variant(u64),
    /// Those of an assignment, by its digest.
    Assigned(String),
    /// New ones for a lesson that is being written. Nothing is kept of it.
    Draft,
}

impl Source {
    /// As the name of a record has it.
    pub fn key(&self) -> String {
        match self {
            Source::Own => "own".into(),
            Source::Practice => "practice".into(),
            Source::Variant(seed) => format!("variant-{seed}"),
            Source::Assigned(digest) => format!("assigned-{digest}"),
            Source::Draft => "draft".into(),
        }
    }
}

/// A bench of a lesson as the page holds one. Errors: as for `Bench::engine`, in words.
pub fn bench_settings(bench: &Bench) -> Result<BenchSettings, String> {
    let engine = bench.engine().map_err(|e| e.to_string())?;
    let name = bench.engine.clone().unwrap_or_else(|| built_in::first().into());
    Ok(BenchSettings { engine: Arc::new(engine), origin: Origin::BuiltIn(name), settings: bench.settings })
}

/// The bench of the page as lessons have one: a built-in engine and the parts of it that were changed. Nothing for an
/// engine of the learner's own.
pub fn lesson_bench(bench: &BenchSettings) -> Option<Bench> {
    let Origin::BuiltIn(name) = &bench.origin else { return None };
    let base = share::base(&bench.origin);
    let mut parts = BTreeMap::new();
    for key in engine::keys() {
        let path = key.path();
        if let (Ok(now), Ok(was)) = (bench.engine.get(&path), base.get(&path))
            && now != was
        {
            parts.insert(path, now);
        }
    }
    Some(Bench { engine: Some(name.clone()), parts, settings: bench.settings })
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

    /// A value as far as it may be moved to.
    pub fn hold(self, value: f64) -> f64 {
        match self {
            Reach::Within(min, max) => value.max(min).min(max),
            _ => value,
        }
    }
}

/// What the learner may move: everything without a lesson, else what is free in it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Holds(Option<Vec<Free>>);

impl Holds {
    /// As the lesson says.
    pub fn of(free: &[Free]) -> Self {
        Self(Some(free.to_vec()))
    }

    fn reach(&self, control: Control, per_si: f64) -> Reach {
        let Some(free) = &self.0 else { return Reach::Free };
        match free.iter().find(|free| free.control == control) {
            None => Reach::Held,
            Some(free) => free.range_si.map_or(Reach::Free, |(min, max)| Reach::Within(min * per_si, max * per_si)),
        }
    }

    /// Vane position, per cent.
    pub fn vane(&self) -> Reach {
        self.reach(Control::Vane, 100.0)
    }

    /// Torque or fuel.
    pub fn load(&self) -> Reach {
        self.reach(Control::Load, 1.0)
    }

    /// Engine speed, 1/min.
    pub fn speed(&self) -> Reach {
        self.reach(Control::Speed, 60.0)
    }

    /// Torque for fuel, and back.
    pub fn hold(&self) -> bool {
        self.reach(Control::Hold, 1.0) != Reach::Held
    }

    /// Pressure, temperature and humidity of the air.
    pub fn ambient(&self) -> bool {
        self.reach(Control::Ambient, 1.0) != Reach::Held
    }

    /// Altitude, m.
    pub fn altitude(&self) -> Reach {
        if self.ambient() { Reach::Free } else { self.reach(Control::Altitude, 1.0) }
    }

    /// Another engine, or one of the learner's own.
    pub fn engine(&self) -> bool {
        self.0.is_none()
    }

    /// A setting of the what-ifs by its key, SI: `exhaust_pipe.bore_m`, `ambient.p_pa`.
    pub fn part(&self, key: &str) -> Reach {
        let free = |on: bool| if on { Reach::Free } else { Reach::Held };
        if key.starts_with("ambient.") {
            return free(self.ambient());
        }
        if self.reach(Control::Parts, 1.0) == Reach::Free {
            return Reach::Free;
        }
        Control::of(&format!("parts.{key}")).map_or(Reach::Held, |control| self.reach(control, 1.0))
    }

    /// Whether none of these what-ifs may be moved.
    pub fn holds_all<'k>(&self, mut keys: impl Iterator<Item = &'k str>) -> bool {
        keys.all(|key| self.part(key) == Reach::Held)
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
    Style { decimal: decimal(), customary, references: Style::ENGLISH.references.map(t) }
}

/// The decimal sign of the page's language.
pub fn decimal() -> Decimal {
    if language::decimal() == ',' { Decimal::Comma } else { Decimal::Point }
}

/// The steps that may stand on the page, by their place in the lesson: up to the first prediction that is not locked yet, and
/// never past a reveal that waits for one; of an assignment's single checkpoints only those.
pub fn steps(progress: &Progress, lesson: &Lesson, only: Option<&[String]>) -> Vec<usize> {
    if let Some(only) = only {
        let wanted = |step: &Step| step.id().is_some_and(|id| only.iter().any(|o| o == id));
        return (0..lesson.steps.len()).filter(|i| wanted(&lesson.steps[*i])).collect();
    }
    let open = progress.steps(lesson);
    let waits = |step: &Step| matches!(step, Step::Predict(predict) if progress.locked(&predict.id).is_none());
    let end = open.iter().position(waits).map_or(open.len(), |i| i + 1);
    (0..end).collect()
}

/// Whether what a prediction is about may be shown: it is locked, and so is whatever stands before its reveal.
pub fn reveals(progress: &Progress, lesson: &Lesson, predict: &str) -> bool {
    let at = lesson.steps.iter().position(|step| matches!(step, Step::Reveal(reveal) if reveal.after == predict));
    let shown = || at.is_none_or(|at| steps(progress, lesson, None).contains(&at));
    progress.locked(predict).is_some() && shown()
}

/// Whether a checkpoint has been gone through once.
pub fn tried(progress: &Progress, checkpoint: &str) -> bool {
    let tries = progress.tries(checkpoint);
    tries.over || tries.draw > 0
}

/// What a part of a lesson is about, in the strip over it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    /// Predictions.
    Predict,
    /// Tasks on the bench.
    Try,
    /// Checkpoints.
    Check,
}

/// Parts of a lesson: which, how many are done, of how many.
pub fn parts(progress: &Progress, lesson: &Lesson) -> Vec<(Part, usize, usize)> {
    let predictions = lesson.predictions().filter(|p| progress.locked(&p.id).is_some()).count();
    let tasks = lesson.tasks().filter(|t| progress.is_task_done(&t.id)).count();
    let checkpoints = lesson.checkpoints().filter(|c| tried(progress, &c.id)).count();
    let all = [
        (Part::Predict, predictions, lesson.predictions().count()),
        (Part::Try, tasks, lesson.tasks().count()),
        (Part::Check, checkpoints, lesson.checkpoints().count()),
    ];
    all.into_iter().filter(|(_, _, of)| *of > 0).collect()
}

/// Whether two benches are set differently.
pub fn moved(a: &BenchSettings, b: &BenchSettings) -> bool {
    let load = |s: &BenchSettings| match s.settings.load {
        Load::Torque { torque_n_m } => torque_n_m,
        Load::Fuel { fuel_kg_per_cycle } => fuel_kg_per_cycle,
    };
    a.settings.vane_open_pct != b.settings.vane_open_pct
        || a.settings.speed_rpm != b.settings.speed_rpm
        || a.settings.ambient != b.settings.ambient
        || load(a) != load(b)
        || a.engine != b.engine
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::state::DIAL_VANE;
    use volute_lessons::catalog::catalog;
    use volute_lessons::lesson::Prediction;
    use volute_lessons::mark::{Answer, Typed};
    use volute_lessons::seed::Seed;
    use volute_lessons::sketch::{POINTS, Sketch};

    fn some_answer(prediction: &Prediction) -> Answer {
        match prediction {
            Prediction::Choice(_) => Answer::Choice(0),
            Prediction::Short => Answer::Words("because".into()),
            Prediction::Sketch(_) => Answer::Sketch(Sketch::of_heights([0.5; POINTS])),
            Prediction::Order(question) => Answer::Order((0..question.items.len()).collect()),
            Prediction::Number(_) => Answer::Number(Typed { text: "1".into(), decimal: Decimal::Point }),
        }
    }

    #[test]
    fn identity_nothing_after_an_open_prediction_is_on_the_page() {
        for lesson in &catalog().lessons {
            let mut progress = Progress::new(Seed(3));
            assert!(steps(&progress, lesson, None).len() < lesson.steps.len());
            for predict in lesson.predictions() {
                let shown = steps(&progress, lesson, None);
                let reveal = |i: &usize| matches!(&lesson.steps[*i], Step::Reveal(r) if r.after == predict.id);
                assert!(!shown.iter().any(reveal) && !reveals(&progress, lesson, &predict.id), "{}", lesson.id);
                progress.lock(predict, some_answer(&predict.answer)).unwrap();
            }
            assert_eq!(steps(&progress, lesson, None).len(), lesson.steps.len());
            assert!(lesson.predictions().all(|p| reveals(&progress, lesson, &p.id)));
        }
    }

    #[test]
    fn identity_every_lesson_has_its_parts_and_its_single_questions() {
        for lesson in &catalog().lessons {
            let progress = Progress::new(Seed(11));
            let parts = parts(&progress, lesson);
            assert!(parts.len() >= 2 && parts.iter().all(|(_, done, of)| *done == 0 && *of > 0), "{}", lesson.id);
            for checkpoint in lesson.checkpoints() {
                let only = [checkpoint.id.clone()];
                let shown = steps(&progress, lesson, Some(&only));
                assert_eq!(shown.len(), 1);
                assert_eq!(lesson.steps[shown[0]].id(), Some(checkpoint.id.as_str()));
            }
        }
    }

    #[test]
    fn identity_a_bench_goes_to_the_page_and_back() {
        for lesson in &catalog().lessons {
            let mut bench = lesson.bench(Seed(11)).unwrap();
            bench.parts.insert("exhaust_pipe.bore_m".into(), 0.12);
            let page = bench_settings(&bench).unwrap();
            page.settings.check(&page.engine).unwrap();
            let back = lesson_bench(&page).unwrap();
            assert_eq!((back.settings, back.engine().unwrap()), (bench.settings, bench.engine().unwrap()));
            assert!(!moved(&page, &bench_settings(&back).unwrap()));
        }
    }

    #[test]
    fn by_hand_what_a_lesson_leaves_free() {
        let free = |name: &str, range_si| Free { control: Control::of(name).unwrap(), range_si };
        let holds =
            Holds::of(&[free("vane", Some((0.6, 1.0))), free("parts.exhaust_pipe.bore_m", Some((0.08, 0.125)))]);
        assert_eq!((holds.load(), holds.speed(), holds.altitude()), (Reach::Held, Reach::Held, Reach::Held));
        assert_eq!(holds.vane().narrow(DIAL_VANE), Dial { min: 60.0, max: 100.0, step: 1.0 });
        assert_eq!(holds.part("exhaust_pipe.bore_m"), Reach::Within(0.08, 0.125));
        assert_eq!((holds.part("exhaust_pipe.length_m"), holds.part("ambient.p_pa")), (Reach::Held, Reach::Held));
        assert!(!holds.hold() && !holds.engine() && !holds.ambient());
        assert!(holds.holds_all(["ambient.t_k"].into_iter()) && !holds.holds_all(["exhaust_pipe.bore_m"].into_iter()));
        let none = Holds::default();
        assert!(
            none.engine() && none.hold() && none.part("filter.loss_1_m4") == Reach::Free && none.vane() == Reach::Free
        );
        assert_eq!(Reach::Within(1.0, 2.0).hold(3.0), 2.0);
    }
}
