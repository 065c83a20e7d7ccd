//! Prose of a lesson as elements. Every number in it is worked out by the core.

use leptos::prelude::*;
use volute_lessons::expr::Env;
use volute_lessons::text::{Inline, Prose, Target};
use volute_lessons::units::Style;

/// Blocks. `open` is called with the id of a lesson that a link leads to.
pub fn blocks(prose: &[Prose], env: &Env, style: Style, open: Callback<String>) -> AnyView {
    prose.iter().map(|block| one(block, env, style, open)).collect_view().into_any()
}

fn one(block: &Prose, env: &Env, style: Style, open: Callback<String>) -> AnyView {
    match block {
        Prose::Heading { text, .. } => view! { <h3>{line(text, env, style, open)}</h3> }.into_any(),
        Prose::Paragraph(text) => view! { <p>{line(text, env, style, open)}</p> }.into_any(),
        Prose::Quote(inner) => view! { <blockquote>{blocks(inner, env, style, open)}</blockquote> }.into_any(),
        Prose::List { first, items } => {
            let items = items.iter().map(|item| view! { <li>{blocks(item, env, style, open)}</li> }).collect_view();
            match first {
                Some(first) => view! { <ol class="list" start=first.to_string()>{items}</ol> }.into_any(),
                None => view! { <ul class="list">{items}</ul> }.into_any(),
            }
        }
    }
}

/// A line.
pub fn line(inlines: &[Inline], env: &Env, style: Style, open: Callback<String>) -> AnyView {
    inlines.iter().map(|inline| piece(inline, env, style, open)).collect_view().into_any()
}

fn piece(inline: &Inline, env: &Env, style: Style, open: Callback<String>) -> AnyView {
    match inline {
        Inline::Text(text) => text.clone().into_any(),
        Inline::Emphasis(inner) => view! { <em>{line(inner, env, style, open)}</em> }.into_any(),
        Inline::Strong(inner) => view! { <b>{line(inner, env, style, open)}</b> }.into_any(),
        Inline::Code(text) => view! { <code>{text.clone()}</code> }.into_any(),
        Inline::Break => view! { <br/> }.into_any(),
        Inline::Link { to: Target::Web(address), text } => {
            view! { <a href=address.clone() rel="noopener noreferrer" target="_blank">{line(text, env, style, open)}</a> }.into_any()
        }
        Inline::Link { to: Target::Lesson(id), text } => {
            let id = id.clone();
            view! { <button type="button" class="link" on:click=move |_| open.run(id.clone())>{line(text, env, style, open)}</button> }
                .into_any()
        }
        // A value that has no number here says why in its place; the tests of the lessons keep that from happening.
        Inline::Value(shown) => match shown.text(env, style) {
            Ok(text) => view! { <span class="num">{text}</span> }.into_any(),
            Err(reason) => view! { <span class="caution">"("{reason.to_string()}")"</span> }.into_any(),
        },
    }
}
