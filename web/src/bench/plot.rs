//! A canvas that redraws in the same frame as whatever it shows, and the table that says the same.

use crate::browser;
use crate::plots::canvas::{Canvas, paper};
use crate::plots::paper::{Drawn, Palette, Paper};
use crate::view;
use leptos::html;
use leptos::prelude::*;

/// Tones and text height as the style sheet gives them now.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Inks {
    /// Tones.
    pub palette: Palette,
    /// Height of plot text in CSS pixels.
    pub text_px: f64,
}

/// How long a plot out of sight waits after the last change.
const UNSEEN_MS: i32 = 300;

/// A plot in a figure: canvas, caption, table on demand.
#[component]
pub fn Plot<D>(
    /// Hook for tests and styles.
    id: &'static str,
    /// Heading.
    title: &'static str,
    /// One sentence that says what it shows.
    #[prop(into)]
    sentence: Signal<String>,
    /// Draws it; tracks what it reads.
    draw: D,
    /// Heads of the table's columns.
    #[prop(into)]
    columns: Signal<Vec<String>>,
    /// Rows of the table.
    #[prop(into)]
    rows: Signal<Vec<Vec<String>>>,
    /// Kept back by a lesson: nothing of it is on the page.
    #[prop(into)]
    covered: Signal<bool>,
    /// What the table is, for a screen reader.
    table_title: &'static str,
    inks: Signal<Option<Inks>>,
    /// Changes whenever what it shows does: watched while it is out of sight.
    data: Signal<()>,
    #[prop(optional)] class: &'static str,
) -> impl IntoView
where
    D: Fn(&Paper<Canvas>) -> Drawn + 'static,
{
    let (as_table, set_as_table) = signal(false);
    let (size, set_size) = signal((0.0, 0.0));
    let (seen, set_seen) = signal(true);
    let (due, set_due) = signal(0_u32);
    let asked = StoredValue::new(0_u32);
    let (fault, set_fault) = signal(None::<String>);
    let holder = NodeRef::<html::Div>::new();
    let canvas = NodeRef::<html::Canvas>::new();
    view::effect(move || {
        if let Some(holder) = holder.get() {
            browser::on_resize(&holder, move |w, h| set_size.set((w, h)));
            browser::on_sight(&holder, move |now| set_seen.set(now));
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
            data.track();
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
            paper(&canvas, width, height, browser::device_ratio(), inks.palette, inks.text_px).and_then(|sheet| {
                draw(&sheet)?;
                sheet.present()
            });
        set_fault.set(drawn.err().map(|e| format!("This plot could not be drawn: {}.", e.0)));
    });
    let heading = format!("{id}-h");
    let caption = format!("{id}-c");
    let labelled = format!("{heading} {caption}");
    view! {
        <figure class=format!("sheet plot {class}") aria-labelledby=heading.clone() class:tabled=as_table class:covered=covered>
            <figcaption>
                <h2 id=heading.clone()>{title}</h2>
                <button type="button" class="link" aria-pressed=view::text(move || as_table.get().to_string())
                    on:click=move |_| set_as_table.update(|on| *on = !*on)>
                    {view::text(move || if as_table.get() { "back to the plot" } else { crate::words::VALUES_AS_TABLE })}
                </button>
            </figcaption>
            <div class="paper" node_ref=holder>
                <canvas id=id node_ref=canvas role="img" aria-labelledby=labelled></canvas>
            </div>
            {view::part(move || (as_table.get() && !covered.get()).then(|| view! {
                <div class="scroll" tabindex="0" role="region" aria-label=table_title>
                    <table>
                        <caption class="sr">{table_title}</caption>
                        <thead><tr>{columns.get().into_iter().map(|c| view! { <th scope="col">{c}</th> }).collect_view()}</tr></thead>
                        <tbody>
                            {rows.get().into_iter().map(|row| view! {
                                <tr>{row.into_iter().map(|cell| view! { <td>{cell}</td> }).collect_view()}</tr>
                            }).collect_view()}
                        </tbody>
                    </table>
                </div>
            }))}
            <p class="caption" id=caption>{view::text(move || if covered.get() { crate::words::COVERED.into() } else { fault.get().unwrap_or_else(|| sentence.get()) })}</p>
        </figure>
    }
}
