//! Puts an assignment together: lessons and checkpoints in their order, whose numbers, what is hidden, and the link.

use super::labels::item_name;
use super::office::Office;
use super::shelf::catalog;
use super::{plain, qr};
use crate::bench::views::VIEWS;
use crate::browser;
use crate::language::{self, msg, t, text_style, tf};
use crate::lessons::contents::course_heading;
use crate::lessons::stints;
use crate::lms::make;
use crate::lms::memory::{self, Left};
use crate::refusals::Says;
use crate::store::Record;
use crate::view;
use leptos::prelude::*;
use std::sync::Arc;
use volute_lessons::assignment::{
    self, Assignment, Due, Item, LONGEST_MESSAGE, LONGEST_TITLE, MOST_ATTEMPTS, MOST_ITEMS, Numbers,
};
use volute_lessons::paths::QUANTITIES;
use volute_lessons::seed::Seed;
use volute_lessons::text::bare;
use volute_package::moodle::{self, Wording};
use volute_package::{Contents, Kind};

/// Bytes beyond which a code has modules too small to read off a projected screen from the last row. Chosen.
const DENSE: usize = 700;

/// The assignment that is being put together, as the device keeps it.
pub struct Draft(pub Assignment);

impl Record for Draft {
    const NAME: &'static str = "assignment-draft";
    const VERSION: u32 = 1;

    fn text(&self) -> String {
        self.0.encode()
    }

    fn read(_: u32, text: &str) -> Option<Self> {
        assignment::decode(text).ok().map(Self)
    }
}

/// The sheet.
#[component]
pub fn Composer(office: Office) -> impl IntoView {
    let draft = office.draft;
    let fault = view::memo(move || draft.with(|d| d.check().err()));
    view::effect(move || {
        draft.with(|d| {
            if d.items.is_empty() {
                office.store.with_value(|s| s.remove::<Draft>());
            } else if d.check().is_ok() {
                office.store.with_value(|s| s.set(&Draft(d.clone())));
            }
        });
    });
    let add = Callback::new(move |item: Item| {
        draft.update(|d| {
            if d.items.len() < MOST_ITEMS && !d.items.contains(&item) {
                d.items.push(item);
            }
        });
    });
    view! {
        <div class="office-columns">
            <section class="sheet inner" aria-labelledby="choose-h">
                <h2 id="choose-h">{t("Choose lessons or single checkpoints")}</h2>
                {shelf(add)}
            </section>
            <div class="office-stack">
                <section class="sheet inner" aria-labelledby="order-h">
                    <h2 id="order-h">{t("In this order")}</h2>
                    {view::part(move || chosen(draft))}
                    <p class="said wrong" role="status" id="draft-fault">
                        {view::text(move || match fault.get() {
                            // Nothing chosen yet is no fault.
                            Some(assignment::AssignmentError::Value { name: "do", .. } | assignment::AssignmentError::Empty) | None => String::new(),
                            Some(fault) => tf("This cannot be sent: {fault}.", &[("fault", &fault.says())]),
                        })}
                    </p>
                </section>
                <section class="sheet inner" aria-labelledby="terms-h">
                    <h2 id="terms-h">{t("Terms")}</h2>
                    {terms(draft)}
                </section>
                {view::part(move || {
                    let ready = draft.with(|d| !d.items.is_empty()) && fault.with(Option::is_none);
                    ready.then(|| view! { <Send draft/> })
                })}
            </div>
        </div>
    }
}

/// Every lesson, to choose from.
fn shelf(add: Callback<Item>) -> impl IntoView {
    let mut course = String::new();
    catalog()
        .lessons
        .iter()
        .map(|lesson| {
            let heading = (lesson.course != course).then(|| {
                course.clone_from(&lesson.course);
                view! { <h3>{course_heading(&course)}</h3> }
            });
            let title = plain::title(lesson);
            let id = lesson.id.clone();
            let whole = tf("Add the lesson: {title}", &[("title", &title)]);
            let parts = lesson
                .tasks()
                .map(|task| (task.id.clone(), plain::label(&bare(&task.ask))))
                .chain(lesson.checkpoints().map(|c| (c.id.clone(), plain::label(&bare(&c.ask)))));
            let parts = parts
                .map(|(only, ask)| {
                    let item = Item::single(&lesson.id, &only);
                    let label = tf("Add: {ask}", &[("ask", &ask)]);
                    view! {
                        <li><button type="button" class="link" data-add=item.to_string() aria-label=label
                            on:click=move |_| add.run(item.clone())>{t("add")}</button>" "{ask}</li>
                    }
                })
                .collect_view();
            view! {
                {heading}
                <div class="compose-shelf">
                    <p class="row2 office-apart"><span><b>{title}</b>" "<span class="hint">{tf("{minutes} min", &[("minutes", &lesson.minutes.to_string())])}</span></span>
                        <button type="button" data-add=id.clone() aria-label=whole on:click=move |_| add.run(Item::lesson(&id))>{t("Add")}</button></p>
                    <details>
                        <summary>{t("single checkpoints")}</summary>
                        <ul class="compose-parts">{parts}</ul>
                    </details>
                </div>
            }
        })
        .collect_view()
}

/// What was chosen, with buttons that move it.
fn chosen(draft: RwSignal<Assignment>) -> AnyView {
    let items = draft.with(|d| d.items.clone());
    if items.is_empty() {
        return view! { <p class="hint" id="chosen">{t("Nothing chosen yet. Add a lesson from the list.")}</p> }
            .into_any();
    }
    let last = items.len() - 1;
    // The button under the finger moves away with its line, and the focus follows it. At the end of the list that button is off, so
    // the focus goes to the one that leads back.
    let shift = move |from: usize, to: usize, way: &'static str| {
        let way = if to == 0 {
            "down"
        } else if to == last {
            "up"
        } else {
            way
        };
        draft.update(|d| d.items.swap(from, to));
        browser::after(0, move || browser::focus(&format!("{way}-{to}")));
    };
    let lines = items.into_iter().enumerate().map(|(i, item)| {
        let name = item_name(&item);
        let missing = item.find(catalog()).err().map(|unknown| format!("{unknown}."));
        let say = |text: &'static str| tf(text, &[("name", &name)]);
        view! {
            <li data-item=item.to_string()>
                <span class="compose-grow">{name.clone()}{missing.map(|text| view! { <span class="caution">" "{text}</span> })}</span>
                <button type="button" id=format!("up-{i}") disabled={i == 0} aria-label=say(msg("Earlier: {name}"))
                    on:click=move |_| shift(i, i - 1, "up")>"↑"</button>
                <button type="button" id=format!("down-{i}") disabled={i == last} aria-label=say(msg("Later: {name}"))
                    on:click=move |_| shift(i, i + 1, "down")>"↓"</button>
                <button type="button" aria-label=say(msg("Take out: {name}"))
                    on:click=move |_| {
                        draft.update(|d| { d.items.remove(i); });
                        browser::after(0, || browser::focus("chosen"));
                    }>"×"</button>
            </li>
        }
    });
    view! { <ol class="compose-chosen" id="chosen" tabindex="-1">{lines.collect_view()}</ol> }.into_any()
}

/// Everything but the lessons.
fn terms(draft: RwSignal<Assignment>) -> impl IntoView {
    let quantities = QUANTITIES.iter().map(|q| (q.key.to_string(), q.about().to_string())).collect();
    let views = VIEWS.iter().map(|v| (v.key.to_string(), v.title().to_string())).collect();
    view! {
        <label for="a-title">{t("Title")}</label>
        <input type="text" id="a-title" maxlength=LONGEST_TITLE.to_string() prop:value=view::text(move || draft.with(|d| d.title.clone()))
            on:input=move |event| draft.update(|d| d.title = one_line(&event_target_value(&event)))/>
        <label for="a-message">{t("Message to the class")}</label>
        <textarea id="a-message" rows="3" maxlength=LONGEST_MESSAGE.to_string() prop:value=view::text(move || draft.with(|d| d.message.clone()))
            on:input=move |event| draft.update(|d| d.message = many_lines(&event_target_value(&event)))></textarea>
        {whose_numbers(draft)}
        <p class="row2"><label for="a-attempts">{t("Goes at each checkpoint")}</label>
            <select id="a-attempts" on:change=move |event| draft.update(|d| d.attempts = event_target_value(&event).parse().ok())>
                <option value="any" prop:selected=view::flag(move || draft.with(|d| d.attempts.is_none()))>{t("any number")}</option>
                {(1..=MOST_ATTEMPTS).map(|n| view! {
                    <option value=n.to_string() prop:selected=view::flag(move || draft.with(|d| d.attempts == Some(n)))>{n.to_string()}</option>
                }).collect_view()}
            </select>
            <span class="hint">{t("Each go has two tries, then the worked answer; the next go draws new numbers.")}</span></p>
        <label class="opt"><input type="checkbox" id="a-hints" prop:checked=view::flag(move || draft.with(|d| d.hints))
            on:change=move |event| draft.update(|d| d.hints = event_target_checked(&event))/><span>{t("hints may be taken; each costs 10 % of the points")}</span></label>
        <p class="row2"><label for="a-pass">{t("Pass mark")}</label>
            <input type="number" id="a-pass" min="0" max="100" step="5" prop:value=view::text(move || draft.with(|d| d.pass_pct.to_string()))
                on:change=move |event| draft.update(|d| d.pass_pct = event_target_value(&event).parse::<u32>().map_or(d.pass_pct, |pct| pct.min(100)))/>
            <span class="unit">"%"</span></p>
        {closing(draft)}
        {checks(draft, t("Quantities kept off the bench"), "a-hide", quantities, |d| &mut d.hide)}
        {checks(draft, t("Views kept off the bench"), "a-views", views, |d| &mut d.hide_views)}
    }
}

/// Whose numbers learners get.
fn whose_numbers(draft: RwSignal<Assignment>) -> impl IntoView {
    let numbers = move || draft.with(|d| d.numbers);
    let variant = RwSignal::new(match draft.with_untracked(|d| d.numbers) {
        Numbers::Same(seed) => seed.0,
        _ => browser::dice(),
    });
    let policy = move |name: &'static str, text: &'static str, make: fn(u64) -> Numbers| {
        let is = move || std::mem::discriminant(&numbers()) == std::mem::discriminant(&make(0));
        view! {
            <label class="opt"><input type="radio" name="numbers" value=name prop:checked=view::flag(is)
                on:change=move |_| draft.update(|d| d.numbers = make(variant.get_untracked()))/><span>{text}</span></label>
        }
    };
    view! {
        <fieldset class="office-boxes"><legend>{t("Whose numbers")}</legend>
            {policy("own", t("each learner own numbers"), |_| Numbers::Own)}
            {policy("new", t("each learner own numbers, and new ones each time a lesson is begun again"), |_| Numbers::New)}
            {policy("same", t("the same for all, variant"), |n| Numbers::Same(Seed(n)))}
            <input type="number" id="a-variant" min="1" max="9999" aria-label=t("Variant for all") prop:value=view::text(move || variant.get().to_string())
                on:input=move |event| {
                    if let Some(number) = event_target_value(&event).parse::<u64>().ok().filter(|n| (1..=9999).contains(n)) {
                        variant.set(number);
                        draft.update(|d| if let Numbers::Same(seed) = &mut d.numbers { *seed = Seed(number) });
                    }
                }/>
        </fieldset>
    }
}

/// A list of boxes to tick, folded away, with how many are ticked.
fn checks(
    draft: RwSignal<Assignment>,
    legend: &'static str,
    id: &'static str,
    of: Vec<(String, String)>,
    list: fn(&mut Assignment) -> &mut Vec<String>,
) -> impl IntoView {
    let boxes = of.into_iter().map(|(key, text)| {
        let (was, turned) = (key.clone(), key.clone());
        let on = move || draft.with(|d| list(&mut d.clone()).contains(&was));
        view! {
            <label class="opt"><input type="checkbox" value=key prop:checked=view::flag(on) on:change=move |event| {
                let on = event_target_checked(&event);
                draft.update(|d| {
                    list(d).retain(|known| *known != turned);
                    if on { list(d).push(turned.clone()); }
                });
            }/><span>{text}</span></label>
        }
    });
    let count = move || draft.with(|d| list(&mut d.clone()).len());
    view! {
        <details id=id>
            <summary>{legend}" "<span class="hint">{view::text(move || match count() {
                0 => t("none").to_string(),
                n => n.to_string(),
            })}</span></summary>
            <fieldset class="office-boxes"><legend class="sr">{legend}</legend>{boxes.collect_view()}</fieldset>
        </details>
    }
}

/// When the assignment closes.
fn closing(draft: RwSignal<Assignment>) -> impl IntoView {
    let closes = move || draft.with(|d| d.closes);
    let set_closes = move |day: Option<String>, time: Option<String>| {
        draft.update(|d| {
            let old = d.closes;
            let day = day.unwrap_or_else(|| old.map_or(String::new(), |due| Due { time: None, ..due }.to_string()));
            let time = time.or_else(|| old.and_then(|due| due.time).map(|(h, m)| format!("{h:02}:{m:02}")));
            let text = match time.filter(|time| !time.is_empty()) {
                Some(time) => format!("{day}T{}", &time[..time.len().min(5)]),
                None => day,
            };
            d.closes = Due::read(&text);
        });
    };
    view! {
        <p class="row2"><label for="a-day">{t("Closes on")}</label>
            <input type="date" id="a-day" min="2000-01-01" max="2199-12-31" prop:value=view::text(move || closes().map_or(String::new(), |due| Due { time: None, ..due }.to_string()))
                on:change=move |event| set_closes(Some(event_target_value(&event)), None)/>
            <label for="a-time">{t("at")}</label>
            <input type="time" id="a-time" prop:value=view::text(move || closes().and_then(|due| due.time).map_or(String::new(), |(h, m)| format!("{h:02}:{m:02}")))
                on:change=move |event| set_closes(None, Some(event_target_value(&event)))/>
            <span class="hint">{t("Shown to the class; nothing locks.")}</span></p>
    }
}

/// The link, the code, and what else goes out.
#[component]
fn Send(draft: RwSignal<Assignment>) -> impl IntoView {
    let link = view::memo(move || Arc::<str>::from(browser::bench_address(&draft.with(Assignment::encode))));
    let (said, set_said) = signal(String::new());
    let code = view::memo(move || link.with(|link| qr::code(link)));
    let copy = move |_| {
        let link = link.get_untracked();
        leptos::task::spawn_local(async move {
            let text = if browser::copy(&link).await {
                t("Link copied.")
            } else {
                t("The browser did not allow copying. Copy the link from its field.")
            };
            set_said.set(text.into());
        });
    };
    let size = move || link.with(|link| link.len());
    let dense = move || match size() {
        n if n > qr::MOST_BYTES => tf(
            "The link has {bytes} letters; a code holds {most}. Shorten the message, or send the link.",
            &[("bytes", &n.to_string()), ("most", &qr::MOST_BYTES.to_string())],
        ),
        n if n > DENSE => tf(
            "{bytes} letters make a dense code: show it large, or shorten the message.",
            &[("bytes", &n.to_string())],
        ),
        _ => String::new(),
    };
    view! {
        <section class="sheet inner" aria-labelledby="send-h">
            <h2 id="send-h">{t("Give it to the class")}</h2>
            <label for="a-link">{t("Link")}</label>
            <textarea id="a-link" rows="3" readonly prop:value=view::text(move || link.get().to_string())></textarea>
            <p class="row2">
                <button type="button" class="strong" id="a-copy" on:click=copy>{t("Copy the link")}</button>
                <a class="button" id="a-preview" target="_blank" rel="noopener" href=view::text(move || link.get().to_string())>{t("Preview as a learner")}</a>
                <span role="status" class="hint" id="a-said">{view::text(move || said.get())}</span>
            </p>
            <details id="a-qr">
                <summary>{t("QR code")}</summary>
                {view::part(move || code.get().map(|code| view! {
                    <svg class="qr" role="img" aria-label=t("QR code of the link") viewBox=format!("0 0 {0} {0}", code.side) shape-rendering="crispEdges">
                        <path class="qr-ground" d=format!("M0 0h{0}v{0}H0z", code.side)></path>
                        <path class="qr-dark" d=code.path></path>
                    </svg>
                }))}
                <p class="hint" id="a-dense">{view::text(dense)}</p>
            </details>
            <Packages draft/>
            <p class="hint">{t("The link holds all of the assignment. Lessons, answers and marks are worked out in each learner's own browser: scores can be forged there. Take them as practice credit, not as an examination.")}</p>
        </section>
    }
}

/// Variants of each question that go into a question bank. Chosen: enough that neighbours seldom share one.
const BANK: u64 = 5;

/// What goes to a learning platform: the page in a package, or questions for its own quiz.
#[component]
fn Packages(draft: RwSignal<Assignment>) -> impl IntoView {
    let (said, set_said) = signal(String::new());
    let (busy, set_busy) = signal(false);
    let room = view::memo(move || draft.with(|d| memory::foreseen(d, |id| catalog().lesson(id))));
    let finish = move |done: Result<(), String>| {
        set_busy.set(false);
        set_said.set(match done {
            Ok(()) => t("Saved. Upload the file to your platform.").into(),
            Err(why) => tf("This could not be made: {why}.", &[("why", why.trim_end_matches('.'))]),
        });
    };
    let package = move |kind: Kind| {
        set_busy.set(true);
        let contents = draft.with_untracked(|d| Contents::of(d, catalog(), language::spoken().code()));
        leptos::task::spawn_local(async move {
            let told = move |done: usize, of: usize| {
                let counts = [("done", &*done.to_string()), ("of", &*of.to_string())];
                set_said.set(tf("File {done} of {of} …", &counts));
            };
            let made = make::package(kind, &contents, told).await;
            finish(made.and_then(|blob| browser::offer(&make::file_name(kind, &contents.title), &blob)));
        });
    };
    let questions = move |_| {
        set_busy.set(true);
        set_said.set(t("Working out …").into());
        let given = draft.get_untracked();
        let first = if let Numbers::Same(seed) = given.numbers { seed.0 } else { 1 };
        let seeds: Vec<Seed> = (first..first.saturating_add(BANK)).map(Seed).collect();
        let page = browser::bench_address("").trim_end_matches('#').to_string();
        stints::work_out(
            || true,
            move |solver| {
                let lessons = given.lessons().into_iter().filter_map(|id| catalog().lesson(id));
                let wording = Wording {
                    style: text_style(false),
                    page: page.starts_with("https://").then_some(page.as_str()),
                    open: t("Open the bench with these numbers"),
                    answer_in: t("Answer in"),
                };
                moodle::questions(lessons, &seeds, |lesson, id| given.asks(lesson, id), wording, solver)
            },
            move |made| {
                let made = made.map_err(|e| e.to_string());
                finish(made.and_then(|xml| browser::save_text("volute-questions.xml", "application/xml", &xml)));
            },
        );
    };
    view! {
        <h3>{t("For a learning platform")}</h3>
        <p class="row2" id="a-packages">
            <button type="button" id="a-scorm" disabled=busy on:click=move |_| package(Kind::Scorm12)>{t("SCORM 1.2 package")}</button>
            <button type="button" id="a-cmi5" disabled=busy on:click=move |_| package(Kind::Cmi5)>{t("cmi5 package")}</button>
            <button type="button" id="a-moodle" disabled=busy on:click=questions>{t("Questions as Moodle XML")}</button>
            <span role="status" class="hint" id="a-made">{view::text(move || said.get())}</span>
        </p>
        {view::part(move || (Left::Answers <= room.get()).then(|| view! {
            <p class="caution" id="a-room">{t("A package has room for 4096 characters of what each learner did. Whoever works through all of this needs more: points and what is done are kept, but of lessons that are done, answers will not be shown again at a later visit. To keep every answer, make several packages of fewer lessons.")}</p>
        }))}
        <p class="hint">{t("A package holds the page and the assignment, no answer key, and tells the platform answers, points and time. Questions are those with a number or a choice, five variants each.")}</p>
    }
}

/// Typed text without line ends and control characters.
fn one_line(text: &str) -> String {
    text.chars().map(|c| if c == '\n' { ' ' } else { c }).filter(|c| !c.is_control()).take(LONGEST_TITLE).collect()
}

fn many_lines(text: &str) -> String {
    text.chars().filter(|c| !c.is_control() || *c == '\n').take(LONGEST_MESSAGE).collect()
}
