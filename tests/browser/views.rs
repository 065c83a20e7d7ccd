//! Views, pins, what-ifs and time. Each test moves a control as a user would and reads back what it shows.

use super::number;
use serde_json::{Value, json};
use volute_core::engine::built_in;
use volute_core::point::steady;
use volute_core::settings::{Load, REFERENCE_DAY, Settings};
use volute_tests::browser::{DESK, PHONE, Page, View, browse, dist};

const HOME: &str = "\u{e011}";
const RIGHT: &str = "\u{e014}";
const DOWN: &str = "\u{e015}";
const ESCAPE: &str = "\u{e00c}";

/// Chooses an option of a select as a user does: first the value, then the event.
async fn choose(page: &Page, css: &str, value: &str) {
    page.run_async(
        "const [css, value, done] = arguments; const s = document.querySelector(css); s.value = value;
         s.dispatchEvent(new Event('change', { bubbles: true })); setTimeout(() => done(s.value), 60);",
        vec![json!(css), json!(value)],
    )
    .await;
}

/// Moves a range input to a value.
async fn slide(page: &Page, css: &str, value: f64) {
    page.run_async(
        "const [css, value, done] = arguments; const s = document.querySelector(css); s.value = value;
         s.dispatchEvent(new Event('input', { bubbles: true })); requestAnimationFrame(() => done(null));",
        vec![json!(css), json!(value)],
    )
    .await;
}

/// Values of the options of a select.
async fn options(page: &Page, css: &str) -> Vec<String> {
    let list = page.value(&format!("[...document.querySelector('{css}').options].map((o) => o.value)")).await;
    list.as_array().into_iter().flatten().filter_map(Value::as_str).map(String::from).collect()
}

/// Words that the page must never show.
fn assert_sound(text: &str, what: &str) {
    assert!(!text.trim().is_empty(), "{what}: nothing");
    for bad in ["NaN", "inf", "undefined", "could not be drawn"] {
        assert!(!text.contains(bad), "{what}: {text}");
    }
}

#[test]
fn every_view_is_drawn_read_by_keys_and_told_as_a_table() {
    browse(dist(), DESK, async |page| {
        page.open("").await;
        page.run("document.querySelector('#plot-b-figure').scrollIntoView(); return null;").await;
        for view in options(page, "#plot-b-view").await {
            choose(page, "#plot-b-view", &view).await;
            page.rested().await;
            assert_sound(&page.text("#plot-b-c").await, &view);
            let drawn = page
                .value("(() => { const c = document.querySelector('#plot-b'), f = new OffscreenCanvas(c.width, c.height).getContext('2d', { willReadFrequently: true }); f.drawImage(c, 0, 0); const d = f.getImageData(0, 0, c.width, c.height).data; const tones = new Set(); for (let i = 0; i < d.length; i += 4) tones.add(d[i] << 16 | d[i + 1] << 8 | d[i + 2]); return tones.size; })()")
                .await;
            assert!(drawn.as_u64() > Some(6), "{view}: {drawn} tones are no drawing");
            page.keys("#plot-b-figure .plot-paper", RIGHT).await;
            let first = page.text("#plot-b-c").await;
            assert!(first.contains(" at "), "{view}: a key reads a value, not `{first}`");
            page.keys("#plot-b-figure .plot-paper", RIGHT).await;
            assert_sound(&page.text("#plot-b-c").await, &view);
            page.keys("#plot-b-figure .plot-paper", DOWN).await;
            page.keys("#plot-b-figure .plot-paper", ESCAPE).await;
            assert!(!page.text("#plot-b-c").await.is_empty(), "{view}: the sentence is back");
            page.click("#plot-b-figure figcaption > .link").await;
            let rows = page.count("#plot-b-figure tbody tr").await;
            assert!(rows > 5, "{view}: {rows} rows");
            assert_sound(&page.text("#plot-b-figure table").await, &view);
            page.click("#plot-b-figure figcaption > .link").await;
        }
        page.assert_quiet().await;
    });
}

#[test]
fn a_sweep_goes_over_every_setting() {
    browse(dist(), DESK, async |page| {
        page.open("").await;
        page.run("document.querySelector('#plot-b-figure').scrollIntoView(); return null;").await;
        for over in options(page, "#plot-b-over").await {
            choose(page, "#plot-b-over", &over).await;
            page.wait(
                &format!("the sweep over {over}"),
                "!document.querySelector('#plot-b-c').textContent.includes('being computed') && !document.querySelector('.plot-progress')",
            )
            .await;
            let said = page.text("#plot-b-c").await;
            assert!(said.contains("is greatest at") || said.contains("Nowhere"), "{over}: {said}");
            assert_sound(&said, &over);
        }
        choose(page, "#plot-b-over", "speed").await;
        choose(page, "#plot-b-of", "afr").await;
        page.rested().await;
        assert!(page.text("#plot-b-c").await.starts_with("Air–fuel ratio runs from"));
        page.wait("the link has it", "location.hash.includes('sweep%3Aspeed%3Aafr')").await;
        page.assert_quiet().await;
    });
}

/// A point of a curve has the same number in the plot's read-out, in its table, and from the native core.
#[test]
fn table_plot_and_core_say_the_same() {
    browse(dist(), DESK, async |page| {
        page.open("#v=1&engine=harbour-six&vane=63&fuel_kg=0.00009&speed=1500").await;
        page.run("document.querySelector('#plot-b-figure').scrollIntoView(); return null;").await;
        choose(page, "#plot-b-over", "vane").await;
        let engine = built_in::engine("harbour-six").expect("it is built in");
        let load = Load::Fuel { fuel_kg_per_cycle: 90e-6 };
        let core = |vane_open_pct: f64| {
            let settings = Settings { speed_rpm: 1500.0, load, vane_open_pct, ambient: REFERENCE_DAY };
            steady::solve(&engine, &settings).expect("it can be matched").reading
        };
        let value = |of: &str, vane: f64| match of {
            "torque" => core(vane).brake.torque_n_m,
            "p3" => core(vane).stations.turbine_inlet.p_pa / 1e3,
            _ => core(vane).stations.turbine_inlet.t_k - 273.15,
        };
        for of in ["torque", "p3", "t3"] {
            choose(page, "#plot-b-of", of).await;
            page.wait("the sweep", "!document.querySelector('#plot-b-c').textContent.includes('being computed') && !document.querySelector('.plot-progress')").await;
            page.rested().await;
            page.click("#plot-b-figure figcaption > .link").await;
            let rows = page
                .value("[...document.querySelectorAll('#plot-b-figure tbody tr')].map((r) => [...r.cells].slice(0, 2).map((c) => c.textContent))")
                .await;
            let rows: Vec<[String; 2]> = serde_json::from_value(rows).expect("place and value");
            assert!(rows.len() >= 35, "{of}: {} rows", rows.len());
            page.click("#plot-b-figure figcaption > .link").await;
            let mut compared = 0;
            // The first key only shows the cursor.
            page.keys("#plot-b-figure .plot-paper", RIGHT).await;
            for (i, row) in rows.iter().enumerate() {
                page.keys("#plot-b-figure .plot-paper", if i == 0 { HOME } else { RIGHT }).await;
                let said = page.text("#plot-b-c").await;
                let (line, place) = said.rsplit_once(" at ").unwrap_or_else(|| panic!("{of}: no read-out: {said}"));
                let [x, y] = row.each_ref().map(|cell| number(cell).expect("a number"));
                let told: Vec<f64> = line.split(' ').filter_map(number).collect();
                assert_eq!((told.last(), place.split(' ').find_map(number)), (Some(&y), Some(x)), "{of}: {said}");
                // The table rounds positions. Every fourth of 41 points is a multiple of ten.
                if i % 4 == 0 && rows.len() == 41 {
                    let digits = row[1].split_once('.').map_or(0, |(_, digits)| digits.len());
                    let (native, step) = (value(of, x), 0.1_f64.powi(digits as i32));
                    // Half of the last digit, and what two ways to the same point may differ.
                    assert!((native - y).abs() < 0.55 * step, "{of} at {x}: {y} on the page, {native} natively");
                    compared += 1;
                }
            }
            assert!(compared == 11, "{of}: {compared} of {} rows were held against core", rows.len());
        }
        page.assert_quiet().await;
    });
}

#[test]
fn the_ledger_sums_and_a_pin_comes_back() {
    browse(dist(), DESK, async |page| {
        page.open("").await;
        page.rested().await;
        page.click("#pin").await;
        slide(page, "#vane", 80.0).await;
        page.rested().await;
        let cells = page
            .value("[...document.querySelectorAll('.pins .ledger tr')].map((r) => r.querySelector('td').textContent)")
            .await;
        let cells: Vec<f64> = cells
            .as_array()
            .expect("rows")
            .iter()
            .filter_map(Value::as_str)
            .filter_map(|t| number(t.trim_start_matches('+').split(" N").next()?))
            .collect();
        let [from, parts @ .., to] = &cells[..] else { panic!("{cells:?}") };
        // Each is rounded to a tenth.
        assert!((from + parts.iter().sum::<f64>() - to).abs() < 0.26, "{cells:?}");
        assert!(parts.len() == 3 && (to - from).abs() > 5.0, "{cells:?}");
        assert!(page.text(".pins .read").await.contains("than at the pin"));
        let link = page.value("location.hash").await;
        page.open(link.as_str().expect("a link")).await;
        page.rested().await;
        assert!(page.text(".pins .read").await.contains("than at the pin"), "the link brings the pin");
        page.click(".pins-list .link").await;
        page.rested().await;
        assert_eq!(page.value("document.getElementById('vane').valueAsNumber").await.as_f64(), Some(50.0));
        page.click(".pins-list .link:last-of-type").await;
        assert!(page.text("#pins").await.contains("Nothing pinned yet"));
        page.assert_quiet().await;
    });
}

#[test]
fn a_what_if_changes_the_reading_and_is_taken_back() {
    browse(dist(), DESK, async |page| {
        page.open("").await;
        page.rested().await;
        let before = page.text("[data-q=boost] .headline-value").await;
        page.click("[data-group=exhaust] summary").await;
        slide(page, "#what-exhaust-pipe-bore-m", 60.0).await;
        page.rested().await;
        assert_ne!(page.text("[data-q=boost] .headline-value").await, before, "a narrow pipe costs boost");
        assert_eq!(page.text("[data-group=exhaust] .what-ifs-changed").await, "changed");
        page.wait("the link has it", "location.hash.includes('exhaust_pipe.bore_m=0.06')").await;
        page.click("[data-group=exhaust] > button").await;
        page.rested().await;
        assert_eq!(page.text("[data-q=boost] .headline-value").await, before);
        page.click("[data-group=weather] summary").await;
        slide(page, "#what-altitude", 2000.0).await;
        page.rested().await;
        assert!(page.text("header").await.contains("79 kPa abs"), "the standard atmosphere at 2000 m");
        page.click("#undo").await;
        page.rested().await;
        assert_eq!(page.text("[data-q=boost] .headline-value").await, before);
        page.assert_quiet().await;
    });
}

#[test]
fn the_engine_runs_in_time_and_a_step_is_timed() {
    browse(dist(), DESK, async |page| {
        page.open("").await;
        page.click("#swap-load").await;
        slide(page, "#load", 300.0).await;
        page.rested().await;
        choose(page, "#time-pace", "5").await;
        page.click("#time-play").await;
        page.rested().await;
        page.click("#time-load").await;
        page.wait(
            "nine tenths are there",
            "/nine tenths of it after \\d/.test(document.querySelector('#time-c').textContent)",
        )
        .await;
        page.click("#time-play").await;
        let said = page.text("#time-c").await;
        page.click("#time-keep").await;
        page.settled().await;
        assert!(page.text("#time-c").await.contains("In the kept run"), "{said}");
        page.click("#time-step").await;
        slide(page, "#time-back", 1.0).await;
        page.settled().await;
        assert_sound(&page.text("#time-c").await, "looked back");
        page.click("#time-clear").await;
        page.settled().await;
        assert!(page.text("#time-c").await.starts_with("No run yet"));
        page.assert_quiet().await;
    });
}

#[test]
fn a_word_explains_itself() {
    browse(dist(), DESK, async |page| {
        page.open("").await;
        page.keys("[data-q=p3] .term", "\u{e007}").await;
        page.wait("the dialog is open", "document.querySelector('#term').open").await;
        assert!(page.text("#term").await.contains("How it is measured"));
        let findings = page.axe().await;
        assert!(findings.is_empty(), "{findings:#?}");
        page.keys("#term button", ESCAPE).await;
        page.wait("the dialog is closed", "!document.querySelector('#term').open").await;
        page.assert_quiet().await;
    });
}

/// The views below are fetched when anything needs them first, and then they stay.
#[test]
fn regress_a_word_asked_before_anything_below_was_seen_is_not_the_last() {
    browse(dist(), DESK, async |page| {
        page.open_first_view("").await;
        for hook in ["p3", "t3", "boost"] {
            page.keys(&format!("[data-q={hook}] .term"), "\u{e007}").await;
            page.wait("the dialog is open", "document.querySelector('#term')?.open").await;
            assert!(page.text("#term").await.contains("How it is measured"), "{hook}");
            page.keys("#term button", ESCAPE).await;
            page.wait("the dialog is closed", "!document.querySelector('#term').open").await;
        }
        page.run("document.querySelector('.page-below').scrollIntoView();").await;
        slide(page, "#vane", 20.0).await;
        page.rested().await;
        page.assert_quiet().await;
    });
}

#[test]
fn start_points_set_the_bench() {
    browse(dist(), DESK, async |page| {
        page.open("").await;
        for point in options(page, "#start-point").await.iter().filter(|p| !p.is_empty()) {
            choose(page, "#start-point", point).await;
            page.rested().await;
            assert_sound(&page.text("#notice").await, point);
            assert_sound(&page.text(".headline-row").await, point);
        }
        page.assert_quiet().await;
    });
}

#[test]
fn axe_finds_nothing_with_everything_open() {
    browse(dist(), DESK, async |page| {
        page.open("").await;
        page.click("#pin").await;
        slide(page, "#vane", 8.0).await;
        page.run("document.querySelectorAll('details').forEach((d) => { d.open = true; }); return null;").await;
        for view in [DESK, View { dark: true, ..DESK }, PHONE] {
            page.look(view).await;
            page.rested().await;
            let findings = page.axe().await;
            assert!(findings.is_empty(), "{view:?}: {findings:#?}");
            let wide = page.value("document.documentElement.scrollWidth - innerWidth").await;
            assert!(wide.as_f64() <= Some(0.0), "{view:?}: the page is {wide} px too wide");
        }
        page.assert_quiet().await;
    });
}
