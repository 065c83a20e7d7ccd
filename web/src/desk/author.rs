//! Writes a lesson: text on the left, the lesson with its numbers and answers on the right, messages with line and column.
//!
//! The text stays in the browser. It is read a moment after the last key; the core then works in small stints, so that
//! typing never waits for it.

use super::office::Office;
use super::printout::{Entry, Printout, printout};
use super::sheets::key_entry;
use super::shelf::{self, catalog};
use super::{labels, plain};
use crate::browser;
use crate::language::{self, t, text_style, tf};
use crate::lessons::draft::{self, Text};
use crate::lessons::prose::{blocks, line};
use crate::lessons::stints;
use crate::units::UnitSystem;
use crate::view::{self, Debounce, Newest, Request};
use leptos::ev;
use leptos::html;
use leptos::prelude::*;
use std::sync::Arc;
use volute_lessons::check::{Tally, check_seed, form};
use volute_lessons::expr::Env;
use volute_lessons::lesson::Lesson;
use volute_lessons::parse::{LARGEST, parse};
use volute_lessons::problem::Position;
use volute_lessons::seed::Seed;
use web_sys::HtmlInputElement;

/// How long after the last key the text is read.
const PAUSE_MS: i32 = 400;

/// Learners for whom a lesson is tried here; the checker of the terminal tries a thousand.
const TRIED: u64 = 20;

/// Something that is wrong with the text, or with the lesson.
#[derive(Debug, Clone, PartialEq)]
struct Message {
    /// Where in the text, if it is there.
    place: Option<Position>,
    says: String,
}

/// A lesson that is being written: its text field, what is said of it, and what it looks like.
#[derive(Clone, Copy)]
struct Writing {
    office: Office,
    area: NodeRef<html::Textarea>,
    messages: RwSignal<Vec<Message>>,
    /// The last text without a mistake, as learners and the instructor would have it on paper.
    shown: RwSignal<Option<Arc<Printout>>>,
    said: RwSignal<String>,
    /// Why the text cannot be tried on the bench.
    kept_back: RwSignal<String>,
    /// Where the caret stands, in words.
    caret: RwSignal<String>,
    variant: RwSignal<u64>,
    /// Readings of the text: an answer to an earlier text is dropped.
    readings: Newest,
    pause: Debounce,
}

impl Writing {
    fn new(office: Office) -> Self {
        Self {
            office,
            area: NodeRef::new(),
            messages: RwSignal::new(Vec::new()),
            shown: RwSignal::new(None),
            said: RwSignal::new(String::new()),
            kept_back: RwSignal::new(String::new()),
            caret: RwSignal::new(String::new()),
            variant: RwSignal::new(1),
            readings: Newest::new(),
            pause: Debounce::new(PAUSE_MS),
        }
    }

    fn text(self) -> Option<String> {
        self.area.get_untracked().map(|area| area.value())
    }

    /// Reads the text as it stands, keeps it, and works the lesson out if there is no mistake in it.
    fn read(self) {
        let request = self.readings.request();
        let Some(text) = self.text() else { return };
        self.messages.set(Vec::new());
        if text.trim().is_empty() {
            self.shown.set(None);
            self.said.set(t("Write a lesson, open a file, or begin with one that is there.").into());
            self.office.store.with_value(|s| s.remove::<Text>());
            return;
        }
        match parse(&text) {
            Err(problems) => {
                let all = problems.into_iter().map(|p| Message { place: Some(p.place), says: p.kind.to_string() });
                self.messages.set(all.collect());
                self.said.set(t("The lesson shown is that of the last text without a mistake.").into());
            }
            Ok(lesson) => {
                self.said.set(t("Working out …").into());
                let lesson = Arc::new(lesson);
                self.show(lesson.clone(), request);
                self.try_for_learners(lesson, text.as_str().into(), request);
            }
        }
        if text.len() <= LARGEST {
            self.office.store.with_value(|s| s.set(&Text(text)));
        }
    }

    /// Works the lesson out for the page.
    fn show(self, lesson: Arc<Lesson>, request: Request) {
        let (variant, units) = (self.variant.get_untracked(), self.office.units);
        stints::work_out(
            move || request.stands(),
            move |solver| printout(&lesson, Seed(variant), units, text_style(units == UnitSystem::Customary), solver),
            move |result| match result {
                Ok(printout) => self.shown.set(Some(Arc::new(printout))),
                Err(e) => self.messages.update(|m| m.push(Message { place: None, says: format!("{e}.") })),
            },
        );
    }

    /// Tries the lesson for a number of learners, and lists what was found at the end.
    fn try_for_learners(self, lesson: Arc<Lesson>, text: Arc<str>, request: Request) {
        let tally = StoredValue::new_local(Some(Tally::default()));
        let all = TRIED.to_string();
        for seed in 1..=TRIED {
            let (own, lesson, text, all) = (lesson.clone(), lesson.clone(), text.clone(), all.clone());
            let met = move |met| {
                tally.update_value(|tally| {
                    if let Some(tally) = tally {
                        tally.add(met);
                    }
                });
                self.said.set(tf("Tried for {done} of {all} learners.", &[("done", &seed.to_string()), ("all", &all)]));
                if seed < TRIED {
                    return;
                }
                let found = tally.try_update_value(Option::take).flatten().map_or_else(Vec::new, Tally::finish);
                let found = form(&lesson).into_iter().chain(found);
                let found = found.map(|f| Message { place: Some(f.at(&lesson, &text)), says: format!("{f}.") });
                self.messages.update(|m| m.extend(found));
                self.said.set(match self.messages.with_untracked(Vec::len) {
                    0 => tf("Nothing to say: it holds for {all} learners.", &[("all", &all)]),
                    _ => tf("Tried for {all} learners.", &[("all", &all)]),
                });
            };
            stints::work_out(move || request.stands(), move |solver| check_seed(&own, Seed(seed), solver), met);
        }
    }

    fn typed(self) {
        self.kept_back.set(String::new());
        // What is being worked out is for the text before.
        self.readings.request();
        self.pause.ask(move || self.read());
    }

    /// Puts another text in place of this one.
    fn put(self, text: &str) {
        if let Some(area) = self.area.get_untracked() {
            area.set_value(text);
        }
        self.read();
    }

    /// Says where the caret stands.
    fn moved(self) {
        let Some(area) = self.area.get_untracked() else { return };
        let at = area.selection_start().ok().flatten().unwrap_or(0) as usize;
        let (line, column) = place_of(&area.value(), at);
        self.caret.set(place_in_words(line, column));
    }

    /// Takes the text of a file that was picked.
    fn picked(self, event: &ev::Event) {
        let input = event_target::<HtmlInputElement>(event);
        let Some(file) = input.files().and_then(|files| files.get(0)) else { return };
        if file.size() > LARGEST as f64 {
            let most = (LARGEST / 1024).to_string();
            self.said.set(tf("This file is too large: a lesson has at most {most} kB.", &[("most", &most)]));
            return;
        }
        leptos::task::spawn_local(async move {
            match browser::text_of(&file).await {
                // Somebody who has gone to another sheet meanwhile does not want it.
                Some(text) if self.area.try_get_untracked().is_some() => self.put(&text),
                Some(_) => {}
                None => self.said.set(t("The browser cannot read this file as a text.").into()),
            }
        });
    }

    fn save(self) {
        let Some(text) = self.text() else { return };
        let name = self.shown.with_untracked(|shown| shown.as_ref().map_or_else(|| "lesson".into(), |p| p.id.clone()));
        if let Err(why) = browser::save_text(&format!("{name}.md"), "text/markdown", &text) {
            self.said.set(why);
        }
    }

    /// Lets the link to the bench be followed if the text can be tried there. The bench finds the draft on the device, so it
    /// can only open what was kept.
    fn try_it(self, event: &ev::MouseEvent) {
        let Some(text) = self.text() else { return };
        let stays = if text.trim().is_empty() {
            t("There is nothing to try yet.").into()
        } else if text.len() > LARGEST {
            let most = (LARGEST / 1024).to_string();
            tf("This text is too long to be tried: a lesson has at most {most} kB.", &[("most", &most)])
        } else if parse(&text).is_err() {
            // Its messages may not stand yet: a text is read a moment after the last key.
            self.read();
            t("It cannot be tried yet: there are mistakes in it, named below.").into()
        } else if !self.office.store.with_value(|s| s.set(&Text(text))) {
            t("It cannot be tried here: this browser does not keep the text for the bench. Allow this site to keep data, or make room.").into()
        } else {
            String::new()
        };
        if !stays.is_empty() {
            event.prevent_default();
        }
        self.kept_back.set(stays);
    }

    /// Moves the caret to the place of a message.
    fn go_to(self, place: Position) {
        if let Some(area) = self.area.get_untracked() {
            let at = offset_of(&area.value(), place) as u32;
            // Both fail only for a field that is not on the page any more.
            let _ = area.focus();
            let _ = area.set_selection_range(at, at);
            self.moved();
        }
    }
}

fn place_in_words(line: usize, column: usize) -> String {
    tf("line {line}, column {column}", &[("line", &line.to_string()), ("column", &column.to_string())])
}

/// The sheet.
#[component]
pub fn Author(office: Office) -> impl IntoView {
    let writing = Writing::new(office);
    let Writing { area, messages, shown, said, kept_back, caret, variant, .. } = writing;
    // What was written last time, once the field is on the page.
    view::effect(move || {
        if area.get().is_some() {
            let kept = office.store.with_value(|s| s.get::<Text>());
            writing.put(&kept.map_or_else(String::new, |text| text.0));
        }
    });
    let example = move |event: ev::Event| {
        let id = event_target_value(&event);
        if let Some(text) = shelf::text(&id) {
            writing.put(text);
        }
    };
    let revary = move |event: ev::Event| {
        if let Ok(number) = event_target_value(&event).parse::<u64>() {
            variant.set(number);
            writing.read();
        }
    };
    view! {
        <div class="office-columns author">
            <section class="sheet inner" aria-labelledby="write-h">
                <h2 id="write-h">{t("The text")}</h2>
                <p class="hint">{t("It never leaves this browser. It is kept on this device until you write another one; save it as a file to keep it for good.")}</p>
                <p class="row2">
                    <label for="l-example">{t("Begin with")}</label>
                    <select id="l-example" on:change=example>
                        <option value="">{t("choose a lesson …")}</option>
                        {catalog().lessons.iter().map(|lesson| view! { <option value=lesson.id.clone()>{plain::title(lesson)}</option> }).collect_view()}
                    </select>
                    <label for="l-file">{t("or a file")}</label>
                    <input type="file" id="l-file" accept=".md,text/markdown,text/plain" on:change=move |event| writing.picked(&event)/>
                </p>
                <label for="l-text">{t("Lesson file")}</label>
                <textarea id="l-text" node_ref=area rows="30" spellcheck="false" wrap="off" aria-describedby="l-caret"
                    on:input=move |_| writing.typed() on:keyup=move |_| writing.moved() on:click=move |_| writing.moved()></textarea>
                <p class="row2"><span class="hint" id="l-caret">{view::text(move || caret.get())}</span>
                    <span class="row2"><a class="button" id="l-try" href=format!("./#{}", draft::FRAGMENT) target="_blank" rel="noopener" aria-describedby="l-try-says"
                        on:click=move |event| writing.try_it(&event)>{t("Try it as a learner")}</a>
                    <button type="button" id="l-save" on:click=move |_| writing.save()>{t("Save as a file")}</button></span></p>
                <p class="hint" id="l-try-says">{t("Opens the bench in a new tab, with new numbers each time. Nothing that is answered there is kept.")}</p>
                <p role="status" class="said wrong" id="l-kept-back">{view::text(move || kept_back.get())}</p>
                <h3>{t("Messages")}</h3>
                {(language::spoken().code() != "en").then(|| view! {
                    <p class="hint">{t("They are in English, as are the keys of a lesson file, which they name.")}</p>
                })}
                <p role="status" class="hint" id="l-said">{view::text(move || said.get())}</p>
                <ul class="author-messages" id="l-messages">
                    {view::part(move || messages.get().into_iter().map(|message| {
                        let place = message.place;
                        view! { <li>
                            {place.map(|place| view! {
                                <button type="button" class="link" on:click=move |_| writing.go_to(place)>{place_in_words(place.line, place.column)}</button>": "
                            })}
                            <span lang="en">{message.says}</span>
                        </li> }
                    }).collect_view())}
                </ul>
            </section>
            <section class="sheet inner author-preview" aria-labelledby="preview-h">
                <div class="row2 office-apart"><h2 id="preview-h">{t("The lesson")}</h2>
                    <span class="row2"><label for="l-variant">{t("Variant")}</label>
                        <input type="number" id="l-variant" min="1" max="9999" prop:value=view::text(move || variant.get().to_string())
                            on:change=revary/></span></div>
                <div class="author-lesson" id="preview" tabindex="0" role="region" aria-label=t("The lesson with its answers")>
                    {view::part(move || shown.get().map(|printout| preview(&printout)))}
                </div>
            </section>
        </div>
    }
}

/// The lesson as it is read, with everything that learners only meet by answering.
fn preview(printout: &Printout) -> AnyView {
    let none = Callback::new(|_: String| {});
    let plainly = text_style(false);
    view! {
        <h3 class="author-title">{line(&printout.title, &Env::EMPTY, plainly, none)}</h3>
        <p class="hint">{tf("course {course} · {minutes} min · variant {variant}", &[
            ("course", &printout.course), ("minutes", &printout.minutes.to_string()), ("variant", &printout.variant.to_string())])}</p>
        {printout.entries.iter().map(one).collect_view()}
    }
    .into_any()
}

fn one(entry: &Entry) -> AnyView {
    let none = Callback::new(|_: String| {});
    if !entry.sort.is_empty() || entry.fault.is_some() {
        return key_entry(entry);
    }
    let text = blocks(&entry.text, &Env::EMPTY, text_style(false), none);
    match entry.kind {
        "prose" => view! { <div class="author-read">{text}</div> }.into_any(),
        "safety" => view! { <div class="author-read">{text}</div> }.into_any(),
        "log" => key_entry(entry),
        kind => view! { <div class="author-read"><p class="hint">{labels::kind(kind)}</p>{text}</div> }.into_any(),
    }
}

/// Line and column, from 1, of a place that the browser counts in UTF-16.
fn place_of(text: &str, at: usize) -> (usize, usize) {
    let (mut line, mut column, mut seen) = (1, 1, 0);
    for c in text.chars() {
        if seen >= at {
            break;
        }
        seen += c.len_utf16();
        if c == '\n' {
            (line, column) = (line + 1, 1);
        } else {
            column += 1;
        }
    }
    (line, column)
}

/// The same the other way about.
fn offset_of(text: &str, place: Position) -> usize {
    let (mut line, mut column, mut seen) = (1, 1, 0);
    for c in text.chars() {
        if (line, column) >= (place.line, place.column) {
            break;
        }
        seen += c.len_utf16();
        if c == '\n' {
            (line, column) = (line + 1, 1);
        } else {
            column += 1;
        }
    }
    seen
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn identity_places_come_back() {
        let text = "ab\nä→😀x\n\nend";
        let all = text.encode_utf16().count();
        let mut seen = Vec::new();
        for at in 0..=all {
            let (line, column) = place_of(text, at);
            let back = offset_of(text, Position { line, column });
            // Inside of a pair there is no character.
            assert!(back == at || back == at + 1, "{at}: {line}, {column}: {back}");
            seen.push((line, column));
        }
        assert_eq!(seen[0], (1, 1));
        assert_eq!(seen[3], (2, 1));
        assert_eq!(seen.last(), Some(&(4, 4)));
        assert_eq!(offset_of(text, Position { line: 99, column: 1 }), all);
    }
}
