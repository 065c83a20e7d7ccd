//! Marks items that are put in an order.

use super::answer::AnswerError;
use super::key::{Detail, Key, Mark, OrderKey};
use crate::expr::{Env, EvalError, Expr};
use crate::lesson::{Direction, OrderQuestion, OrderSign, WrongOrder};
use crate::work::{Unfair, WorkError, Worked};

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
    /// The right order for this draw. `shown` is the order in which the items stand at first. Errors: a value that does not
    /// exist, items too close, a misconception with the right order.
    pub(super) fn key(&self, own: &Worked, mut shown: Vec<usize>) -> Result<Key, WorkError> {
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
                    return Err(Unfair::Close { first, second }.into());
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
                return Err(Unfair::RightOrder { number: i + 1 }.into());
            }
            wrong.push(order);
        }
        // The answer must not stand there already.
        if shown == right {
            shown.rotate_left(1);
        }
        Ok(Key::Order(OrderKey { right, shown, values_si, wrong }))
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

pub(super) fn order_mark<'l>(question: &'l OrderQuestion, key: &OrderKey, order: &[usize]) -> Mark<'l> {
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
