//! Moodle XML as Moodle reads it: by an independent XML reader, and marked by Moodle's rules, which stand here once more.

use volute_lessons::bench::CoreSolver;
use volute_lessons::catalog::{SOURCES, catalog};
use volute_lessons::lesson::{Lesson, Question};
use volute_lessons::mark::{self, Asked, Detail, Key, NumberKey, Typed, ValueMark};
use volute_lessons::parse::parse;
use volute_lessons::seed::Seed;
use volute_lessons::text;
use volute_lessons::units::{Decimal, Style};
use volute_package::moodle::{MoodleError, Wording, questions};

const SEEDS: [Seed; 3] = [Seed(1), Seed(31), Seed(9999)];
const STYLE: Style = Style::ENGLISH;

type Node<'a> = roxmltree::Node<'a, 'a>;

fn child<'a>(node: Node<'a>, name: &str) -> Node<'a> {
    let found = node.children().find(|n| n.has_tag_name(name));
    found.unwrap_or_else(|| panic!("no <{name}> in <{}>", node.tag_name().name()))
}

/// The text of `<name><text>…</text></name>`.
fn text_in(node: Node, name: &str) -> String {
    child(child(node, name), "text").text().unwrap_or_default().to_string()
}

fn value(node: Node, name: &str) -> f64 {
    child(node, name).text().and_then(|text| text.parse().ok()).unwrap_or_else(|| panic!("<{name}> is no number"))
}

/// One answer of a numerical question.
struct Answer {
    fraction: f64,
    value: f64,
    tolerance: f64,
    feedback: String,
}

/// A numerical question as Moodle holds it.
struct Numerical {
    answers: Vec<Answer>,
    /// Name and multiplier.
    units: Vec<(String, f64)>,
}

impl Numerical {
    fn read(question: Node) -> Self {
        let answers = question.children().filter(|n| n.has_tag_name("answer")).map(|n| Answer {
            fraction: n.attribute("fraction").and_then(|f| f.parse().ok()).expect("a fraction"),
            value: child(n, "text").text().and_then(|text| text.parse().ok()).expect("a number with a point"),
            tolerance: value(n, "tolerance"),
            feedback: text_in(n, "feedback"),
        });
        let units = question.descendants().filter(|n| n.has_tag_name("unit"));
        let units = units.map(|n| (child(n, "unit_name").text().expect("a name").into(), value(n, "multiplier")));
        Self { answers: answers.collect(), units: units.collect() }
    }

    /// `qtype_numerical_question::grade_response` with a unit from the list: the value over the multiplier of its unit, then
    /// the first answer whose nominal interval holds it; the interval is a little wider than its tolerance (14 digits of
    /// precision). A unit that is known costs nothing.
    fn grade(&self, typed: f64, unit: &str) -> Option<&Answer> {
        let multiplier = self.units.iter().find(|(name, _)| name == unit).map_or(1.0, |(_, multiplier)| *multiplier);
        let value = typed * (1.0 / multiplier);
        self.answers.iter().find(|answer| {
            let tolerance = answer.tolerance + 1e-14 * answer.value.abs().max(1.0);
            answer.value - tolerance <= value && value <= answer.value + tolerance
        })
    }
}

/// Without tags and escapes.
fn words(html: &str) -> String {
    let wrapped = format!("<d>{}</d>", html.replace("<br>", "<br/>"));
    let document = roxmltree::Document::parse(&wrapped).expect("HTML that is also XML");
    let text: Vec<&str> = document.descendants().filter(|n| n.is_text()).filter_map(|n| n.text()).collect();
    text.join(" ").split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Whether an element of HTML text holds nothing but what prose is made of.
fn harmless(html: &str) -> bool {
    const TAGS: [&str; 11] = ["d", "p", "h4", "em", "strong", "code", "br", "ul", "ol", "li", "blockquote"];
    let wrapped = format!("<d>{html}</d>").replace("<br>", "<br/>");
    let document = roxmltree::Document::parse(&wrapped).expect("HTML that is also XML");
    document.descendants().filter(|n| n.is_element()).all(|n| {
        let web = |a: Option<&str>| a.is_some_and(|a| a.starts_with("https://"));
        TAGS.contains(&n.tag_name().name()) || n.has_tag_name("a") && web(n.attribute("href"))
    })
}

/// A lesson of its own kinds and hostile words, so that no choice of lessons leaves any out.
fn with_choices() -> Lesson {
    let begin = SOURCES[0].text.replacen(&format!("id = \"{}\"", SOURCES[0].id), "id = \"of-the-test\"", 1);
    let option = |text: &str, when: &str| {
        format!("\n[[option]]\ntext = \"{text}\"\nwhen = \"{when}\"\nbecause = \"Because: {text}\"\n")
    };
    let asks = |kind: &str, options: &[(&str, &str)]| {
        let options: String = options.iter().map(|(text, when)| option(text, when)).collect();
        format!(
            "\n```checkpoint\nid = \"{kind}-of-them\"\nkind = \"{kind}\"\nask = \"Which? ]]> & 'x'\"\nhint = \"One.\"\nworked = \"So.\"\n{options}```\n"
        )
    };
    let some = [
        ("p3 & p2", "start.p3 > start.p_amb"),
        ("`x < y`", "start.p3 < start.p_amb"),
        ("*so*", "start.boost > 0 kPa"),
        ("ä → ∞", "start.t3 > 0 K"),
    ];
    let text = begin + &asks("choices", &some) + &asks("choice", &some[..2]);
    parse(&text).unwrap_or_else(|problems| panic!("{problems:#?}"))
}

#[test]
fn identity_moodle_marks_as_the_page_does() {
    let lessons = &[vec![with_choices()], catalog().lessons.clone()].concat();
    let xml = questions(lessons, &SEEDS, |_, _| true, Wording::default(), &mut CoreSolver::default()).unwrap();
    let document = roxmltree::Document::parse(&xml).expect("well formed");
    let of = |id: &str| {
        let found = document.descendants().find(|n| n.has_tag_name("idnumber") && n.text() == Some(id));
        found.and_then(|n| n.parent()).unwrap_or_else(|| panic!("no question `{id}`"))
    };
    let (mut numbers, mut choices, mut compared) = (0, 0, 0);
    for lesson in lessons {
        for seed in SEEDS {
            let mut solver = CoreSolver::default();
            let worked = lesson.work_out(seed, &mut solver).unwrap();
            for checkpoint in lesson.checkpoints() {
                let id = format!("{}.{}.{}", lesson.id, checkpoint.id, seed.0);
                let asked = checkpoint.work_out(lesson, &worked, 0, &mut solver).unwrap();
                match (&checkpoint.question, &asked.key) {
                    (Question::Number(_), Key::Number(_)) => {
                        numbers += 1;
                        compared += compare_number(&asked, of(&id), &id);
                    }
                    (Question::Choice(options), Key::Choice(right)) => {
                        choices += 1;
                        let question = of(&id);
                        let answers: Vec<Node> = question.children().filter(|n| n.has_tag_name("answer")).collect();
                        assert_eq!(answers.len(), options.len(), "{id}");
                        for (i, answer) in answers.iter().enumerate() {
                            let mark = asked.mark(&mark::Answer::Choice(i)).expect("a mark");
                            let fraction = if i == *right { "100" } else { "0" };
                            assert_eq!(answer.attribute("fraction"), Some(fraction), "{id}");
                            assert_eq!(mark.right, i == *right);
                            compare_words(&asked, mark.because[0], &text_in(*answer, "feedback"), &id);
                            compared += 1;
                        }
                    }
                    (Question::Choices(options), Key::Choices(_)) => {
                        choices += 1;
                        let question = of(&id);
                        let answers = question.children().filter(|n| n.has_tag_name("answer"));
                        let fractions: Vec<f64> =
                            answers.filter_map(|n| n.attribute("fraction").and_then(|f| f.parse().ok())).collect();
                        assert_eq!(
                            (fractions.len(), child(question, "single").text()),
                            (options.len(), Some("false")),
                            "{id}"
                        );
                        for ticks in 1_u32..1 << options.len() {
                            let ticked: Vec<usize> = (0..options.len()).filter(|i| ticks >> i & 1 == 1).collect();
                            // Moodle adds up, and takes what is within a millionth of the whole for it.
                            let sum: f64 = ticked.iter().map(|i| fractions[*i]).sum();
                            let mark = asked.mark(&mark::Answer::Choices(ticked)).expect("a mark");
                            assert_eq!(sum >= 99.9999, mark.right, "{id}");
                            compared += 1;
                        }
                    }
                    _ => {}
                }
            }
        }
    }
    assert!(numbers > 0, "no number question");
    println!("{numbers} numbers and {choices} choices, {compared} answers marked by both");
    // Every question stands in a category, and nothing in it is markup that we did not write.
    assert!(document.descendants().filter(|n| n.has_tag_name("category")).count() >= (numbers + choices) / SEEDS.len());
    for node in
        document.descendants().filter(|n| n.attribute("format") == Some("html") && n.tag_name().name() != "answer")
    {
        assert!(harmless(&text_in(node.parent().unwrap(), node.tag_name().name())), "{}", node.tag_name().name());
    }
}

/// Compares on a grid of answers in every unit; says how many there were.
fn compare_number(asked: &Asked, question: Node, id: &str) -> usize {
    let Question::Number(number) = &asked.checkpoint.question else { unreachable!() };
    let Key::Number(NumberKey { answer_si, tolerance_si, wrong_si }) = &asked.key else { unreachable!() };
    let theirs = Numerical::read(question);
    assert_eq!(theirs.answers[0].fraction, 100.0, "{id}: the right one first");
    assert!(theirs.answers[1..].iter().all(|answer| answer.fraction == 0.0));
    assert_eq!(theirs.answers.len(), 1 + wrong_si.len(), "{id}");
    let mut units: Vec<&str> = theirs.units.iter().map(|(name, _)| name.as_str()).collect();
    let asked_unit = number.measure.to_string();
    if units.is_empty() {
        units.push(&asked_unit);
    }
    // Around every value, close to both edges of the tolerance but not within a thousandth of it, and far away.
    let around = [-3.0, -1.002, -0.998, -0.5, 0.0, 0.5, 0.998, 1.002, 3.0];
    let mut grid: Vec<f64> = Vec::new();
    for centre in [*answer_si].iter().chain(wrong_si) {
        grid.extend(around.map(|share| centre + share * tolerance_si));
    }
    grid.extend([-answer_si, 10.0 * answer_si, 0.1 * answer_si, 0.0]);
    let mut compared = 0;
    for unit in units {
        let measure = volute_lessons::units::read(unit).unwrap_or_else(|| panic!("{id}: we cannot read `{unit}`"));
        for si in &grid {
            let typed = if number.is_point() { measure.unit.of_si(*si) } else { measure.unit.difference_of_si(*si) };
            let typed = format!("{typed:.9}");
            let answer = mark::Answer::Number(Typed { text: format!("{typed} {unit}"), decimal: Decimal::Point });
            let Detail::Number(ours) = asked.mark(&answer).expect("read").detail else { unreachable!() };
            let found = theirs.grade(typed.parse().expect("a number"), unit);
            let right = found.is_some_and(|answer| answer.fraction == 100.0);
            assert_eq!(right, ours.right, "{id}: {typed} {unit}");
            // Between two misconceptions the page takes the nearer one, Moodle the first.
            let near = wrong_si.iter().filter(|wrong| (**wrong - si).abs() <= *tolerance_si).count();
            if let (ValueMark::Misconception { because, .. }, 1) = (&ours.value, near) {
                let found = found.unwrap_or_else(|| panic!("{id}: {typed} {unit} is a misconception"));
                compare_words(asked, because, &found.feedback, id);
            }
            compared += 1;
        }
    }
    compared
}

/// The same words on both sides.
fn compare_words(asked: &Asked, ours: &[text::Prose], theirs: &str, id: &str) {
    let flat = |text: &str| text.split_whitespace().collect::<String>();
    let ours = text::plain(ours, &asked.env(), STYLE).unwrap();
    // The bullets and numbers of lists are ours, the tags theirs.
    let ours: String = ours.replace('•', "");
    assert_eq!(flat(&words(theirs)), flat(&ours), "{id}");
}

#[test]
fn by_hand_what_cannot_be_exported_is_refused_with_a_reason() {
    let lessons = &catalog().lessons;
    let nothing = questions(lessons, &SEEDS, |_, _| false, Wording::default(), &mut CoreSolver::default());
    assert_eq!(nothing, Err(MoodleError::Nothing));
}

#[test]
fn by_hand_a_link_opens_the_lesson_with_its_numbers() {
    let lesson = &catalog().lessons[0];
    let wording = Wording { page: Some("https://school.example/bench/?a=1&b=\"2\""), ..Wording::default() };
    let xml = questions([lesson], &[Seed(7)], |_, _| true, wording, &mut CoreSolver::default()).unwrap();
    let document = roxmltree::Document::parse(&xml).expect("well formed");
    let ask = document.descendants().find(|n| n.has_tag_name("questiontext")).expect("a question");
    let html = format!("<d>{}</d>", text_in(ask.parent().unwrap(), "questiontext"));
    let html = roxmltree::Document::parse(&html).expect("HTML that is also XML");
    let link = html.descendants().find(|n| n.has_tag_name("a")).and_then(|n| n.attribute("href").map(str::to_string));
    let expected = format!("https://school.example/bench/?a=1&b=\"2\"#v=1&lesson={}&variant=7", lesson.id);
    assert_eq!(link, Some(expected));
}
