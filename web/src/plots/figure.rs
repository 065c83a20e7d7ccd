//! A chart on the page: a canvas redrawn in the same frame as whatever it shows, read by pointer and by keys, with its
//! legend, its table and its files. It knows no view; what it shows is a [`Chart`].

use super::canvas::surface;
use super::chart::{Chart, Style};
use super::inks::Inks;
use super::read_off::{Spot, Step};
use super::svg;
use crate::browser;
use crate::language::{t, tf};
use crate::view;
use crate::words;
use leptos::ev;
use leptos::html;
use leptos::prelude::*;
use std::sync::Arc;

/// How long a plot out of sight waits after the last change.
const UNSEEN_MS: i32 = 300;

/// Most rows of a table on the page; the file has every point.
const MOST_ROWS: usize = 120;

/// Size of a drawing on a print, in CSS pixels.
const PRINTED: (f64, f64) = (680.0, 330.0);

/// Size of a drawing that is saved, in CSS pixels, and device pixels to each.
const SAVED: (f64, f64, f64) = (960.0, 600.0, 2.0);

/// A plot in a figure.
#[component]
pub fn Plot(
    /// Hook for tests and styles, and the name of its files.
    id: &'static str,
    /// Name for a screen reader.
    #[prop(into)]
    title: Signal<String>,
    /// What stands over it: a heading, or a choice of views.
    head: AnyView,
    /// What it shows.
    #[prop(into)]
    chart: Signal<Arc<Chart>>,
    /// One sentence that says the same.
    #[prop(into)]
    sentence: Signal<String>,
    /// Kept back by a lesson: nothing of it is on the page.
    #[prop(into)]
    covered: Signal<bool>,
    inks: Signal<Option<Inks>>,
    #[prop(optional)] class: &'static str,
) -> impl IntoView {
    let (as_table, set_as_table) = signal(false);
    let (size, set_size) = signal((0.0, 0.0));
    let (seen, set_seen) = signal(true);
    let (due, set_due) = signal(0_u32);
    let (spot, set_spot) = signal(None::<Spot>);
    let (by_keys, set_by_keys) = signal(false);
    let (tools, set_tools) = signal(false);
    let (alone, set_alone) = signal(None::<String>);
    let asked = StoredValue::new(0_u32);
    let (fault, set_fault) = signal(None::<String>);
    let holder = NodeRef::<html::Div>::new();
    let canvas = NodeRef::<html::Canvas>::new();
    view::effect(move || {
        if let Some(holder) = holder.get() {
            // The first drawing has most to compile and comes with the page's layout: in a task of its own. A holder that goes is
            // told of once more, when its plot is gone.
            browser::on_resize(&holder, move |w, h| match size.try_get_untracked() {
                Some((0.0, 0.0)) => browser::after(0, move || _ = set_size.try_set((w, h))),
                Some(_) => set_size.set((w, h)),
                None => {}
            });
            browser::on_sight(&holder, move |now| set_seen.set(now));
        }
    });
    // A line that is no longer there cannot stand alone.
    view::effect(move || {
        let gone =
            alone.with(|a| a.as_ref().is_some_and(|name| chart.with(|c| c.names().iter().all(|n| n.0 != *name))));
        if gone {
            set_alone.set(None);
        }
    });
    let mut drawn_for: Option<u32> = None;
    view::effect(move || {
        let this = due.get();
        let before = drawn_for.replace(this);
        let (width, height) = size.get();
        let (Some(canvas), Some(inks)) = (canvas.get(), inks.get()) else {
            drawn_for = before;
            return;
        };
        if width < 80.0 || height < 80.0 || as_table.get() {
            return;
        }
        if covered.get() {
            // Drawn before it was covered, it would still stand on the canvas.
            canvas.set_width(1);
            return;
        }
        // A plot below the fold waits until things have come to rest, so that no slider waits for it.
        if !seen.get() && before == Some(this) {
            chart.track();
            let ticket = asked.with_value(|a| a.wrapping_add(1));
            asked.set_value(ticket);
            browser::after(UNSEEN_MS, move || {
                if asked.try_get_value() == Some(ticket) {
                    set_due.update(|d| *d = d.wrapping_add(1));
                }
            });
            return;
        }
        let drawn =
            surface(&canvas, width, height, browser::device_ratio(), inks.palette, inks.text_px).and_then(|sheet| {
                sheet.clear()?;
                alone.with(|alone| chart.with(|c| c.draw(&sheet, alone.as_deref(), spot.get())))?;
                sheet.present()
            });
        set_fault.set(drawn.err().map(|e| tf("This plot could not be drawn: {why}.", &[("why", &e.0)])));
    });

    let read = move || spot.get().and_then(|s| chart.with(|c| c.read(s)));
    let point = move |event: ev::PointerEvent| {
        if covered.get_untracked() {
            return;
        }
        let text = inks.with_untracked(|i| i.map_or(13.0, |i| i.text_px));
        let (w, h) = size.get_untracked();
        let place = (f64::from(event.offset_x()), f64::from(event.offset_y()));
        let found = alone.with_untracked(|alone| {
            chart.with_untracked(|c| c.nearest(&c.layout(w, h, text), place, alone.as_deref()))
        });
        set_by_keys.set(false);
        if spot.get_untracked() != found {
            set_spot.set(found);
        }
    };
    let keys = move |event: ev::KeyboardEvent| {
        let step = match event.key().as_str() {
            "ArrowRight" => Step::Along(1),
            "ArrowLeft" => Step::Along(-1),
            "PageUp" => Step::Along(10),
            "PageDown" => Step::Along(-10),
            "ArrowUp" => Step::Across(-1),
            "ArrowDown" => Step::Across(1),
            "Home" => Step::End(false),
            "End" => Step::End(true),
            "Escape" => {
                set_spot.set(None);
                return;
            }
            _ => return,
        };
        event.prevent_default();
        if !covered.get_untracked() {
            set_by_keys.set(true);
            set_spot.set(chart.with_untracked(|c| c.step(spot.get_untracked(), step)));
        }
    };
    let save = move |kind: &'static str| {
        if covered.get_untracked() {
            return;
        }
        let say = move |saved: Result<(), String>| {
            set_fault
                .set(saved.err().map(|e| tf("This could not be saved: {why}.", &[("why", e.trim_end_matches('.'))])));
        };
        if kind == "svg" {
            leptos::task::spawn_local(async move {
                let Some(inks) = inks.get_untracked() else { return };
                let Some(shown) = chart.try_get_untracked() else { return };
                let text = match svg::maker().await {
                    Ok(make) => make(&shown, SAVED.0, SAVED.1, inks.palette, inks.text_px).map_err(|e| e.0),
                    Err(_) => Err(t("Part of the page could not be fetched.").into()),
                };
                say(text.and_then(|text| browser::save_text(&format!("volute-{id}.svg"), "image/svg+xml", &text)));
            });
            return;
        }
        say(match kind {
            "csv" => {
                let text = chart.with_untracked(|c| c.csv());
                browser::save_text(&format!("volute-{id}.csv"), "text/csv", &text)
            }
            _ => browser::save_picture(&format!("volute-{id}.png"), move |fresh| {
                let Some(inks) = inks.get_untracked() else { return Err(t("the page is not ready").into()) };
                let (w, h, ratio) = SAVED;
                let sheet = surface(fresh, w, h, ratio, inks.palette, inks.text_px).map_err(|e| e.0)?;
                let drawn = sheet.clear().and_then(|()| chart.with_untracked(|c| c.draw(&sheet, None, None)));
                drawn.and_then(|()| sheet.present()).map_err(|e| e.0)
            }),
        });
    };

    let caption = format!("{id}-c");
    let described = caption.clone();
    let names = view::memo(move || if covered.get() { Vec::new() } else { chart.with(|c| c.names()) });
    let table = move || {
        let (columns, rows) = chart.with(|c| c.table());
        let every = rows.len().div_ceil(MOST_ROWS).max(1);
        (columns, rows.into_iter().step_by(every).collect::<Vec<_>>())
    };
    view! {
        <figure class=format!("sheet plot {class}") aria-label=title class:tabled=as_table class:covered=covered class:tooled=tools id=format!("{id}-figure")>
            <figcaption>
                {head}
                <button type="button" class="link" aria-pressed=view::text(move || as_table.get().to_string())
                    on:click=move |_| set_as_table.update(|on| *on = !*on)>
                    {view::text(move || if as_table.get() { t(words::BACK_TO_PLOT) } else { t(words::VALUES_AS_TABLE) })}
                </button>
                <button type="button" class="link plot-tool" aria-expanded=view::text(move || tools.get().to_string())
                    on:click=move |_| set_tools.update(|on| *on = !*on)>{t(words::LINES_AND_FILES)}</button>
                <span class="plot-saves" role="group" aria-label=t(words::SAVE_AS)>
                    <span aria-hidden="true">{t(words::SAVE)}</span>
                    {["png", "svg", "csv"].map(|kind| view! {
                        <button type="button" class="link" disabled=covered on:click=move |_| save(kind)>
                            {kind.to_ascii_uppercase()}
                        </button>
                    })}
                </span>
            </figcaption>
            <div class="plot-paper" node_ref=holder tabindex="0" role="application" aria-roledescription=t(words::PLOT)
                aria-label=title aria-describedby=described
                on:pointermove=point on:pointerdown=point on:pointerleave=move |_| if !by_keys.get_untracked() { set_spot.set(None) }
                on:keydown=keys on:blur=move |_| set_spot.set(None)>
                <canvas id=id node_ref=canvas aria-hidden="true"></canvas>
            </div>
            {view::part(move || inks.get().filter(|i| i.printing && !covered.get()).zip(svg::here()).map(|(inks, make)| {
                let drawn = chart.with(|c| make(c, PRINTED.0, PRINTED.1, inks.palette, inks.text_px));
                view! { <div class="plot-printed" inner_html=drawn.unwrap_or_else(|e| e.0)></div> }
            }))}
            {view::part(move || (as_table.get() && !covered.get()).then(|| {
                let (columns, rows) = table();
                view! {
                    <div class="scroll" tabindex="0" role="region" aria-label=title>
                        <table>
                            <caption class="sr">{title}</caption>
                            <thead><tr>{columns.into_iter().map(|c| view! { <th scope="col">{c}</th> }).collect_view()}</tr></thead>
                            <tbody>
                                {rows.into_iter().map(|row| view! {
                                    <tr>{row.into_iter().map(|cell| view! { <td>{cell}</td> }).collect_view()}</tr>
                                }).collect_view()}
                            </tbody>
                        </table>
                    </div>
                }
            }))}
            {view::part(move || names.with(|n| n.len() > 1).then(|| view! {
                <p class="plot-legend" role="group" aria-label=t(words::LEGEND)>
                    {names.get().into_iter().map(|(name, style)| {
                        let (own, shown) = (name.clone(), name.clone());
                        let pressed = view::text(move || alone.with(|a| a.as_ref() == Some(&own)).to_string());
                        view! {
                            <button type="button" class="plot-key" aria-pressed=pressed
                                on:click=move |_| set_alone.update(|a| *a = if a.as_ref() == Some(&name) { None } else { Some(name.clone()) })>
                                <svg viewBox="0 0 26 8" aria-hidden="true"><path d="M1 4H25" class=stroke(style)></path></svg>
                                {shown}
                            </button>
                        }
                    }).collect_view()}
                </p>
            }))}
            <p class="plot-caption" id=caption class:reading=move || spot.get().is_some()>
                {view::text(move || {
                    if covered.get() {
                        return t(words::COVERED).to_string();
                    }
                    read().or_else(|| fault.get()).unwrap_or_else(|| sentence.get())
                })}
            </p>
            <p class="sr" aria-live="polite">{view::text(move || if by_keys.get() { read().unwrap_or_default() } else { String::new() })}</p>
        </figure>
    }
}

/// The class of a line's sample in the legend.
fn stroke(style: Style) -> &'static str {
    match style {
        Style::Ink => "plot-ink",
        Style::Intake => "plot-intake",
        Style::Exhaust => "plot-exhaust",
        Style::Thin => "plot-thin",
        Style::Island => "plot-thin dotted",
        Style::Chain => "plot-ink dashed",
        Style::Pin => "plot-pin",
    }
}
