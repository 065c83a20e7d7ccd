//! Pins, what changed since one, and the ledger: where the torque or the fuel went.

use super::slot::Scene;
use crate::cover::Cover;
use crate::describe;
use crate::language::{msg, t, tf};
use crate::pins::Pins;
use crate::readings::{self, Texts};
use crate::run::Run;
use crate::units::{Quantity, UnitSystem, signed};
use crate::view;
use crate::words;
use leptos::prelude::*;
use std::sync::Arc;
use volute_core::point::reading::Reading;
use volute_core::views::ledger::{Currency, Ledger, ledger};

/// Readings that the ledger tells, or that its lines would give away.
const LEDGER: &[&str] = &["torque", "fuel_flow", "pumping_torque", "imep", "fmep", "p2", "p3", "air_flow"];

/// Most rows that the ledger has: its three parts and the load.
const LONGEST: f64 = 100.0;

/// The board.
#[component]
pub fn PinBoard(
    scene: Scene,
    /// The run as it stands now; the comparison follows a little later while it is out of sight.
    now: Signal<Arc<Run>>,
    pins: RwSignal<Pins>,
    on_change: Callback<()>,
    on_go: Callback<char>,
) -> impl IntoView {
    let Scene { run, units, cover, .. } = scene;
    let against = RwSignal::new('A');
    let pin = move |_| {
        let letter = now.with_untracked(|r| pins.try_update(|p| p.add(r)).flatten());
        if let Some(letter) = letter {
            against.set(letter);
            on_change.run(());
        }
    };
    let can_pin = move || pins.with(Pins::has_room) && now.with(|r| r.holds);
    // The pin to compare with: the one chosen, or else the first.
    let chosen = view::memo(move || {
        let wanted = against.get();
        pins.with(|p| p.get(wanted).or_else(|| p.list().first()).map(|p| p.letter))
    });
    let covered = view::derived(move || cover.with(|c| c.hides_any(LEDGER)));
    view! {
        <section class="sheet pins" aria-labelledby="pins-h" id="pins">
            <div class="pins-head">
                <h2 id="pins-h">{t(words::PINS)}</h2>
                <button type="button" id="pin" on:click=pin disabled=view::flag(move || !can_pin())>{t("Pin this reading")}</button>
            </div>
            {view::part(move || pins.with(|p| p.list().is_empty()).then(|| view! { <p class="quiet">{t("Nothing pinned yet. Pin a reading, move one slider, and the difference is drawn.")}</p> }))}
            <ul class="pins-list">
                {view::part(move || {
                    pins.with(|p| p.list().iter().map(|p| (p.letter, p.name.clone())).collect::<Vec<_>>()).into_iter().map(|(letter, name)| {
                        let rename = move |event: leptos::ev::Event| {
                            pins.update(|p| p.rename(letter, &event_target_value(&event)));
                            on_change.run(());
                        };
                        view! {
                            <li>
                                <label class="pins-choice">
                                    <input type="radio" name="against" prop:checked=view::flag(move || chosen.get() == Some(letter))
                                        on:change=move |_| against.set(letter)/>
                                    <b class="pins-letter">{letter.to_string()}</b><span class="sr">{t("compare with this pin")}</span>
                                </label>
                                <input type="text" value=name maxlength="40" placeholder=t("Name of pin") aria-label=tf("Name of pin {letter}", &[("letter", &letter.to_string())]) on:change=rename/>
                                <button type="button" class="link" on:click=move |_| on_go.run(letter)>{t("go there")}<span class="sr">{format!(" {letter}")}</span></button>
                                <button type="button" class="link" on:click=move |_| { pins.update(|p| p.remove(letter)); on_change.run(()); }>
                                    {t("unpin")}<span class="sr">{format!(" {letter}")}</span>
                                </button>
                            </li>
                        }
                    }).collect_view()
                })}
            </ul>
            {view::part(move || chosen.get().map(|letter| {
                let both = view::memo(move || run.with(|r| pins.with(|p| {
                    let now = r.reading().filter(|_| r.holds)?;
                    p.get(letter).map(|p| account(p.reading(), now, units.get()))
                })));
                view! {
                    {view::part(move || if covered.get() {
                        view! { <p class="quiet">{t(words::COVERED)}</p> }.into_any()
                    } else {
                        match both.get() {
                            None => view! { <p class="quiet">{t(words::NO_READING)}</p> }.into_any(),
                            Some(account) => sheet(letter, account).into_any(),
                        }
                    })}
                    <details class="pins-differences">
                        <summary>{t(words::ALL_DIFFERENCES)}</summary>
                        {view::part(move || cover.with(|c| differences(letter, run, pins, units, c)))}
                    </details>
                }
            }))}
        </section>
    }
}

/// A row of the ledger as shown.
#[derive(Clone, PartialEq)]
struct Line {
    name: &'static str,
    amount: String,
    cause: String,
    /// Left end and width of its bar, in per cent of the widest.
    bar: (f64, f64),
    helps: bool,
}

/// The ledger as shown.
#[derive(Clone, PartialEq)]
struct Account {
    torque: bool,
    from: String,
    to: String,
    change: String,
    lines: Vec<Line>,
    sentence: String,
}

fn account(pin: &Reading, now: &Reading, units: UnitSystem) -> Account {
    let book: Ledger = ledger(pin, now);
    let torque = book.currency == Currency::Torque;
    let unit = units.unit(if torque { Quantity::TorqueFine } else { Quantity::FuelFlowFine });
    // Steps from the pin to now: each bar begins where the one before ends.
    let (mut at, mut steps) = (0.0, Vec::new());
    for row in &book.rows {
        steps.push((at, at + row.part));
        at += row.part;
    }
    let low = steps.iter().flat_map(|s| [s.0, s.1]).fold(0.0, f64::min);
    let high = steps.iter().flat_map(|s| [s.0, s.1]).fold(0.0, f64::max);
    let span = (high - low).max(1e-12);
    let lines = book
        .rows
        .iter()
        .zip(&steps)
        .map(|(row, (a, b))| Line {
            name: describe::ledger_entry(row.entry, book.currency),
            amount: format!("{} {}", signed(unit.shown(row.part), unit.decimals), unit.symbol),
            cause: describe::ledger_cause(row, units),
            bar: (LONGEST * (a.min(*b) - low) / span, LONGEST * (b - a).abs() / span),
            helps: (row.part >= 0.0) == (book.currency == Currency::Torque),
        })
        .collect();
    Account {
        torque,
        from: unit.text(book.from),
        to: unit.text(book.to),
        change: format!("{} {}", signed(unit.shown(book.to - book.from), unit.decimals), unit.symbol),
        sentence: describe::ledger(&book, units),
        lines,
    }
}

fn sheet(letter: char, account: Account) -> impl IntoView {
    let says = if account.torque {
        msg("Where the torque went, from pin {letter}")
    } else {
        msg("Where the fuel went, from pin {letter}")
    };
    let heading = tf(says, &[("letter", &letter.to_string())]);
    view! {
        <h3>{heading.clone()}</h3>
        <p class="read">{account.sentence}</p>
        <table class="ledger">
            <caption class="sr">{heading}</caption>
            <tbody>
                <tr><th scope="row">{at_pin(letter)}</th><td>{account.from}</td><td></td></tr>
                {account.lines.into_iter().map(|line| view! {
                    <tr>
                        <th scope="row">{line.name}<small>{line.cause}</small></th>
                        <td>{line.amount}</td>
                        <td class="pins-steps"><svg viewBox="0 0 100 12" preserveAspectRatio="none" aria-hidden="true">
                            <rect x=line.bar.0.to_string() width=line.bar.1.max(0.6).to_string() y="1" height="10" class=if line.helps { "pins-step i" } else { "pins-step e" }></rect>
                        </svg></td>
                    </tr>
                }).collect_view()}
                <tr class="sum"><th scope="row">{t(words::AT_NOW)}</th><td>{account.to}</td><td>{account.change}</td></tr>
            </tbody>
        </table>
    }
}

fn at_pin(letter: char) -> String {
    tf("at pin {letter}", &[("letter", &letter.to_string())])
}

fn differences(
    letter: char,
    run: Signal<Arc<Run>>,
    pins: RwSignal<Pins>,
    units: Signal<UnitSystem>,
    cover: &Cover,
) -> impl IntoView + use<> {
    let rows = run.with(|r| {
        pins.with(|p| {
            let (Some(now), Some(pin)) = (r.reading(), p.get(letter)) else { return Vec::new() };
            let units = units.get();
            readings::ENTRIES
                .iter()
                .filter(|e| !cover.hides(e.key))
                .map(|e| {
                    let unit = units.unit(e.kind);
                    let of = |r: &Reading| unit.number((e.of)(r));
                    [
                        e.label(units),
                        of(pin.reading()),
                        of(now),
                        e.change(pin.reading(), now, units),
                        e.share(pin.reading(), now).unwrap_or_default(),
                    ]
                })
                .collect()
        })
    });
    view! {
        <div class="scroll" tabindex="0" role="region" aria-label=t(words::ALL_DIFFERENCES)>
            <table>
                <thead><tr>
                    <th scope="col">{t("reading")}</th><th scope="col">{at_pin(letter)}</th>
                    <th scope="col">{t(words::AT_NOW)}</th><th scope="col">{t("change")}</th><th scope="col">{t("as a share")}</th>
                </tr></thead>
                <tbody>{rows.into_iter().map(|[name, a, b, c, d]| view! {
                    <tr><th scope="row">{name}</th><td>{a}</td><td>{b}</td><td>{c}</td><td>{d}</td></tr>
                }).collect_view()}</tbody>
            </table>
        </div>
    }
}
