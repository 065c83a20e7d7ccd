//! Every lesson, as a learner goes through it: predict, look, move the bench, answer wrong in every known way, answer right,
//! and come back in the middle. Then everything once more with other numbers.
//!
//! These tests know nothing of a particular lesson. The lessons crate works out natively what is right for a variant and what
//! is a known misconception. We enter that on the page, which works it out again in WASM. If a checkpoint judges otherwise, the
//! two differ. If the explanation of a misconception does not appear, the page has lost it.

use serde_json::{Value, json};
use std::fmt::Write;
use volute_core::engine;
use volute_core::settings::{Ambient, Load, REFERENCE_DAY};
use volute_lessons::bench::{Bench, CoreSolver, Solve};
use volute_lessons::catalog::catalog;
use volute_lessons::curves::Swept;
use volute_lessons::expr;
use volute_lessons::lesson::*;
use volute_lessons::mark::{Answer, Asked, Key, NumberKey, Set, Standing, TaskMark, Typed};
use volute_lessons::seed::Seed;
use volute_lessons::sketch::{HANDLES, POINTS, STEPS, Sketch};
use volute_lessons::text::{Inline, Prose};
use volute_lessons::units::{Decimal, Style};
use volute_lessons::work::{Visited, Worked};
use volute_tests::browser::{DESK, PHONE, Page, View, browse, dist, exists};

/// Whose numbers, the first and the second time.
const VARIANTS: [u64; 2] = [31, 1207];

/// The lessons are divided among so many tests, which run side by side.
const PARTS: usize = 3;

/// How many wrong turns are tried in one task. Each takes a second to settle.
const TURNS: usize = 2;

const STYLE: Style = Style::ENGLISH;

#[test]
fn lessons_are_worked_through_part_1() {
    work_through(0);
}

#[test]
fn lessons_are_worked_through_part_2() {
    work_through(1);
}

#[test]
fn lessons_are_worked_through_part_3() {
    work_through(2);
}

fn work_through(part: usize) {
    assert!(catalog().broken.is_empty() && !catalog().lessons.is_empty(), "no lessons");
    for lesson in catalog().lessons.iter().skip(part).step_by(PARTS) {
        browse(dist(), DESK, async |page| {
            for (round, variant) in VARIANTS.into_iter().enumerate() {
                Player::new(page, lesson, variant, round).play().await;
            }
            page.assert_quiet().await;
        });
    }
}

/// A learner who works through a lesson.
struct Player<'a> {
    page: &'a Page,
    lesson: &'static Lesson,
    variant: u64,
    /// The first time half of the misconceptions are tried, and the second time the other half.
    round: usize,
    worked: Worked,
    solver: CoreSolver,
}

impl<'a> Player<'a> {
    fn new(page: &'a Page, lesson: &'static Lesson, variant: u64, round: usize) -> Self {
        let mut solver = CoreSolver::default();
        let worked = lesson.work_out(Seed(variant), &mut solver).expect("the lesson's states");
        Self { page, lesson, variant, round, worked, solver }
    }

    fn name(&self, id: &str) -> String {
        format!("{}, variant {}, `{id}`", self.lesson.id, self.variant)
    }

    async fn open(&self) {
        self.page.open(&format!("#v=1&lesson={}&variant={}", self.lesson.id, self.variant)).await;
        self.page
            .wait("the lesson is open", &format!("document.querySelector('[data-variant=\"{}\"]')", self.variant))
            .await;
    }

    async fn play(mut self) {
        self.open().await;
        let half = self.lesson.steps.len() / 2;
        for (i, step) in self.lesson.steps.iter().enumerate() {
            if i == half {
                self.come_back().await;
            }
            match step {
                Step::Predict(predict) => self.predict(predict).await,
                Step::Task(task) => self.task(task).await,
                Step::Checkpoint(checkpoint) => self.checkpoint(checkpoint).await,
                Step::Stage(stage) => self.stage(stage).await,
                Step::Log(log) => self.log(log).await,
                Step::Reveal(reveal) => {
                    self.page.wait("the reveal is there", &exists(&format!("[data-reveal='{}']", reveal.after))).await;
                }
                Step::Transfer(transfer) => self.transfer(transfer).await,
                Step::Prose(_) | Step::Safety(_) => {}
            }
        }
        self.page.wait("the lesson is complete", &exists("[data-complete]")).await;
        let said = self.page.value("document.getElementById('lesson').innerText").await;
        let said = said.as_str().expect("text");
        for senseless in ["NaN", "undefined", "has no numbers", "{{", "could not be worked out"] {
            assert!(!said.contains(senseless), "{}: `{senseless}` on the page:\n{said}", self.lesson.id);
        }
        if self.round == 0 {
            let findings = self.page.axe().await;
            assert!(findings.is_empty(), "{}: {findings:#?}", self.lesson.id);
        }
    }

    /// Loads the page again, and checks that everything that was answered is still there.
    async fn come_back(&self) {
        let state = "[...document.querySelectorAll('[data-predict].locked, [data-task][data-done=true], [data-checkpoint][data-over=true]')]\
            .map((e) => e.dataset.predict ?? e.dataset.task ?? e.dataset.checkpoint).join(' ')";
        // The link follows when the bench has come to rest.
        self.page.rested().await;
        let before = self.page.value(state).await;
        self.page.run("location.reload();").await;
        self.page
            .wait("the lesson is open again", &format!("document.querySelector('[data-variant=\"{}\"]')", self.variant))
            .await;
        self.page
            .wait(
                "the questions are drawn again",
                "document.querySelector('[data-waiting], [data-ready=false]') === null",
            )
            .await;
        assert_eq!(self.page.value(state).await, before, "{}: what was answered is still there", self.lesson.id);
    }

    async fn predict(&mut self, predict: &'static Predict) {
        let (page, name) = (self.page, self.name(&predict.id));
        let form = format!("[data-predict='{}']", predict.id);
        page.wait("the prediction is drawn", &exists(&format!("{form} [data-lock]"))).await;
        let asked = predict.work_out(self.lesson, &self.worked, &mut self.solver).expect("a draw");
        let reveal = format!("[data-reveal='{}']", predict.id);
        assert_eq!(page.count(&reveal).await, 0, "{name}: the page tells before it has asked");
        assert_eq!(page.count(&format!("[data-reply='{}']", predict.id)).await, 0, "{name}");
        assert_eq!(
            page.count(&format!("{form} .sketch-curve.truth")).await,
            0,
            "{name}: the curve is on the page before it is asked"
        );
        // If nothing is chosen, the page asks for a choice.
        page.click(&format!("{form} [data-lock]")).await;
        if !matches!(predict.question, Question::Order(_)) {
            assert_eq!(
                page.count(&format!("{form} [data-lock]")).await,
                1,
                "{name}: an empty prediction is not locked"
            );
        }
        if page.count(&format!("{form} [data-lock]")).await == 1 {
            let answer = match (&predict.question, &asked.key) {
                (Question::Choice(options), Key::Choice(right)) => {
                    Answer::Choice((right + 1 + self.round) % options.len())
                }
                (Question::Words(_), _) => Answer::Words("The same on both sides.".into()),
                (Question::Sketch(question), Key::Sketch(key)) => {
                    // The first point is given, and the page does not let it move.
                    let level = if question.start_given { key.truth[0] } else { 0.5 };
                    Answer::Sketch(Sketch::of_heights([level; POINTS]))
                }
                (Question::Number(question), _) => number(17.0, question.measure.to_string()),
                (Question::Order(_), Key::Order(key)) => Answer::Order(key.shown.clone()),
                other => panic!("{name}: {other:?}"),
            };
            self.enter(&predict.id, &form, &answer).await;
            page.click(&format!("{form} [data-lock]")).await;
            page.settled().await;
            assert_eq!(page.count(&format!("{form} [data-lock]")).await, 0, "{name}: locked");
            let revealed = page.count(&reveal).await > 0 || !self.reveals(predict);
            if let (true, Some(mark)) = (revealed, asked.because(&answer)) {
                let reply = format!("[data-reply='{}']", predict.id);
                page.wait("the bench answers", &exists(&reply)).await;
                for because in &mark.because {
                    assert_explained(page, &reply, because, &name).await;
                }
            }
        }
        assert_eq!(
            page.count(&format!("{form} input:enabled, {form} textarea:enabled")).await,
            0,
            "{name}: it stays as it is"
        );
    }

    fn reveals(&self, predict: &Predict) -> bool {
        self.lesson.steps.iter().any(|step| matches!(step, Step::Reveal(reveal) if reveal.after == predict.id))
    }

    async fn stage(&self, stage: &Stage) {
        let css = format!("[data-stage='{}']", stage.id);
        self.page.click(&format!("{css} button")).await;
        self.page.wait("the stage is on", &format!("document.querySelector(\"{css}\").dataset.on === 'true'")).await;
        self.page.settled().await;
        self.assert_stands(self.worked.bench(&stage.bench).expect("a bench"), &self.name(&stage.id)).await;
        for quantity in &stage.layout.hide {
            self.assert_hidden(quantity.key).await;
        }
    }

    /// Checks that the sliders stand where a bench of the lesson puts them.
    async fn assert_stands(&self, bench: &Bench, name: &str) {
        let shown = self
            .page
            .value("[...['vane', 'speed', 'load']].map((id) => document.getElementById(id).valueAsNumber)")
            .await;
        let near = |i: usize, wanted: f64, step: f64| {
            let there = shown[i].as_f64().expect("a number");
            assert!((there - wanted).abs() <= step, "{name}: slider {i} stands at {there}, not at {wanted}");
        };
        near(0, bench.settings.vane_open_pct, 1.0);
        near(1, bench.settings.speed_rpm, 10.0);
        match bench.settings.load {
            Load::Torque { torque_n_m } => near(2, torque_n_m, 10.0),
            Load::Fuel { fuel_kg_per_cycle } => near(2, 1e6 * fuel_kg_per_cycle, 1.0),
        }
    }

    /// Checks that a hidden headline shows no number.
    async fn assert_hidden(&self, quantity: &str) {
        let hook = match quantity {
            "density_ratio" => "density",
            "pmep" | "pumping_torque" => "pumping",
            "boost" | "p3" | "t3" => quantity,
            _ => return,
        };
        let shown =
            self.page.value(&format!("document.querySelector('[data-q={hook}] .headline-value').textContent")).await;
        assert!(
            !shown.as_str().unwrap_or_default().contains(|c: char| c.is_ascii_digit()),
            "{quantity} is shown: {shown}"
        );
    }

    async fn task(&mut self, task: &'static Task) {
        let (page, name) = (self.page, self.name(&task.id));
        let css = format!("[data-task='{}']", task.id);
        let done = format!("document.querySelector(\"{css}\").dataset.done === 'true'");
        page.wait("the task is drawn", &format!("document.querySelector(\"{css}\")?.dataset.ready === 'true'")).await;
        if page.value(&done).await == json!(true) {
            // The task was done before the page was loaded again.
            return;
        }
        let set = task.work_out(self.lesson, &self.worked, &mut self.solver).expect("a draw");
        page.click(&format!("{css} [data-begin]")).await;
        page.rested().await;
        if let Some(start) = set.start() {
            self.assert_stands(start, &name).await;
        }
        for quantity in &task.layout.hide {
            self.assert_hidden(quantity.key).await;
        }
        assert_eq!(page.value(&done).await, false, "{name}: it is not done at the start");
        for (index, bench) in self.wrong_turns(&set) {
            self.set(&bench).await;
            let there = format!("document.querySelector(\"{css} [data-misconception='{index}']\")");
            page.wait(&format!("{name}: misconception {index} is explained"), &there).await;
            let said = format!("{css} [data-misconception='{index}']");
            assert_explained(page, &said, &task.misconceptions[index].because, &name).await;
        }
        page.click(&format!("{css} [data-begin]")).await;
        page.rested().await;
        let answer = set.answer().expect("settings");
        for bench in &answer {
            self.set(bench).await;
            page.rested().await;
        }
        page.wait(&format!("{name}: the answer does it"), &done).await;
        if task.confidence {
            page.click(&format!("{css} [data-sure]")).await;
        }
    }

    /// States that lead into a misconception, along the settings that are free: one for each, and other ones the second time.
    fn wrong_turns(&mut self, set: &Set<'static>) -> Vec<(usize, Bench)> {
        let Some(start) = set.start() else { return Vec::new() };
        let task = set.task;
        let free = if task.layout.free.is_empty() { &self.lesson.start.layout.free } else { &task.layout.free };
        let engine = start.engine().expect("an engine");
        let mut states = vec![start.clone()];
        for free in free {
            let (low, high) = match (free.control, free.range_si) {
                (_, Some(range)) => range,
                (Control::Vane, None) => (0.0, 1.0),
                (Control::Speed, None) => (engine.range.speed_min_rpm / 60.0, engine.range.speed_max_rpm / 60.0),
                (Control::Load, None) => match start.settings.load {
                    Load::Torque { .. } => (0.1 * engine.range.torque_max_n_m, engine.range.torque_max_n_m),
                    Load::Fuel { .. } => {
                        (0.2 * engine.combustion.injector_limit_kg, engine.combustion.injector_limit_kg)
                    }
                },
                (Control::Altitude, None) => (0.0, 3000.0),
                _ => continue,
            };
            let over = match (free.control, start.settings.load) {
                (Control::Vane, _) => Swept::Vane,
                (Control::Speed, _) => Swept::Speed,
                (Control::Load, Load::Torque { .. }) => Swept::Torque,
                (Control::Load, Load::Fuel { .. }) => Swept::Fuel,
                (Control::Altitude, _) => Swept::Altitude,
                (Control::Part { group, name }, _) => Swept::Part { group, name },
                _ => continue,
            };
            let steps = 25;
            states.extend(
                (0..=steps)
                    .filter_map(|i| start.swept(over, low + (high - low) * f64::from(i) / f64::from(steps)).ok()),
            );
        }
        let mut found: Vec<(usize, Bench)> = Vec::new();
        for bench in states {
            let Ok(reading) = self.solver.solve(&bench) else { continue };
            let same = bench.settings == start.settings && bench.parts == start.parts;
            if !reading.holds || same {
                continue;
            }
            let mut visited = Visited::default();
            if let Ok(first) = self.solver.solve(start) {
                visited.push(&first);
            }
            visited.push(&reading);
            let stands = Standing { bench: &bench, reading: &reading, visited: &visited };
            if let Ok(TaskMark::Misconception { index, .. }) = set.judge(&stands, &mut self.solver)
                && found.iter().all(|(known, _)| *known != index)
            {
                found.push((index, bench));
            }
        }
        let skip = if found.len() > TURNS { self.round * TURNS } else { 0 };
        // A visited state stays visited. If a task counts visits, a second wrong turn after the first means something else.
        let history = task.misconceptions.iter().any(|m| m.when.source().contains("visited"));
        found.into_iter().skip(skip).take(if history { 1 } else { TURNS }).collect()
    }

    /// Sets the bench by a link.
    async fn set(&self, bench: &Bench) {
        let mut link = format!(
            "v=1&engine={}",
            bench.engine.as_deref().unwrap_or(volute_core::engine::engine_file::BUILT_IN[0].0)
        );
        let s = &bench.settings;
        let _ = write!(link, "&vane={}&speed={}", s.vane_open_pct, s.speed_rpm);
        let _ = match s.load {
            Load::Torque { torque_n_m } => write!(link, "&torque={torque_n_m}"),
            Load::Fuel { fuel_kg_per_cycle } => write!(link, "&fuel_kg={fuel_kg_per_cycle}"),
        };
        for key in Ambient::KEYS {
            if let Some(value) =
                s.ambient.get(key.name).filter(|_| s.ambient.get(key.name) != REFERENCE_DAY.get(key.name))
            {
                let _ = write!(link, "&{}={value}", key.path());
            }
        }
        for (path, value) in &bench.parts {
            assert!(engine::keys().any(|key| key.path() == *path), "{path}");
            let _ = write!(link, "&{path}={value}");
        }
        let _ = write!(link, "&lesson={}&variant={}", self.lesson.id, self.variant);
        self.page.run_with("location.hash = arguments[0];", vec![json!(link)]).await;
    }

    async fn log(&self, log: &Log) {
        let css = format!("[data-log='{}']", log.name);
        let (heads, rows) = self.worked.logs[&log.name].table(STYLE);
        let cells = format!("[...document.querySelectorAll(\"{css} td\")].map((c) => c.textContent)");
        let shown = self.page.value(&cells).await;
        let wanted: Vec<Value> = rows.into_iter().flatten().map(Value::from).collect();
        assert_eq!(shown, Value::from(wanted), "{}: the sheet in WASM and natively", log.name);
        assert_eq!(self.page.count(&format!("{css} th")).await, heads.len());
    }

    async fn checkpoint(&mut self, checkpoint: &'static Checkpoint) {
        let (page, name) = (self.page, self.name(&checkpoint.id));
        let form = format!("[data-checkpoint='{}']", checkpoint.id);
        let over = format!("document.querySelector(\"{form}\").dataset.over === 'true'");
        let mut draw = 0;
        let mut tried: Vec<usize> = Vec::new();
        let may_again = !checkpoint.setup.seeds.is_empty();
        loop {
            page.wait(
                "the question is drawn",
                &format!("document.querySelector(\"{form}\")?.dataset.ready === 'true'"),
            )
            .await;
            if draw == 0 && page.value(&over).await == json!(true) {
                return;
            }
            let asked = checkpoint.work_out(self.lesson, &self.worked, draw, &mut self.solver).expect("a draw");
            let wrongs = wrong_answers(&asked);
            let (right, known) = (right_answer(&asked, &name), wrongs.len());
            // One try must be left for the right answer, unless the learner can have new numbers.
            let fresh: Vec<(usize, Answer)> = wrongs
                .into_iter()
                .filter(|(index, _)| {
                    !tried.contains(index)
                        && (may_again || known < 2 || index % VARIANTS.len() == self.round % known.max(1))
                })
                .take(if may_again { 2 } else { 1 })
                .collect();
            let last = fresh.len() < 2;
            for (index, answer) in &fresh {
                self.answer_wrong(&asked, &form, *index, answer).await;
                tried.push(*index);
            }
            if last {
                self.enter(&checkpoint.id, &form, &right).await;
                self.check(&form).await;
                let correct = page.value(&format!("document.querySelector(\"{form}\").dataset.right")).await;
                assert_eq!(correct, "true", "{name}: {right:?}\n{}", page.text(&format!("{form} .ask-feedback")).await);
                page.wait("it is over", &over).await;
                if let Ok(mark) = asked.mark(&right) {
                    for because in &mark.because {
                        assert_explained(page, &format!("[data-said='{}']", checkpoint.id), because, &name).await;
                    }
                }
                return;
            }
            page.wait("it is over", &over).await;
            if !checkpoint.worked.is_empty() {
                assert_explained(page, &format!("[data-worked='{}']", checkpoint.id), &checkpoint.worked, &name).await;
            }
            page.click(&format!("{form} [data-again]")).await;
            page.wait("new numbers", &format!("document.querySelector(\"{form}\").dataset.over === 'false'")).await;
            draw += 1;
            assert!(draw < 20, "{name}: misconceptions without end");
        }
    }

    async fn answer_wrong(&self, asked: &Asked<'static>, form: &str, index: usize, answer: &Answer) {
        let id = &asked.checkpoint.id;
        let name = self.name(id);
        self.enter(id, form, answer).await;
        self.check(form).await;
        let said = format!("[data-said='{id}']");
        let mark = asked.mark(answer).expect("a mark");
        let shown =
            self.page.value(&format!("document.querySelector(\"{said}\")?.dataset.misconception ?? 'nothing'")).await;
        assert_eq!(
            shown,
            json!(index.to_string()),
            "{name}: {answer:?}\n{}",
            self.page.text(&format!("{form} .ask-feedback")).await
        );
        for because in &mark.because {
            assert_explained(self.page, &said, because, &name).await;
        }
        if self.round == 0 && index == 0 {
            // The learner can see the explanation on the bench.
            self.page.click(&format!("{said} [data-show]")).await;
            self.page.settled().await;
            self.assert_stands(asked.show(&mark).expect("a bench"), &name).await;
        }
    }

    async fn check(&self, form: &str) {
        self.page.click(&format!("{form} [data-check]")).await;
        self.page.settled().await;
        assert_eq!(
            self.page.count(&format!("{form} [data-asks-back]")).await,
            0,
            "{form}: {}",
            self.page.text(form).await
        );
    }

    async fn transfer(&self, transfer: &Transfer) {
        let css = format!("[data-transfer='{}']", transfer.id);
        let name = self.name(&transfer.id);
        self.page.wait("the question is there", &exists(&css)).await;
        if self.page.count(&format!("[data-consider='{}']", transfer.id)).await == 0 {
            self.page.click(&format!("{css} [data-compare]")).await;
            assert_eq!(
                self.page.count(&format!("[data-consider='{}']", transfer.id)).await,
                0,
                "{name}: own words come first"
            );
            self.page.keys(&format!("#{}-words", transfer.id), "I would measure before I touch anything.").await;
            self.page.click(&format!("{css} [data-compare]")).await;
        }
        let consider = format!("[data-consider='{}']", transfer.id);
        self.page.wait("what a good answer considers", &exists(&consider)).await;
        assert_explained(self.page, &consider, &transfer.consider, &name).await;
    }

    /// Enters an answer as a learner would.
    async fn enter(&self, id: &str, form: &str, answer: &Answer) {
        let page = self.page;
        match answer {
            Answer::Choice(index) => page.click(&format!("{form} [data-option='{index}']")).await,
            Answer::Choices(ticked) => {
                let set = "const [form, ticked] = arguments;
                    for (const option of document.querySelectorAll(form + ' [data-option]')) {
                        const box = option.querySelector('input');
                        if (box.checked !== ticked.includes(Number(option.dataset.option))) box.click();
                    }";
                page.run_with(set, vec![json!(form), json!(ticked)]).await;
            }
            Answer::Number(typed) => {
                let field = format!("#{id}-answer");
                page.find(&field).await.clear().await.expect("an empty field");
                page.keys(&field, &typed.text).await;
            }
            Answer::Words(words) => {
                let field = format!("{form} textarea");
                page.find(&field).await.clear().await.expect("an empty field");
                page.keys(&field, words).await;
            }
            Answer::Order(order) => {
                for (place, item) in order.iter().enumerate() {
                    loop {
                        let at = format!(
                            "[...document.querySelectorAll('#{id}-order > li')].findIndex((li) => li.dataset.item === '{item}')"
                        );
                        let at = page.value(&at).await.as_u64().expect("the item is in the list") as usize;
                        if at <= place {
                            break;
                        }
                        page.click(&format!("#{id}-order-{item}-up")).await;
                        page.settled().await;
                    }
                }
            }
            Answer::Sketch(sketch) => {
                let handles = sketch.handles().map(|h| (h * f64::from(STEPS)).round());
                let set = "const [id, heights] = arguments;
                    for (const handle of document.querySelectorAll('#' + id + '-sketch .sketch-handle')) {
                        if (handle.disabled) continue;
                        handle.value = heights[Number(handle.dataset.handle)];
                        handle.dispatchEvent(new Event('input', { bubbles: true }));
                    }";
                page.run_with(set, vec![json!(id), json!(handles.as_slice())]).await;
            }
        }
        page.settled().await;
    }
}

fn number(value: f64, unit: String) -> Answer {
    Answer::Number(Typed { text: format!("{value} {unit}").trim().into(), decimal: Decimal::Point })
}

/// A curve of every shape that has a name, drawn with the seven handles.
fn curves(key: &Key, question: &SketchQuestion) -> Vec<Sketch> {
    let Key::Sketch(key) = key else { return Vec::new() };
    let start = question.start_given.then_some(key.truth[0]);
    let along = |f: &dyn Fn(f64) -> f64| {
        let mut handles: [f64; HANDLES] = std::array::from_fn(|i| f(i as f64 / (HANDLES - 1) as f64).clamp(0.0, 1.0));
        if let Some(start) = start {
            // The same shape, from the given point on.
            let shift = start - handles[0];
            handles = handles.map(|h| (h + shift).clamp(0.0, 1.0));
        }
        Sketch::of_handles(handles)
    };
    let (first, last) = (key.truth[0], key.truth[POINTS - 1]);
    let mut all = vec![
        along(&|_| first),
        along(&|x| first + (last - first) * x),
        along(&|x| first + (0.98 - first) * x),
        along(&|x| first * (1.0 - x)),
        along(&|x| 0.2 + 0.7 * x),
        along(&|x| 0.9 - 0.7 * x),
        along(&|x| 0.3 + 1.6 * x * (1.0 - x)),
        along(&|x| 0.7 - 1.6 * x * (1.0 - x)),
        along(&|x| 0.1 + 0.8 * x * x),
        along(&|x| 0.9 - 0.8 * x * x),
        along(&|x| 0.9 - 0.8 * x.sqrt()),
        along(&|x| 0.1 + 0.8 * x.sqrt()),
        along(&|_| 0.02),
        along(&|_| 0.98),
    ];
    // The true curve, shifted along its axis, crosses the given one too early or too late.
    for shift in [-8_i32, -6, -4, 4, 6, 8] {
        let handles: [f64; HANDLES] = std::array::from_fn(|k| {
            let at = (k * (POINTS - 1) / (HANDLES - 1)) as i32 + shift;
            key.truth[at.clamp(0, POINTS as i32 - 1) as usize]
        });
        all.push(Sketch::of_handles(handles));
    }
    all
}

/// Wrong answers that a misconception explains: one for each misconception for which one is found, with its place in the file.
fn wrong_answers(asked: &Asked<'static>) -> Vec<(usize, Answer)> {
    let mut candidates: Vec<Answer> = Vec::new();
    match (&asked.checkpoint.question, &asked.key) {
        (Question::Number(question), Key::Number(NumberKey { wrong_si, .. })) => {
            for si in wrong_si {
                let text = expr::in_print(*si, question.measure, question.is_point(), Some(4), STYLE);
                candidates.push(Answer::Number(Typed {
                    text: text.replace('\u{2009}', "").replace('−', "-"),
                    decimal: Decimal::Point,
                }));
            }
        }
        (Question::Choice(options), Key::Choice(_)) => candidates.extend((0..options.len()).map(Answer::Choice)),
        (Question::Choices(options), Key::Choices(right)) => {
            for i in 0..options.len() {
                let ticked: Vec<usize> = (0..options.len()).filter(|k| right[*k] != (*k == i)).collect();
                candidates.push(Answer::Choices(ticked));
            }
        }
        (Question::Order(question), Key::Order(key)) => {
            candidates.extend(key.wrong.iter().flatten().cloned().map(Answer::Order));
            candidates.push(Answer::Order(key.right.iter().rev().copied().collect()));
            for item in 0..question.items.len() {
                let mut order = key.right.clone();
                order.retain(|other| *other != item);
                let mut late = order.clone();
                order.insert(0, item);
                late.push(item);
                candidates.extend([Answer::Order(order), Answer::Order(late)]);
            }
        }
        (Question::Sketch(question), key) => candidates.extend(curves(key, question).into_iter().map(Answer::Sketch)),
        _ => {}
    }
    let mut found: Vec<(usize, Answer)> = Vec::new();
    for answer in candidates {
        if let Ok(mark) = asked.mark(&answer)
            && !mark.right
            && let Some(index) = mark.misconception
            && found.iter().all(|(known, _)| *known != index)
        {
            found.push((index, answer));
        }
    }
    if let Question::Number(question) = &asked.checkpoint.question {
        assert_eq!(
            found.len(),
            question.misconceptions.len(),
            "`{}`: each misconception has a value",
            asked.checkpoint.id
        );
    }
    found
}

/// The right answer, as the page's own fields can take it.
fn right_answer(asked: &Asked<'static>, name: &str) -> Answer {
    let answer = match &asked.key {
        Key::Number(_) => {
            let text = asked.answer_in_print(STYLE).expect("a number");
            Answer::Number(Typed { text: text.replace('\u{2009}', "").replace('−', "-"), decimal: Decimal::Point })
        }
        Key::Choice(right) => Answer::Choice(*right),
        Key::Choices(right) => Answer::Choices((0..right.len()).filter(|i| right[*i]).collect()),
        Key::Order(key) => Answer::Order(key.right.clone()),
        // The seven handles are enough: somebody who cannot draw must be able to pass as well.
        Key::Sketch(key) => Answer::Sketch(Sketch::of_handles(Sketch::of_heights(key.truth).handles())),
        Key::Words => Answer::Words(
            "Pressure on both sides of the engine first, then shaft speed and fuel, and only then the vanes.".into(),
        ),
    };
    let mark = asked.mark(&answer).unwrap_or_else(|e| panic!("{name}: {e}"));
    assert!(mark.right, "{name}: the right answer {answer:?} is marked {:?}", mark.detail);
    answer
}

/// Checks that the page gives this explanation: every run of plain words in it stands there.
async fn assert_explained(page: &Page, css: &str, because: &[Prose], name: &str) {
    let flat = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let mut words: Vec<String> = Vec::new();
    Words::Prose(because).visit(&mut |inline: &Inline| {
        if let Inline::Text(text) = inline {
            words.push(flat(text));
        }
    });
    let said = flat(
        page.value(&format!("document.querySelector(\"{css}\")?.textContent ?? ''")).await.as_str().unwrap_or_default(),
    );
    let longest = words.into_iter().max_by_key(String::len).unwrap_or_else(|| panic!("{name}: no explanation"));
    assert!(said.contains(&longest), "{name}: `{longest}` is missing in `{said}`");
}

#[test]
fn the_list_opens_a_lesson_and_closing_keeps_the_settings() {
    browse(dist(), DESK, async |page| {
        page.open("").await;
        let lesson = &catalog().lessons[0];
        assert_eq!(page.count("[data-lesson]").await, catalog().lessons.len());
        page.click(&format!("[data-open='{}']", lesson.id)).await;
        page.wait("the lesson is open", &exists("[data-variant]")).await;
        let vane = page.value("document.getElementById('vane').value").await;
        page.click("#close-lesson").await;
        page.settled().await;
        assert_eq!(page.value("document.getElementById('vane').value").await, vane);
        assert_eq!(page.count("#lesson").await, 0);
        page.click("#lessons").await;
        page.wait("the list is there again", &exists("[data-lesson]")).await;
        page.assert_quiet().await;
    });
}

/// A plot that goes away with its lesson still hears of its size once more.
#[test]
fn a_lesson_with_a_drawn_plot_gives_way_to_another() {
    browse(dist(), DESK, async |page| {
        let lesson = catalog().lesson("boost-is-not-air").expect("the lesson");
        page.open(&format!("#v=1&lesson={}&variant=3", lesson.id)).await;
        page.wait("the lesson is open", &exists("[data-variant='3']")).await;
        let mut player = Player::new(page, lesson, 3, 0);
        player.predict(lesson.predictions().next().expect("a prediction")).await;
        page.wait("the plot is drawn", "(document.querySelector('.reveal .plot canvas')?.width ?? 0) > 80").await;
        page.rested().await;
        page.run("location.hash = 'v=1&lesson=boost-only&variant=3499'; return null;").await;
        page.wait("the other lesson is open", &exists("[data-variant='3499']")).await;
        page.click("#all-lessons").await;
        page.wait("the list", &exists("[data-lesson]")).await;
        page.rested().await;
        page.assert_quiet().await;
    });
}

#[test]
fn progress_is_kept_saved_taken_over_and_practised_without_harm() {
    browse(dist(), DESK, async |page| {
        page.open("").await;
        let lesson = catalog().lessons.iter().find(|l| l.predictions().next().is_some()).expect("a lesson that asks");
        let entry = format!("document.querySelector(\"[data-lesson='{}']\").dataset.state", lesson.id);
        assert_eq!(page.value(&entry).await, "new");
        page.click(&format!("[data-open='{}']", lesson.id)).await;
        page.wait("the lesson is open", &exists("[data-variant]")).await;
        let variant = page.value("document.querySelector('[data-variant]').dataset.variant").await;
        // Something must be recorded. A hint is the quickest way.
        let begin = "document.querySelector('[data-hint]') !== null || document.querySelector('[data-lock]') !== null";
        page.wait("something can be done", begin).await;
        let player = Player::new(page, lesson, variant.as_str().and_then(|v| v.parse().ok()).expect("a number"), 0);
        let predict = lesson.predictions().next().expect("a prediction");
        let mut player = player;
        player.predict(predict).await;
        page.click("#all-lessons").await;
        page.wait("the list says that it was begun", &format!("{entry} === 'begun'")).await;
        // Practice has other numbers and its own progress.
        page.click(&format!("[data-practise='{}']", lesson.id)).await;
        page.wait("practice is open", &exists(".lesson-practice")).await;
        assert_eq!(page.count("[data-predict].locked").await, 0);
        page.click("#all-lessons").await;
        page.wait("the list", &exists("[data-lesson]")).await;
        page.click(&format!("[data-open='{}']", lesson.id)).await;
        page.wait("the lesson is where it was", &exists("[data-predict].locked")).await;
        assert_eq!(page.value("document.querySelector('[data-variant]').dataset.variant").await, variant);
        // The progress goes to another device as a file. The storage is emptied in between.
        page.click("#all-lessons").await;
        page.wait("the list", &exists("#save-progress")).await;
        let catch = "window.saved = null; const create = URL.createObjectURL;
            URL.createObjectURL = (blob) => { blob.text().then((text) => { window.saved = text; }); return create.call(URL, blob); };
            document.querySelector('.contents-elsewhere').open = true;";
        page.run(catch).await;
        page.click("#save-progress").await;
        page.wait("the file is written", "window.saved !== null").await;
        let file = page.value("window.saved").await;
        page.click(&format!("[data-reset='{}']", lesson.id)).await;
        page.wait("it is forgotten", &format!("{entry} === 'new'")).await;
        for (text, says) in [
            ("PK", "does not begin with"),
            (&file.as_str().expect("text").replace("own", "0wn")[..40], "cut off"),
            (file.as_str().expect("text"), "One lesson was taken over"),
        ] {
            let give = "const [text] = arguments; const input = document.getElementById('take-progress');
                const list = new DataTransfer(); list.items.add(new File([text], 'volute-progress.txt'));
                input.files = list.files; input.dispatchEvent(new Event('change', { bubbles: true }));";
            page.run_with("document.querySelector('.contents-elsewhere').open = true;", vec![]).await;
            page.run_with(give, vec![json!(text)]).await;
            page.wait(
                &format!("the page says `{says}`"),
                &format!("document.getElementById('progress-said').textContent.includes('{says}')"),
            )
            .await;
        }
        page.wait("it is there again", &format!("{entry} === 'begun'")).await;
        page.assert_quiet().await;
    });
}

#[test]
fn a_lesson_fits_every_window_and_axe_finds_nothing() {
    browse(dist(), DESK, async |page| {
        let lesson = &catalog().lessons[0];
        for tail in [String::new(), format!("#v=1&lesson={}&variant=31", lesson.id)] {
            page.open(&tail).await;
            page.wait("the sheet is there", &exists("[data-variant], [data-lesson]")).await;
            let narrow = View { width: 320, height: 640, dark: false };
            let zoomed = View { width: 341, height: 192, dark: true };
            for view in [
                DESK,
                PHONE,
                narrow,
                zoomed,
                View { width: 1920, height: 1080, dark: true },
                View { width: 3840, height: 2160, dark: false },
            ] {
                page.look(view).await;
                page.settled().await;
                let overflow = page.value("document.documentElement.scrollWidth - innerWidth").await;
                assert!(overflow.as_i64().is_some_and(|o| o <= 0), "{view:?}: {overflow} px too wide");
            }
            for view in [DESK, PHONE, View { dark: true, ..DESK }] {
                page.look(view).await;
                page.settled().await;
                let findings = page.axe().await;
                assert!(findings.is_empty(), "{view:?}: {findings:#?}");
            }
        }
        page.assert_quiet().await;
    });
}

/// If the page cannot find something, it says so in words and offers a button to try again.
#[test]
fn a_lesson_that_does_not_exist_is_said_so() {
    browse(dist(), DESK, async |page| {
        page.open("#v=1&lesson=no-such-lesson&variant=3").await;
        page.wait("the page says so", &exists("#try-again")).await;
        assert!(page.text("#lesson").await.contains("no-such-lesson"));
        page.click("#all-lessons").await;
        page.wait("the list", &exists("[data-lesson]")).await;
        page.assert_quiet().await;
    });
}
