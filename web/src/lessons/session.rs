//! A lesson that is open: whose numbers, what the bench may move and what it keeps back. No browser here.

use crate::share;
use crate::state::{BenchSettings, Origin};
use std::collections::BTreeMap;
use std::sync::Arc;
use volute_core::engine;
use volute_core::engine::built_in;
use volute_core::settings::Load;
use volute_lessons::bench::Bench;
use volute_lessons::lesson::{Lesson, Step};
use volute_lessons::progress::Progress;
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
    use volute_lessons::catalog::catalog;
    use volute_lessons::lesson::Question;
    use volute_lessons::mark::{Answer, Typed};
    use volute_lessons::seed::Seed;
    use volute_lessons::sketch::{POINTS, Sketch};
    use volute_lessons::units::Decimal;

    fn some_answer(prediction: &Question) -> Answer {
        match prediction {
            Question::Choice(_) => Answer::Choice(0),
            Question::Words(_) => Answer::Words("because".into()),
            Question::Sketch(_) => Answer::Sketch(Sketch::of_heights([0.5; POINTS])),
            Question::Order(question) => Answer::Order((0..question.items.len()).collect()),
            Question::Number(_) => Answer::Number(Typed { text: "1".into(), decimal: Decimal::Point }),
            Question::Choices(_) => unreachable!("no prediction asks for all that are true"),
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
                progress.lock(predict, some_answer(&predict.question)).unwrap();
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
}
