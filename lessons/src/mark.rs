//! Marks answers: predictions, tasks by the state of the bench, numbers by value, unit and figures apart.
//!
//! Every answer is computed by the core for the learner's own numbers; the file holds expressions, never results.

use crate::bench::{Bench, Solve};
use crate::expr::{self, Env, EvalError, Expr};
use crate::lesson::*;
use crate::number::{self, ReadError, Written};
use crate::said::{self, Sentence};
use crate::seed;
use crate::sketch::{self, Sketch, SketchKey, SketchMark};
use crate::text::Prose;
use crate::units::{self, Decimal, Family, Measure, Style};
use crate::work::{Unfair, Visited, WorkError, Worked};
use volute_core::point::reading::{Outcome, Reading};

/// Points that a missing unit costs. Chosen.
const MISSING_UNIT: f64 = 0.2;
/// Points that too few or too many figures cost. Chosen.
pub const FIGURES: f64 = 0.1;
/// Points for the right number with a wrong unit. Chosen.
const WRONG_UNIT: f64 = 0.5;
/// Figures beyond which nobody can have read them off the bench. Chosen.
pub const MOST_FIGURES: u8 = 6;

/// What a learner answers.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Answer {
    /// A number, as it was typed.
    Number(Typed),
    /// The option with this index, from 0.
    Choice(usize),
    /// The options that are ticked, by index, rising.
    Choices(Vec<usize>),
    /// Items by their place in the file, in the learner's order.
    Order(Vec<usize>),
    /// A curve.
    Sketch(Sketch),
    /// The learner's own words.
    Words(String),
}

/// A typed number, and how its writer separates decimals.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Typed {
    /// As it was typed.
    pub text: String,
    /// The decimal sign of the page at that moment.
    pub decimal: Decimal,
}

impl Typed {
    /// Reads it. Errors: what is asked back.
    pub fn read(&self, asked: Measure) -> Result<Written, ReadError> {
        number::read(&self.text, self.decimal, Some(asked))
    }
}

/// Why an answer is not taken: said to the learner, costs no try.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum AnswerError {
    /// Not read as a number.
    #[error(transparent)]
    Read(#[from] ReadError),
    /// Nothing chosen, or no such option.
    #[error("{}", self.sentence())]
    NoOption {
        /// How many there are.
        options: usize,
    },
    /// Nothing ticked, or no such option.
    #[error("{}", self.sentence())]
    NoneTicked {
        /// How many there are.
        options: usize,
    },
    /// Not every item once.
    #[error("{}", self.sentence())]
    NotAllItems {
        /// How many there are.
        items: usize,
    },
    /// Nothing was written.
    #[error("{}", self.sentence())]
    Empty,
    /// Less than is asked for.
    #[error("{}", self.sentence())]
    TooShort {
        /// Characters that were written.
        written: usize,
        /// Characters that are asked for.
        at_least: u32,
    },
    /// More than is kept.
    #[error("{}", self.sentence())]
    TooLong {
        /// Length of the answer.
        bytes: usize,
    },
    /// The answer to another kind of question.
    #[error("{}", self.sentence())]
    WrongKind,
}

impl AnswerError {
    /// The same as a template, for a page in another language.
    pub fn sentence(&self) -> Sentence {
        match self {
            AnswerError::Read(error) => error.sentence(),
            AnswerError::NoOption { options } => Sentence::new(said::CHOOSE_ONE).with("options", options),
            AnswerError::NoneTicked { options } => Sentence::new(said::TICK_ONE).with("options", options),
            AnswerError::NotAllItems { items } => Sentence::new(said::ORDER_ALL).with("items", items),
            AnswerError::Empty => Sentence::new(said::WORDS_EMPTY),
            AnswerError::TooShort { written, at_least } => {
                Sentence::new(said::WORDS_SHORT).with("written", written).with("at_least", at_least)
            }
            AnswerError::TooLong { bytes } => {
                let most = crate::progress::LONGEST_ANSWER;
                Sentence::new(said::WORDS_LONG).with("bytes", bytes).with("most", most)
            }
            AnswerError::WrongKind => Sentence::new(said::WRONG_KIND),
        }
    }
}

/// A checkpoint with its numbers drawn, its states computed and its answer known.
#[derive(Debug, Clone, PartialEq)]
pub struct Asked<'l> {
    /// The checkpoint.
    pub checkpoint: &'l Checkpoint,
    /// The lesson's states and numbers with those of the checkpoint.
    pub worked: Worked,
    /// The right answer.
    pub key: Key,
    /// Draws that were thrown away because they were not fair.
    pub thrown_away: u32,
}

/// A prediction with its numbers drawn, its states computed and its answer known.
#[derive(Debug, Clone, PartialEq)]
pub struct Predicted<'l> {
    /// The prediction.
    pub predict: &'l Predict,
    /// The lesson's states and numbers with those of the prediction.
    pub worked: Worked,
    /// What the core says.
    pub key: Key,
    /// Draws that were thrown away because they were not fair.
    pub thrown_away: u32,
}

/// A task with its numbers drawn and its states computed.
#[derive(Debug, Clone, PartialEq)]
pub struct Set<'l> {
    /// The task.
    pub task: &'l Task,
    /// The lesson's states and numbers with those of the task.
    pub worked: Worked,
    /// Draws that were thrown away because they were not fair.
    pub thrown_away: u32,
}

/// The right answer.
#[derive(Debug, Clone, PartialEq)]
#[allow(clippy::large_enum_variant, reason = "one a question, and never moved about")]
pub enum Key {
    /// A number, all in SI.
    Number {
        /// The answer.
        answer_si: f64,
        /// How far off is still right; zero for a prediction.
        tolerance_si: f64,
        /// The value of each misconception, in the order of the file.
        wrong_si: Vec<f64>,
    },
    /// The option with this index.
    Choice(usize),
    /// Whether each option is right.
    Choices(Vec<bool>),
    /// Items.
    Order(OrderKey),
    /// A curve.
    Sketch(SketchKey),
    /// The learner's own words: none is right or wrong.
    Words,
}

/// The right order.
#[derive(Debug, Clone, PartialEq)]
pub struct OrderKey {
    /// Items by their place in the file, in the right order.
    pub right: Vec<usize>,
    /// The same as they are shown at first.
    pub shown: Vec<usize>,
    /// What each item was sorted by, SI, in the order of the file; empty when the file gives the order.
    pub values_si: Vec<f64>,
    /// The order of each misconception that sorts by other values.
    pub wrong: Vec<Option<Vec<usize>>>,
}

/// How an answer was marked.
#[derive(Debug, Clone, PartialEq)]
pub struct Mark<'l> {
    /// Whether the checkpoint is passed.
    pub right: bool,
    /// Points, 0 to 1, before hints.
    pub points: f64,
    /// The misconception that explains the answer, by its place in the file; for a choice the option.
    pub misconception: Option<usize>,
    /// Explanations: of the misconception, of the option, of every option judged wrongly, of the true curve.
    pub because: Vec<&'l [Prose]>,
    /// The state that "show it on the bench" sets, by name; see [`Asked::show`].
    pub show: Option<&'l str>,
    /// What there is beyond that.
    pub detail: Detail<'l>,
}

/// What a kind of question has to say beyond right and wrong.
#[derive(Debug, Clone, PartialEq)]
pub enum Detail<'l> {
    /// Value, unit and figures.
    Number(NumberMark<'l>),
    /// Nothing more.
    Choice,
    /// Whether each option was judged rightly.
    Choices(Vec<bool>),
    /// Whether each place holds the right item.
    Order(Vec<bool>),
    /// Feature by feature.
    Sketch(SketchMark),
    /// Kept for the instructor.
    Words,
}

/// Powers of ten by exponent: the same bits everywhere, which `powi` does not promise.
const POWERS: [f64; 7] = [1.0, 1.0e1, 1.0e2, 1.0e3, 1.0e4, 1.0e5, 1.0e6];

/// A share of the tolerance that rounding in between may take.
const HAIR: f64 = 1.0 + 1.0e-9;

impl Checkpoint {
    /// Draws the numbers of this checkpoint, computes its states and its answer. A draw that is not fair (a state that does
    /// not end as the lesson wants it, a misconception within three tolerances of the answer, items too close, a value that
    /// does not exist) is thrown away for the next one, in an order that the seed fixes. Errors: a state that cannot be set,
    /// no fair draw.
    pub fn work_out(
        &self,
        lesson: &Lesson,
        worked: &Worked,
        draw: u32,
        solver: &mut dyn Solve,
    ) -> Result<Asked<'_>, WorkError> {
        let at = (lesson, worked, self.id.as_str(), draw);
        let seed = |own: &Worked, count| seed::shuffle(own.seed, &lesson.id, &self.id, draw, count);
        let (worked, key, thrown_away) = self.setup.work_out(at, solver, &mut |own, _| match &self.kind {
            CheckpointKind::Choice(options) => choice_key(options, own),
            CheckpointKind::Choices(options) => choices_key(options, own),
            CheckpointKind::Number(question) => question.key(own),
            CheckpointKind::Order(question) => question.key(own, seed(own, question.items.len())),
            CheckpointKind::Sketch(question) => question.key(own),
            CheckpointKind::Words(_) => Ok(Ok(Key::Words)),
        })?;
        Ok(Asked { checkpoint: self, worked, key, thrown_away })
    }
}

impl Predict {
    /// Draws the numbers of this prediction, computes its states and what the core says. Errors as for a checkpoint.
    pub fn work_out(
        &self,
        lesson: &Lesson,
        worked: &Worked,
        solver: &mut dyn Solve,
    ) -> Result<Predicted<'_>, WorkError> {
        let at = (lesson, worked, self.id.as_str(), 0);
        let (worked, key, thrown_away) = self.setup.work_out(at, solver, &mut |own, _| match &self.answer {
            Prediction::Choice(options) => choice_key(options, own),
            Prediction::Short => Ok(Ok(Key::Words)),
            Prediction::Sketch(question) => question.key(own),
            Prediction::Order(question) => {
                question.key(own, seed::shuffle(own.seed, &lesson.id, &self.id, 0, question.items.len()))
            }
            Prediction::Number(question) => {
                let answer_si = question.answer.number(&own.env())?;
                Ok(Ok(Key::Number { answer_si, tolerance_si: 0.0, wrong_si: Vec::new() }))
            }
        })?;
        Ok(Predicted { predict: self, worked, key, thrown_away })
    }

    /// The option that the core finds right; nothing for another kind of prediction, or when not exactly one is (the linter
    /// sees to that). Errors: a state without numbers.
    pub fn right(&self, worked: &Worked) -> Result<Option<usize>, EvalError> {
        let Prediction::Choice(options) = &self.answer else { return Ok(None) };
        let right = right_options(options, &worked.env())?;
        Ok(if let [one] = right.as_slice() { Some(*one) } else { None })
    }

    /// Whether the answer can be locked as it is. Errors: what is asked back.
    pub fn accepts(&self, answer: &Answer) -> Result<(), AnswerError> {
        match (&self.answer, answer) {
            (Prediction::Choice(options), Answer::Choice(index)) => one_of(options, *index),
            (Prediction::Short, Answer::Words(words)) => words_between(words, 1),
            (Prediction::Sketch(_), Answer::Sketch(_)) => Ok(()),
            (Prediction::Order(question), Answer::Order(order)) => question.accepts(order),
            (Prediction::Number(question), Answer::Number(typed)) => Ok(typed.read(question.measure).map(|_| ())?),
            _ => Err(AnswerError::WrongKind),
        }
    }
}

impl Task {
    /// Draws the numbers of this task and computes its states. A draw whose start passes already, or whose answer does not,
    /// is thrown away. Errors: a state that cannot be set, no fair draw.
    pub fn work_out(&self, lesson: &Lesson, worked: &Worked, solver: &mut dyn Solve) -> Result<Set<'_>, WorkError> {
        let at = (lesson, worked, self.id.as_str(), 0);
        let (worked, (), thrown_away) = self.setup.work_out(at, solver, &mut |own, solver| {
            let Some(start) = own.bench(&self.bench) else { return Ok(Ok(())) };
            let reading = solver.solve(start).map_err(|error| WorkError::Bench { state: self.bench.clone(), error })?;
            let mut visited = Visited::default();
            visited.push(&reading);
            let stands = Standing { bench: start, reading: &reading, visited: &visited };
            Ok(match self.judged(own, &stands, solver)? {
                TaskMark::Done(_) => Err(Unfair::StartPasses),
                _ => Ok(()),
            })
        })?;
        Ok(Set { task: self, worked, thrown_away })
    }
}

fn choice_key(options: &[Choice], own: &Worked) -> Result<Result<Key, Unfair>, WorkError> {
    let right = right_options(options, &own.env())?;
    Ok(match right.as_slice() {
        [one] => Ok(Key::Choice(*one)),
        _ => Err(Unfair::Options { right: right.len() }),
    })
}

fn choices_key(options: &[Choice], own: &Worked) -> Result<Result<Key, Unfair>, WorkError> {
    let right = right_options(options, &own.env())?;
    if right.is_empty() {
        return Ok(Err(Unfair::NoOption));
    }
    Ok(Ok(Key::Choices((0..options.len()).map(|i| right.contains(&i)).collect())))
}

impl NumberQuestion {
    fn key(&self, own: &Worked) -> Result<Result<Key, Unfair>, WorkError> {
        let env = own.env();
        let answer_si = self.answer.number(&env)?;
        let tolerance_si = self.tolerance.size_si(answer_si);
        let mut wrong_si = Vec::new();
        for wrong in &self.misconceptions {
            let value = wrong.value.number(&env)?;
            if (value - answer_si).abs() <= 3.0 * tolerance_si {
                return Ok(Err(Unfair::Near { value: wrong.value.source().into() }));
            }
            wrong_si.push(value);
        }
        Ok(Ok(Key::Number { answer_si, tolerance_si, wrong_si }))
    }
}

fn sorted(values: &[f64], direction: Direction) -> Vec<usize> {
    let mut order: Vec<usize> = (0..values.len()).collect();
    order.sort_by(|a, b| match direction {
        Direction::Rising => values[*a].total_cmp(&values[*b]),
        Direction::Falling => values[*b].total_cmp(&values[*a]),
    });
    order
}

fn numbers<'e>(all: impl Iterator<Item = &'e Expr>, env: &Env) -> Result<Vec<f64>, EvalError> {
    all.map(|expr| expr.number(env)).collect()
}

impl OrderQuestion {
    fn key(&self, own: &Worked, mut shown: Vec<usize>) -> Result<Result<Key, Unfair>, WorkError> {
        let env = own.env();
        let values_si = numbers(self.items.iter().filter_map(|item| item.by.as_ref()), &env)?;
        let right = match self.order {
            Some(direction) => sorted(&values_si, direction),
            None => (0..self.items.len()).collect(),
        };
        if self.order.is_some() {
            for pair in right.windows(2) {
                let &[a, b] = pair else { continue };
                let distance = (values_si[a] - values_si[b]).abs();
                if distance < self.apart_si || distance == 0.0 {
                    let (first, second) = (self.items[a].id.clone(), self.items[b].id.clone());
                    return Ok(Err(Unfair::Close { first, second }));
                }
            }
        }
        let mut wrong = Vec::new();
        for (i, misconception) in self.misconceptions.iter().enumerate() {
            let order = match &misconception.when {
                OrderSign::By(values, direction) => Some(sorted(&numbers(values.iter(), &env)?, *direction)),
                _ => None,
            };
            if fits(&misconception.when, order.as_deref(), &right) {
                return Ok(Err(Unfair::RightOrder { number: i + 1 }));
            }
            wrong.push(order);
        }
        // The answer must not stand there already.
        if shown == right {
            shown.rotate_left(1);
        }
        Ok(Ok(Key::Order(OrderKey { right, shown, values_si, wrong })))
    }

    /// Whether every item stands once. Errors: it does not.
    pub fn accepts(&self, order: &[usize]) -> Result<(), AnswerError> {
        let items = self.items.len();
        let complete = order.len() == items && (0..items).all(|item| order.contains(&item));
        if complete { Ok(()) } else { Err(AnswerError::NotAllItems { items }) }
    }
}

/// Whether an order is what a misconception gives.
fn fits(sign: &OrderSign, by: Option<&[usize]>, order: &[usize]) -> bool {
    let place = |item: usize| order.iter().position(|other| *other == item);
    match sign {
        OrderSign::By(..) => by == Some(order),
        OrderSign::First(item) => order.first() == Some(item),
        OrderSign::Before(a, b) => place(*a) < place(*b),
    }
}

impl SketchQuestion {
    fn key(&self, own: &Worked) -> Result<Result<Key, Unfair>, WorkError> {
        let heights = |of: &CurveRef| {
            let curve = own.curve(of)?;
            let ends = (curve.x.first().copied().unwrap_or(0.0), curve.x.last().copied().unwrap_or(0.0));
            let whole = match of.kind {
                CurveKind::Sweep => own.sweeps.get(&of.of).is_none_or(|sweep| sweep.settings_si.len() == curve.x.len()),
                CurveKind::Run => true,
            };
            let heights = if whole { sketch::on_axes(&curve, self, of.is_point()) } else { None };
            let heights = heights.ok_or_else(|| EvalError::NoPoint { what: of.to_string() })?;
            Ok::<_, EvalError>((heights, ends))
        };
        let (truth, ends_si) = heights(&self.of)?;
        let given = self.given.as_ref().map(heights).transpose()?.map(|(given, _)| given);
        for (of, curve) in std::iter::once((&self.of, &truth)).chain(self.given.iter().zip(&given)) {
            let least = curve.iter().copied().fold(f64::INFINITY, f64::min);
            let most = curve.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            if least < 0.0 || most > 1.0 {
                let text = |share: f64| format!("{:.4}", self.low + share * (self.high - self.low));
                let (least, most, unit) = (text(least), text(most), self.measure.unit.name);
                return Ok(Err(Unfair::OffAxis { curve: of.to_string(), least, most, unit }));
            }
        }
        let key = SketchKey { truth, given, ends_si };
        if let Some(i) = self.misconceptions.iter().position(|wrong| key.fits(&truth, wrong)) {
            return Ok(Err(Unfair::RightShape { number: i + 1 }));
        }
        Ok(Ok(Key::Sketch(key)))
    }
}

fn right_options(options: &[Choice], env: &Env) -> Result<Vec<usize>, EvalError> {
    let mut right = Vec::new();
    for (i, option) in options.iter().enumerate() {
        if option.when.truth(env)? {
            right.push(i);
        }
    }
    Ok(right)
}

fn one_of(options: &[Choice], index: usize) -> Result<(), AnswerError> {
    let options = options.len();
    if index < options { Ok(()) } else { Err(AnswerError::NoOption { options }) }
}

fn words_between(words: &str, at_least: u32) -> Result<(), AnswerError> {
    let written = words.trim().chars().count();
    if written == 0 {
        return Err(AnswerError::Empty);
    }
    if written < at_least as usize {
        return Err(AnswerError::TooShort { written, at_least });
    }
    if words.len() > crate::progress::LONGEST_ANSWER {
        return Err(AnswerError::TooLong { bytes: words.len() });
    }
    Ok(())
}

/// How a task stands.
#[derive(Debug, Clone, PartialEq)]
pub enum TaskMark<'l> {
    /// Done.
    Done(&'l [Prose]),
    /// Not done, for a known reason.
    Misconception {
        /// Which, by its place in the file.
        index: usize,
        /// What is behind it.
        because: &'l [Prose],
    },
    /// Not done yet.
    NotYet,
    /// The bench has no numbers to judge.
    NoNumbers(Outcome),
}

/// How the bench stands when a task is judged.
#[derive(Debug, Clone, Copy)]
pub struct Standing<'a> {
    /// How it is set.
    pub bench: &'a Bench,
    /// What it reads, settled.
    pub reading: &'a Reading,
    /// Every settled state since the task's bench was set, the present one included.
    pub visited: &'a Visited,
}

impl Task {
    /// Judges the bench as it stands, without what a sweep or run of it would need ([`Set::judge`] has that). Errors: a state
    /// of the lesson without numbers.
    pub fn judge(&self, worked: &Worked, bench: &Reading) -> Result<TaskMark<'_>, EvalError> {
        let reading = std::slice::from_ref(bench);
        self.judge_in(&Env { visited: reading, ..worked.env_with(bench) })
    }

    fn judge_in(&self, env: &Env) -> Result<TaskMark<'_>, EvalError> {
        let no_numbers = |error: EvalError| match error {
            EvalError::NoNumbers { state, outcome } if state == "bench" => Ok(TaskMark::NoNumbers(outcome)),
            // A sweep or run of the bench may lack the point that is asked for: then it is not done.
            EvalError::NoPoint { .. } => Ok(TaskMark::NotYet),
            error => Err(error),
        };
        match self.goal.truth(env) {
            Ok(true) => return Ok(TaskMark::Done(&self.done)),
            Ok(false) => {}
            Err(EvalError::NoPoint { .. }) => {}
            Err(error) => return no_numbers(error),
        }
        for (index, misconception) in self.misconceptions.iter().enumerate() {
            match misconception.when.truth(env) {
                Ok(true) => return Ok(TaskMark::Misconception { index, because: &misconception.because }),
                Ok(false) | Err(EvalError::NoPoint { .. }) => {}
                Err(error) => return no_numbers(error),
            }
        }
        Ok(TaskMark::NotYet)
    }

    fn judged(&self, worked: &Worked, stands: &Standing, solver: &mut dyn Solve) -> Result<TaskMark<'_>, WorkError> {
        let visited = stands.visited.readings();
        if self.setup.needs_live() && stands.reading.holds {
            let own = self.setup.live(worked, stands.bench, solver)?;
            return Ok(self.judge_in(&Env { visited, live: Some(stands.bench), ..own.env_with(stands.reading) })?);
        }
        Ok(self.judge_in(&Env { visited, live: Some(stands.bench), ..worked.env_with(stands.reading) })?)
    }
}

impl Set<'_> {
    /// What the prose of this task sees.
    pub fn env(&self) -> Env<'_> {
        self.worked.env()
    }

    /// The bench that the task begins from.
    pub fn start(&self) -> Option<&Bench> {
        self.worked.bench(&self.task.bench)
    }

    /// The states of "show me", in order; the last does it. Errors: a setting that is no finite number.
    pub fn answer(&self) -> Result<Vec<Bench>, EvalError> {
        let Some(start) = self.start() else { return Ok(Vec::new()) };
        let mut benches: Vec<Bench> = Vec::new();
        for change in &self.task.answer.visits {
            benches.push(benches.last().unwrap_or(start).changed(change, &self.worked.seeds)?);
        }
        if benches.is_empty() || self.task.answer.set != Change::default() {
            benches.push(benches.last().unwrap_or(start).changed(&self.task.answer.set, &self.worked.seeds)?);
        }
        Ok(benches)
    }

    /// Judges the bench as it stands; sweeps and runs of it are computed for that. Errors: a state of the lesson without
    /// numbers, a bench that cannot be set.
    pub fn judge(&self, stands: &Standing, solver: &mut dyn Solve) -> Result<TaskMark<'_>, WorkError> {
        self.task.judged(&self.worked, stands, solver)
    }

    /// What a misconception's explanation sees: the lesson's states, and the bench as it stands with its sweeps and runs.
    /// Errors: a bench that cannot be set.
    pub fn live(&self, bench: &Bench, solver: &mut dyn Solve) -> Result<Worked, WorkError> {
        self.task.setup.live(&self.worked, bench, solver)
    }

    /// The bench that shows a misconception.
    pub fn show(&self, misconception: usize) -> Option<&Bench> {
        let show = self.task.misconceptions.get(misconception)?.show.as_deref();
        self.worked.bench(show.unwrap_or(&self.task.bench))
    }
}

impl Predicted<'_> {
    /// What the prose of this prediction sees.
    pub fn env(&self) -> Env<'_> {
        self.worked.env()
    }

    /// Why the learner's answer is right or wrong: a prediction has no points, but it has explanations. Nothing for an answer
    /// of another kind.
    pub fn because(&self, answer: &Answer) -> Option<Mark<'_>> {
        match (&self.predict.answer, &self.key, answer) {
            (Prediction::Choice(options), Key::Choice(key), Answer::Choice(index)) => {
                choice_mark(options, *key, *index)
            }
            (Prediction::Sketch(question), Key::Sketch(key), Answer::Sketch(sketch)) => {
                Some(sketch_mark(question, key, sketch))
            }
            (Prediction::Order(question), Key::Order(key), Answer::Order(order)) => {
                Some(order_mark(question, key, order))
            }
            (Prediction::Number(question), Key::Number { .. }, Answer::Number(_)) => Some(Mark {
                right: false,
                points: 0.0,
                misconception: None,
                because: vec![&question.because],
                show: None,
                detail: Detail::Words,
            }),
            _ => None,
        }
    }

    /// What the core says to a prediction of a number, in print; nothing for another kind.
    pub fn answer_in_print(&self, style: Style) -> Option<String> {
        match (&self.predict.answer, &self.key) {
            (Prediction::Number(question), Key::Number { answer_si, .. }) => {
                let point = expr::is_point(question.answer.kind());
                Some(expr::in_print(*answer_si, question.measure, point, None, style))
            }
            _ => None,
        }
    }
}

fn choice_mark(options: &[Choice], key: usize, index: usize) -> Option<Mark<'_>> {
    let option = options.get(index)?;
    let right = index == key;
    Some(Mark {
        right,
        points: f64::from(u8::from(right)),
        misconception: (!right).then_some(index),
        because: vec![&option.because],
        show: option.show.as_deref(),
        detail: Detail::Choice,
    })
}

fn choices_mark<'l>(options: &'l [Choice], key: &[bool], ticked: &[usize]) -> Mark<'l> {
    let judged: Vec<bool> = key.iter().enumerate().map(|(i, right)| ticked.contains(&i) == *right).collect();
    let good = judged.iter().filter(|right| **right).count();
    let right = good == judged.len();
    let wrong = || options.iter().zip(&judged).filter(|(_, right)| !**right).map(|(option, _)| option);
    Mark {
        right,
        points: good as f64 / judged.len().max(1) as f64,
        misconception: judged.iter().position(|right| !right),
        because: if right {
            options.iter().zip(key).filter(|(_, right)| **right).map(|(option, _)| option.because.as_slice()).collect()
        } else {
            wrong().map(|option| option.because.as_slice()).collect()
        },
        show: wrong().next().and_then(|option| option.show.as_deref()),
        detail: Detail::Choices(judged),
    }
}

fn order_mark<'l>(question: &'l OrderQuestion, key: &OrderKey, order: &[usize]) -> Mark<'l> {
    let placed: Vec<bool> = key.right.iter().zip(order).map(|(a, b)| a == b).collect();
    let right = placed.iter().all(|right| *right) && placed.len() == key.right.len();
    // Pairs that stand the right way round: one item too far down is a small mistake, and must not cost every place.
    let place = |item: &usize| order.iter().position(|other| other == item);
    let mut pairs = (0_u32, 0_u32);
    for (i, a) in key.right.iter().enumerate() {
        for b in &key.right[i + 1..] {
            pairs.1 += 1;
            pairs.0 += u32::from(place(a) < place(b));
        }
    }
    let known = |(wrong, by): (&WrongOrder, &Option<Vec<usize>>)| fits(&wrong.when, by.as_deref(), order);
    let misconception = if right { None } else { question.misconceptions.iter().zip(&key.wrong).position(known) };
    let wrong = misconception.and_then(|i| question.misconceptions.get(i));
    Mark {
        right,
        points: f64::from(pairs.0) / f64::from(pairs.1.max(1)),
        misconception,
        because: wrong.iter().map(|wrong| wrong.because.as_slice()).collect(),
        show: wrong.and_then(|wrong| wrong.show.as_deref()),
        detail: Detail::Order(placed),
    }
}

fn sketch_mark<'l>(question: &'l SketchQuestion, key: &SketchKey, sketch: &Sketch) -> Mark<'l> {
    let mark = key.judge(sketch, &question.misconceptions);
    let wrong = mark.misconception.and_then(|i| question.misconceptions.get(i));
    let explained = wrong.map_or(question.because.as_slice(), |wrong| wrong.because.as_slice());
    Mark {
        right: mark.right,
        points: mark.points,
        misconception: mark.misconception,
        because: vec![explained],
        show: wrong.and_then(|wrong| wrong.show.as_deref()),
        detail: Detail::Sketch(mark),
    }
}

/// How a choice was answered.
#[derive(Debug, Clone, PartialEq)]
pub struct ChoiceMark<'l> {
    /// Whether it is right.
    pub right: bool,
    /// Points, 0 or 1.
    pub points: f64,
    /// Why.
    pub because: &'l [Prose],
}

/// How a number was answered: value, unit and figures apart.
#[derive(Debug, Clone, PartialEq)]
pub struct NumberMark<'l> {
    /// What was read.
    pub written: Written,
    /// The value.
    pub value: ValueMark<'l>,
    /// The unit.
    pub unit: UnitMark,
    /// The figures.
    pub figures: FiguresMark,
    /// Whether the checkpoint is passed: value right and unit not wrong.
    pub right: bool,
    /// Points, 0 to 1.
    pub points: f64,
}

/// What is to be said of a value.
#[derive(Debug, Clone, PartialEq)]
pub enum ValueMark<'l> {
    /// Within the tolerance.
    Right,
    /// The value of a known misconception.
    Misconception {
        /// Which, by its place in the file.
        index: usize,
        /// What is behind it.
        because: &'l [Prose],
    },
    /// The number fits the unit that was asked for, but another of the same kind was written.
    RightInAskedUnit {
        /// What was written.
        written: Measure,
    },
    /// The right size with the wrong sign.
    Sign,
    /// Off by this power of ten: the written value times `10^power` is right.
    PowerOfTen {
        /// From -6 to 6.
        power: i32,
    },
    /// Off for no reason that is known here.
    Off {
        /// Above the answer.
        high: bool,
    },
}

/// What is to be said of a unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum UnitMark {
    /// As asked, or none where none was asked.
    Right,
    /// Another unit of the same kind, converted.
    Converted,
    /// None was written.
    Missing,
    /// A unit of something else.
    WrongKind,
    /// Gauge for absolute, or the other way about.
    WrongReference,
    /// The number was meant in the unit asked for.
    NotMeant,
}

/// What is to be said of the figures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FiguresMark {
    /// Enough, and not too many.
    Right,
    /// Fewer than asked for.
    TooFew {
        /// How many were asked for.
        asked: u8,
    },
    /// More than can be read off the bench.
    TooMany,
}

impl Asked<'_> {
    /// What the prose of this checkpoint sees.
    pub fn env(&self) -> Env<'_> {
        self.worked.env()
    }

    /// The right answer in print: a number in the unit asked for, or nothing for a choice.
    pub fn answer_in_print(&self, style: Style) -> Option<String> {
        match (&self.checkpoint.kind, &self.key) {
            (CheckpointKind::Number(question), Key::Number { answer_si, tolerance_si, .. }) => Some(expr::in_print(
                *answer_si,
                question.measure,
                question.is_point(),
                Some(decimals(question.measure, *tolerance_si)),
                style,
            )),
            _ => None,
        }
    }

    /// The tolerance in print: `± 2.4 kPa`, `± 4 points`. It stands beside the field.
    pub fn tolerance_in_print(&self, style: Style) -> Option<String> {
        match (&self.checkpoint.kind, &self.key) {
            (CheckpointKind::Number(question), Key::Number { tolerance_si, .. }) => {
                let bare = Measure { reference: None, ..question.measure };
                let size = bare.unit.difference_of_si(*tolerance_si);
                let mut places = decimals(bare, *tolerance_si);
                // 2.4 kPa must not be shown as 2 kPa; a whole 2 kPa needs no 2.0.
                if (format!("{size:.*}", usize::from(places)).parse().unwrap_or(size) - size).abs() > 0.02 * size {
                    places += 1;
                }
                if bare.unit.name == "%" {
                    // "± 4 %" would be read as a share of the answer.
                    return Some(format!("± {} points", units::number(size, places, style.decimal)));
                }
                Some(format!("± {}", expr::in_print(*tolerance_si, bare, false, Some(places), style)))
            }
            _ => None,
        }
    }

    /// Whether the answer can be marked as it is. Errors: what is asked back, which costs no try.
    pub fn accepts(&self, answer: &Answer) -> Result<(), AnswerError> {
        match (&self.checkpoint.kind, answer) {
            (CheckpointKind::Number(question), Answer::Number(typed)) => {
                Ok(typed.read(question.measure).map(|_| ())?)
            }
            (CheckpointKind::Choice(options), Answer::Choice(index)) => one_of(options, *index),
            (CheckpointKind::Choices(options), Answer::Choices(ticked)) => {
                let options = options.len();
                let known = !ticked.is_empty() && ticked.iter().all(|i| *i < options);
                if known { Ok(()) } else { Err(AnswerError::NoneTicked { options }) }
            }
            (CheckpointKind::Order(question), Answer::Order(order)) => question.accepts(order),
            (CheckpointKind::Sketch(_), Answer::Sketch(_)) => Ok(()),
            (CheckpointKind::Words(question), Answer::Words(words)) => words_between(words, question.at_least),
            _ => Err(AnswerError::WrongKind),
        }
    }

    /// Marks any answer. Errors: what is asked back, which costs no try.
    pub fn mark(&self, answer: &Answer) -> Result<Mark<'_>, AnswerError> {
        self.accepts(answer)?;
        let mark = match (&self.checkpoint.kind, &self.key, answer) {
            (CheckpointKind::Number(question), Key::Number { .. }, Answer::Number(typed)) => {
                let mark = self.mark_number(&typed.text, typed.decimal).ok_or(AnswerError::WrongKind)??;
                let misconception =
                    if let ValueMark::Misconception { index, .. } = mark.value { Some(index) } else { None };
                let wrong = misconception.and_then(|i| question.misconceptions.get(i));
                Some(Mark {
                    right: mark.right,
                    points: mark.points,
                    misconception,
                    because: wrong.iter().map(|wrong| wrong.because.as_slice()).collect(),
                    show: wrong.and_then(|wrong| wrong.show.as_deref()),
                    detail: Detail::Number(mark),
                })
            }
            (CheckpointKind::Choice(options), Key::Choice(key), Answer::Choice(index)) => {
                choice_mark(options, *key, *index)
            }
            (CheckpointKind::Choices(options), Key::Choices(key), Answer::Choices(ticked)) => {
                Some(choices_mark(options, key, ticked))
            }
            (CheckpointKind::Order(question), Key::Order(key), Answer::Order(order)) => {
                Some(order_mark(question, key, order))
            }
            (CheckpointKind::Sketch(question), Key::Sketch(key), Answer::Sketch(sketch)) => {
                Some(sketch_mark(question, key, sketch))
            }
            (CheckpointKind::Words(question), Key::Words, Answer::Words(_)) => Some(Mark {
                right: true,
                points: 0.0,
                misconception: None,
                because: vec![&question.consider],
                show: None,
                detail: Detail::Words,
            }),
            _ => None,
        };
        mark.ok_or(AnswerError::WrongKind)
    }

    /// The bench that "show it on the bench" sets for a mark.
    pub fn show(&self, mark: &Mark) -> Option<&Bench> {
        let state = mark.show.or(self.checkpoint.bench.as_deref()).unwrap_or("start");
        self.worked.bench(state)
    }

    /// The bench that "set the bench" brings.
    pub fn bench(&self) -> Option<&Bench> {
        self.worked.bench(self.checkpoint.bench.as_deref()?)
    }

    /// Marks a typed number. Errors: what could not be read, which is asked back and costs no try; nothing for a choice.
    pub fn mark_number(&self, text: &str, decimal: Decimal) -> Option<Result<NumberMark<'_>, ReadError>> {
        let CheckpointKind::Number(question) = &self.checkpoint.kind else { return None };
        let Key::Number { answer_si, tolerance_si, wrong_si } = &self.key else { return None };
        let written = match number::read(text, decimal, Some(question.measure)) {
            Ok(written) => written,
            Err(error) => return Some(Err(error)),
        };
        let judge = Judge { question, answer_si: *answer_si, tolerance_si: *tolerance_si, wrong_si };
        Some(Ok(judge.mark(written)))
    }

    /// Marks a choice; nothing when it is no choice, or there is no such option.
    pub fn mark_choice(&self, index: usize) -> Option<ChoiceMark<'_>> {
        let CheckpointKind::Choice(options) = &self.checkpoint.kind else { return None };
        let Key::Choice(key) = self.key else { return None };
        let option = options.get(index)?;
        let right = index == key;
        Some(ChoiceMark { right, points: f64::from(u8::from(right)), because: &option.because })
    }
}

impl NumberQuestion {
    /// Whether a temperature is asked for, and not a difference of two.
    pub fn is_point(&self) -> bool {
        expr::is_point(self.answer.kind())
    }
}

/// Decimals with which a tolerance of this size shows its first figure.
fn decimals(measure: Measure, tolerance_si: f64) -> u8 {
    let size = measure.unit.difference_of_si(tolerance_si).abs();
    POWERS.iter().position(|power| size * power >= 1.0).map_or(6, |n| n as u8)
}

struct Judge<'l> {
    question: &'l NumberQuestion,
    answer_si: f64,
    tolerance_si: f64,
    wrong_si: &'l [f64],
}

impl<'l> Judge<'l> {
    fn si(&self, value: f64, measure: Measure) -> f64 {
        // "A rise of 20 °C" is 20 K: a difference never takes the offset.
        if self.question.is_point() { measure.unit.to_si(value) } else { measure.unit.difference_to_si(value) }
    }

    fn right(&self, si: f64) -> bool {
        (si - self.answer_si).abs() <= self.tolerance_si * HAIR
    }

    fn mark(&self, written: Written) -> NumberMark<'l> {
        let asked = self.question.measure;
        let as_asked = self.si(written.value, asked);
        let (mut si, mut unit) = match written.measure {
            None if asked.unit.name.is_empty() => (as_asked, UnitMark::Right),
            None => (as_asked, UnitMark::Missing),
            Some(given) if given.unit.family != asked.unit.family => (as_asked, UnitMark::WrongKind),
            Some(given) => {
                let differs = matches!((given.reference, asked.reference), (Some(a), Some(b)) if a != b);
                let unit = if differs {
                    UnitMark::WrongReference
                } else if given.unit == asked.unit {
                    UnitMark::Right
                } else {
                    UnitMark::Converted
                };
                (self.si(written.value, given), unit)
            }
        };
        // A share may be written plainly: 0.97 for 97 %.
        if unit == UnitMark::Missing
            && asked.unit.family == Family::Ratio
            && !self.right(si)
            && self.right(written.value)
        {
            si = written.value;
        }
        let value = self.value(si, as_asked, written.measure);
        if matches!(value, ValueMark::RightInAskedUnit { .. }) {
            unit = UnitMark::NotMeant;
        }
        let figures = self.figures(&written);
        let number_right = matches!(value, ValueMark::Right | ValueMark::RightInAskedUnit { .. });
        let unit_wrong = matches!(unit, UnitMark::WrongKind | UnitMark::WrongReference | UnitMark::NotMeant);
        let points = match (number_right, unit_wrong) {
            (false, _) => 0.0,
            (true, true) => WRONG_UNIT,
            (true, false) => {
                let unit_cost = if unit == UnitMark::Missing { MISSING_UNIT } else { 0.0 };
                let figures_cost = if figures == FiguresMark::Right { 0.0 } else { FIGURES };
                1.0 - unit_cost - figures_cost
            }
        };
        NumberMark { written, value, unit, figures, right: number_right && !unit_wrong, points }
    }

    fn value(&self, si: f64, as_asked: f64, given: Option<Measure>) -> ValueMark<'l> {
        if self.right(si) {
            return ValueMark::Right;
        }
        let near = self
            .wrong_si
            .iter()
            .zip(&self.question.misconceptions)
            .enumerate()
            .map(|(index, (wrong, misconception))| ((si - wrong).abs(), index, misconception))
            .filter(|(distance, ..)| *distance <= self.tolerance_si * HAIR)
            .min_by(|a, b| a.0.total_cmp(&b.0));
        if let Some((_, index, misconception)) = near {
            return ValueMark::Misconception { index, because: &misconception.because };
        }
        if let Some(written) = given
            && written.unit.family == self.question.measure.unit.family
            && self.right(as_asked)
        {
            return ValueMark::RightInAskedUnit { written };
        }
        if self.right(-si) {
            return ValueMark::Sign;
        }
        // Powers of ten say nothing about a temperature that counts from the freezing point.
        let offset = given.unwrap_or(self.question.measure).unit.offset != 0.0;
        for (power, factor) in (1..).zip(POWERS[1..].iter().filter(|_| !offset)) {
            if self.right(si * factor) {
                return ValueMark::PowerOfTen { power };
            }
            if self.right(si / factor) {
                return ValueMark::PowerOfTen { power: -power };
            }
        }
        ValueMark::Off { high: si > self.answer_si }
    }

    fn figures(&self, written: &Written) -> FiguresMark {
        let (least, most) = written.figures;
        match self.question.figures {
            Some(asked) if most < asked => FiguresMark::TooFew { asked },
            _ if least > MOST_FIGURES => FiguresMark::TooMany,
            _ => FiguresMark::Right,
        }
    }
}

impl NumberMark<'_> {
    /// What is said of the unit; nothing when there is nothing to say.
    pub fn unit_sentence(&self, question: &NumberQuestion) -> Option<Sentence> {
        let asked = question.measure;
        let given = || self.written.measure.map_or_else(|| "".into(), |measure| measure.said());
        let both = |text| Some(Sentence::new(text).with_place("given", given()).with_place("asked", asked.said()));
        match self.unit {
            UnitMark::Right => None,
            UnitMark::Converted => both(said::UNIT_CONVERTED),
            UnitMark::Missing => Some(Sentence::new(said::UNIT_MISSING).with_place("asked", asked.said())),
            UnitMark::WrongKind => {
                let kind = self.written.measure.map_or(Family::Ratio, |measure| measure.unit.family).name();
                if asked.unit.name.is_empty() {
                    return Some(Sentence::new(said::UNIT_PLAIN).with_place("given", given()).with_word("kind", kind));
                }
                both(said::UNIT_WRONG).map(|sentence| sentence.with_word("kind", kind))
            }
            UnitMark::WrongReference => both(said::UNIT_REFERENCE),
            UnitMark::NotMeant => both(said::UNIT_NOT_MEANT),
        }
    }

    /// What is said of the figures; nothing when there is nothing to say.
    pub fn figures_sentence(&self) -> Option<Sentence> {
        match self.figures {
            FiguresMark::Right => None,
            FiguresMark::TooFew { asked } => Some(Sentence::new(said::FIGURES_FEW).with("asked", asked)),
            FiguresMark::TooMany => Some(Sentence::new(said::FIGURES_MANY).with("most", MOST_FIGURES)),
        }
    }

    /// What is said of the value, unless a misconception has its own explanation.
    pub fn value_sentence(&self) -> Option<Sentence> {
        Some(match &self.value {
            ValueMark::Right => Sentence::new(said::RIGHT),
            ValueMark::Misconception { .. } => return None,
            ValueMark::RightInAskedUnit { .. } => Sentence::new(said::RIGHT_NOT_IN_UNIT),
            ValueMark::Sign => Sentence::new(said::SIGN),
            ValueMark::PowerOfTen { power } => {
                let factor = POWERS[power.unsigned_abs().min(6) as usize];
                let text = if *power > 0 { said::TEN_SMALL } else { said::TEN_LARGE };
                Sentence::new(text).with("factor", factor)
            }
            ValueMark::Off { high: true } => Sentence::new(said::TOO_HIGH),
            ValueMark::Off { high: false } => Sentence::new(said::TOO_LOW),
        })
    }
}

/// The states that a lesson's own pins must end in, and those of the start.
pub(crate) fn wanted(lesson: &Lesson) -> impl Iterator<Item = (&str, &[Outcome])> {
    let start = std::iter::once(("start", lesson.start.ends.as_slice()));
    start.chain(lesson.setup.pins.iter().map(|pin| (pin.name.as_str(), pin.ends.as_slice())))
}
