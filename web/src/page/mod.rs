//! The page: title block, bench, lesson sheet and what stands below, and how they hang together.
//!
//! What the learner holds and how it changes is [`Bench`]; how the page looks is `Appearance`; what the address carries is
//! `Address`. The components here arrange and show.

mod address;
mod appearance;
mod more_views;
mod title_block;

use crate::bench::air_path::AirPath;
use crate::bench::controls::Controls;
use crate::bench::headlines::Headlines;
use crate::bench::limits::Limits;
use crate::bench::live_sweeps::LiveSweeps;
use crate::bench::slot::{Scene, Slot};
use crate::bench::transitions::Bench;
use crate::bench::verdict::Verdict;
use crate::browser::{self, Turn};
use crate::fragment;
use crate::language::{t, tf};
use crate::lessons::sheet::LessonSheet;
use crate::lessons::study::{Host, Study};
use crate::lms;
use crate::look::Look;
use crate::packed::packed;
use crate::parts::shows;
use crate::refusals::Says;
use crate::run::{self, Run};
use crate::share::{self, Shared};
use crate::speech;
use crate::state::BenchSettings;
use crate::store;
use crate::units::UnitSystem;
use crate::update;
use crate::view::{self, Debounce, Stages};
use crate::words;
use address::Address;
use appearance::Appearance;
use leptos::prelude::*;
use more_views::MoreViews;
use title_block::TitleBlock;

/// The bench has settled when nothing has moved it for this long.
const SETTLE_MS: i32 = 700;

/// How long after it is built the page is at rest: decoration, such as the gas that flows, begins then.
const REST_MS: i32 = 2000;

/// The pieces of the first view, each built in a task of its own.
#[derive(Clone, Copy, PartialEq)]
enum Piece {
    Title,
    Controls,
    Headlines,
    Verdict,
    Drawing,
    Plot,
    Limits,
    Lesson,
}

/// Their order: each comes below what stands already, so that nothing moves.
const PIECES: [Piece; 8] = [
    Piece::Title,
    Piece::Controls,
    Piece::Headlines,
    Piece::Verdict,
    Piece::Drawing,
    Piece::Plot,
    Piece::Limits,
    Piece::Lesson,
];

/// What follows when a piece stands: the sliders come at once, the rest in pauses of the browser.
fn built(piece: Piece) -> Turn {
    match piece {
        Piece::Title => Turn::Task,
        Piece::Controls => {
            // The page can be used: the text that stood here while it loaded goes.
            browser::remove("start");
            Turn::Pause
        }
        Piece::Lesson => {
            browser::set_body_class("built", true);
            browser::after(REST_MS, || browser::set_body_class("rested", true));
            Turn::Done
        }
        _ => Turn::Pause,
    }
}

/// Mounts the page on the body, in its language.
pub fn mount() {
    lms::meet(|| {
        // What is wrong with what the device keeps is told by the page itself, once it stands.
        let kept = store::open(|_| {}).get::<Look>().and_then(|look| look.language);
        speech::begin(kept.or(lms::language()), |speaks| {
            lms::prepare(move || {
                // The first answer in one task of the browser, the page in the next.
                browser::after(0, move || {
                    let (shared, fault) = opening();
                    let mut first = run::point(&shared.bench, None);
                    run::look_ahead(&mut first, None);
                    browser::after(0, move || mount_to_body(move || view! { <App shared fault first speaks/> }));
                });
            });
        });
    });
}

/// The bench as the link says, or as it opens; and what is wrong with the link.
fn opening() -> (Shared, Option<String>) {
    let fresh = || Shared::plain(BenchSettings::open(), UnitSystem::Si);
    match share::decode(fragment::split(&browser::fragment()).0) {
        Ok(Some(shared)) => (shared, None),
        Ok(None) => (fresh(), None),
        Err(e) => (
            fresh(),
            Some(tf("This link is damaged: {why}. The bench opened with its own settings.", &[("why", &e.says())])),
        ),
    }
}

/// `speaks`: whether the texts of the wanted language are there.
#[component]
fn App(shared: Shared, fault: Option<String>, first: Run, speaks: bool) -> impl IntoView {
    let silent = (!speaks).then(|| t(words::NO_CATALOG).to_string());
    let lost = lms::lost().then(|| t("The part of this package that speaks with the learning platform did not come: what you do is kept on this device only. Open the package again.").to_string());
    let fault = [fault, silent, lost].into_iter().flatten().reduce(|a, b| format!("{a} {b}"));
    view! { <Page shared fault first/> }
}

/// What lessons need of the bench and of the page's look.
fn lessons(bench: Bench, look: Appearance) -> Study {
    Study::new(Host {
        run: bench.run.into(),
        settled: bench.settled,
        units: bench.units.into(),
        inks: look.inks.into(),
        // Lessons judge what has settled, also where the bench stood there already.
        on_bench: Callback::new(move |next| {
            bench.show(next);
            bench.touch();
        }),
        on_views: Callback::new(move |views: Vec<&'static str>| bench.open_views(&views)),
        // What was before the lesson is not undone from within it.
        on_fresh: Callback::new(move |()| bench.forget_history()),
        on_notice: Callback::new(move |text: String| bench.say(text)),
        store: look.store(),
    })
}

/// Lets the bench settle once nothing that the link carries has changed for a while.
fn settle_when_calm(bench: Bench, study: Study, address: Address) {
    let wait = Debounce::new(SETTLE_MS);
    let mut touched_before = bench.touched.get_untracked();
    let mut named_before = None;
    view::effect(move || {
        // The link names the lesson from the moment that it is wanted.
        study.opening.track();
        let (touched, named) = (bench.touched.get(), (bench.plots.map(|plot| plot.get()), study.shared()));
        let moved = std::mem::replace(&mut touched_before, touched) != touched;
        let renamed = named_before.replace(named.clone()).is_some_and(|before| before != named);
        if moved || renamed {
            wait.ask(move || address.settle());
        }
    });
    browser::after(SETTLE_MS, move || {
        if bench.steps.try_with_untracked(Option::is_none) == Some(true) {
            bench.take_steps();
        }
    });
}

#[component]
fn Page(shared: Shared, fault: Option<String>, first: Run) -> impl IntoView {
    let bench = Bench::new(&shared, first);
    if bench.notice.with_untracked(Option::is_none) {
        bench.notice.set(fault);
    }
    // Inside another page only what its link names is there.
    let excerpt = StoredValue::new(shared.embed.clone());
    let whole = excerpt.with_value(Option::is_none);
    let stands_here = move |part: &'static str| excerpt.with_value(|excerpt| shows(excerpt, part));
    browser::set_body_class("embed-page", !whole);
    let pieces = Stages::start(&PIECES, built);
    let look = Appearance::new(bench, shared.language);
    let study = lessons(bench, look);
    lms::attach(study);
    if !whole {
        study.sheet.set(false);
    }
    let cover = view::memo(move || study.cover());
    let address = Address { bench, study, cover, look, excerpt };
    let holds = view::memo(move || study.holds());
    let marks = view::memo(move || study.marks());
    view::effect(move || {
        let names = marks.get();
        browser::set_root_attribute("data-mark", Some(names.as_str()).filter(|n| !n.is_empty()));
    });
    view::effect(move || browser::set_body_class("stale", !bench.run.with(|r| r.holds)));
    settle_when_calm(bench, study, address);
    address.open_lesson_of(&shared);
    address.follow();
    look.watch(pieces.stands(Piece::Headlines));

    let (run, held, units) = (Signal::from(bench.run), Signal::from(bench.held), Signal::from(bench.units));
    let (cover, holds) = (Signal::from(cover), Signal::from(holds));
    let calm = view::calm(run);
    let scene = Scene { run, calm, units, cover, pins: bench.pins.into(), inks: look.inks.into() };
    let stands = pieces.stands(Piece::Lesson);
    let sweeps = LiveSweeps::start(held, stands.into());
    let strip = sweeps.plot(0, Signal::stored(Some("vane"))).points().into();
    let term = RwSignal::new(None::<&'static str>);
    let explain = Callback::new(move |key: &'static str| term.set(Some(key)));
    let (embedding, printing) = (RwSignal::new(false), RwSignal::new(false));
    let has = move |piece: Piece, part: &'static str| pieces.has(piece) && stands_here(part);
    view! {
        <a class="page-skip" href="#controls" on:click=|event| { event.prevent_default(); browser::focus("controls"); }>{t("Skip to the sliders")}</a>
        {view::part(move || (pieces.has(Piece::Title) && whole).then(|| view! { <TitleBlock bench look study address holds embedding printing/> }))}
        <Notices bench address/>
        {lms::platform_line()}
        <div class="page" class:with-lesson=study.sheet>
            <main class="page-bench" id="bench">
                <h1 class="sr">{t(words::BENCH)}</h1>
                {view::part(move || pieces.has(Piece::Controls).then(|| view! {
                    <Controls bench=held units sweep=strip holds cover offered=["vane", "load", "speed"].map(stands_here)
                        on_change=Callback::new(move |next| bench.show(next)) on_swap_load=Callback::new(move |()| bench.swap_load())/>
                }))}
                {view::part(move || has(Piece::Headlines, "heads").then(|| view! { <Headlines run units cover on_term=explain/> }))}
                {view::part(move || has(Piece::Verdict, "verdict").then(|| view! { <Verdict run steps=bench.steps.into() units cover/> }))}
                {(stands_here("air") || stands_here("plot")).then(|| view! {
                    <div class="page-stage">
                        {view::part(move || has(Piece::Drawing, "air").then(|| view! {
                            <AirPath run calm units cover flows=look.flows.into() on_flow=Callback::new(move |()| look.turn_flow())/>
                        }))}
                        {view::part(move || has(Piece::Plot, "plot").then(|| view! { <Slot id="plot-a" index=1 scene choice=bench.plots[0] sweeps/> }))}
                    </div>
                })}
                {view::part(move || has(Piece::Limits, "limits").then(|| view! { <Limits run units cover/> }))}
            </main>
            {view::part(move || (pieces.has(Piece::Lesson) && study.sheet.get()).then(|| view! { <LessonSheet study/> }))}
            <MoreViews bench scene sweeps holds address term embedding printing stands/>
        </div>
        // The foot comes last, and what will stand below the first view keeps its room: nothing is pushed down in sight.
        {view::part(move || stands.get().then(|| view! { <Foot address whole/> }))}
        <p class="sr" aria-live="polite" id="live">{bench.spoken}</p>
        <span class="page-probe" aria-hidden="true" node_ref=look.probe></span>
    }
}

/// What the learner must see: a newer page, and what went wrong.
#[component]
fn Notices(bench: Bench, address: Address) -> impl IntoView {
    let newer = RwSignal::new(false);
    update::on_ready(move || newer.set(true));
    let reload = move |_| {
        address.settle();
        browser::reload();
    };
    view! {
        <div class="notices" role="status">
            {view::part(move || newer.get().then(|| view! {
                <p class="notice" id="newer">{t("A newer version of this page is ready and opens at the next load.")}" "<button type="button" class="link" on:click=reload>{t("Open it now")}</button></p>
            }))}
            {view::part(move || bench.notice.get().map(|text| view! {
                <p class="notice" id="notice">{text}" "<button type="button" class="link" on:click=move |_| bench.notice.set(None)>{t("dismiss")}</button></p>
            }))}
        </div>
    }
}

/// The foot of the page: the caution, and where else to go.
#[component]
fn Foot(address: Address, whole: bool) -> impl IntoView {
    let open_whole = move || {
        address.bench.settled.track();
        address.of(None)
    };
    view! {
        <footer class="page-foot"><p><b>{t("A teaching model, not a tuning instruction.")}</b>" "{t("Real work follows the maker's limits, local codes, and licensed practice.")}</p>
            {(!whole).then(|| view! {
                <p><a id="open-whole" target="_blank" rel="noopener" href=view::text(open_whole)>{t("Open the whole bench")}</a></p>
            })}
            {(whole && packed().is_none()).then(|| view! {
                <p><a id="to-desk" href="desk.html">{t("For instructors: assign, read results, print, write a lesson")}</a></p>
            })}
        </footer>
    }
}
