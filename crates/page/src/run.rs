//! A run as the page leads it: a list of acts, played anew from its beginning each time and
//! remembered by what it consists of.

use crate::answer::Refusal;
use crate::handles::{Said, acting, phrase, said};
use crate::model::Model;
use crate::text::hash;
use fiftytwo_motion::acting::MOST_ACTS;
use fiftytwo_motion::{Acted, Acting, PlayOptions, Until, act_out};
use fiftytwo_scheme::{Scheme, Story};
use serde::{Deserialize, Serialize};

/// Where a run begins.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
pub struct Start {
    /// Phrases such as "52 open"; everything else is as drawn.
    #[serde(default)]
    pub given: Vec<String>,
}

/// A run.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
pub struct Led {
    /// Where it begins; none: as the story says, or as drawn.
    #[serde(default)]
    pub start: Option<Start>,
    /// A story of the text that is played.
    #[serde(default)]
    pub story: Option<String>,
    /// The story of a claim that fails, by the id that `prove` gave; it is shown as it was replayed.
    #[serde(default)]
    pub claim_story: Option<String>,
    /// What was done by hand.
    #[serde(default)]
    pub acts: Vec<Said>,
    /// How far it goes; none: until nothing is under way, at most so long behind the last act as
    /// `tail_us` says.
    #[serde(default)]
    pub until_us: Option<i64>,
    /// How long it goes on behind its last act, µs; none: five seconds.
    #[serde(default)]
    pub tail_us: Option<i64>,
    /// On to the next event.
    #[serde(default)]
    pub next: bool,
}

/// How long a run goes on behind its last act where something is still under way and nobody waits for it, µs.
const TAIL: i64 = 5_000_000;

/// No run lasts longer than a day, µs.
const DAY: i64 = 86_400_000_000;

/// A run that was played.
#[derive(Debug)]
pub struct Played {
    /// Where it began.
    pub given: Vec<String>,
    /// The story's acts as the page says them.
    pub story: Vec<Said>,
    /// Its fingerprint.
    pub key: String,
    /// What happened.
    pub acted: Acted,
}

impl Led {
    /// Its fingerprint.
    pub fn key(&self) -> String {
        hash(&serde_json::to_vec(self).unwrap_or_default())
    }
    /// Plays it, or remembers it.
    ///
    /// # Errors
    /// An act or a beginning that the scheme does not know.
    pub fn played(&self, model: &Model<'_>) -> Result<std::rc::Rc<Played>, Refusal> {
        model.run(self.key(), |model| self.play(model))
    }
    fn play(&self, model: &Model<'_>) -> Result<Played, Refusal> {
        let evaluator = model.evaluator()?;
        let scheme = model.scheme;
        if let Some(id) = &self.claim_story {
            let report = model.stories.get(id);
            let story = report.as_ref().and_then(|it| it.story.as_ref()).ok_or_else(|| {
                Refusal::conflict(
                    "The story of this claim is not remembered here.",
                    "Ask the claim once more.",
                )
                .with("unknown_story", true)
            })?;
            let acted = crate::claim_story::acted(evaluator, &story.replay, self.until_us);
            return Ok(Played { key: self.key(), given: Vec::new(), story: Vec::new(), acted });
        }
        if self.acts.len() > MOST_ACTS {
            return Err(Refusal::conflict(
                format!("A run holds at most {MOST_ACTS} acts."),
                "Begin again.",
            ));
        }
        if self.acts.iter().any(|act| act.at_us > DAY) {
            return Err(Refusal::unclear("A run lasts at most a day."));
        }
        let story = self.story(scheme)?;
        let acts: Vec<Acting> =
            self.acts.iter().map(|said| acting(scheme, said)).collect::<Result<_, _>>()?;
        let last = acts.iter().map(|act| act.at).max().unwrap_or(0);
        let until = match (self.until_us, self.next) {
            (None, false) => Until::Rest(self.tail_us.unwrap_or(TAIL).clamp(TAIL, DAY)),
            (Some(time), false) => Until::Time(time.clamp(0, DAY)),
            (time, true) => Until::EventAfter(time.unwrap_or(last).clamp(0, DAY)),
        };
        let acted = act_out(evaluator, &story, &acts, until, PlayOptions::default());
        Ok(Played {
            key: self.key(),
            given: story.given.iter().map(|act| act.text.clone()).collect(),
            story: said(scheme, &story),
            acted,
        })
    }
    fn story(&self, scheme: &Scheme) -> Result<Story, Refusal> {
        let told = match &self.story {
            Some(name) => Some(scheme.story_named(name).cloned().ok_or_else(|| {
                Refusal::conflict(
                    format!("The text has no story {name:?} any more."),
                    "Begin again, or choose another one.",
                )
            })?),
            None => None,
        };
        let mut story = told.unwrap_or_else(|| by_hand(scheme));
        if let Some(start) = &self.start {
            let given = start.given.iter().map(|it| phrase(scheme, it));
            let given: Vec<Vec<_>> = given.collect::<Result<_, _>>()?;
            story.given = given.concat();
        }
        Ok(story)
    }
}

fn by_hand(scheme: &Scheme) -> Story {
    let nowhere =
        fiftytwo_scheme::Span { file: fiftytwo_scheme::arena::Id::from_index(0), start: 0, end: 0 };
    Story {
        name: scheme.title.clone(),
        given: Vec::new(),
        steps: Vec::new(),
        expects: Vec::new(),
        span: nowhere,
    }
}

/// Where a run by hand best begins: as the first story in which no breaker stands closed; without
/// one as drawn, with energy for closing.
pub fn usual_start(scheme: &Scheme) -> (Start, String) {
    use fiftytwo_scheme::{Atom, DeviceKind};
    let breaker = |device| matches!(scheme.devices[device].kind, DeviceKind::Breaker { .. });
    let open = |story: &&Story| {
        !story.given.is_empty()
            && story.given.iter().all(
                |act| !matches!(act.atom, Atom::Position(device, 1) if act.so && breaker(device)),
            )
    };
    if let Some(story) = scheme.stories.iter().find(open) {
        let given = story.given.iter().map(|act| act.text.clone()).collect();
        return (Start { given }, format!("as “{}” begins", story.name));
    }
    let charged = scheme.devices.values().filter_map(|device| match &device.kind {
        DeviceKind::Breaker { energy: Some(energy), .. } => {
            Some(format!("{} {} charged", device.name, energy.name))
        }
        _ => None,
    });
    let given: Vec<String> = charged.collect();
    let words = if given.is_empty() {
        "as drawn".to_owned()
    } else {
        format!("as drawn, {}", given.join(", "))
    };
    (Start { given }, words)
}
