//! The blocks that a learner works through: predictions, tasks, checkpoints, transfers, reveals.

use super::fields::{Fields, FileReader, Text};
use super::pieces::Piece;
use crate::expr::Scope;
use crate::lesson::{
    Buy, Checkpoint, Predict, Question, Reveal, Task, TaskAnswer, Transfer, WordsQuestion, WrongState,
};
use crate::problem::{Origin, ProblemKind};

impl<'t> FileReader<'_, 't> {
    /// A prediction, and what its reveal may name.
    pub(super) fn predict(&self, f: &Fields<'_, 't>, scope: &Scope) -> Option<(Predict, Scope)> {
        let id = self.id(f, "id");
        let kind = self.kind(f, &["choice", "short", "sketch", "order", "number"]);
        let (setup, scope, _) = self.setup(f, scope, false);
        let ask = self.needed_prose(f, "ask", "what is to be predicted", &scope);
        let question = match kind? {
            "number" => self.predicted_number(f, &scope),
            "short" => Some(Question::Words(WordsQuestion { consider: Vec::new(), at_least: 0 })),
            kind => self.question(f, kind, &scope),
        };
        self.finish(f);
        Some((Predict { id: id?.0, ask: ask?, setup, question: question? }, scope))
    }

    pub(super) fn task(&self, f: &Fields<'_, 't>, scope: &Scope) -> Option<Task> {
        let id = self.id(f, "id");
        let (setup, scope, all) = self.setup(f, scope, true);
        let live = Scope { bench: true, visited: true, ..all };
        let bench = self.state(f, "bench", &scope);
        let ask = self.needed_prose(f, "ask", "what to bring the bench to", &scope);
        let goal = self.truth(f, "goal", "when it is done, as a comparison of the bench as it stands", &live);
        let hints = self.hints(f, &scope);
        let done = self.needed_prose(f, "done", "what is said when it is done", &scope);
        let layout = self.layout(f);
        let answer = self.task_answer(f, &scope);
        let buy = self.buy(f);
        let confidence = self.flag(f, "confidence");
        let misconceptions = self.misconceptions(f, (&live, &scope), |m| {
            self.truth(m, "when", "how to know this wrong turn on the bench", &live)
        });
        let misconceptions =
            misconceptions.into_iter().map(|(when, because, show)| WrongState { when, because, show }).collect();
        self.finish(f);
        Some(Task {
            id: id?.0,
            ask: ask?,
            setup,
            bench: bench.map_or_else(|| "start".into(), |text| text.value),
            layout,
            buy,
            goal: goal?,
            hints,
            answer: answer?,
            done: done?,
            misconceptions,
            confidence,
        })
    }

    /// Settings that do a task.
    fn task_answer(&self, f: &Fields<'_, 't>, scope: &Scope) -> Option<TaskAnswer> {
        let Some(inner) = self.inner(f, "answer", format!("the answer of {}", f.block)) else {
            if !f.has("answer") {
                self.missing(f, "answer", "settings that do it, such as { vane = \"80 %\" }");
            }
            return None;
        };
        let mut visits = Vec::new();
        if inner.has("visits") {
            for visit in self.tables(&inner, "visits") {
                visits.push(self.change(&visit, scope));
                self.finish(&visit);
            }
        } else {
            inner.allow("visits");
        }
        let set = self.change(&inner, scope);
        self.finish(&inner);
        Some(TaskAnswer { visits, set })
    }

    /// Hidden readings that a task lets the learner uncover.
    fn buy(&self, f: &Fields<'_, 't>) -> Option<Buy> {
        let inner = self.inner(f, "buy", format!("`buy` of {}", f.block))?;
        let count = self.count(&inner, "count", 1, 20);
        let from = self.quantities(&inner, "from");
        if count.is_none() && !inner.has("count") {
            self.missing(&inner, "count", "how many readings may be uncovered");
        }
        self.finish(&inner);
        Some(Buy { count: count?, from })
    }

    pub(super) fn checkpoint(&self, f: &Fields<'_, 't>, scope: &Scope) -> Option<Checkpoint> {
        let id = self.id(f, "id");
        let kind = self.kind(f, &["number", "choice", "choices", "order", "sketch", "words"]);
        let (setup, scope, _) = self.setup(f, scope, false);
        let bench = self.state(f, "bench", &scope).map(|text| text.value);
        let ask = self.needed_prose(f, "ask", "what is asked", &scope);
        let hints = self.hints(f, &scope);
        let worked = if kind == Some("words") {
            Some(Vec::new())
        } else {
            self.needed_prose(f, "worked", "the worked answer, shown after the second try", &scope)
        };
        let question = self.question(f, kind?, &scope);
        self.finish(f);
        Some(Checkpoint { id: id?.0, ask: ask?, hints, worked: worked?, setup, bench, question: question? })
    }

    pub(super) fn transfer(&self, f: &Fields<'_, 't>, scope: &Scope) -> Option<Transfer> {
        let id = self.id(f, "id");
        let ask = self.needed_prose(f, "ask", "what is asked", scope);
        let consider = self.needed_prose(f, "consider", "what a good answer considers", scope);
        self.finish(f);
        Some(Transfer { id: id?.0, ask: ask?, consider: consider? })
    }

    pub(super) fn reveal(
        &self,
        piece: &Piece<'t>,
        body: &Text,
        scope: &Scope,
        predictions: &[String],
    ) -> Option<Reveal> {
        let mut after = None;
        let mut compare = None;
        let mut plot = Vec::new();
        for word in piece.attributes.split_whitespace() {
            match word.split_once('=') {
                Some(("after", id)) => {
                    if !predictions.iter().any(|known| known == id) {
                        self.no_such(piece.at, "prediction", id.into(), predictions.to_vec());
                    }
                    after = Some(id.to_string());
                }
                Some(("compare", pair)) => {
                    let (from, to) = pair.split_once(',').unwrap_or((pair, ""));
                    for name in [from, to] {
                        if !scope.states.iter().any(|known| known == name) {
                            self.no_such(piece.at, "pin", name.into(), scope.states.clone());
                        }
                    }
                    compare = Some((from.to_string(), to.to_string()));
                }
                Some(("plot", curves)) => {
                    for name in curves.split(',') {
                        let text = Text { value: name.into(), origin: Origin { at: piece.at, exact: false } };
                        plot.extend(self.curve(&text, scope));
                    }
                }
                _ => {
                    let allowed = "after=a-prediction, compare=from,to, plot=sweeps.name.quantity,…";
                    self.push(piece.at, ProblemKind::UnknownAttribute { block: "reveal", word: word.into(), allowed });
                }
            }
        }
        if after.is_none() {
            let about = "the prediction that must be locked first: ```reveal after=its-id";
            self.push(piece.at, ProblemKind::MissingKey { block: "the reveal".into(), key: "after", about });
        }
        let text = self.prose(body, scope);
        Some(Reveal { after: after?, compare, plot, text })
    }
}
