//! The page: title block, bench, sheets beside and below, and how they hang together.

use crate::bench::air_path::AirPath;
use crate::bench::below::{BELOW, Parts, below};
use crate::bench::controls::Controls;
use crate::bench::engine_choice::EngineSelect;
use crate::bench::headlines::Headlines;
use crate::bench::limits::Limits;
use crate::bench::slot::{Choice, Scene, Slot, View};
use crate::bench::sweep_desk::SweepDesk;
use crate::bench::verdict::Verdict;
use crate::browser::{self, Turn};
use crate::describe;
use crate::desk::link;
use crate::language::{self, Language, t, tf};
use crate::lessons::desk::{self, Desk, Host, Want};
use crate::lessons::reader::LessonSheet;
use crate::lessons::session::{Cover, Holds};
use crate::lms;
use crate::look::Look;
use crate::pins::Pins;
use crate::plots::inks::Inks;
use crate::refusals;
use crate::run::{self, Run, Steps};
use crate::share::{self, Shared};
use crate::start_points::start_points;
use crate::state::{BenchSettings, History, Origin};
use crate::store;
use crate::units::{Quantity, UnitSystem};
use crate::update;
use crate::view;
use crate::what_ifs;
use crate::words;
use leptos::ev;
use leptos::html;
use leptos::prelude::*;
use leptos::reactive::computed::ScopedFuture;
use std::sync::Arc;

/// A value has settled when nothing has moved it for this long.
const SETTLE_MS: i32 = 700;

/// What the three plots show at first.
const USUAL: [View; 3] = [View::Exchange, View::Sweep, View::Compressor];

/// Parts that the page is built in, in their order, each in a task of its own, so that none keeps a hand waiting for long.
#[derive(Clone, Copy)]
enum Slice {
    Title,
    /// With these it takes the place of what stood there while it was on its way.
    Controls,
    Headlines,
    Verdict,
    Drawing,
    Plot,
    Limits,
    Lesson,
}

impl Slice {
    const LAST: Self = Self::Lesson;
    const COUNT: usize = Self::LAST as usize + 1;
    /// How many must stand before the page can be used.
    const USABLE: usize = Self::Controls as usize + 1;
}

/// How long after it is built the page has its first rest: what only adorns it begins then.
const REST_MS: i32 = 2000;

/// How long "link copied" stands.
const COPIED_MS: i32 = 6000;

/// Mounts the page on the body, in its language, in place of what stood there while it was on its way.
pub fn mount() {
    lms::meet(|| {
        // Whatever is wrong with what is kept, the page itself will say.
        let kept = store::open(|_| {}).get::<Look>().and_then(|look| look.language);
        language::begin(kept.or(lms::language()), |speaks| {
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
    match share::decode(link::split(&browser::fragment()).0) {
        Ok(Some(shared)) => (shared, None),
        Ok(None) => (fresh(), None),
        Err(e) => (
            fresh(),
            Some(tf(
                "This link is damaged: {why}. The bench opened with its own settings.",
                &[("why", &refusals::link(&e))],
            )),
        ),
    }
}

/// Whether the link leaves the bench to the lesson that it names.
fn sets_no_bench() -> bool {
    !browser::fragment().contains("vane=")
}

/// `speaks`: whether the texts of the wanted language are there.
#[component]
fn App(shared: Shared, fault: Option<String>, first: Run, speaks: bool) -> impl IntoView {
    let silent = (!speaks).then(|| t(words::NO_CATALOG).to_string());
    let lost = lms::lost().then(|| t(words::NO_PLATFORM_PART).to_string());
    let fault = [fault, silent, lost].into_iter().flatten().reduce(|a, b| format!("{a} {b}"));
    view! { <Page shared fault first/> }
}

#[component]
fn Page(shared: Shared, fault: Option<String>, first: Run) -> impl IntoView {
    // Inside another page only what its link names is there.
    let embed = StoredValue::new(shared.embed.clone());
    let whole = move || embed.with_value(Option::is_none);
    let shows = move |part: &'static str| embed.with_value(|e| e.as_ref().is_none_or(|parts| parts.contains(&part)));
    browser::set_body_class("embedded", !whole());
    let bench = RwSignal::new(shared.bench.clone());
    let units = RwSignal::new(shared.units);
    let run = RwSignal::new(Arc::new(first));
    let steps = RwSignal::new(None::<Arc<Steps>>);
    let history = RwSignal::new(History::default());
    history.update_untracked(|h| h.settle(&shared.bench));
    let notice = RwSignal::new(fault);
    let spoken = RwSignal::new(String::new());
    let inks = RwSignal::new(None::<Inks>);
    let dark = RwSignal::new(browser::system_is_dark());
    let probe = NodeRef::<html::Span>::new();

    let (kept, lost) = Pins::from_shared(&shared.pins);
    if lost > 0 {
        notice.update(|n| *n = Some(t(words::PINS_LOST).into()));
    }
    let pins = RwSignal::new(kept);
    let choices = USUAL.map(|view| RwSignal::new(Choice::new(view)));
    let choose = move |plots: &[String]| {
        for (i, choice) in choices.iter().enumerate() {
            choice.set(plots.get(i).and_then(|p| Choice::decode(p)).unwrap_or(Choice::new(USUAL[i])));
        }
    };
    choose(&shared.plots);
    let term = RwSignal::new(None::<&'static str>);
    // The engine as it came, to count what-ifs from; of an own one this is what was read or what the link brought.
    let own_engine = RwSignal::new(shared.bench.engine.clone());
    let origin = view::memo(move || bench.with(|b| b.origin.clone()));
    let came = view::memo(move || match origin.get() {
        Origin::Own => own_engine.get(),
        built_in => what_ifs::as_it_came(&built_in).map_or_else(|| own_engine.get(), Arc::new),
    });

    // What stays on this device: how the page looks. What the bench holds is in the link.
    let store = StoredValue::new_local(store::open(move |trouble| notice.set(Some(trouble.to_string()))));
    let kept_look = store.with_value(|s| s.get::<Look>());
    // Chosen here or by the link, and for the links that are made here; what the browser reads is everybody's own.
    let chosen = RwSignal::new(kept_look.as_ref().and_then(|look| look.language).or(shared.language));
    let look_kept = RwSignal::new(kept_look.as_ref().map(|look| (look.dark, look.language)).unwrap_or_default());
    let flows = RwSignal::new(kept_look.as_ref().is_none_or(|look| !look.still));
    let keep_look = move || {
        let (dark, language) = look_kept.get_untracked();
        let (customary, still) = (units.get_untracked() == UnitSystem::Customary, !flows.get_untracked());
        store.with_value(|s| s.set(&Look { dark, customary, language, still }))
    };
    if let Some(look) = kept_look {
        if look.customary && browser::fragment().is_empty() {
            units.set(UnitSystem::Customary);
        }
        if let Some(on) = look.dark {
            dark.set(on);
            browser::set_root_attribute("data-theme", Some(if on { "dark" } else { "light" }));
        }
    }
    let newer = RwSignal::new(false);
    update::on_ready(move || newer.set(true));

    // A lesson: whose numbers, how far, what it covers. The sheet is open at first, with the list of lessons.
    let settled = RwSignal::new(0_u32);
    // What sets the bench is made further down; lessons call it once it is there.
    let set_bench = StoredValue::new(None::<Callback<BenchSettings>>);
    let desk = Desk::new(Host {
        run: run.into(),
        settled,
        units: units.into(),
        inks: inks.into(),
        on_bench: Callback::new(move |next| {
            if let Some(set) = set_bench.get_value() {
                set.run(next);
            }
        }),
        on_views: Callback::new(move |views: Vec<&'static str>| {
            for (choice, view) in choices.iter().zip(views.into_iter().filter_map(View::of)) {
                choice.set(Choice::new(view));
            }
        }),
        // What was before the lesson is not undone from within it.
        on_fresh: Callback::new(move |()| history.set(History::default())),
        on_notice: Callback::new(move |text: String| notice.set(Some(text))),
        store: store.get_value(),
    });
    lms::attach(desk);
    // What an instructor gives to do travels behind the bench's half of a link; a package has it from elsewhere.
    let take_assignment = move |fragment: &str, then: Box<dyn FnOnce()>| {
        let wanted = link::split(fragment).1.map(String::from);
        let stands = desk.assignment.with_untracked(|a| a.as_ref().map(|a| a.text.clone()));
        if lms::packed().is_some() || wanted == stands {
            return then();
        }
        let Some(wanted) = wanted else {
            desk.assignment.set(None);
            return then();
        };
        leptos::task::spawn_local(async move {
            match desk::given(wanted).await {
                Ok(Ok(given)) => desk.assignment.set(Some(Arc::new(given))),
                Ok(Err(why)) => {
                    notice.set(Some(tf("The assignment in this link cannot be read: {why}.", &[("why", &why)])));
                }
                Err(_) => notice.set(Some(t(words::NO_ASSIGNMENT_PART).into())),
            }
            then();
        });
    };
    let sheet_open = desk.sheet;
    if !whole() {
        sheet_open.set(false);
    }
    let cover = view::memo(move || desk.cover());
    let holds = view::memo(move || desk.holds());
    let marks = view::memo(move || desk.marks());
    view::effect(move || {
        let names = marks.get();
        browser::set_root_attribute("data-mark", Some(names.as_str()).filter(|n| !n.is_empty()));
    });

    let address_of = move |embed: Option<Vec<&'static str>>| {
        let lesson = desk.shared();
        let plots = choices.map(|c| c.get_untracked().encode());
        let usual = USUAL.map(|v| Choice::new(v).encode());
        let given = desk.assignment.with_untracked(|a| a.as_ref().map(|a| a.text.clone()));
        let here = share::encode(&Shared {
            bench: bench.get_untracked(),
            units: units.get_untracked(),
            language: chosen.get_untracked(),
            lesson,
            pins: pins.with_untracked(Pins::shared),
            plots: if plots == usual { Vec::new() } else { plots.into() },
            embed,
        });
        browser::address(&link::join(&here, given.as_deref()))
    };
    let link_here = move || {
        let address = address_of(embed.get_value());
        address.split_once('#').map_or_else(String::new, |(_, fragment)| fragment.to_string())
    };

    // Each part comes below what stands already, so that nothing moves: first what a hand needs, then the rest in pauses.
    let slices_built = RwSignal::new(0_usize);
    let stands: [Memo<bool>; Slice::COUNT] = std::array::from_fn(|i| view::memo(move || i < slices_built.get()));
    let built = move |slice: Slice| stands[slice as usize].get();
    let desk_of_sweeps = SweepDesk::start(bench.into(), stands[Slice::LAST as usize].into());
    let strip = desk_of_sweeps.plot(0, Signal::stored(Some("vane")));

    // What the next step of vane would do, told once the bench rests: it has four more points to ask for.
    let take_steps = move || {
        let known = steps.with_untracked(|s| s.as_ref().is_some_and(|s| bench.with_untracked(|b| s.bench == *b)));
        if !known {
            steps.set(Some(Arc::new(run.with_untracked(|r| run::steps(r)))));
        }
    };
    browser::after(SETTLE_MS, move || {
        if steps.try_with_untracked(Option::is_none) == Some(true) {
            take_steps();
        }
    });

    // Once nothing has moved for a while: history, link, one spoken line.
    let touched = StoredValue::new(0_u32);
    let settle = move || {
        // What stands does not depend on the way there: asked from nothing, the same settings give the same digits here, in
        // a link that is opened, and on another machine.
        if run.with_untracked(|r| !r.fresh) {
            let mut fresh = bench.with_untracked(|b| run::point(b, None));
            if fresh.holds {
                run::look_ahead(&mut fresh, None);
                run.set(Arc::new(fresh));
            }
        }
        take_steps();
        history.update(|h| h.settle(&bench.get_untracked()));
        browser::set_fragment(&link_here());
        let covered = cover.with_untracked(|c| !c.is_off());
        let line = if covered {
            t(words::COVERED).to_string()
        } else {
            run.with_untracked(|r| {
                steps.with_untracked(|s| describe::spoken(&r.sight(s.as_deref()), units.get_untracked()))
            })
        };
        spoken.set(line);
        settled.update(|n| *n = n.wrapping_add(1));
    };
    let settle_soon = move || {
        let mine = touched.with_value(|t| t.wrapping_add(1));
        touched.set_value(mine);
        browser::after(SETTLE_MS, move || {
            if touched.try_get_value() == Some(mine) {
                settle();
            }
        });
    };

    // The one way that settings change: ask core, show the answer in the same frame.
    let show = move |next: BenchSettings| {
        if bench.with_untracked(|b| *b == next) {
            return;
        }
        let mut answer = run.with_untracked(|before| run::point(&next, Some(before)));
        run.with_untracked(|before| run::look_ahead(&mut answer, Some(before)));
        bench.set(next);
        run.set(Arc::new(answer));
        settle_soon();
    };
    let mut shown_before = None;
    view::effect(move || {
        let now = choices.map(|c| c.get());
        if shown_before.replace(now).is_some_and(|before| before != now) {
            settle_soon();
        }
    });
    let change = Callback::new(show);
    // Another engine, not the same one changed.
    let swap_engine = Callback::new(move |next: BenchSettings| {
        own_engine.set(next.engine.clone());
        show(next);
    });
    let start_at = move |event: ev::Event| {
        let id = event_target_value(&event);
        let mut next = bench.get_untracked();
        if let Some(point) = start_points(&next.engine).into_iter().find(|p| p.id == id) {
            // The weather stays: a start point says how the engine runs, not on which day.
            next.settings = volute_core::settings::Settings { ambient: next.settings.ambient, ..point.settings };
            notice.set(Some(format!("{}: {}", t(point.name), t(point.says))));
            show(next);
        }
    };
    let go_to_pin = Callback::new(move |letter: char| {
        let target = pins.with_untracked(|p| p.get(letter).map(|p| p.bench.clone()));
        target.into_iter().for_each(show);
    });
    let pins_changed = Callback::new(move |()| settle_soon());
    let fault_said = Callback::new(move |text: String| notice.set(Some(text)));
    let explain = Callback::new(move |key: &'static str| term.set(Some(key)));
    let swap_load = Callback::new(move |()| {
        let load = run.with_untracked(|r| run::swap_load(r));
        let mut next = bench.get_untracked();
        next.settings.load = load;
        show(next);
    });
    // A step through history is not a new one: what stands is settled first, what comes is what history names.
    let step = move |take: fn(&mut History) -> Option<BenchSettings>| {
        let mut target = None;
        history.update(|h| {
            h.settle(&bench.get_untracked());
            target = take(h);
        });
        target.into_iter().for_each(show);
    };
    // Within a lesson, back to where it begins.
    let reset = move |_| {
        let fresh = desk.start().unwrap_or_else(|| Ok(BenchSettings::open()));
        match fresh {
            Ok(fresh) => {
                notice.set(None);
                show(fresh);
            }
            Err(e) => notice.set(Some(e)),
        }
    };
    // Lessons judge what has settled, also where the bench stood there already.
    set_bench.set_value(Some(Callback::new(move |next| {
        show(next);
        settle_soon();
    })));
    // The link names the lesson from the moment that it is wanted.
    let mut named_before = None;
    view::effect(move || {
        desk.opening.track();
        let now = desk.shared();
        if named_before.replace(now.clone()).is_some_and(|before| before != now) {
            settle_soon();
        }
    });
    let wanted = shared.lesson.clone();
    take_assignment(
        &browser::fragment(),
        Box::new(move || {
            if let Some((id, variant)) = wanted {
                desk.open(id, Want::Variant(variant), sets_no_bench());
            }
        }),
    );
    let can_undo = move || history.with(|h| bench.with(|b| h.can_undo(b)));
    let can_redo = move || history.with(History::can_redo);

    // Look: theme, type and forced colours decide the tones of the canvas.
    let printing = StoredValue::new(false);
    let read_inks = move || {
        if let Some(probe) = probe.get_untracked() {
            inks.set(Some(Inks::read(&probe, printing.get_value())));
        }
    };
    let system_changed = move || {
        dark.set(browser::system_is_dark());
        browser::set_root_attribute("data-theme", None);
        read_inks();
    };
    view::effect(move || {
        // Only plots need them, and reading them lays the page out: in a task of its own.
        if probe.get().is_some() && built(Slice::Headlines) {
            browser::after(0, move || {
                read_inks();
                browser::on_fonts_ready(move || {
                    inks.set(None);
                    read_inks();
                });
                browser::on_media_change(&["(prefers-color-scheme: dark)"], system_changed);
                browser::on_media_change(
                    &["(forced-colors: active)", "(min-width: 1680px)", "(min-resolution: 1.5dppx)"],
                    read_inks,
                );
            });
        }
    });
    // Paper is white: a print takes the light tones whatever the page shows.
    browser::on_print(move |begins| {
        printing.set_value(begins);
        let dark = look_kept.get_untracked().0.map(|on| if on { "dark" } else { "light" });
        browser::set_root_attribute("data-theme", if begins { Some("light") } else { dark });
        read_inks();
    });
    let turn_theme = move |_| {
        dark.update(|d| *d = !*d);
        look_kept.update(|look| look.0 = Some(dark.get_untracked()));
        keep_look();
        browser::set_root_attribute("data-theme", Some(if dark.get_untracked() { "dark" } else { "light" }));
        read_inks();
    };
    let turn_units = move |_| {
        units.update(|u| *u = u.other());
        keep_look();
        settle_soon();
    };
    let turn_flow = Callback::new(move |()| {
        flows.update(|on| *on = !*on);
        keep_look();
    });
    // Another language is another load: every text is looked up once, and the link holds the state.
    let other_language = match language::spoken() {
        Language::English => Language::German,
        _ => Language::English,
    };
    let turn_language = move |_| {
        chosen.set(Some(other_language));
        look_kept.update(|look| look.1 = Some(other_language));
        keep_look();
        settle();
        browser::reload();
    };
    let copy = move |_: ev::MouseEvent| {
        let fragment = link_here();
        browser::set_fragment(&fragment);
        let address = browser::address(&fragment);
        leptos::task::spawn_local(async move {
            let said = if browser::copy(&address).await { t(words::LINK_COPIED) } else { t(words::LINK_BY_HAND) };
            notice.set(Some(said.into()));
            if said == t(words::LINK_COPIED) {
                browser::after(COPIED_MS, move || notice.update(|n| *n = n.take().filter(|text| text != said)));
            }
        });
    };
    browser::on_fragment_change(move || {
        let fragment = browser::fragment();
        match share::decode(link::split(&fragment).0) {
            Ok(Some(shared)) => {
                if look_kept.with_untracked(|look| look.1.is_none())
                    && shared.language.is_some_and(|language| language != language::spoken())
                {
                    return browser::reload();
                }
                // Another piece of the bench is another page.
                if shared.embed != embed.get_value() {
                    return browser::reload();
                }
                notice.set(None);
                units.set(shared.units);
                own_engine.set(shared.bench.engine.clone());
                let (kept, lost) = Pins::from_shared(&shared.pins);
                if lost > 0 {
                    notice.set(Some(t(words::PINS_LOST).into()));
                }
                pins.set(kept);
                choose(&shared.plots);
                show(shared.bench);
                let to_lesson = move || match shared.lesson {
                    Some((id, variant)) if desk.shared() != Some((id.clone(), variant)) => {
                        desk.open(id, Want::Variant(variant), sets_no_bench());
                    }
                    Some(_) => {}
                    None if desk.is_out() => desk.leave(),
                    None => {}
                };
                take_assignment(&fragment, Box::new(to_lesson));
            }
            Ok(None) => take_assignment(&fragment, Box::new(|| {})),
            Err(e) => notice.set(Some(tf(
                "This link is damaged: {why}. The bench keeps its settings.",
                &[("why", &refusals::link(&e))],
            ))),
        }
    });

    view::effect(move || browser::set_body_class("stale", !run.with(|r| r.holds)));

    let (more, set_more) = signal(false);
    let ambient = move || {
        let a = bench.with(|b| b.settings.ambient);
        let unit = |q: Quantity| units.get().unit(q);
        format!("{} · {}", unit(Quantity::PressureAbs).text(a.p_pa), unit(Quantity::Temperature).text(a.t_k))
    };
    let (run, bench, units) = (run.into(), Signal::from(bench), Signal::from(units));
    let sweep = strip.points().into();
    let (cover, holds): (Signal<Cover>, Signal<Holds>) = (cover.into(), holds.into());
    let calm = view::calm(run);
    let scene = Scene { run, calm, units, cover, pins: pins.into(), inks: inks.into() };
    let load_held = view::derived(move || holds.get().load());
    let engine_held = view::derived(move || !holds.get().engine());
    let toggle_lessons = move |_| {
        if sheet_open.get_untracked() {
            desk.close();
            browser::focus("lessons");
        } else {
            sheet_open.set(true);
            browser::after(0, || browser::focus("lesson"));
        }
    };

    let embedding = RwSignal::new(false);
    let lower_built = RwSignal::new(false);
    let lower_place = NodeRef::<html::Section>::new();
    let some_below = embed.with_value(|e| e.as_ref().is_none_or(|parts| parts.iter().any(|p| BELOW.contains(p))));
    // What stands below the first view comes when it comes into sight, or when something asks for it.
    let parts = Parts {
        scene,
        bench,
        pins,
        choices: [choices[1], choices[2]],
        steps: steps.into(),
        desk: desk_of_sweeps,
        came: came.into(),
        load: load_held,
        holds,
        term,
        shown: embed,
        embedding,
        built: lower_built,
        place: lower_place,
        address: Callback::new(address_of),
        on_change: change,
        on_engine: swap_engine,
        on_pins: pins_changed,
        on_go: go_to_pin,
        on_fault: fault_said,
        on_term: explain,
    };
    let lower = StoredValue::new_local(None::<AnyView>);
    let (lower_here, set_lower_here) = signal(false);
    let (lower_fault, set_lower_fault) = signal(false);
    let lower_asked = StoredValue::new(false);
    // It belongs to the page, whatever asks for it: an effect that runs again takes along what it has made.
    let page = StoredValue::new(Owner::current());
    let fetch_lower = move || {
        if lower_asked.try_update_value(|asked| std::mem::replace(asked, true)).unwrap_or(true) {
            return;
        }
        let fetched = async move {
            match below(parts).await {
                Ok(view) => {
                    lower.set_value(Some(view));
                    set_lower_fault.set(false);
                    set_lower_here.set(true);
                }
                Err(_) => {
                    lower_asked.set_value(false);
                    set_lower_fault.set(true);
                }
            }
        };
        if let Some(page) = page.get_value() {
            page.with(|| leptos::task::spawn_local(ScopedFuture::new_untracked(fetched)));
        }
    };
    // A print is of the whole page, whether it has been looked at or not.
    let wants_print = RwSignal::new(false);
    view::effect(move || {
        if term.get().is_some() || embedding.get() || wants_print.get() {
            fetch_lower();
        }
    });
    view::effect(move || {
        if wants_print.get() && (lower_built.get() || lower_fault.get()) {
            wants_print.set(false);
            browser::after(0, browser::print);
        }
    });

    view::effect(move || {
        // Before the first view stands, what is below it lies higher than it will.
        let place = lower_place.get().filter(|_| some_below && built(Slice::LAST));
        if let Some(place) = place {
            browser::on_sight(&place, move |seen| {
                if seen {
                    fetch_lower();
                }
            });
        }
    });
    browser::in_turns(move || {
        slices_built.update(|s| *s += 1);
        let done = slices_built.get_untracked();
        if done == Slice::USABLE {
            browser::remove("start");
        }
        if done == Slice::COUNT {
            browser::set_body_class("built", true);
            browser::after(REST_MS, || browser::set_body_class("rested", true));
        }
        match done {
            ..Slice::USABLE => Turn::Task,
            Slice::USABLE..Slice::COUNT => Turn::Pause,
            _ => Turn::Done,
        }
    });
    let header = move || {
        view! {
            <header class="title" class:opened=more on:keydown=move |event: ev::KeyboardEvent| if event.key() == "Escape" { set_more.set(false) }>
                <p class="title-mark">
                    <svg viewBox="0 0 28 28" aria-hidden="true">
                        <path d="M2 26H17A11 11 0 1 0 5.5 15 8.5 8.5 0 0 0 14 23.5 6.6 6.6 0 0 0 20.6 17 5 5 0 0 0 15.6 12 3.4 3.4 0 0 0 12.2 15.4"></path>
                    </svg>
                    <span>{words::NAME}</span>
                </p>
                <div class="title-cells">
                    <div><span class="title-label" aria-hidden="true">{t(words::ENGINE)}</span><EngineSelect bench held=engine_held on_change=swap_engine/></div>
                    <div class="title-fold"><label class="title-label" for="start-point">{t(words::START_POINTS)}</label>
                        <select id="start-point" on:change=start_at disabled=engine_held prop:value=view::text(move || { bench.track(); "" })>
                            <option value="">{t(words::CHOOSE_START)}</option>
                            {view::part(move || start_points(&came.get()).into_iter().map(|p| view! { <option value=p.id>{t(p.name)}</option> }).collect_view())}
                        </select></div>
                    <div><span class="title-label">{t(words::AMBIENT)}</span><span class="title-value num">{view::text(ambient)}</span></div>
                </div>
                <div class="title-tools" role="group" aria-label=t(words::BENCH)>
                    <button type="button" id="undo" on:click=move |_| step(History::undo) disabled=view::flag(move || !can_undo())>{t(words::UNDO)}</button>
                    <button type="button" id="redo" on:click=move |_| step(History::redo) disabled=view::flag(move || !can_redo())>{t(words::REDO)}</button>
                    <button type="button" id="reset" on:click=reset>{t(words::RESET)}</button>
                    <button type="button" class="title-fold" id="theme" on:click=turn_theme>
                        {view::text(move || if dark.get() { t(words::TO_LIGHT) } else { t(words::TO_DARK) })}
                    </button>
                    <button type="button" class="title-fold" id="units" on:click=turn_units>
                        {view::text(move || if units.get() == UnitSystem::Si { t(words::TO_CUSTOMARY) } else { t(words::TO_SI) })}
                    </button>
                    <button type="button" class="title-fold" id="lessons" aria-expanded=view::text(move || sheet_open.get().to_string()) on:click=toggle_lessons>{t(words::OPEN_LESSON)}</button>
                    <button type="button" class="strong" id="copy-link" on:click=copy>{t(words::COPY_LINK)}</button>
                    <button type="button" id="more" aria-expanded=view::text(move || more.get().to_string())
                        on:click=move |_| set_more.update(|on| *on = !*on)>{t(words::MORE)}</button>
                    // Chosen, it closes; on a phone these stand in a row with the others.
                    <div class="title-menu title-fold" on:click=move |_| set_more.set(false)>
                        <button type="button" id="language" lang=other_language.code() on:click=turn_language>{other_language.name()}</button>
                        <button type="button" id="embed-now" on:click=move |_| embedding.set(true)>{t(words::EMBED)}</button>
                        <button type="button" id="print-now" on:click=move |_| wants_print.set(true)>{t(words::PRINT)}</button>
                    </div>
                </div>
            </header>
        }
    };
    // The foot comes last, and what will stand below the first view keeps its room: nothing is pushed down before anybody's eyes.
    let foot = move || built(Slice::LAST);

    view! {
        <a class="page-skip" href="#controls" on:click=|event| { event.prevent_default(); browser::focus("controls"); }>{t(words::SKIP)}</a>
        {view::part(move || (built(Slice::Title) && whole()).then(header))}
        <div class="notices" role="status">
            {view::part(move || newer.get().then(|| view! {
                <p class="notice" id="newer">{t(words::NEWER)}" "<button type="button" class="link" on:click=move |_| { settle(); browser::reload(); }>{t(words::OPEN_NEWER)}</button></p>
            }))}
            {view::part(move || notice.get().map(|text| view! {
                <p class="notice" id="notice">{text}" "<button type="button" class="link" on:click=move |_| notice.set(None)>{t(words::DISMISS)}</button></p>
            }))}
        </div>
        {lms::bar()}
        <div class="page" class:with-lesson=sheet_open>
            <main class="page-bench" id="bench">
                <h1 class="sr">{t(words::BENCH)}</h1>
                {view::part(move || built(Slice::Controls).then(|| view! {
                    <Controls bench units sweep holds cover on_change=change on_swap_load=swap_load
                        offered=["vane", "load", "speed"].map(shows)/>
                }))}
                {view::part(move || (built(Slice::Headlines) && shows("heads")).then(|| view! { <Headlines run units cover on_term=explain/> }))}
                {view::part(move || (built(Slice::Verdict) && shows("verdict")).then(|| view! { <Verdict run steps=steps.into() units cover/> }))}
                {(shows("air") || shows("plot")).then(|| view! {
                    <div class="page-stage">
                        {view::part(move || (built(Slice::Drawing) && shows("air")).then(|| view! { <AirPath run calm units cover flows=flows.into() on_flow=turn_flow/> }))}
                        {view::part(move || (built(Slice::Plot) && shows("plot")).then(|| view! { <Slot id="plot-a" index=1 scene choice=choices[0] desk=desk_of_sweeps/> }))}
                    </div>
                })}
                {view::part(move || (built(Slice::Limits) && shows("limits")).then(|| view! { <Limits run units cover/> }))}
            </main>
            {view::part(move || (built(Slice::Lesson) && sheet_open.get()).then(|| view! { <LessonSheet desk/> }))}
            <section class="page-below" aria-label=t(words::MORE_VIEWS) node_ref=lower_place>
                {view::part(move || lower_here.get().then(|| lower.try_update_value(Option::take).flatten()))}
                {view::part(move || lower_fault.get().then(|| view! {
                    <p class="sheet notice">
                        {t(words::NO_MORE_VIEWS)}" "
                        <button type="button" on:click=move |_| fetch_lower()>{t(words::FETCH_AGAIN)}</button>
                    </p>
                 }))}
            </section>
        </div>
        {view::part(move || foot().then(|| view! {
            <footer class="page-foot"><p><b>{t(words::CAUTION_BOLD)}</b>" "{t(words::CAUTION_REST)}</p>
                {(!whole()).then(|| view! {
                    <p><a id="open-whole" target="_blank" rel="noopener" href=view::text(move || { settled.track(); address_of(None) })>{t(words::OPEN_WHOLE)}</a></p>
                })}
                {(whole() && lms::packed().is_none()).then(|| view! {
                    <p><a id="to-desk" href="desk.html">{t(words::FOR_INSTRUCTORS)}</a></p>
                })}
            </footer>
        }))}
        <p class="sr" aria-live="polite" id="live">{spoken}</p>
        <span class="page-probe" aria-hidden="true" node_ref=probe></span>
    }
}
