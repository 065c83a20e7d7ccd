//! A list that the learner puts in order: by buttons, by arrow keys, or by dragging. Every move is spoken.

use crate::browser;
use crate::language::tf;
use crate::view;
use leptos::ev;
use leptos::prelude::*;

/// The order with the item at one place moved to another.
pub fn moved(order: &[usize], from: usize, to: usize) -> Vec<usize> {
    let mut next = order.to_vec();
    if from < next.len() {
        let item = next.remove(from);
        next.insert(to.min(next.len()), item);
    }
    next
}

/// The list.
#[component]
pub fn OrderList(
    /// Hook for tests and styles; unique on the page.
    id: String,
    /// Which item stands at each place.
    order: RwSignal<Vec<usize>>,
    /// The text of an item.
    text: Callback<usize, AnyView>,
    /// The same in plain words, for what is spoken.
    plain: Callback<usize, String>,
    /// What the first place means: `highest first`.
    #[prop(into)]
    first: Signal<String>,
    /// What the last place means.
    #[prop(into)]
    last: Signal<String>,
    #[prop(into)] locked: Signal<bool>,
) -> impl IntoView {
    let id = StoredValue::new(id);
    let spoken = RwSignal::new(String::new());
    let dragged = RwSignal::new(None::<usize>);
    let place = move |item: usize| order.with(|o| o.iter().position(|i| *i == item).unwrap_or(0));
    let put = move |item: usize, to: usize| {
        let from = order.with_untracked(|o| o.iter().position(|i| *i == item).unwrap_or(0));
        let last = order.with_untracked(Vec::len).saturating_sub(1);
        if locked.get_untracked() || from == to || to > last {
            return;
        }
        order.update(|o| *o = moved(o, from, to));
        let (n, of) = ((to + 1).to_string(), (last + 1).to_string());
        spoken.set(tf("{what}: now {n} of {of}.", &[("what", &plain.run(item)), ("n", &n), ("of", &of)]));
    };
    let step = move |item: usize, up: bool| {
        let from = order.with_untracked(|o| o.iter().position(|i| *i == item).unwrap_or(0));
        let to = if up { from.checked_sub(1) } else { Some(from + 1) };
        let Some(to) = to else { return };
        put(item, to);
        // The row has moved in the page, which takes the focus from its button; at an end that button is off.
        let end = if up { 0 } else { order.with_untracked(Vec::len).saturating_sub(1) };
        let which = if (to == end) == up { "down" } else { "up" };
        let target = id.with_value(|id| format!("{id}-{item}-{which}"));
        browser::after(0, move || browser::focus(&target));
    };
    let keys = move |item: usize| {
        move |event: ev::KeyboardEvent| match event.key().as_str() {
            "ArrowUp" => {
                event.prevent_default();
                step(item, true);
            }
            "ArrowDown" => {
                event.prevent_default();
                step(item, false);
            }
            _ => {}
        }
    };
    let drag = move |event: ev::PointerEvent| {
        let Some(item) = dragged.get_untracked() else { return };
        let list = id.get_value();
        if let Some(to) = browser::child_at(&list, f64::from(event.client_y())) {
            put(item, to);
        }
    };
    let count = order.with_untracked(Vec::len);
    view! {
        <div class="order" class:locked=locked data-order=id.get_value()>
            <p class="hint">{first}</p>
            <ol id=id.get_value() on:pointermove=drag on:pointerup=move |_| dragged.set(None) on:pointercancel=move |_| dragged.set(None)>
                <For each=move || order.get() key=|item| *item let:item>
                    <li data-item=item.to_string() class:dragged=view::flag(move || dragged.get() == Some(item)) on:keydown=keys(item)>
                        <span class="order-grip" aria-hidden="true" on:pointerdown=move |event: ev::PointerEvent| {
                            if !locked.get_untracked() && event.button() == 0 {
                                event.prevent_default();
                                dragged.set(Some(item));
                            }
                        }></span>
                        <span class="order-item">{text.run(item)}</span>
                        {view::part(move || (!locked.get()).then(|| {
                            let up = id.with_value(|id| format!("{id}-{item}-up"));
                            let down = id.with_value(|id| format!("{id}-{item}-down"));
                            view! {
                                <span class="order-moves">
                                    <button type="button" id=up aria-label=tf("Up: {what}", &[("what", &plain.run(item))])
                                        disabled=view::flag(move || place(item) == 0) on:click=move |_| step(item, true)>"↑"</button>
                                    <button type="button" id=down aria-label=tf("Down: {what}", &[("what", &plain.run(item))])
                                        disabled=view::flag(move || place(item) + 1 == count) on:click=move |_| step(item, false)>"↓"</button>
                                </span>
                            }
                        }))}
                    </li>
                </For>
            </ol>
            <p class="hint">{last}</p>
            <p class="sr" aria-live="polite">{spoken}</p>
        </div>
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand_an_item_is_moved() {
        assert_eq!(moved(&[3, 1, 2, 0], 0, 2), [1, 2, 3, 0]);
        assert_eq!(moved(&[3, 1, 2, 0], 3, 0), [0, 3, 1, 2]);
        assert_eq!(moved(&[3, 1], 5, 0), [3, 1]);
        assert_eq!(moved(&[3, 1], 0, 9), [1, 3]);
    }
}
