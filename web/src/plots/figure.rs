//! A chart on the page: a canvas redrawn in the same frame as whatever it shows, read by pointer and by keys, with its
//! legend, its table and its files. It knows no view; what it shows is a [`Chart`].

use super::canvas::surface;
use super::chart::{Chart, Style};
use super::inks::Inks;
use super::read_off::{Spot, Step};
use super::surface::TEXT;
use super::svg;
use crate::browser;
use crate::language::{t, tf};
use crate::view::{self, Debounce};
use crate::words;
use leptos::ev;
use leptos::html;
use leptos::prelude::*;
use std::sync::Arc;
use web_sys::HtmlCanvasElement;

/// How long a plot out of sight waits after the last change.
const UNSEEN_MS: i32 = 300;

/// Most rows of a table on the page; the file has every point.
const MOST_ROWS: usize = 120;

/// Size of a drawing on a print, in CSS pixels.
const PRINTED: (f64, f64) = (680.0, 330.0);

/// Size of a drawing that is saved, in CSS pixels, and device pixels to each.
const SAVED: (f64, f64, f64) = (960.0, 600.0, 2.0);

/// What a plot shows, how it is looked at now, and where it is drawn.
#[derive(Clone, Copy)]
struct Figure {
    /// The name of its files.
    id: &'static str,
    chart: Signal<Arc<Chart>>,
    covered: Signal<bool>,
    inks: Signal<Option<Inks>>,
    canvas: NodeRef<html::Canvas>,
    size: RwSignal<(f64, f64)>,
    as_table: RwSignal<bool>,
    /// The point that is read, and whether keys led to it.
    spot: RwSignal<Option<Spot>>,
    by_keys: RwSignal<bool>,
    /// The line that stands alone.
    alone: RwSignal<Option<String>>,
    fault: RwSignal<Option<String>>,
}

impl Figure {
    /// Draws it on its canvas.
    fn draw(&self, canvas: &HtmlCanvasElement, inks: Inks) {
        let (width, height) = self.size.get();
        let drawn =
            surface(canvas, width, height, browser::device_ratio(), inks.palette, inks.text_px).and_then(|sheet| {
                sheet.clear()?;
                let spot = self.spot.get();
                self.alone.with(|alone| self.chart.with(|c| c.draw(&sheet, alone.as_deref(), spot)))?;
                sheet.present()
            });
        self.fault.set(drawn.err().map(|e| tf("This plot could not be drawn: {why}.", &[("why", &e.0)])));
    }

    /// Draws it whenever something that it shows changes: at once while it is in sight, else once things have come to rest.
    fn draw_when_due(self, seen: RwSignal<bool>) {
        let due = RwSignal::new(0_u32);
        let wait = Debounce::new(UNSEEN_MS);
        let mut drawn_for: Option<u32> = None;
        view::effect(move || {
            let this = due.get();
            let before = drawn_for.replace(this);
            let (width, height) = self.size.get();
            let (Some(canvas), Some(inks)) = (self.canvas.get(), self.inks.get()) else {
                drawn_for = before;
                return;
            };
            if width < 80.0 || height < 80.0 || self.as_table.get() {
                return;
            }
            if self.covered.get() {
                // Drawn before it was covered, it would still stand on the canvas.
                canvas.set_width(1);
                return;
            }
            // No slider waits for a plot that nobody sees.
            if !seen.get() && before == Some(this) {
                self.chart.track();
                wait.ask(move || due.update(|d| *d = d.wrapping_add(1)));
                return;
            }
            self.draw(&canvas, inks);
        });
    }

    /// What stands at the point that is read.
    fn read(&self) -> Option<String> {
        let spot = self.spot.get()?;
        self.chart.with(|c| c.read(spot))
    }

    fn point(&self, event: &ev::PointerEvent) {
        if self.covered.get_untracked() {
            return;
        }
        let text = self.inks.with_untracked(|i| i.map_or(TEXT, |i| i.text_px));
        let (w, h) = self.size.get_untracked();
        let place = (f64::from(event.offset_x()), f64::from(event.offset_y()));
        let found = self.alone.with_untracked(|alone| {
            self.chart.with_untracked(|c| c.nearest(&c.layout(w, h, text), place, alone.as_deref()))
        });
        self.by_keys.set(false);
        if self.spot.get_untracked() != found {
            self.spot.set(found);
        }
    }

    fn key(&self, event: &ev::KeyboardEvent) {
        let step = match event.key().as_str() {
            "ArrowRight" => Step::Along(1),
            "ArrowLeft" => Step::Along(-1),
            "PageUp" => Step::Along(10),
            "PageDown" => Step::Along(-10),
            "ArrowUp" => Step::Across(-1),
            "ArrowDown" => Step::Across(1),
            "Home" => Step::End(false),
            "End" => Step::End(true),
            "Escape" => return self.spot.set(None),
            _ => return,
        };
        event.prevent_default();
        if !self.covered.get_untracked() {
            self.by_keys.set(true);
            self.spot.set(self.chart.with_untracked(|c| c.step(self.spot.get_untracked(), step)));
        }
    }

    /// Saves it as a file of a kind: `png`, `svg` or `csv`.
    fn save(self, kind: &'static str) {
        if self.covered.get_untracked() {
            return;
        }
        let name = format!("volute-{}.{kind}", self.id);
        let saved = match kind {
            "svg" => {
                leptos::task::spawn_local(async move {
                    if let Some(text) = self.svg().await {
                        self.say_saved(text.and_then(|text| browser::save_text(&name, "image/svg+xml", &text)));
                    }
                });
                return;
            }
            "csv" => browser::save_text(&name, "text/csv", &self.chart.with_untracked(|c| c.csv())),
            _ => browser::save_picture(&name, move |fresh| self.draw_picture(fresh)),
        };
        self.say_saved(saved);
    }

    /// As an SVG file; none if the plot has gone meanwhile.
    async fn svg(self) -> Option<Result<String, String>> {
        let (inks, chart) = (self.inks.try_get_untracked()??, self.chart.try_get_untracked()?);
        Some(match svg::maker().await {
            Ok(make) => make(&chart, SAVED.0, SAVED.1, inks.palette, inks.text_px).map_err(|e| e.0),
            Err(_) => Err(t("Part of the page could not be fetched.").into()),
        })
    }

    fn draw_picture(&self, fresh: &HtmlCanvasElement) -> Result<(), String> {
        let Some(inks) = self.inks.get_untracked() else { return Err(t("the page is not ready").into()) };
        let (w, h, ratio) = SAVED;
        let sheet = surface(fresh, w, h, ratio, inks.palette, inks.text_px).map_err(|e| e.0)?;
        let drawn = sheet.clear().and_then(|()| self.chart.with_untracked(|c| c.draw(&sheet, None, None)));
        drawn.and_then(|()| sheet.present()).map_err(|e| e.0)
    }

    fn say_saved(&self, saved: Result<(), String>) {
        let says = |e: String| tf("This could not be saved: {why}.", &[("why", e.trim_end_matches('.'))]);
        self.fault.set(saved.err().map(says));
    }
}

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
    let figure = Figure {
        id,
        chart,
        covered,
        inks,
        canvas: NodeRef::new(),
        size: RwSignal::new((0.0, 0.0)),
        as_table: RwSignal::new(false),
        spot: RwSignal::new(None),
        by_keys: RwSignal::new(false),
        alone: RwSignal::new(None),
        fault: RwSignal::new(None),
    };
    let Figure { size, as_table, spot, by_keys, alone, fault, .. } = figure;
    let seen = RwSignal::new(true);
    let holder = NodeRef::<html::Div>::new();
    view::effect(move || {
        if let Some(holder) = holder.get() {
            // The first drawing has most to compile and comes with the page's layout: in a task of its own. The browser tells the
            // size of a holder once more when it goes, and then the plot's signals are gone.
            browser::on_resize(&holder, move |w, h| match size.try_get_untracked() {
                Some((0.0, 0.0)) => browser::after(0, move || _ = size.try_set((w, h))),
                Some(_) => size.set((w, h)),
                None => {}
            });
            browser::on_sight(&holder, move |now| seen.set(now));
        }
    });
    // A line that is no longer there cannot stand alone.
    view::effect(move || {
        let gone =
            alone.with(|a| a.as_ref().is_some_and(|name| chart.with(|c| c.names().iter().all(|n| n.0 != *name))));
        if gone {
            alone.set(None);
        }
    });
    figure.draw_when_due(seen);
    let (tools, set_tools) = signal(false);
    let caption = format!("{id}-c");
    let described = caption.clone();
    let says = move || {
        if covered.get() {
            return t(words::COVERED).to_string();
        }
        figure.read().or_else(|| fault.get()).unwrap_or_else(|| sentence.get())
    };
    view! {
        <figure class=format!("sheet plot {class}") aria-label=title class:tabled=as_table class:covered=covered class:tooled=tools id=format!("{id}-figure")>
            <figcaption>
                {head}
                <button type="button" class="link" aria-pressed=view::text(move || as_table.get().to_string())
                    on:click=move |_| as_table.update(|on| *on = !*on)>
                    {view::text(move || if as_table.get() { t("back to the plot") } else { t(words::VALUES_AS_TABLE) })}
                </button>
                <button type="button" class="link plot-tool" aria-expanded=view::text(move || tools.get().to_string())
                    on:click=move |_| set_tools.update(|on| *on = !*on)>{t("lines, files")}</button>
                <span class="plot-saves" role="group" aria-label=t("Save this plot")>
                    <span aria-hidden="true">{t("save")}</span>
                    {["png", "svg", "csv"].map(|kind| view! {
                        <button type="button" class="link" disabled=covered on:click=move |_| figure.save(kind)>
                            {kind.to_ascii_uppercase()}
                        </button>
                    })}
                </span>
            </figcaption>
            <div class="plot-paper" node_ref=holder tabindex="0" role="application" aria-roledescription=t("plot")
                aria-label=title aria-describedby=described
                on:pointermove=move |event| figure.point(&event) on:pointerdown=move |event| figure.point(&event)
                on:pointerleave=move |_| if !by_keys.get_untracked() { spot.set(None) }
                on:keydown=move |event| figure.key(&event) on:blur=move |_| spot.set(None)>
                <canvas id=id node_ref=figure.canvas aria-hidden="true"></canvas>
            </div>
            {view::part(move || inks.get().filter(|i| i.printing && !covered.get()).zip(svg::here()).map(|(inks, make)| {
                let drawn = chart.with(|c| make(c, PRINTED.0, PRINTED.1, inks.palette, inks.text_px));
                view! { <div class="plot-printed" inner_html=drawn.unwrap_or_else(|e| e.0)></div> }
            }))}
            {view::part(move || (as_table.get() && !covered.get()).then(|| table(title, chart)))}
            {legend(figure)}
            <p class="plot-caption" id=caption class:reading=move || spot.get().is_some()>{view::text(says)}</p>
            <p class="sr" aria-live="polite">{view::text(move || if by_keys.get() { figure.read().unwrap_or_default() } else { String::new() })}</p>
        </figure>
    }
}

/// A plot as a table.
fn table(title: Signal<String>, chart: Signal<Arc<Chart>>) -> impl IntoView {
    let (columns, rows) = chart.with(|c| c.table());
    let every = rows.len().div_ceil(MOST_ROWS).max(1);
    view! {
        <div class="scroll" tabindex="0" role="region" aria-label=title>
            <table>
                <caption class="sr">{title}</caption>
                <thead><tr>{columns.into_iter().map(|c| view! { <th scope="col">{c}</th> }).collect_view()}</tr></thead>
                <tbody>
                    {rows.into_iter().step_by(every).map(|row| view! {
                        <tr>{row.into_iter().map(|cell| view! { <td>{cell}</td> }).collect_view()}</tr>
                    }).collect_view()}
                </tbody>
            </table>
        </div>
    }
}

/// The names of the lines, where there are several; each can be shown alone.
fn legend(figure: Figure) -> view::Part {
    let Figure { chart, covered, alone, .. } = figure;
    let names = view::memo(move || if covered.get() { Vec::new() } else { chart.with(|c| c.names()) });
    view::part(move || {
        names.with(|n| n.len() > 1).then(|| view! {
        <p class="plot-legend" role="group" aria-label=t("Lines of the plot; one can be shown alone")>
            {names.get().into_iter().map(|(name, style)| {
                let (own, letters) = (name.clone(), name.clone());
                let pressed = view::text(move || alone.with(|a| a.as_ref() == Some(&own)).to_string());
                view! {
                    <button type="button" class="plot-key" aria-pressed=pressed
                        on:click=move |_| alone.update(|a| *a = if a.as_ref() == Some(&name) { None } else { Some(name.clone()) })>
                        <svg viewBox="0 0 26 8" aria-hidden="true"><path d="M1 4H25" class=stroke(style)></path></svg>
                        {letters}
                    </button>
                }
            }).collect_view()}
        </p>
    })
    })
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
