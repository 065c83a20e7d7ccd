//! How a packed page stands to its platform, whichever kind it is.

use super::answered::{self, AtLaunch, Standing};
use super::cmi5_session::{self as cmi5, Stamp};
use super::platform::{self, Browser, Courier, JsApi};
use super::scorm12_session as scorm12;
use crate::packed::Packed;
use std::cell::{Cell, RefCell};
use std::rc::Rc;
use volute_lessons::assignment;
use volute_lessons::results::Report;
use volute_package::Kind;

/// How a packed page stands to a platform.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Bond {
    /// In a package that found no platform, or one that refuses: with its reason.
    Alone(Option<String>),
    /// What is done is told and kept.
    Told,
    /// What is done is not told: a second look.
    Looking,
    /// Something could not be told: what.
    Trouble(String),
}

impl Bond {
    /// Its name, for tests and style sheets.
    pub fn key(&self) -> &'static str {
        match self {
            Bond::Alone(_) => "alone",
            Bond::Told => "told",
            Bond::Looking => "looking",
            Bond::Trouble(_) => "trouble",
        }
    }
}

/// Hears how the page stands to its platform.
type Listener = Box<dyn Fn(Bond)>;

/// The platform, or that there is none. Clones are the same.
#[derive(Clone)]
pub struct Lms(Rc<Inner>);

struct Inner {
    link: RefCell<Link>,
    before: RefCell<Report>,
    /// When the last answer was told, or the page was launched.
    answered_ms: Cell<f64>,
    bond: RefCell<Bond>,
    hear: RefCell<Option<Listener>>,
}

enum Link {
    None,
    Scorm12(scorm12::Session<JsApi>),
    Cmi5(Box<cmi5::Session<Browser>>, Courier),
}

thread_local! {
    static HERE: RefCell<Option<(Lms, AtLaunch)>> = const { RefCell::new(None) };
}

/// The platform of this page and what it knew at the launch; nothing before [`connect`].
pub fn here() -> Option<(Lms, AtLaunch)> {
    HERE.with_borrow(Clone::clone)
}

/// Whether a platform keeps what is done here: then the device does not. Others may learn at the same machine.
pub fn keeps() -> bool {
    HERE.with_borrow(|here| here.as_ref().is_some_and(|(lms, _)| !matches!(*lms.0.link.borrow(), Link::None)))
}

/// Looks for the platform that the package was made for. `spoken` are the languages of the page.
pub async fn connect(packed: &Packed, spoken: &[&str]) {
    let pass_pct = assignment::decode(&packed.link).ok().map(|a| a.pass_pct).filter(|pct| *pct > 0).map(f64::from);
    let lms = Lms(Rc::new(Inner {
        link: RefCell::new(Link::None),
        before: RefCell::default(),
        answered_ms: Cell::new(Browser.now_ms()),
        bond: RefCell::new(Bond::Alone(None)),
        hear: RefCell::default(),
    }));
    let kept = match packed.kind {
        Kind::Scorm12 => lms.begin_scorm12(pass_pct),
        Kind::Cmi5 => lms.begin_cmi5(pass_pct, spoken).await,
    };
    if !matches!(*lms.0.link.borrow(), Link::None) {
        let own = lms.clone();
        platform::on_leave(move || own.end());
    }
    HERE.set(Some((lms, kept)));
}

impl Lms {
    fn begin_scorm12(&self, pass_pct: Option<f64>) -> AtLaunch {
        let Some(api) = JsApi::find() else { return AtLaunch::default() };
        match scorm12::Session::begin(api, pass_pct, Browser.now_ms()) {
            Ok((session, kept)) => {
                *self.0.link.borrow_mut() = Link::Scorm12(session);
                self.hear_refusals();
                self.bound(kept.read_only);
                kept
            }
            Err(refusal) => {
                self.bond(Bond::Alone(Some(format!("{}: {}", refusal.what, refusal.why))));
                AtLaunch::default()
            }
        }
    }

    async fn begin_cmi5(&self, pass_pct: Option<f64>, spoken: &[&str]) -> AtLaunch {
        let launch = match cmi5::launch(&platform::query()) {
            None => return AtLaunch::default(),
            Some(Ok(launch)) => launch,
            Some(Err(error)) => {
                self.bond(Bond::Alone(Some(error.to_string())));
                return AtLaunch::default();
            }
        };
        let opened = match platform::open(launch).await {
            Ok(opened) => opened,
            Err(reason) => {
                self.bond(Bond::Alone(Some(reason)));
                return AtLaunch::default();
            }
        };
        let kept = AtLaunch {
            learner: opened.launch.learner(),
            memory: opened.document.memory.clone(),
            read_only: opened.data.read_only,
            language: cmi5::language(&opened.preferences, spoken),
        };
        let own = Rc::downgrade(&self.0);
        let courier = Courier::new(&opened, move |trouble| {
            if let Some(inner) = own.upgrade() {
                let lms = Lms(inner);
                match trouble {
                    Some(reason) => lms.bond(Bond::Trouble(reason)),
                    None => lms.well(),
                }
            }
        });
        self.bound(kept.read_only);
        let (session, first) = cmi5::Session::begin(opened.launch, opened.data, opened.document, pass_pct, Browser);
        courier.send(vec![first], None);
        *self.0.link.borrow_mut() = Link::Cmi5(Box::new(session), courier);
        kept
    }

    /// What was done up to now, of which the platform has heard: at the launch, what it kept.
    pub fn begin_with(&self, report: &Report) {
        *self.0.before.borrow_mut() = report.clone();
    }

    /// Tells what was done since the last call. `memory` is what the next launch gets back, `here` the lesson that is open.
    pub fn tell(&self, report: &Report, memory: &str, here: &str) {
        let mut new = answered::answers(&self.0.before.borrow(), report);
        self.begin_with(report);
        if !new.is_empty() {
            let now = Browser.now_ms();
            let since_s = ((now - self.0.answered_ms.replace(now)) / 1000.0).round();
            // Only the last answer took that time. Several at once come from a lesson that the learner had done before.
            new.iter_mut().rev().take(1).for_each(|answer| answer.seconds = since_s.max(0.0) as u32);
        }
        let standing = Standing::of(report);
        match &mut *self.0.link.borrow_mut() {
            Link::None => return,
            Link::Scorm12(session) => session.tell(standing, &new, memory, here, Browser.now_ms(), &platform::clock()),
            Link::Cmi5(session, courier) => {
                let statements = session.tell(standing, &new);
                let document = session.keep(memory);
                courier.send(statements, document);
            }
        }
        self.hear_refusals();
    }

    /// Whether the platform waits to be returned to.
    pub fn can_leave(&self) -> bool {
        matches!(&*self.0.link.borrow(), Link::Cmi5(session, _) if session.return_url().is_some())
    }

    /// Ends, and goes back to where the platform wants.
    pub async fn leave(&self) {
        let (courier, back) = match &mut *self.0.link.borrow_mut() {
            Link::Cmi5(session, courier) => {
                courier.send(session.end(), None);
                (courier.clone(), session.return_url().map(str::to_string))
            }
            _ => return,
        };
        courier.settled().await;
        if let Some(back) = back {
            platform::go(&back);
        }
    }

    /// How the page stands to its platform, now and whenever that changes.
    pub fn on_bond(&self, hear: impl Fn(Bond) + 'static) {
        hear(self.0.bond.borrow().clone());
        *self.0.hear.borrow_mut() = Some(Box::new(hear));
    }

    /// The page goes away.
    fn end(&self) {
        match &mut *self.0.link.borrow_mut() {
            Link::None => {}
            Link::Scorm12(session) => session.end(Browser.now_ms()),
            Link::Cmi5(session, courier) => {
                let last = session.end();
                if !last.is_empty() {
                    courier.send_last(last, None);
                }
            }
        }
    }

    fn hear_refusals(&self) {
        let refusals = match &mut *self.0.link.borrow_mut() {
            Link::Scorm12(session) => session.refusals(),
            _ => return,
        };
        match refusals.first() {
            Some(refusal) => self.bond(Bond::Trouble(format!("{}: {}", refusal.what, refusal.why))),
            None => self.well(),
        }
    }

    fn bound(&self, read_only: bool) {
        if !matches!(*self.0.bond.borrow(), Bond::Trouble(_)) || read_only {
            self.bond(if read_only { Bond::Looking } else { Bond::Told });
        }
    }

    /// What was refused goes through again.
    fn well(&self) {
        if matches!(*self.0.bond.borrow(), Bond::Trouble(_)) {
            self.bond(Bond::Told);
        }
    }

    fn bond(&self, bond: Bond) {
        if self.0.bond.replace(bond.clone()) != bond
            && let Some(hear) = &*self.0.hear.borrow()
        {
            hear(bond);
        }
    }
}
